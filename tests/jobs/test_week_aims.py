"""The aims in their order, and the figures a plan and the one beside it have."""

from dataclasses import replace

from jobs.factories import DateWishFactory, small_job
from jobs.week_aims import aims_of
from scheduling.plan import Late
from scheduling.solver import FIRST_PLAN, REPLAN
from tests.jobs.page_cast import at, plan_value

# The planner's aims in the words of the page; rescues, hours and starts are not told.
TOLD = {
    "changes": "Change day or hands of as few stints as possible",
    "late": "Miss the wished dates by as little as possible, each by its weight",
    "finish": "End soon",
    "days": "Few days on site, few hands on each of them",
    "visits": "Few visits: a room, on as few days as can be",
}
MUST = "Keep every date that must be kept"


def names(against: bool) -> list[str]:
    job = small_job()
    plan = plan_value(job)
    found = aims_of(job, (plan,), plan if against else None, job.site.tz)
    return [aim.name for aim in found if not aim.aside]


def test_the_order_told_is_the_order_planned_by() -> None:
    assert names(against=False) == [MUST, *(TOLD[a] for a in FIRST_PLAN if a in TOLD)]
    assert names(against=True) == [MUST, *(TOLD[a] for a in REPLAN if a in TOLD)]


def test_each_plan_has_its_own_figures() -> None:
    wishes = (
        DateWishFactory(by=at(0, 9), must=False, weight=2.0),
        DateWishFactory(by=at(9, 9), must=True),
    )
    job = replace(small_job(), dates=wishes)
    plan = plan_value(job, late=(Late(date=0, by_min=60.0),))
    moved = replace(plan.stints[0], start=at(1, 9), end=at(1, 10))
    other = replace(plan, stints=(moved,), finish=at(1, 10), late=())
    told = {a.name: a.figures for a in aims_of(job, (other, plan), plan, job.site.tz)}
    assert told[MUST] == ("kept", "kept")
    assert told[TOLD["changes"]] == ("1 of 1", "none")
    assert told[TOLD["late"]] == ("kept", "1 of 1 late, 2 h as weighed")
    assert told[TOLD["finish"]] == ("Tue 13 Oct 10:00", "Mon 12 Oct 10:00")
    assert told[TOLD["days"]] == ("1 day, 1 hand-day", "1 day, 1 hand-day")
    assert told[TOLD["visits"]] == ("1 visit", "1 visit")


def test_a_date_never_reached_has_no_minutes() -> None:
    job = replace(small_job(), dates=(DateWishFactory(by=at(0, 9), must=False),))
    plan = plan_value(job, late=(Late(date=0, by_min=None),))
    told = {a.name: a.figures for a in aims_of(job, (plan,), None, job.site.tz)}
    assert told[TOLD["late"]] == ("1 of 1 late, some never reached in this air",)
    assert told[MUST] == ("none is set",)
