"""Small jobs with every rule: each plan passes the audit, and plans again.

``plan_job`` holds every plan against the audit, which reads no table of the planner,
and raises where one breaks a rule: what is looked for here is that it never does.
"""

from collections import Counter
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduling.air_of_job import job_air
from scheduling.audit import audit
from scheduling.clock_tables import ClockTables
from scheduling.explanation import Explainer
from scheduling.greedy import Greedy
from scheduling.job_file import read_job, write_job
from scheduling.planning import plan_job
from scheduling.problem import Coat
from scheduling.process_of_job import make_process
from scheduling.stints import make_stints
from scheduling.working_time import make_axis
from tests.scheduling.planning_jobs import at
from tests.scheduling.random_jobs import jobs

DAYS = 14
SLOWLY = {
    "deadline": None,
    "suppress_health_check": [HealthCheck.too_slow, HealthCheck.data_too_large],
}


def check(job, *, budget=0.0, previous=None, now=None):
    """A plan that its audit has passed, or no plan with its reasons."""
    plan = plan_job(job, at=now or job.now, budget=budget, previous=previous)
    if plan.outcome == "no-plan":
        assert plan.reasons
        assert all(reason.text for reason in plan.reasons)
        return plan
    ends = [stint.end for stint in plan.stints if stint.kind != "test"]
    assert plan.finish == max(ends, default=None)
    if plan.bound.finish_not_before is not None and ends:
        assert plan.bound.finish_not_before <= plan.finish
    for stint in plan.stints:
        if stint.reason.other is not None:
            assert plan.stint(stint.reason.other) is not None
    return plan


def place(job):
    """What the constructive step makes of a fortnight, held against the audit."""
    air = job_air(job, at=job.now, days=DAYS)
    axis = make_axis(job, air.origin, job.now, DAYS)
    tables = ClockTables(axis, air.surfaces)
    process = make_process(job, axis, tables, at=job.now, days=DAYS)
    if process.impossible:
        assert all(reason.text for reason in process.impossible)
        return "impossible"
    placing = Greedy(process).best()
    if placing is None:
        return "no place"
    reasons = Explainer(process, placing).reasons()
    stints = make_stints(process, placing, air.surfaces, air.surfaces, reasons)
    faults = audit(
        job, stints, at=job.now, wait_air=air.surfaces, open_air=air.surfaces
    )
    # A date that must be kept is the search's to keep.
    assert [fault for fault in faults if fault.rule != "must-date"] == []
    return "placed"


def plan_and_plan_again(job, sick):
    """A plan by the search; then a day on, what was planned done and a hand away."""
    plan = check(job, budget=0.2)
    if plan.outcome == "no-plan":
        return
    later = at(1, "08:00")
    done = tuple(
        Coat(
            surface=stint.surface,
            section=stint.section,
            step=stint.step,
            start=stint.start,
            end=stint.end,
        )
        for stint in plan.stints
        if stint.kind == "work" and stint.end <= later
    )
    away = (later, later + timedelta(days=2))
    hands = tuple(
        replace(hand, away=(*hand.away, away)) if hand.id == sick else hand
        for hand in job.hands
    )
    job = replace(job, coats=(*job.coats, *done), hands=hands, pins=(), now=later)
    check(job, budget=0.2, previous=plan)


@settings(max_examples=150, **SLOWLY)
@given(jobs())
def test_every_job_is_placed_as_the_audit_would_have_it(job):
    assert read_job(write_job(job)) == job  # nothing here that no file could say
    place(job)


@settings(max_examples=12, **SLOWLY)
@given(jobs(), st.sampled_from(["h0", "h1", "nobody"]))
def test_every_job_is_searched_and_planned_again_soundly(job, sick):
    plan_and_plan_again(job, sick)


@pytest.mark.measure
def test_ten_thousand_jobs_are_placed_as_the_audit_would_have_it():
    came = Counter()

    @settings(max_examples=10_000, **SLOWLY)
    @given(jobs())
    def look(job):
        came[place(job)] += 1

    look()
    print(f"\n{dict(came)}")
    assert came["placed"] > 3_000


@pytest.mark.measure
@settings(max_examples=500, **SLOWLY)
@given(jobs(), st.sampled_from(["h0", "h1", "nobody"]))
def test_five_hundred_jobs_are_searched_and_planned_again_soundly(job, sick):
    plan_and_plan_again(job, sick)
