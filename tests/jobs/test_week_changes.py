"""What moves between two plans, in words: by kind, for each hand, for each date."""

from dataclasses import replace
from typing import Any

import pytest

from jobs.factories import (
    CoatFactory,
    DateWishFactory,
    HandFactory,
    small_job,
)
from jobs.week_changes import (
    date_changes,
    for_hands,
    move_groups,
    moves_between,
)
from scheduling.plan import Late, Plan, Reason, Stint
from scheduling.problem import Job
from tests.jobs.page_cast import at, plan_value


def job_with_two() -> Job:
    job = small_job()
    return replace(job, hands=(*job.hands, HandFactory(id="second", name="Second")))


def plan_of(job: Job, **changes: Any) -> Plan:
    """The plan by hand, its one stint changed."""
    plan = plan_value(job)
    return replace(plan, stints=(replace(plan.stints[0], **changes),))


def groups(old: Plan, new: Plan, job: Job) -> dict[str, list[str]]:
    moves = moves_between(old, new, job, job.site.tz)
    return {
        group.name: [f"{line.what} | {line.moved} | {line.why}" for line in group.lines]
        for group in move_groups(moves, job, job.site.tz)
    }


def lines_of(old: Plan, new: Plan, job: Job) -> list[tuple[str, ...]]:
    moves = moves_between(old, new, job, job.site.tz)
    return [hand.lines for hand in for_hands(moves, job, job.site.tz)]


def test_the_same_plan_moves_nothing() -> None:
    job = job_with_two()
    assert groups(plan_of(job), plan_of(job), job) == {}
    assert lines_of(plan_of(job), plan_of(job), job) == [(), ()]


def test_another_day_is_told_before_another_hour_and_with_its_reason() -> None:
    job = job_with_two()
    held = Reason(code="hands", text="Nobody is free sooner.")
    moved = plan_of(job, start=at(1, 9), end=at(1, 10), reason=held)
    found = groups(plan_of(job), moved, job)
    assert list(found) == ["To another day"]
    (line,) = found["To another day"]
    assert "Mon 12 Oct 09:00 → Tue 13 Oct 09:00" in line
    assert line.endswith("Nobody is free sooner.")
    found = groups(plan_of(job), plan_of(job, start=at(0, 11), end=at(0, 12)), job)
    assert "Mon 12 Oct 09:00 → 11:00" in found["To another hour of its day"][0]


def test_a_stint_that_changes_hands_is_told_to_both() -> None:
    job = job_with_two()
    handed = plan_of(job, hands=("second",))
    (line,) = groups(plan_of(job), handed, job)["To other hands"]
    assert "→ Second" in line
    first, second = lines_of(plan_of(job), handed, job)
    assert "no longer yours, was Mon 12 Oct 09:00" in first[0]
    assert "comes to you, Mon 12 Oct 09:00" in second[0]


def test_who_stays_at_a_wall_is_told_who_joins() -> None:
    job = job_with_two()
    both = plan_of(job, hands=("hand", "second"))
    first, second = lines_of(plan_of(job), both, job)
    assert first[0].endswith("now with Second")
    assert "comes to you" in second[0]
    alone, _ = lines_of(both, plan_of(job), job)
    assert alone[0].endswith("now alone")


def test_what_is_new_and_what_is_gone_are_told() -> None:
    job = job_with_two()
    none = replace(plan_of(job), stints=())
    assert list(groups(none, plan_of(job), job)) == ["New"]
    assert list(groups(plan_of(job), none, job)) == ["No longer planned"]


def test_what_was_logged_is_not_called_gone() -> None:
    job = job_with_two()
    coat = CoatFactory(surface="wall", step="coat-1", start=at(0, 9), end=at(0, 10))
    logged = replace(job, coats=(coat,))
    assert groups(plan_of(job), replace(plan_of(job), stints=()), logged) == {}


def test_a_test_is_no_move_of_its_own() -> None:
    job = job_with_two()
    test: Stint = replace(plan_of(job).stints[0], id="wall-coat-1-test", kind="test")
    old = replace(plan_of(job), stints=(test,))
    new = replace(old, stints=(replace(test, start=at(1, 9), end=at(1, 9.1)),))
    assert groups(old, new, job) == {}


@pytest.mark.parametrize(
    ("was", "now", "said"),
    [
        ((), (60.0,), "was kept, now 60 min late"),
        ((120.0,), (), "was 2 h late, now kept"),
        ((30.0,), (None,), "was 30 min late, now never reached"),
    ],
)
def test_dates_that_come_out_otherwise_are_told(
    was: tuple[float | None, ...], now: tuple[float | None, ...], said: str
) -> None:
    job = replace(job_with_two(), dates=(DateWishFactory(by=at(0, 9)),))
    old = replace(plan_of(job), late=tuple(Late(date=0, by_min=m) for m in was))
    new = replace(plan_of(job), late=tuple(Late(date=0, by_min=m) for m in now))
    (line,) = date_changes(old, new, job, job.site.tz)
    assert line.endswith(said)
    assert date_changes(old, old, job, job.site.tz) == ()
