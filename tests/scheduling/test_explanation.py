"""Reasons: the one thing that holds each stint, until when, and the time closed after.

Air is still at 23 C and 50 %, the labels' own: a recoat of 500 min is 8 h 20 min.
"""

from dataclasses import replace

import pytest

from jobs.factories import (
    CoatFactory,
    GateFactory,
    HandFactory,
    HoursFactory,
    MaterialFactory,
    PinFactory,
)
from tests.scheduling.planning_jobs import (
    at,
    coat,
    dry,
    job_of,
    paint,
    people,
    planned,
    stint,
    with_hours,
    with_room,
    with_surface,
)

TWO = (coat("one"), coat("two"))
OVERNIGHT = job_of(TWO, materials=(paint(recoat=500.0),))


def reason(job, wall=1, step="two"):
    return stint(planned(job), wall, step).reason


def closed(job, *days):
    dates = tuple(at(day, "00:00").date() for day in days)
    return replace(job, site=replace(job.site, closed=dates))


# -- a wait and the time closed after it -----------------------------------------------


def test_a_wait_over_in_working_time_names_its_end_and_nothing_else():
    found = reason(job_of(TWO))
    assert (found.code, found.other) == ("wait", "wall-1-one")
    assert (
        found.text
        == "one ends Mon 12 Oct 09:00 and is safe to recoat from Mon 12 Oct 13:00."
    )


def test_a_wait_over_in_the_evening_names_its_end_and_the_morning():
    found = reason(OVERNIGHT)
    assert found.code == "wait"
    assert found.text == (
        "one ends Mon 12 Oct 09:00 and is safe to recoat from Mon 12 Oct 17:20. "
        "No working hours until Tue 13 Oct 08:00."
    )


def test_a_wait_over_before_a_closed_day_names_the_day():
    found = reason(closed(OVERNIGHT, 1))
    assert found.code == "wait"
    assert found.text.endswith(
        "recoat from Mon 12 Oct 17:20. No working hours until Wed 14 Oct 08:00 "
        "(closed Tue 13 Oct)."
    )


def test_a_wait_over_on_a_closed_day_names_that_day_and_no_other():
    job = job_of(TWO, materials=(paint(recoat=1500.0),))  # over Tuesday 10:00
    found = reason(closed(job, 1, 2, 9))
    assert found.text.endswith(
        "recoat from Tue 13 Oct 10:00. No working hours until Thu 15 Oct 08:00 "
        "(closed Tue 13 Oct, Wed 14 Oct)."
    )


def test_a_week_end_between_is_no_closed_day_but_no_working_hours():
    friday = replace(OVERNIGHT, now=at(4, "08:00"))
    found = reason(friday)
    assert found.text.endswith(
        "recoat from Fri 16 Oct 17:20. No working hours until Mon 19 Oct 08:00."
    )


def test_a_wait_over_too_late_in_the_day_names_the_time_it_takes():
    found = reason(job_of(TWO, materials=(paint(recoat=420.0),)))
    assert (found.code, found.other) == ("wait", "wall-1-one")
    assert found.text.endswith(
        "recoat from Mon 12 Oct 16:00. It takes 1 h, too long before Mon 12 Oct 16:30: "
        "next is Tue 13 Oct 08:00."
    )


def test_too_late_before_a_closed_day_names_time_taken_and_day():
    job = job_of(TWO, materials=(paint(recoat=420.0),))
    found = reason(closed(job, 1))
    assert found.text.endswith(
        "It takes 1 h, too long before Mon 12 Oct 16:30: next is Wed 14 Oct 08:00 "
        "(closed Tue 13 Oct)."
    )


def test_wet_work_too_long_before_lunch_says_so():
    job = job_of((coat("one"), coat("two", wet=True)), materials=(paint(recoat=150.0),))
    assert "It takes 1 h, too long before Mon 12 Oct 12:00" in reason(job).text


def test_a_hand_away_after_the_wait_is_not_called_a_closed_site():
    away = HandFactory(id="away", away=((at(1, "00:00"), at(2, "10:00")),))
    found = reason(replace(OVERNIGHT, hands=(away,)))
    assert found.text.endswith(
        "Hours, hands and air leave no start before Wed 14 Oct 10:00."
    )


def test_of_two_holds_over_in_one_night_the_later_is_named():
    """The ceiling ends at 16:30; the wall's gate opens the same evening."""
    ceiling = job_of(
        (coat("two"),), (coat("ceiling", 480),), hands=2, kinds=("wall", "ceiling")
    )
    gate = GateFactory(name="Sample signed", not_before=at(0, "20:00"))
    assert reason(with_surface(ceiling, 1, gates=(gate,))).code == "gate"
    found = reason(ceiling)
    assert found.code == "order"
    assert found.text == (
        "Top before bottom: wall-2, ceiling comes first, done Mon 12 Oct 16:30. "
        "No working hours until Tue 13 Oct 08:00."
    )
    one = CoatFactory(
        surface="wall-1", step="one", start=at(0, "14:00"), end=at(0, "15:00")
    )
    own = replace(OVERNIGHT, now=at(0, "16:00"), coats=(one,))  # safe at 23:20
    for opens, code in (("23:00", "wait"), ("23:30", "gate")):
        gate = GateFactory(name="Sample signed", not_before=at(0, opens))
        assert reason(with_surface(own, 1, gates=(gate,))).code == code


def test_a_logged_coat_is_named_with_its_end_and_the_night_after():
    one = CoatFactory(
        surface="wall-1", step="one", start=at(0, "14:00"), end=at(0, "15:00")
    )
    found = reason(replace(OVERNIGHT, now=at(0, "16:00"), coats=(one,)))
    assert found.code == "wait"
    assert found.text == (
        "one ended Mon 12 Oct 15:00 and is safe to recoat from Mon 12 Oct 23:20. "
        "No working hours until Tue 13 Oct 08:00."
    )


def test_a_coat_still_going_on_ends_later_than_now():
    one = CoatFactory(
        surface="wall-1", step="one", start=at(0, "07:30"), end=at(0, "08:30")
    )
    found = reason(replace(job_of(TWO), coats=(one,)))
    assert found.text.startswith("one ends Mon 12 Oct 08:30 and is safe")


def test_a_gate_in_the_night_is_named_with_the_morning():
    gate = GateFactory(name="Scaffold up", not_before=at(0, "20:00"))
    found = reason(with_surface(job_of((coat(),)), 1, gates=(gate,)), step="coat")
    assert found.code == "gate"
    assert found.text == (
        "Not before Scaffold up: Mon 12 Oct 20:00. "
        "No working hours until Tue 13 Oct 08:00."
    )


def test_a_wait_held_in_a_window_with_a_test_says_so_instead_of_safe():
    slow = MaterialFactory(
        id="material",
        family="oil-size",
        labels={"tack": (60, 300), "closes": (200, 420)},
    )
    job = job_of((coat("size", 30), dry("leaf", 60)), materials=(slow,))
    found = reason(job, step="leaf")
    assert "with a test first" in found.text
    assert "from Mon 12 Oct 11:30" in found.text  # likely 180 min, not the safe 300


# -- dust, hands, rooms ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("what", "wall", "step", "until", "text"),
    [
        (
            "dust", 1, "one", "08:00",
            "Makes dust: wall-1, one is open or tacky until Mon 12 Oct 09:00.",
        ),
        (
            "dust", 2, "other", "08:30",
            "The dust of wall-2, other settles until Mon 12 Oct 09:30.",
        ),
        (
            "steam", 2, "other", "08:30",
            "wall-2, other makes steam in the same air until Mon 12 Oct 08:30.",
        ),
    ],
)  # fmt: skip
def test_dust_and_wet_coats_of_the_log_are_named(what, wall, step, until, text):
    job = job_of(TWO, (dry("other", makes=(what,)),), hands=2)
    logged = CoatFactory(
        surface=f"wall-{wall}", step=step, start=at(0, "07:30"), end=at(0, until)
    )
    held = (2, "other") if wall == 1 else (1, "one")
    found = reason(replace(job, coats=(logged,)), *held)
    assert (found.code, found.text) == (what, text)


def test_a_hand_busy_until_evening_is_named_with_the_morning():
    found = reason(job_of((dry("a", 480),), (dry("b", 120),)), 2, "b")
    assert (found.code, found.other) == ("hands", "wall-1-a")
    assert found.text == (
        "Waits for a hand: at wall-1, a until Mon 12 Oct 16:30. "
        "No working hours until Tue 13 Oct 08:00."
    )


def test_a_room_is_full_by_heads_and_not_by_stints():
    """Three walls, each for one; the room holds two, four hands are there."""
    job = with_room(job_of((coat(),), (coat(),), (coat(),), hands=4), hands_most=2)
    plan = planned(job)
    (last,) = (s for s in plan.stints if s.start == at(0, "09:00"))
    assert last.reason.code == "room"
    assert "holds 2 at a time" in last.reason.text
    pair = job_of((coat(hands=people(2)),), (coat(),), hands=4)
    plan = planned(with_room(pair, hands_most=2))
    (last,) = (s for s in plan.stints if s.start > at(0, "08:00"))
    assert last.reason.code == "room"
    assert plan.stint(last.reason.other).end <= last.start


def test_who_has_left_the_full_room_is_named_and_not_who_is_still_in_it():
    walls = ((coat("long", 240),), (coat("short", 60),), (coat("next", 60),))
    job = with_room(job_of(*walls, hands=3), hands_most=2)
    pins = (
        PinFactory(surface="wall-1", step="long", start=at(0, "08:00"), hands=()),
        PinFactory(surface="wall-2", step="short", start=at(0, "08:00"), hands=()),
    )
    found = reason(replace(job, pins=pins), 3, "next")
    assert (found.code, found.other) == ("room", "wall-2-short")


def test_the_first_hour_that_a_hand_is_there_is_its_own_reason():
    late = HandFactory(id="late", hours=(HoursFactory(start="10:00"),))
    early = HandFactory(id="early", skills=())
    job = job_of((coat(hands=people(2)),), hands=(early, late))
    found = reason(with_hours(job, start="08:00"), step="coat")
    assert found.code == "hours"
    assert "2 can be there together" in found.text
