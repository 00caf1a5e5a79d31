"""A changed job planned again keeps what it can of the issued plan."""

from dataclasses import replace
from datetime import timedelta

import pytest

from scheduling.air_of_job import job_air
from scheduling.clock_tables import ClockTables
from scheduling.greedy import Greedy
from scheduling.keeping import Keeper, least_changes
from scheduling.planning import plan_job
from scheduling.problem import Ban, Pin
from scheduling.process_of_job import make_process
from scheduling.solver import Effort, Kept, solve
from scheduling.standing import clashing
from scheduling.working_time import make_axis
from tests.benchmarks.finishing_jobs import (
    BEGIN,
    MIDDLE,
    SMALL,
    Size,
    damper,
    finishing_job,
)

DAYS = 28
FEW = Size(3, 3, 60)  # a crew with time to spare
SPARE = Size(12, 6, 300)


def process_in(job):
    air = job_air(job, at=job.now, days=DAYS)
    axis = make_axis(job, air.origin, job.now, DAYS)
    tables = ClockTables(axis, air.surfaces)
    return make_process(job, axis, tables, at=job.now, days=DAYS)


def kept_of(process, plan):
    return {
        unit: Kept(
            int(process.axis.day[placed.start]),
            frozenset(placed.hands),
            placed.start,
            placed.test,
        )
        for unit, placed in plan.items()
    }


def turned_damp(size, seed=1, day=1):
    """An issued plan's stints in the process of the same job in damper air."""
    job = finishing_job(size, seed)
    process = process_in(job)
    kept = kept_of(process, Greedy(process).best())
    return process_in(damper(job, start=BEGIN + timedelta(days=day))), kept


def test_where_nothing_has_changed_nothing_moves():
    process = process_in(finishing_job(SMALL, 1))
    plan = Greedy(process).best()
    now = Keeper(process, kept_of(process, plan)).at_once(None)
    assert (now.changed, now.least) == (0, 0)
    assert now.best == plan


def test_damp_days_move_few_stints_of_a_crew_with_time_to_spare():
    process, kept = turned_damp(SPARE, seed=3, day=4)
    keeper = Keeper(process, kept)
    in_order = keeper.in_issued_order()
    now = keeper.at_once(None)
    assert clashing(process, now.best) == frozenset()
    assert now.least <= now.changed < keeper.changes(in_order) / 5


def test_planning_days_again_takes_changes_back_and_repeats_itself():
    process, kept = turned_damp(SMALL, seed=1)
    plans = []
    for _ in range(2):
        keeper = Keeper(process, kept)
        now = keeper.at_once(None)
        before = now.changed
        keeper.improve(now, effort=Effort(budget=2))
        assert now.changed < before
        assert clashing(process, now.best) == frozenset()
        plans.append(now.best)
    assert plans[0] == plans[1]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_plan_has_fewer_changes_than_the_bound(seed):
    process, kept = turned_damp(FEW, seed)
    solved = solve(
        process,
        Keeper(process, kept).at_once(None).best,
        effort=Effort(budget=4),
        kept=kept,
        aims=("changes",),
    )
    fewest = Keeper(process, kept).changes(solved.placing)
    assert 0 < least_changes(process, kept) <= fewest


def test_a_hand_who_is_away_changes_at_least_the_stints_it_had():
    job = finishing_job(SMALL, 2)
    process = process_in(job)
    plan = Greedy(process).best()
    kept = kept_of(process, plan)
    name = process.hands[plan[0].hands[0]].id
    day = BEGIN.replace(hour=0)
    gone = replace(
        job,
        hands=tuple(
            replace(hand, away=((day, day + timedelta(days=1)),))
            if hand.id == name
            else hand
            for hand in job.hands
        ),
    )
    now = process_in(gone)
    lost = {
        unit
        for unit, row in kept.items()
        if row.day == day.toordinal()
        and name in {process.hands[hand].id for hand in row.hands}
    }
    keeper = Keeper(now, kept)
    found = keeper.at_once(None)
    assert lost
    assert len(lost) <= least_changes(now, kept) <= found.changed
    assert clashing(now, found.best) == frozenset()


def test_people_alike_keep_what_each_was_to_do():
    job = finishing_job(MIDDLE, 1)
    first = plan_job(job, at=job.now, budget=0.3)
    again = plan_job(job, at=job.now, budget=0.3, previous=first)
    assert again.changes == ()
    assert [s.hands for s in again.stints] == [s.hands for s in first.stints]


def test_the_notes_say_how_many_change_and_how_few_could():
    job = finishing_job(FEW, 1)
    first = plan_job(job, at=job.now, budget=0.5)
    damp = damper(job, start=BEGIN + timedelta(days=1))
    again = plan_job(damp, at=job.now, budget=0.5, previous=first)
    issued = {stint.id: stint for stint in first.stints if stint.kind != "test"}
    changed = {
        stint.id
        for stint in again.stints
        for was in [issued.get(stint.id, stint)]
        if (stint.start.date(), {*stint.hands}) != (was.start.date(), {*was.hands})
    }
    note = next(note for note in again.notes if "another day or with other" in note)
    assert note.startswith(f"{len(changed)} stints stand")
    assert int(note.split("fewer than ")[1].rstrip(".")) <= len(changed)


def test_a_stop_by_hand_keeps_the_best_so_far():
    process, kept = turned_damp(SMALL, seed=4)
    keeper = Keeper(process, kept, go_on=lambda _: False)
    now = keeper.at_once(None)
    keeper.improve(now, effort=Effort(budget=5))
    assert now.stopped
    assert clashing(process, now.best) == frozenset()


def test_a_hand_kept_off_since_then_is_not_kept_at_it():
    job = finishing_job(SPARE, 1)
    process = process_in(job)
    plan = Greedy(process).best()
    unit = process.units[0]
    hand = process.hands[plan[0].hands[0]].id
    ban = Ban(surface=unit.surface.id, step=unit.step.id, hands=(hand,))
    now = process_in(replace(job, bans=(ban,)))
    keeper = Keeper(now, kept_of(process, plan))
    found = keeper.at_once(None).best
    assert hand not in {now.hands[number].id for number in found[0].hands}
    assert clashing(now, found) == frozenset()
    assert keeper.changes(found) <= len(plan) // 4


def test_a_stint_pinned_to_an_earlier_day_than_issued_stands_there():
    job = finishing_job(SPARE, 1)
    process = process_in(job)
    plan = Greedy(process).best()
    first = next(u.index for u in process.units if not process.before[u.index])
    late = {**kept_of(process, plan)}
    day = int(process.axis.day[plan[first].start])
    late[first] = replace(late[first], day=day + 1)
    unit = process.units[first]
    start = process.axis.start_of(plan[first].start)
    pin = Pin(surface=unit.surface.id, step=unit.step.id, start=start)
    now = process_in(replace(job, pins=(pin,)))
    found = Keeper(now, late).in_issued_order()
    assert found[first].start == plan[first].start


def test_a_big_job_without_any_budget_still_gets_its_plan():
    job = finishing_job(MIDDLE, 1)
    assert plan_job(job, at=job.now, budget=0).outcome == "plan"
