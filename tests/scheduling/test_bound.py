"""The bound on the finish: never above a plan that exists, and worth having."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings

from jobs.factories import HandFactory
from scheduling.bound import Bounder
from scheduling.greedy import Greedy
from scheduling.placing import score
from scheduling.problem import HandsNeeded
from scheduling.solver import Effort, solve
from tests.scheduling.planning_jobs import at, coat, dry, job_of, paint
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
    eight_hours = 8 * 12
    assert eight_hours < bounder.finish_low(0, finish) <= finish


def test_a_finish_on_the_day_of_a_closed_window_is_refuted():
    # The second coat waits four hours from nine on: never done by noon.
    job = job_of((coat("one"), coat("two")), materials=(paint(recoat=240.0),))
    process = process_of(job)
    noon = process.axis.slot_from(process.axis.minute_of(at(0, "12:00")))
    assert Bounder(process).refuted(noon)


def test_the_longest_chain_of_waits_and_the_work_over_the_hands_both_bound():
    waits = process_of(job_of((coat("one"), coat("two")), hands=3))
    assert waits.axis.end_of(Bounder(waits).finish_low() - 1) == at(0, "14:00")
    work = process_of(job_of(*[(dry("coat", 90),)] * 4, hands=2))  # 6 h by two
    assert work.axis.end_of(Bounder(work).finish_low() - 1) == at(0, "11:00")


def test_work_for_one_skill_is_bound_by_the_hands_who_have_it():
    crew = (HandFactory(id="able", skills=("gilding",)), HandFactory(id="other"))
    walls = [(dry("coat", 90, skill="gilding"),)] * 3
    process = process_of(job_of(*walls, hands=crew))
    assert process.axis.end_of(Bounder(process).finish_low() - 1) == at(
        0, "13:00"
    )  # with lunch


def test_work_that_one_or_two_may_do_is_counted_to_the_last_slot():
    # Six walls of 33 slots for one or 17 for two: 198 hand-slots, 99 slots for two.
    wall = dry("coat", 165, hands=HandsNeeded(least=1, most=2))
    process = process_of(job_of(*[(wall,)] * 6, hands=2))
    modes = [(mode.hands, mode.slots) for mode in process.units[0].modes]
    assert modes == [(1, 33), (2, 17)]
    assert Bounder(process).refuted(98)
