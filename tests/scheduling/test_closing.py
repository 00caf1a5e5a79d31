"""Asking the exact model for ever later finishes until one holds a plan."""

from dataclasses import replace

import pytest

from scheduling.bound import Bounder
from scheduling.closing import close_end, close_in
from scheduling.greedy import Greedy
from scheduling.placing import score
from scheduling.planning import plan_job
from scheduling.rest import cuts, rest_from
from scheduling.solver import Effort, solve
from tests.benchmarks.finishing_jobs import MIDDLE, SMALL, finishing_job
from tests.benchmarks.test_scale import process_of as benchmark_process
from tests.scheduling.test_search import TINY, best_by_trying_all, process_of


def closed(process, budget=2.0, go_on=None):
    return close_in(
        process,
        Greedy(process).best(),
        Bounder(process),
        effort=Effort(budget=budget),
        go_on=go_on,
    )


@pytest.mark.parametrize("name", TINY)
def test_what_it_proves_is_what_trying_everything_finds(name):
    process = process_of(TINY[name])
    process = replace(process, promises=())
    _, finish = best_by_trying_all(process)
    found = closed(process)
    assert (score(process, found.best).finish, found.low) == (finish, finish)


def test_no_finish_is_refuted_that_a_search_reaches():
    process = benchmark_process(SMALL, 2)
    found = closed(process)
    assert found.low <= score(process, found.best).finish
    assert closed(process) == found  # the same budget, the same answer


def test_a_refusal_stops_it_with_a_plan_in_hand():
    process = benchmark_process(SMALL, 2)
    asked = []

    def no(placing):
        asked.append(placing)
        return False

    found = closed(process, go_on=no)
    assert found.stopped
    assert asked
    assert found.best is not None


@pytest.mark.measure
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_plans_with_their_end_planned_again_pass_the_audit(seed):
    job = finishing_job(MIDDLE, seed)
    plan = plan_job(job, at=job.now, budget=3.0)  # audited before it comes back
    assert plan.outcome == "plan"


def test_the_end_planned_again_is_no_later_and_the_same_for_the_same_budget():
    process = benchmark_process(MIDDLE, 2)
    first = Greedy(process).best()
    found = close_end(process, first, effort=Effort(budget=0.8))
    assert score(process, found.best).finish < score(process, first).finish
    assert {*found.best} == {*first}
    assert found == close_end(process, first, effort=Effort(budget=0.8))


def test_what_stands_binds_the_rest_by_waits_and_dust():
    process = benchmark_process(SMALL, 2)
    placing = Greedy(process).best()
    begin = next(cut for cut in cuts(process, placing) if cut > 300)
    rest = rest_from(process, placing, begin)
    assert 0 < len(rest.units) < len(process.units)
    own = {k: placing[unit] for k, unit in enumerate(rest.units)}
    finish = score(process, placing).finish
    solved = solve(
        rest.process, own, effort=Effort(budget=0.1), horizon=finish, aims=("finish",)
    )
    assert solved.outcome == "found"  # the plan's own end is a plan of the rest
    for k, unit in enumerate(rest.units):
        now = rest.process.units[k]
        for wait in process.before[unit]:
            if wait.before not in rest.units:
                assert now.release >= wait.low[placing[wait.before].last]
        assert begin <= now.release <= own[k].start
