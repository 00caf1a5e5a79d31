"""Asking the exact model for ever later finishes until one holds a plan."""

from dataclasses import replace

import pytest

from scheduling.bound import Bounder
from scheduling.closing import close_in
from scheduling.greedy import Greedy
from scheduling.placing import score
from scheduling.solver import Effort
from tests.benchmarks.finishing_jobs import SMALL
from tests.benchmarks.test_scale import process_of as benchmark_process
from tests.scheduling.test_search import TINY, best_by_trying_all, process_of


def closed(process, budget=4.0, go_on=None):
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
