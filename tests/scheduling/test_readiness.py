"""Which wall now, and why not the others: every state, by hand from the label."""

from dataclasses import replace
from datetime import timedelta

import pytest

from jobs.factories import (
    BanFactory,
    CoatFactory,
    GateFactory,
    ReadingFactory,
    RoomFactory,
)
from scheduling.problem import Rescue
from scheduling.readiness import ready, ready_answer
from tests.scheduling.planning_jobs import (
    at,
    coat,
    damp,
    dry,
    job_of,
    paint,
    with_room,
    with_surface,
)

TWO = (coat("one"), coat("two"))


def logged(job, wall, step, start, end, **more):
    """The job with one more coat on a wall."""
    row = CoatFactory(surface=f"wall-{wall}", step=step, start=start, end=end, **more)
    return replace(job, coats=(*job.coats, row))


def state(job, moment, wall=1):
    """How a wall stands at a moment."""
    (found,) = (s for s in ready(job, at=moment) if s.surface.id == f"wall-{wall}")
    return found


def one_on(**labels):
    """One coat put on Monday 08:00 to 09:00, by its label 2 to 4 h to the next."""
    job = job_of(TWO, materials=(paint(**{"recoat": (120.0, 240.0)} | labels),))
    return logged(job, 1, "one", at(0, "08:00"), at(0, "09:00"))


@pytest.mark.parametrize(
    ("clock", "expected", "sure"),
    [
        ("08:30", "working", "high"),
        ("09:30", "today", "high"),  # likely at 12:00
        ("10:00", "soon", "high"),
        ("11:59", "soon", "high"),
        ("12:00", "now", "medium"),  # the likely moment: test first
        ("12:59", "now", "medium"),
        ("13:00", "now", "high"),  # the safe moment
    ],
)
def test_a_coat_goes_through_its_states_by_the_clock(clock, expected, sure):
    found = state(one_on(), at(0, clock))
    assert (found.state, found.sure) == (expected, sure)


def test_early_likely_and_safe_are_the_labels_at_its_own_air():
    until = state(one_on(), at(0, "09:30")).until
    assert until.early == at(0, "11:00")
    assert until.likely == at(0, "12:00")
    assert until.safe == at(0, "13:00")
    assert state(one_on(), at(0, "14:00")).since == until


def test_a_wait_into_another_day_is_held_by_it():
    found = state(one_on(recoat=1440.0), at(0, "10:00"))
    assert found.state == "held"
    assert [hold.code for hold in found.held_by] == ["wait"]
    assert found.until.likely == at(1, "09:00")


def test_a_window_about_to_shut_comes_first():
    job = one_on(window=600.0)
    assert state(job, at(0, "13:30")).state == "closing"  # shut before tomorrow
    wide = one_on(window=4000.0)
    assert state(wide, at(0, "13:30")).state == "now"
    assert state(job, at(0, "13:30")).closes.early == at(0, "19:00")


def test_a_missed_window_is_held_and_tells_the_rescue():
    found = state(one_on(window=600.0), at(1, "08:00"))
    assert found.state == "held"
    assert found.held_by[0].code == "window"
    assert "no rescue" in found.held_by[0].text
    two = coat("two", rescue=Rescue(min_m2=2.0))
    job = job_of((coat("one"), two), materials=(paint(window=600.0),))
    job = logged(job, 1, "one", at(0, "08:00"), at(0, "09:00"))
    assert "Rescue first" in state(job, at(1, "08:00")).held_by[0].text


def test_a_first_step_is_ready_and_a_finished_wall_done():
    job = job_of((coat("one"),))
    assert state(job, at(0, "08:00")).state == "now"
    job = logged(job, 1, "one", at(0, "08:00"), at(0, "09:00"))
    found = state(job, at(0, "10:00"))
    assert found.state == "done"
    assert found.step is None


def test_coats_of_the_future_do_not_count_yet():
    assert state(one_on(), at(0, "07:00")).step.id == "one"


def test_a_gate_holds_until_its_moment():
    job = with_surface(job_of((coat(),)), 1, gates=(GateFactory(),))
    found = state(job, at(0, "08:00"))
    assert found.state == "held"
    assert found.held_by[0].code == "gate"
    assert found.until.likely == at(2, "08:00")


def test_a_step_is_held_while_the_lead_forbids_it():
    ban = BanFactory(
        surface="wall-1", step="coat", hands=(),
        start=at(0, "08:00"), end=at(1, "10:00"),
    )  # fmt: skip
    job = job_of((coat(),), bans=(ban,))
    found = state(job, at(0, "09:00"))
    assert found.state == "held"
    assert [hold.code for hold in found.held_by] == ["ban"]
    assert "Tue 13 Oct 10:00" in found.held_by[0].text
    assert found.until.likely == at(1, "10:00")
    assert state(job, at(1, "10:00")).state == "now"
    others = replace(job, bans=(replace(ban, step="other"),))
    assert state(others, at(0, "09:00")).state == "now"


def test_the_ceiling_comes_before_the_trim_unless_begun():
    job = job_of((coat("one"),), TWO, kinds=("ceiling", "trim"))
    found = state(job, at(0, "08:00"), wall=2)
    assert found.state == "held"
    assert found.held_by[0].code == "order"
    assert found.until is None


def test_dust_is_held_by_a_tacky_coat_and_a_coat_by_dust_being_made():
    job = job_of(TWO, (dry("coat", makes=("dust",)),))
    wet = logged(job, 1, "one", at(0, "08:00"), at(0, "09:00"))
    found = state(wet, at(0, "09:15"), wall=2)
    assert found.state == "soon"
    assert found.held_by[0].code == "dust"
    assert found.until.safe == at(0, "10:00")
    assert state(wet, at(0, "10:05"), wall=2).state == "now"
    sanding = logged(job, 2, "coat", at(0, "08:00"), at(0, "09:00"))
    assert state(sanding, at(0, "08:30"), wall=1).held_by[0].code == "dust"


def test_dust_in_a_room_apart_holds_nothing():
    job = job_of(TWO, (dry("coat", makes=("dust",)),))
    job = replace(job, rooms=(*job.rooms, RoomFactory(id="next")))
    job = with_surface(job, 2, room="next")
    wet = logged(job, 1, "one", at(0, "08:00"), at(0, "09:00"))
    assert state(wet, at(0, "09:15"), wall=2).state == "now"


def test_air_that_forbids_a_start_holds_and_says_until_when():
    job = with_room(job_of((coat(),)), air=damp(0, 1, humidity_pct=90.0))
    found = state(job, at(0, "08:00"))
    assert found.state == "held"
    assert "humid" in [hold.code for hold in found.held_by]
    assert found.until.likely == at(1, "00:00")


def test_a_wall_done_in_part_names_the_section_that_is_next():
    job = with_surface(job_of(TWO), 1, stop_lines_m=(2.0,))
    job = logged(job, 1, "one", at(0, "08:00"), at(0, "09:00"), section="1")
    found = state(job, at(0, "10:00"))
    assert found.step.id == "one"
    assert found.section == "2"


def test_the_age_of_the_last_reading_in_the_room_is_told():
    job = one_on()
    readings = tuple(
        ReadingFactory(at=at(0, clock), room="room") for clock in ("07:00", "09:10")
    )
    job = replace(job, readings=readings)
    assert state(job, at(0, "10:00")).reading_age_min == 50.0
    assert state(one_on(), at(0, "10:00")).reading_age_min is None


def test_the_list_reads_in_the_order_people_want():
    job = job_of(TWO, TWO, TWO, (coat("one"),), materials=(paint(window=600.0),))
    job = logged(job, 1, "one", at(0, "12:00"), at(0, "13:00"))
    job = logged(job, 2, "one", at(0, "08:00"), at(0, "09:00"))
    job = logged(job, 3, "one", at(0, "10:00"), at(0, "11:00"))
    found = [(s.surface.id, s.state) for s in ready(job, at=at(0, "13:30"))]
    assert found == [
        ("wall-2", "closing"),
        ("wall-4", "now"),
        ("wall-3", "soon"),
        ("wall-1", "today"),
    ]


def test_the_answer_has_the_format_that_others_rely_on():
    answer = ready_answer(one_on(window=6000.0), at=at(0, "09:30"))
    assert answer["at"] == "2026-10-12T09:30:00+01:00"
    (entry,) = answer["surfaces"]
    assert entry["surface"] == "wall-1"
    assert entry["room"] == "room"
    assert entry["step"] == "two"
    assert entry["state"] == "today"
    assert entry["until"] == {
        "early": "2026-10-12T11:00:00+01:00",
        "likely": "2026-10-12T12:00:00+01:00",
        "safe": "2026-10-12T13:00:00+01:00",
    }
    assert set(entry["closes"]) == {"early", "likely", "safe"}
    assert entry["held_by"][0]["code"] == "wait"
    assert entry["test"]
    assert entry["sure"] == "high"
    assert "since" not in entry


def test_a_wait_that_never_ends_is_said_and_is_null():
    job = with_room(one_on(), air=damp(-2, 60, humidity_pct=100.0))
    answer = ready_answer(job, at=at(0, "09:00") + timedelta(hours=3))
    (entry,) = answer["surfaces"]
    assert entry["state"] == "held"
    codes = [hold["code"] for hold in entry["held_by"]]
    assert "never-ends" in codes


def test_the_last_minutes_of_a_window_are_closing_with_little_sureness():
    job = one_on(window=(540.0, 660.0))  # early 18:00, likely 19:00, safe 20:00
    found = state(job, at(0, "18:30"))
    assert (found.state, found.sure) == ("closing", "low")
    assert found.closes.early == at(0, "18:00")
    assert found.closes.likely == at(0, "19:00")
    assert state(job, at(0, "20:00")).state == "closing"
    assert state(job, at(0, "20:01")).state == "held"


def test_soon_ends_two_hours_before_the_likely_moment():
    job = one_on()  # likely at 12:00
    assert state(job, at(0, "09:59")).state == "today"
    assert state(job, at(0, "10:00")).state == "soon"


def test_a_coat_laid_once_more_counts_by_its_own_clocks():
    job = one_on(window=600.0)  # the first shut on Monday at 19:00
    job = logged(job, 1, "one", at(1, "08:00"), at(1, "09:00"))
    found = state(job, at(1, "09:30"))
    assert [hold.code for hold in found.held_by] == ["wait"]
    assert found.until.likely == at(1, "12:00")
    assert found.closes.early == at(1, "19:00")


def test_sections_laid_after_the_whole_count_by_their_own_clocks():
    job = with_surface(one_on(), 1, stop_lines_m=(2.0,))
    job = logged(job, 1, "one", at(0, "10:00"), at(0, "11:00"), section="2")
    assert state(job, at(0, "11:30")).until.likely == at(0, "14:00")
    both = logged(job, 1, "one", at(0, "11:00"), at(0, "11:15"), section="1")
    assert state(both, at(0, "11:30")).until.early == at(0, "13:15")


def test_air_that_will_forbid_the_start_when_the_wait_is_over_holds_too():
    """Of 16 h one is left at midnight; the day that begins is too damp to start in."""
    job = with_room(one_on(recoat=960.0), air=damp(1, 2, humidity_pct=90.0))
    found = state(job, at(0, "10:00"))
    codes = [hold.code for hold in found.held_by]
    assert codes == ["wait", "dew-margin", "humid"]  # 23 C and 90 %: 1.7 K
    assert at(1, "01:00") < found.held_by[0].until.likely < at(2, "00:00")
    assert found.until.likely == at(2, "00:00")
    later = with_room(job, air=damp(3, 4, humidity_pct=90.0))
    assert [hold.code for hold in state(later, at(0, "10:00")).held_by] == ["wait"]


def test_a_gate_into_damp_air_waits_for_the_air_after_it():
    job = with_surface(job_of((coat(),)), 1, gates=(GateFactory(),))  # Wed 08:00
    job = with_room(job, air=damp(2, 3, humidity_pct=90.0))
    found = state(job, at(0, "08:00"))
    assert [hold.code for hold in found.held_by] == ["gate", "dew-margin", "humid"]
    assert "Wed 14 Oct 08:00" in found.held_by[1].text
    assert found.until.likely == at(3, "00:00")


def test_a_dry_step_does_not_mind_the_air():
    job = with_room(job_of((dry("sand"),)), air=damp(0, 1, humidity_pct=95.0))
    assert state(job, at(0, "08:00")).state == "now"
