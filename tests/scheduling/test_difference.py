"""What moved between two plans, in words."""

from dataclasses import replace
from datetime import UTC, timedelta

import pytest

from jobs.factories import CoatFactory
from scheduling.difference import changes_between
from tests.scheduling.planning_jobs import at, coat, job_of, planned, with_surface

JOB = job_of((coat("one"), coat("two")), hands=2)


@pytest.fixture(scope="module")
def plan():
    return planned(JOB)


def with_stint(plan, number, **changes):
    stints = list(plan.stints)
    stints[number] = replace(stints[number], **changes)
    return replace(plan, stints=tuple(stints))


def test_an_equal_plan_has_no_changes(plan):
    assert changes_between(JOB, plan, plan) == ()


def test_a_stint_moved_is_told_from_when_to_when_and_why(plan):
    two = plan.stints[1]
    new = with_stint(plan, 1, start=at(1, "08:00"), end=at(1, "09:00"))
    (change,) = changes_between(JOB, plan, new)
    assert (change.kind, change.was, change.now) == ("moved", two.start, at(1, "08:00"))
    assert change.text == (
        "wall-1, two: Mon 12 Oct 13:00 → Tue 13 Oct 08:00. " + two.reason.text
    )


def test_other_hands_at_the_same_hour_are_told_by_name(plan):
    new = with_stint(plan, 0, hands=("hand-2",))
    (change,) = changes_between(JOB, plan, new)
    assert (change.kind, change.text) == ("hands", "wall-1, one: hand-1 → hand-2")


def test_the_same_hands_in_another_order_are_no_change(plan):
    old = with_stint(plan, 0, hands=("hand-1", "hand-2"))
    new = with_stint(plan, 0, hands=("hand-2", "hand-1"))
    assert changes_between(JOB, old, new) == ()


def test_moved_and_with_other_hands_is_told_as_moved(plan):
    new = with_stint(plan, 0, start=at(0, "08:05"), hands=("hand-2",))
    assert [change.kind for change in changes_between(JOB, plan, new)] == ["moved"]


def test_new_and_dropped_stints_are_told(plan):
    shorter = replace(plan, stints=plan.stints[:1])
    (added,) = changes_between(JOB, shorter, plan)
    assert (added.kind, added.was) == ("added", None)
    assert added.text == "wall-1, two: new, Mon 12 Oct 13:00"
    (dropped,) = changes_between(JOB, plan, shorter)
    assert (dropped.kind, dropped.now) == ("dropped", None)
    assert dropped.text == "wall-1, two: no longer planned"


def test_what_was_logged_or_whose_wall_is_gone_is_not_dropped(plan):
    none = replace(plan, stints=())
    one = CoatFactory(
        surface="wall-1", step="one", start=at(0, "08:00"), end=at(0, "09:00")
    )
    (left,) = changes_between(replace(JOB, coats=(one,)), plan, none)
    assert left.step == "two"
    gone = with_surface(JOB, 1, id="wall-9")
    assert changes_between(gone, plan, none) == ()


def test_an_hour_later_on_the_same_face_of_the_clock_is_a_move(plan):
    # Summer time ends in Lisbon on 25 October 2026: 01:30 comes twice.
    summer, winter = at(13, "01:30"), at(13, "01:30").replace(fold=1)
    assert winter.astimezone(UTC) - summer.astimezone(UTC) == timedelta(hours=1)
    old, new = with_stint(plan, 1, start=summer), with_stint(plan, 1, start=winter)
    assert [change.kind for change in changes_between(JOB, old, new)] == ["moved"]


def test_the_same_moment_told_in_another_zone_is_no_move(plan):
    new = with_stint(plan, 1, start=plan.stints[1].start.astimezone(UTC))
    assert changes_between(JOB, plan, new) == ()
