"""What the site has against a coat now: each rule where it alone holds, and until when.

In each first test the same job without the rule may start at once, and the plan's
first start is the first in working hours from the list's moment on.
"""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings

from jobs.factories import (
    CoatFactory,
    GateFactory,
    RoomFactory,
    TradeFactory,
)
from scheduling.planning import plan_job
from scheduling.readiness import ready
from scheduling.working_time import FIRST_DAYS, floor_to_slot
from tests.scheduling.planning_jobs import (
    at,
    coat,
    damp,
    dry,
    job_of,
    paint,
    people,
    planned,
    with_room,
    with_surface,
)
from tests.scheduling.random_jobs import jobs
from tests.scheduling.test_site_rules import hours, with_site

MINUTE = timedelta(minutes=1)
SMELLY = replace(paint(), solvent=True)
DUSTY = dry("coat", makes=("dust",))


def state(job, moment=None, wall=1):
    """How a wall stands at a moment, at the job's own now unless told."""
    found = ready(job, at=moment or job.now)
    return next(row for row in found if row.surface.id == f"wall-{wall}")


def codes(found):
    return [hold.code for hold in found.held_by]


def carpenter(start, end, **more):
    return TradeFactory(start=start, end=end, **more)


def beside(job, **changes):
    """The job with one more room, open to the first."""
    return replace(
        job, rooms=(*job.rooms, RoomFactory(id="hall", connected=("room",), **changes))
    )


OPENS = with_room(job_of((coat(),)), opens=hours("09:30", "14:00"), name="Bar")
QUIET = with_site(job_of((DUSTY,)), quiet=hours("07:00", "09:30"))
SMELL = with_site(
    job_of((coat(),), materials=(SMELLY,), now=at(3, "14:30")),
    smell_free=hours("16:00", "20:00", days="thu"),
)
SUN = with_surface(job_of((coat(wet=True),)), 1, sun=hours("07:30", "10:00"))
TRADE = with_room(
    job_of((coat(),)), others=(carpenter(at(-1, "08:00"), at(1, "09:00")),)
)
TRADE_AIR = beside(
    job_of((coat(),)),
    others=(carpenter(at(0, "09:00"), at(0, "13:00"), makes=("dust",)),),
)
ACCESS = with_room(job_of((dry("coat"),)), access=hours("10:00", "16:00"), name="Suite")


@pytest.mark.parametrize(
    ("job", "free", "code", "until", "said"),
    [
        # An hour's coat is dry to touch an hour after: at ten, and the doors open at
        # half past nine.
        (OPENS, with_room(OPENS, opens=()), "opens", at(0, "14:00"),
         "Bar is open to the public Mon 12 Oct 09:30 to Mon 12 Oct 14:00"),
        (QUIET, with_site(QUIET, quiet=()), "quiet", at(0, "09:30"),
         "Quiet hours Mon 12 Oct 07:00 to Mon 12 Oct 09:30"),
        (SMELL, with_site(SMELL, smell_free=()), "smell", at(3, "20:00"),
         "Smell-free Thu 15 Oct 16:00 to Thu 15 Oct 20:00"),
        (SUN, with_surface(SUN, 1, sun=()), "sun", at(0, "10:00"),
         "The sun is on it Mon 12 Oct 07:30 to Mon 12 Oct 10:00"),
        (TRADE, with_room(TRADE, others=()), "trade", at(1, "09:00"),
         "The carpenter: in the room until Tue 13 Oct 09:00."),
        (TRADE_AIR, beside(job_of((coat(),))), "trade-air", at(0, "14:00"),
         "no open or tacky coat in this air until Mon 12 Oct 14:00"),
        (ACCESS, with_room(ACCESS, access=None), "access", at(0, "10:00"),
         "Suite may be entered Mon 12 Oct 10:00 to Mon 12 Oct 16:00."),
    ],
)  # fmt: skip
def test_each_rule_of_the_site_alone_holds_a_wall_until_its_own_moment(
    job, free, code, until, said
):
    assert state(free).state == "now"
    found = state(job)
    assert codes(found) == [code]
    (hold,) = found.held_by
    assert said in hold.text
    assert hold.until.early == hold.until.safe == until
    assert found.until == hold.until
    assert state(job, until - 6 * MINUTE).held_by
    assert state(job, until).held_by == ()
    (first, *_) = planned(job).stints  # the next slot in hours of the site and hands
    assert first.start >= until
    assert planned(free).stints[0].start < until


def test_an_hour_more_is_an_hour_later_only_where_it_does_not_fit_before():
    """90 min before the sun of 09:30 fit from eight on, and not from ten past."""
    job = job_of((coat(minutes=90, wet=True),))
    job = with_surface(job, 1, sun=hours("09:30", "14:00"))
    assert state(job).state == "now"
    assert codes(state(job, at(0, "08:05"))) == ["sun"]
    lines = with_surface(job, 1, stop_lines_m=(2.0,))
    assert state(lines, at(0, "08:05")).state == "now"  # 54 or 36 min for a section
    assert codes(state(lines, at(0, "09:00"))) == ["sun"]


def test_as_many_hands_as_there_are_count():
    """Three hours alone, ninety minutes by two, before the quiet hours of ten."""
    step = dry("coat", minutes=180, makes=("noise",), hands=people(1, 2))
    for crew, expected in ((1, ["quiet"]), (2, [])):
        job = with_site(job_of((step,), hands=crew), quiet=hours("10:00", "11:00"))
        assert codes(state(job)) == expected


def test_work_that_splits_begins_before_quiet_hours():
    step = dry("coat", minutes=300, splits=True, makes=("dust",))
    job = with_site(job_of((step,)), quiet=hours("10:00", "12:00"))
    assert state(job).state == "now"
    assert codes(state(job, at(0, "10:00"))) == ["quiet"]


def test_dusty_work_may_pause_for_a_quiet_lunch():
    job = job_of((dry("coat", minutes=420, makes=("dust",)),))
    job = with_site(job, quiet=hours("12:00", "12:30"))
    assert state(job).state == "now"
    assert state(job, at(0, "12:10")).until.likely == at(0, "12:30")  # asked at lunch


def test_a_bar_that_ends_in_a_break_says_when_work_may_start():
    job = with_room(
        job_of((coat(),)), others=(carpenter(at(0, "07:00"), at(0, "12:10")),)
    )
    found = state(job)
    assert found.until.likely == at(0, "12:30")
    assert found.held_by[0].text.endswith("Next start Mon 12 Oct 12:30.")
    assert state(job, at(0, "12:10")).state == "now"


def test_dry_work_in_an_open_room_and_a_brush_in_quiet_hours_are_not_held():
    job = with_room(job_of((dry("coat"),)), opens=hours("08:00", "23:00"))
    assert state(job).state == "now"
    job = with_site(job_of((coat(),)), quiet=hours("07:00", "09:30"))
    assert state(job).state == "now"


# -- what shuts for good ---------------------------------------------------------------


def test_a_tower_taken_down_holds_for_good():
    down = GateFactory(name="the tower", not_before=None, not_after=at(0, "10:00"))
    job = with_surface(job_of((coat(),)), 1, gates=(down,))
    assert state(job, at(0, "09:00")).state == "now"
    for clock in ("09:05", "11:00"):  # it takes an hour
        found = state(job, at(0, clock))
        assert (found.state, codes(found), found.until) == ("held", ["shuts"], None)
        assert found.held_by[0].text == "the tower shuts Mon 12 Oct 10:00."


def test_a_last_coat_that_is_tacky_at_the_hand_back_is_held_for_good():
    job = with_room(job_of((coat(),)), hand_back=at(0, "14:30"), name="Hall")
    assert state(job, at(0, "12:30")).state == "now"
    found = state(job, at(0, "12:35"))
    assert (found.state, codes(found), found.until) == ("held", ["hand-back"], None)
    assert "Hall is handed back Mon 12 Oct 14:30." in found.held_by[0].text


@pytest.mark.parametrize(("days", "known"), [(12, True), (FIRST_DAYS + 1, False)])
def test_the_look_ahead_goes_as_far_as_a_first_plan(days, known):
    """Twelve days are more than the air is reckoned for."""
    trade = carpenter(at(-1, "08:00"), at(days, "10:00"))
    found = state(with_room(job_of((coat(),)), others=(trade,)))
    assert codes(found) == ["trade"]
    assert (found.until is not None) == known
    if known:
        assert found.until.likely == at(days, "10:00")
    else:
        assert found.state == "held"
        assert "No start is left in the next 21 days." in found.held_by[0].text


# -- a room that is full ---------------------------------------------------------------


def at_work(wall, start, end, step="coat"):
    return CoatFactory(surface=f"wall-{wall}", step=step, start=start, end=end)


def test_a_full_room_holds_until_enough_have_gone():
    """Two walls are at work with two and one hand; the third needs two of three."""
    walls = (
        (coat(hands=people(2)),), (coat(),), (dry("coat", hands=people(2, 3)),),
    )  # fmt: skip
    job = job_of(*walls, hands=6)
    job = replace(
        job,
        coats=(
            at_work(1, at(0, "08:00"), at(0, "10:00")),
            at_work(2, at(0, "08:00"), at(0, "09:00")),
        ),
    )
    assert state(job, at(0, "08:30"), 3).state == "now"
    full = with_room(job, hands_most=3, name="Bar")
    found = state(full, at(0, "08:30"), 3)
    assert codes(found) == ["room"]
    assert found.until.likely == at(0, "10:00")  # at nine two are still there
    assert found.held_by[0].text == (
        "Bar holds 3 at a time: 3 hands at work there, room again Mon 12 Oct 10:00."
    )
    assert state(full, at(0, "10:00"), 3).state == "now"
    roomy = with_room(job, hands_most=4)
    assert state(roomy, at(0, "08:30"), 3).until.likely == at(0, "09:00")
    elsewhere = beside(with_surface(with_surface(full, 1, room="hall"), 2, room="hall"))
    assert state(elsewhere, at(0, "08:30"), 3).state == "now"


def test_a_step_for_more_hands_than_the_room_holds_is_held_for_good():
    job = with_room(job_of((coat(hands=people(3)),), hands=3), hands_most=2)
    found = state(job)
    assert (found.state, codes(found), found.until) == ("held", ["room"], None)
    assert found.held_by[0].text == "Needs 3 hands at once; room holds 2."


# -- dust next door --------------------------------------------------------------------


def test_dust_made_next_door_holds_a_coat_until_it_has_settled():
    job = beside(job_of((coat(),), (DUSTY,)))
    job = with_surface(job, 2, room="hall")
    sanding = replace(job, coats=(at_work(2, at(0, "08:00"), at(0, "09:00")),))
    assert state(job).state == "now"
    for clock in ("08:30", "09:30"):  # being made, and made
        found = state(sanding, at(0, clock))
        assert codes(found) == ["dust"]
        assert "settles until Mon 12 Oct 10:00." in found.held_by[0].text
        assert found.until.safe == at(0, "10:00")
    assert state(sanding, at(0, "10:00")).state == "now"
    shut = replace(
        sanding, rooms=(sanding.rooms[0], replace(sanding.rooms[1], connected=()))
    )
    assert state(shut, at(0, "08:30")).state == "now"


# -- together --------------------------------------------------------------------------


def test_what_bars_the_moment_at_which_the_coat_is_ready_holds_too():
    """Ready at 13:00; sanding is quiet from twelve to three."""
    job = job_of((coat("one"), dry("two", makes=("dust",))))
    job = with_site(job, quiet=hours("12:00", "15:00"))
    job = replace(job, coats=(at_work(1, at(0, "08:00"), at(0, "09:00"), "one"),))
    found = state(job, at(0, "09:30"))
    assert codes(found) == ["wait", "quiet"]
    assert found.until.likely == at(0, "15:00")
    morning = with_site(job, quiet=hours("09:00", "12:00"))  # over by then
    assert codes(state(morning, at(0, "09:30"))) == ["wait"]


def test_the_moment_told_is_one_that_all_rules_leave():
    """Sun until ten; then an hour's coat, dry to touch at noon, meets the public of
    half past eleven to three; and at three the sun is back until five."""
    sun = (*hours("07:00", "10:00"), *hours("15:00", "17:00"))
    job = with_surface(job_of((coat(wet=True),)), 1, sun=sun)
    job = with_room(job, opens=hours("11:30", "15:00"))
    found = state(job)
    told = [(hold.code, hold.until.likely) for hold in found.held_by]
    assert told == [
        ("sun", at(0, "10:00")), ("opens", at(0, "15:00")), ("sun", at(0, "17:00")),
    ]  # fmt: skip
    assert found.until.likely == at(0, "17:00")
    assert state(job, at(0, "16:50")).held_by
    assert state(job, found.until.likely).state == "now"


def test_of_hours_that_come_round_for_days_the_first_and_the_last_are_told():
    """Access from six to eight in the evening, quiet from six on but on Thursday."""
    job = with_room(job_of((DUSTY,)), access=hours("18:00", "20:00"))
    job = with_site(job, quiet=hours("18:00", "20:00", days="mon-wed,fri-sun"))
    found = state(job)
    told = [(hold.code, f"{hold.until.likely:%a %H:%M}") for hold in found.held_by]
    assert told == [
        ("access", "Mon 18:00"), ("quiet", "Mon 20:00"),
        ("quiet", "Wed 20:00"), ("access", "Thu 18:00"),
    ]  # fmt: skip
    assert found.until.likely == at(3, "18:00")


def test_air_that_forbids_the_start_a_bar_leaves_is_told():
    trade = carpenter(at(0, "07:00"), at(1, "10:00"))
    job = with_room(job_of((coat(),)), others=(trade,), air=damp(1, 2, 90.0))
    found = state(job)
    assert codes(found) == ["trade", "dew-margin", "humid"]
    assert found.until.likely == at(2, "00:00")


SITE = {
    "access", "opens", "quiet", "smell", "sun", "trade", "trade-air", "shuts",
    "hand-back", "room",
}  # fmt: skip


@settings(max_examples=25, deadline=None)
@given(jobs())
def test_no_plan_starts_a_step_before_the_list_would_have_it(job):
    """A plan keeps more rules than the list, and waits for the safe end of clocks."""
    plan = plan_job(job, at=job.now, budget=0.0)
    listed = {row.surface.id: row for row in ready(job, at=job.now)}
    for stint in plan.stints:
        row = listed[stint.surface]
        if stint.kind != "work" or row.step is None or stint.step != row.step.id:
            continue
        if row.until is not None and row.until.likely is not None:
            assert floor_to_slot(row.until.likely) <= stint.start
        never = [h for h in row.held_by if h.code in SITE and h.until is None]
        assert not never or stint.start >= job.now + timedelta(days=FIRST_DAYS)
