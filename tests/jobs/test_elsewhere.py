"""Hands with issued stints on other jobs of the company are not free for them."""

from collections.abc import Callable
from datetime import timedelta

from jobs import actions
from jobs.factories import HandFactory, small_job
from jobs.models import Company, Job, PlanRun
from jobs.replanning import replan
from jobs.translation import job_value, store_job
from scheduling.job_file import job_sha256
from tests.jobs.conftest import NOW

BUDGET = 0.2


def planned(job: Job) -> PlanRun:
    run = PlanRun.objects.create(job=job, at=NOW)
    replan(run.pk, budget=BUDGET)
    run.refresh_from_db()
    return run


def meets(one: PlanRun, other: PlanRun) -> bool:
    """Whether any two of their stints stand at the same time."""
    return any(
        a.start < b.end and b.start < a.end
        for a in one.plan.stints.all()
        for b in other.plan.stints.all()
    )


def test_an_issued_stint_elsewhere_keeps_its_hand(stored: Callable[..., Job]) -> None:
    first = planned(stored())
    second = stored(id="other", title="The other house")
    assert meets(first, planned(second))  # a draft holds nobody
    actions.issue_plan(plan=first.plan, by=None, now=NOW)
    run = planned(second)
    assert not meets(first, run)
    last = max(stint.end for stint in first.plan.stints.all())
    local = last.astimezone(job_value(second).site.tz)
    assert (
        f"hand has issued stints at {first.job.title} until {local:%a} {local.day} "
        f"{local:%b %H:%M}: not free here then."
    ) in run.plan.content["notes"]


def test_the_plan_is_still_that_of_the_job_as_stored(
    stored: Callable[..., Job],
) -> None:
    first = planned(stored())
    actions.issue_plan(plan=first.plan, by=None, now=NOW)
    second = stored(id="other", title="The other house")
    assert planned(second).plan.job_sha256 == job_sha256(job_value(second))
    assert job_value(second).hands[0].away == ()


def test_another_hand_and_another_company_are_free(
    stored: Callable[..., Job],
) -> None:
    first = planned(stored())
    actions.issue_plan(plan=first.plan, by=None, now=NOW)
    hands = (HandFactory(id="somebody-else"),)
    assert meets(first, planned(stored(id="other", hands=hands)))
    strangers = Company.objects.create(name="Elsewhere")
    theirs = store_job(strangers, small_job(id="theirs"))
    assert meets(first, planned(theirs))


def test_what_is_past_or_replaced_holds_nobody(stored: Callable[..., Job]) -> None:
    job = stored()
    first = planned(job)
    actions.issue_plan(plan=first.plan, by=None, now=NOW)
    second = stored(id="other")
    late = PlanRun.objects.create(job=second, at=NOW + timedelta(days=30))
    replan(late.pk, budget=BUDGET)
    late.refresh_from_db()
    assert not any("not free here" in note for note in late.plan.content["notes"])
