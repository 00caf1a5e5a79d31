"""Chains without a choice, and what two of them may not do."""

import numpy as np
import pytest

from scheduling.benchmark import AsProcess
from scheduling.blocks import exclusive, fixed_blocks, taken_together
from scheduling.decoder import TRIES_A_UNIT
from scheduling.greedy import Greedy
from scheduling.networks import Activity, Network, job_shop

TWO_JOBS = "2 2\n0 3 1 2\n1 4 0 1\n"


def process_of(text, **more):
    return AsProcess(job_shop(text, **more)).process()


def test_a_job_without_waits_is_one_block_and_its_distances_its_durations():
    assert fixed_blocks(process_of(TWO_JOBS, most_wait=0)) == [
        {0: 0, 1: 3},
        {2: 0, 3: 4},
    ]


@pytest.mark.parametrize("most_wait", [None, 1])
def test_where_a_wait_leaves_a_choice_every_step_stands_alone(most_wait):
    blocks = fixed_blocks(process_of(TWO_JOBS, most_wait=most_wait))
    assert [len(block) for block in blocks] == [1, 1, 1, 1]


def test_a_stint_with_a_test_before_it_is_in_no_block():
    process = process_of(TWO_JOBS, most_wait=0)
    wait = process.waits[0]
    object.__setattr__(wait, "test", np.ones_like(wait.test))
    assert fixed_blocks(process)[0] == {0: 0}


def test_differences_taken_are_those_at_which_a_machine_would_be_needed_twice():
    process = process_of(TWO_JOBS, most_wait=0)
    one, other = fixed_blocks(process)
    taken = {
        difference
        for first, last in taken_together(process, one, other)
        for difference in range(first, last + 1)
    }
    # Machine 0 in [0, 3) and [t + 4, t + 5); machine 1 in [3, 5) and [t, t + 4).
    by_hand = {
        t
        for t in range(-20, 20)
        if set(range(3)) & {t + 4} or set(range(3, 5)) & set(range(t, t + 4))
    }
    assert taken == by_hand


def test_two_that_draw_too_much_together_exclude_each_other():
    network = Network(
        activities=(
            Activity(length=2, demand=(2,)),
            Activity(length=2, demand=(2,)),
            Activity(length=2, demand=(1,)),
        ),
        apart={},
        capacity=(3,),
    )
    process = AsProcess(network).process()
    one, other, third = process.units
    assert exclusive(process, one, other)
    assert not exclusive(process, one, third)


def test_chains_are_placed_in_leaps_to_where_the_missed_step_could_go():
    text = "3 3\n0 100 1 80 2 90\n1 70 2 110 0 60\n2 120 0 50 1 100\n"
    greedy = Greedy(process_of(text, most_wait=7))
    placing = greedy.place_all([0.0] * 9)
    assert placing is not None
    # Slot by slot the second and third job alone would try some hundred starts.
    assert TRIES_A_UNIT * 9 - greedy.decoder._tries < 60
