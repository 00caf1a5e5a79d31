"""Units and what binds them, made from small jobs; what cannot be is named at once."""

import time
from dataclasses import replace

import pytest

from jobs.factories import CoatFactory, GateFactory, HandFactory, PinFactory
from scheduling.planning import plan_job
from scheduling.problem import After
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
from tests.scheduling.test_search import process_of

TWO = (coat("one"), coat("two"))


def pin(step="coat", day=0, clock="10:00", hands=()):
    return PinFactory(surface="wall-1", step=step, start=at(day, clock), hands=hands)


# -- pins ------------------------------------------------------------------------------

AWAY = HandFactory(id="away", away=((at(0, "09:00"), at(0, "12:00")),))
ABLE = HandFactory(id="able", skills=("gilding",))
REFUSED = {
    "outside the hours of the site and the hands": job_of(
        (coat(),), pins=(pin(clock="18:00"),)
    ),
    "with 1 named, and the step takes 2": job_of(
        (coat(hands=people(2)),), hands=2, pins=(pin(hands=("hand-1",)),)
    ),
    "with 2 named, and the step takes 1": job_of(
        (coat(),), hands=2, pins=(pin(hands=("hand-1", "hand-2")),)
    ),
    "with 1 named, and the step takes 2 to 3": job_of(
        (coat(hands=people(2, 3)),), hands=3, pins=(pin(hands=("hand-3",)),)
    ),
    "with nobody who has the skill gilding": job_of(
        (coat(skill="gilding"),),
        hands=(ABLE, HandFactory(id="other")),
        pins=(pin(hands=("other",)),),
    ),
    "when a gate or a coat already on does not allow it": with_surface(
        job_of((coat(),), pins=(pin(),)),
        1,
        gates=(GateFactory(not_before=at(0, "11:00")),),
    ),
    "where hours, hands or air do not allow a start": job_of(
        (coat(),), pins=(pin(clock="16:00"),)
    ),
    "when a hand named is not there": job_of(
        (coat(),), hands=(AWAY, HandFactory(id="stays")), pins=(pin(hands=("away",)),)
    ),
    "before one can be ready": job_of(TWO, pins=(pin("two", clock="12:30"),)),
}


@pytest.mark.parametrize("why", REFUSED)
def test_a_pin_that_cannot_be_is_refused_once_and_by_name(why):
    (reason,) = process_of(REFUSED[why]).impossible
    assert reason.code == "pin"
    assert reason.text.startswith("wall-1, ")
    assert " is pinned to Mon 12 Oct " in reason.text
    assert reason.text.endswith(f", {why}")
    plan = plan_job(REFUSED[why], at=REFUSED[why].now, budget=1)
    assert plan.outcome == "no-plan"
    assert [r.text for r in plan.reasons] == [reason.text]


ALLOWED = {
    "the first slot": job_of((coat(),), pins=(pin(clock="08:00"),)),
    "the last that fits": job_of((coat(),), pins=(pin(clock="15:30"),)),
    "a hand who is there": job_of(
        (coat(),), hands=(AWAY, HandFactory(id="stays")), pins=(pin(hands=("stays",)),)
    ),
    "the skilled one of two": job_of(
        (coat(skill="gilding", hands=people(2)),),
        hands=(ABLE, HandFactory(id="other")),
        pins=(pin(hands=("able", "other")),),
    ),
    "when the step before is just ready": job_of(
        TWO, pins=(pin("two", clock="13:00"),)
    ),
    "when the gate opens": with_surface(
        job_of((coat(),), pins=(pin(clock="11:00"),)),
        1,
        gates=(GateFactory(not_before=at(0, "11:00")),),
    ),
    "in the slot after an odd minute": job_of((coat(),), pins=(pin(clock="10:02"),)),
}


@pytest.mark.parametrize("case", ALLOWED)
def test_a_pin_that_can_be_is_kept(case):
    job = ALLOWED[case]
    (wanted,) = job.pins
    found = stint(planned(job), 1, wanted.step)
    assert 0 <= (found.start - wanted.start).total_seconds() < 300
    assert set(wanted.hands) <= set(found.hands)


def test_a_pin_in_the_past_is_dropped_with_a_note():
    job = replace(job_of((coat(),), pins=(pin(),)), now=at(0, "11:00"))
    process = process_of(job)
    assert process.impossible == ()
    assert process.units[0].pinned is None
    assert "wall-1, coat, lies in the past" in process.notes[0]


# -- parts and hands -------------------------------------------------------------------


def test_sections_pass_one_by_one():
    logged = CoatFactory(
        surface="wall-1", step="two", section="2",
        start=at(-1, "08:00"), end=at(-1, "09:00"),
    )  # fmt: skip
    job = with_surface(job_of(TWO, coats=(logged,)), 1, stop_lines_m=(2.0,))
    units = process_of(job).units
    assert [(unit.step.id, unit.section) for unit in units] == [
        ("one", "1"),
        ("two", "1"),
    ]


@pytest.mark.parametrize(("room", "counts"), [(None, [1, 2, 3]), (2, [1, 2]), (1, [1])])
def test_no_more_hands_at_a_step_than_its_room_holds(room, counts):
    job = with_room(job_of((coat(hands=people(1, 3)),), hands=3), hands_most=room)
    assert [mode.hands for mode in process_of(job).units[0].modes] == counts


def test_a_wall_that_fits_only_with_more_than_the_room_holds_goes_by_sections():
    step = coat("coat", 900, hands=people(1, 3))  # a day holds 480
    job = with_surface(job_of((step,), hands=3), 1, stop_lines_m=(1.7, 3.4))
    whole = process_of(job).units
    assert [unit.section for unit in whole] == [None]
    parted = process_of(with_room(job, hands_most=1)).units
    assert [unit.section for unit in parted] == ["1", "2", "3"]


def test_a_room_too_small_for_the_step_is_named():
    job = with_room(job_of((coat(hands=people(2)),), hands=3), hands_most=1)
    (reason,) = process_of(job).impossible
    assert reason.code == "room"
    assert reason.text == "wall-1, coat: needs 2 hands at once; room room holds 1"


# -- order and waits -------------------------------------------------------------------


def test_steps_come_behind_what_they_wait_for_whatever_the_recipes_order():
    steps = (
        dry("strip"),
        coat("three", after=After(step="two", stage="recoat")),
        coat("one", after=After(step="strip", stage="")),
        coat("two", after=After(step="one", stage="recoat")),
    )
    process = process_of(job_of(steps))
    assert [unit.step.id for unit in process.units] == ["strip", "one", "two", "three"]
    edges = {(w.before, w.after, w.stage) for w in process.waits}
    assert edges == {(0, 1, ""), (1, 2, "recoat"), (2, 3, "recoat")}


# -- windows ---------------------------------------------------------------------------

NIGHT = with_hours(
    job_of(TWO, materials=(paint(window=600.0),)), start="08:00", end="10:00", breaks=()
)  # opens after 4 h, when all have gone; shuts 10 h after the coat, before they come


def test_a_window_that_no_hour_of_work_meets_is_named_within_a_second():
    began = time.process_time()
    (reason,) = process_of(NIGHT).impossible
    assert time.process_time() - began < 1.0
    assert reason.code == "window"
    assert reason.text == (
        "wall-1, two: the window of one shuts before it can start, whenever one ends "
        "in the next 3 days"
    )


def test_a_window_met_by_any_hour_is_left_to_the_search():
    met = with_hours(NIGHT, start="08:00", end="14:00", breaks=())
    assert process_of(met).impossible == ()
    assert stint(planned(met), 1, "two").start >= at(0, "13:00")


def test_a_logged_coats_window_that_shuts_before_any_start_is_named():
    """It opens at 12:00 and shuts at 16:00; the step is too long for an afternoon."""
    one = CoatFactory(
        surface="wall-1", step="one", start=at(0, "07:00"), end=at(0, "08:00")
    )
    long = (coat("one"), coat("two", 270))
    job = job_of(long, materials=(paint(window=480.0),), coats=(one,))
    (reason,) = process_of(job).impossible
    assert reason.code == "window"
    assert reason.text == (
        "wall-1, two: the window of the coat before closes Mon 12 Oct 16:00, and "
        "hours, hands or air allow no start until then; the recipe states no rescue"
    )
    short = job_of(TWO, materials=(paint(window=480.0),), coats=(one,))
    assert process_of(short).impossible == ()
