"""The bound on the finish: never above a plan that exists, and worth having."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings

from scheduling.bound import Bounder
from scheduling.conflict import finish_low
from scheduling.greedy import Greedy
from scheduling.placing import score
from scheduling.solver import Effort, solve
from tests.scheduling.planning_jobs import at, coat, job_of, paint
from tests.scheduling.test_search import (
    TINY,
    best_by_trying_all,
    process_of,
    random_jobs,
)


@pytest.mark.parametrize("name", TINY)
def test_no_finish_that_trying_everything_reaches_is_refuted(name):
    process = process_of(TINY[name])
    _, finish = best_by_trying_all(replace(process, promises=()))
    bounder = Bounder(process)
    assert not bounder.refuted(finish)
    assert bounder.finish_low(0, len(process.axis)) <= finish


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(random_jobs())
def test_every_plan_found_lies_inside_the_earliest_and_latest_moments(job):
    process = process_of(job)
    if process.impossible:
        return
    plans = [Greedy(process).best()]
    plans.append(
        solve(process, plans[0], effort=Effort(budget=0.1), aims=("finish",)).placing
    )
    bounder = Bounder(process)
    for placing in filter(None, plans):
        finish = score(process, placing).finish
        assert not bounder.refuted(finish)
        spans = bounder.spans(finish)
        for index, placed in placing.items():
            assert spans.start[index] <= placed.work_start
            assert placed.end <= spans.end[index]


def test_hands_that_stand_idle_while_all_walls_dry_are_counted():
    # Four walls, one hand: four hours on, an hour's wait for the first wall, four
    # hours more. Work alone says eight hours, the longest wall six.
    job = job_of(
        *((coat("one"), coat("two")) for _ in range(4)),
        materials=(paint(recoat=240.0),),
    )
    process = process_of(job)
    bounder = Bounder(process)
    best = solve(process, None, effort=Effort(budget=3.0), aims=("finish",))
    assert best.proved
    finish = score(process, best.placing).finish
    assert finish_low(process) < bounder.finish_low(0, finish) <= finish


def test_a_finish_on_the_day_of_a_closed_window_is_refuted():
    # The second coat waits four hours from nine on: never done by noon.
    job = job_of((coat("one"), coat("two")), materials=(paint(recoat=240.0),))
    process = process_of(job)
    noon = process.axis.slot_from(process.axis.minute_of(at(0, "12:00")))
    assert Bounder(process).refuted(noon)
