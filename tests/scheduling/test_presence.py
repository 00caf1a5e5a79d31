"""Days, hand-days and visits: the aims after lateness and finish."""

from dataclasses import replace

import pytest

from jobs.factories import RoomFactory
from scheduling.greedy import Greedy
from scheduling.presence import presence
from scheduling.solver import FIRST_PLAN, Effort, solve
from tests.scheduling.planning_jobs import (
    coat,
    dry,
    job_of,
    paint,
    planned,
    with_surface,
)
from tests.scheduling.test_search import process_of


def searched(job, aims=FIRST_PLAN):
    """Process and placing of a search that takes these aims."""
    process = process_of(job)
    start = Greedy(process).best()
    found = solve(process, start, effort=Effort(budget=2.0), aims=aims)
    return process, found.placing


def overnight():
    """Two coats a night apart on one wall, an hour of dry work on another."""
    slow = paint(recoat=900.0)
    walls = (coat("one"), coat("two")), (dry("fill"),)
    return job_of(*walls, hands=2, materials=(slow,))


def test_work_that_costs_no_time_waits_for_a_hand_who_is_there_anyway():
    process, placing = searched(overnight())
    assert presence(process, placing).hand_days == 2
    process, without = searched(overnight(), ("late", "finish", "starts"))
    assert presence(process, without).hand_days == 3
    ends = [max(p.end for p in found.values()) for found in (placing, without)]
    assert ends[0] == ends[1]


def test_the_whole_planner_sends_one_hand():
    plan = planned(overnight())
    assert {hand for made in plan.stints for hand in made.hands} == {"hand-1"}


def test_a_room_is_done_in_one_visit_where_that_costs_nothing():
    """Room two can be left alone on the day that room one's second coat takes."""
    slow = paint(recoat=900.0)
    job = job_of(
        (coat("one"), coat("two")),
        (dry("fill", 300.0),),
        (dry("sand", 300.0),),
        materials=(slow,),
    )
    job = with_surface(with_surface(job, 2, room="other"), 3, room="other")
    job = replace(job, rooms=(*job.rooms, RoomFactory(id="other")))
    process, placing = searched(job)
    found = presence(process, placing)
    assert (found.days, found.hand_days) == (2, 2)
    assert found.visits == 4  # 10 h in the other room take both days
    short = with_surface(job, 3, recipe="recipe-2")
    short = replace(
        short,
        recipes=tuple(
            replace(r, steps=(dry("fill", 120.0),)) if r.id == "recipe-2" else r
            for r in short.recipes
        ),
    )
    process, placing = searched(short)
    assert presence(process, placing).visits == 3


def test_a_stint_over_two_days_counts_on_both():
    job = job_of((dry("prepare", 600.0, splits=True),))
    process, placing = searched(job)
    found = presence(process, placing)
    assert (found.days, found.hand_days, found.visits) == (2, 2, 2)
    assert found.weight == 4


@pytest.mark.parametrize("aim", ["days", "visits"])
def test_a_finish_is_never_given_up_for_presence(aim):
    """Two walls of four hours: two hands side by side end the day, one would not."""
    job = job_of((coat(minutes=300),), (coat(minutes=300),), hands=2)
    process, placing = searched(job, ("late", "finish", aim))
    assert presence(process, placing).hand_days == 2
    assert {p.end for p in placing.values()} == {min(p.end for p in placing.values())}
