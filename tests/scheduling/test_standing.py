"""What of a plan can stand where it is, and the rest planned again around it."""

from dataclasses import replace

import numpy as np
import pytest

from scheduling.greedy import Greedy
from scheduling.rest import rest_of
from scheduling.solver import Effort, solve
from scheduling.standing import clashing
from tests.benchmarks.finishing_jobs import SMALL
from tests.benchmarks.test_scale import process_of


@pytest.fixture(scope="module")
def process():
    return process_of(SMALL, 2)


@pytest.fixture(scope="module")
def plan(process):
    return Greedy(process).best()


def test_a_plan_that_holds_clashes_nowhere(process, plan):
    assert clashing(process, plan) == frozenset()


def moved(plan, unit, by):
    placed = plan[unit]
    return {
        **plan,
        unit: replace(placed, start=placed.start + by, end=placed.end + by),
    }


def test_what_comes_before_its_wait_is_over_clashes(process, plan):
    wait = next(w for w in process.waits if w.stage)
    by = plan[wait.before].end - plan[wait.after].start
    assert wait.after in clashing(process, moved(plan, wait.after, by))


def test_both_ends_of_a_missed_window_clash(process, plan):
    n = len(process.axis)
    wait = next(w for w in process.waits if (w.high[: n // 2] < n).any())
    late = n - 1 - plan[wait.after].end
    assert {wait.before, wait.after} <= clashing(process, moved(plan, wait.after, late))


def test_a_hand_in_two_places_clashes(process, plan):
    one = plan[0]
    other = next(
        unit
        for unit, placed in plan.items()
        if unit and placed.start >= one.end and placed.hands and one.hands
    )
    twice = {
        **plan,
        other: replace(plan[other], start=one.start, hands=one.hands),
    }
    assert other in clashing(process, twice)


def test_a_hand_that_is_away_clashes(process, plan):
    gone = plan[0].hands[0]
    hands = tuple(
        replace(hand, there=np.zeros_like(hand.there)) if number == gone else hand
        for number, hand in enumerate(process.hands)
    )
    found = clashing(replace(process, hands=hands), plan)
    assert found >= {unit for unit, placed in plan.items() if gone in placed.hands}


def test_dust_on_a_coat_that_is_open_clashes(process, plan):
    apart = process.aparts[0]
    coat = plan[apart.coat]
    onto = moved(plan, apart.maker, coat.start - plan[apart.maker].start)
    assert {apart.maker, apart.coat} & clashing(process, onto)


def test_more_in_a_room_than_it_holds_clash(process, plan):
    loads = tuple(replace(load, most=0) for load in process.loads)
    drawing = {u for load in loads for u in load.demand if plan[u].hands}
    assert clashing(replace(process, loads=loads), plan) >= drawing


@pytest.mark.parametrize("seed", range(4))
def test_what_stands_binds_the_rest_in_every_rule(process, plan, seed):
    draw = np.random.default_rng(seed)
    left = [unit for unit in plan if draw.random() < 0.3]
    rest = rest_of(process, plan, left)
    assert rest.units == tuple(sorted(left))
    # Each order of placing makes another plan of the rest: all must fit what stands.
    greedy = Greedy(rest.process)
    tried = 0
    for _ in range(12):
        found = greedy.place_all(draw.permutation(len(left)).astype(float))
        if found is not None:
            tried += 1
            assert clashing(process, rest.joined(plan, found)) == frozenset()
    own = solve(rest.process, rest.own(plan), effort=Effort(budget=0.2))
    assert own.outcome == "found"
    assert clashing(process, rest.joined(plan, own.placing)) == frozenset()
    assert tried or own.placing


def test_a_load_that_stands_leaves_less_to_the_rest(process, plan):
    load = next(load for load in process.loads if len(load.demand) > 1)
    number = process.loads.index(load)
    stays = next(unit for unit in load.demand if plan[unit].hands)
    rest = rest_of(process, plan, [unit for unit in plan if unit != stays])
    placed = plan[stays]
    taken = rest.process.loads[number].taken
    drawn = load.demand[stays][len(placed.hands)]
    assert (taken[placed.start : placed.end] == drawn).all()
    assert taken.sum() == drawn * (placed.end - placed.start)


def test_a_hand_kept_off_the_step_clashes(process, plan):
    hand = process.hands[plan[0].hands[0]].id
    first = replace(process.units[0], kept_off=frozenset({hand}))
    now = replace(process, units=(first, *process.units[1:]))
    assert clashing(now, plan) == {0}
