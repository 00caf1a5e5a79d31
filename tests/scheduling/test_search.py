"""The planner against exhaustive search on tiny jobs, and random jobs on itself."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.factories import AirHourFactory, DateWishFactory, GivenAirFactory, HandFactory
from scheduling.air_of_job import job_air
from scheduling.clock_tables import ClockTables
from scheduling.placing import Placed, score
from scheduling.planning import plan_job
from scheduling.problem import KINDS
from scheduling.process_of_job import make_process
from scheduling.solver import Effort, solve
from scheduling.working_time import make_axis
from tests.scheduling.planning_jobs import (
    at,
    coat,
    dry,
    job_of,
    paint,
    people,
    with_hours,
    with_room,
)

DAYS = 3


def process_of(job):
    air = job_air(job, at=job.now, days=DAYS)
    axis = make_axis(job, air.origin, job.now, DAYS)
    tables = ClockTables(axis, air.surfaces)
    return make_process(job, axis, tables, at=job.now, days=DAYS)


def best_by_trying_all(process):
    """Least (lateness, finish) over every start and every choice of hands."""
    n = len(process.axis)
    choices = []
    for unit in process.units:
        rows = []
        for mode in unit.modes:
            for start in np.flatnonzero(mode.may_start):
                end = int(start) + mode.slots
                if start < unit.release or end > n:
                    continue
                for hands in product((0, 1), repeat=len(process.hands)):
                    named = tuple(i for i, is_in in enumerate(hands) if is_in)
                    free = all(process.hands[i].there[start:end].all() for i in named)
                    if len(named) == mode.hands and free:
                        rows.append(Placed(int(start), end, named, test=False))
        choices.append(rows)
    best = None
    for placed in product(*choices):
        if not allowed(process, placed):
            continue
        judged = score(process, dict(enumerate(placed)))
        key = (judged.late, judged.finish)
        best = key if best is None else min(best, key)
    return best


def allowed(process, placed):
    for wait in process.waits:
        last = placed[wait.before].last
        if not wait.low[last] <= placed[wait.after].start <= wait.high[last]:
            return False
    for number, one in enumerate(placed):
        for other in placed[:number]:
            meet = one.start < other.end and other.start < one.end
            if meet and set(one.hands) & set(other.hands):
                return False
    for apart in process.aparts:
        maker, wet = placed[apart.maker], placed[apart.coat]
        settled = apart.settled[maker.last]
        if wet.start < settled and maker.start < apart.clear[wet.last]:
            return False
    return True


def tiny(*recipes, **more):
    """Three days of fifty minutes, so that everything can be tried."""
    job = job_of(*recipes, **more)
    return with_hours(job, start="08:00", end="08:50", breaks=())


SHORT = {"touch": 10.0, "recoat": 30.0}
TINY = {
    "two walls, two hands": tiny(
        (coat("one", 20), coat("two", 10)),
        (coat("one", 15),),
        hands=2,
        materials=(paint(open=5.0, **SHORT),),
    ),
    "a window": tiny(
        (coat("one", 10), coat("two", 10)),
        (coat("one", 25),),
        materials=(paint(open=5.0, window=45.0, **SHORT),),
    ),
    "a pair": tiny(
        (coat("one", 20, hands=people(2)),),
        (coat("one", 25, hands=people(1, 2)),),
        hands=2,
        materials=(paint(open=5.0, **SHORT),),
    ),
    "dust": tiny(
        (coat("one", 20),),
        (dry("one", 25, makes=("dust",)),),
        (dry("one", 15),),
        materials=(paint(open=5.0, touch=20.0, recoat=30.0),),
    ),
    "a date that is late": tiny(
        (coat("one", 30),),
        (coat("one", 30),),
        materials=(paint(open=5.0, **SHORT),),
        dates=(
            DateWishFactory(surface="wall-2", by=at(0, "08:35"), stage="touch"),
            DateWishFactory(
                surface="wall-1", by=at(0, "08:45"), stage="recoat", weight=0.1
            ),
        ),
    ),
}


@pytest.mark.parametrize("name", TINY)
def test_the_search_finds_what_trying_everything_finds(name):
    process = process_of(TINY[name])
    best = best_by_trying_all(process)
    solved = solve(process, None, effort=Effort(budget=10.0))
    judged = score(process, solved.placing)
    assert solved.proved
    assert (judged.late, judged.finish) == best
    assert solved.finish_low == judged.finish


@pytest.mark.parametrize("name", TINY)
def test_the_whole_planner_ends_when_trying_everything_ends(name):
    job = TINY[name]
    process = process_of(job)
    _, finish = best_by_trying_all(process)
    plan = plan_job(job, at=job.now, budget=10.0)
    assert plan.finish == process.axis.end_of(finish - 1)
    assert plan.bound.proved


def test_a_head_count_with_a_range_of_hands_is_searched_and_proved():
    job = with_room(
        job_of((dry("sand", hands=people(1, 2)),), (dry("fill"),), hands=3),
        hands_most=3,
    )
    process = process_of(job)
    solved = solve(process, None, effort=Effort(budget=1.0))
    assert solved.proved
    assert process.axis.end_of(solved.finish_low - 1) == at(0, "09:00")


# -- random jobs -------------------------------------------------------------------


@st.composite
def labels(draw):
    touch = draw(st.integers(5, 300))
    recoat = touch + draw(st.integers(0, 900))
    stages = {"open": min(touch, draw(st.integers(3, 60))), "touch": touch}
    stages["recoat"] = draw(st.sampled_from([recoat, (recoat, recoat * 1.5)]))
    if draw(st.booleans()):
        stages["window"] = recoat * 1.5 + draw(st.integers(30, 3000))
    return stages


@st.composite
def steps(draw):
    count = draw(st.integers(1, 3))
    made = []
    for number in range(count):
        least = draw(st.integers(1, 2))
        more = {
            "hands": people(least, draw(st.sampled_from([None, least + 1]))),
            "wet": draw(st.booleans()),
            "skill": draw(st.sampled_from([None, None, "finisher"])),
            "makes": draw(st.sampled_from([(), (), ("dust",)])),
        }
        minutes = draw(st.integers(5, 200))
        if draw(st.booleans()):
            made.append(coat(f"s{number}", minutes, **more))
        else:
            splits = draw(st.booleans()) and not more["wet"]
            made.append(dry(f"s{number}", minutes, splits=splits, **more))
    return tuple(made)


@st.composite
def random_jobs(draw):
    count = draw(st.integers(1, 3))
    hands = tuple(
        HandFactory(id=f"h{n}", skills=draw(st.sampled_from([("finisher",), ()])))
        for n in range(draw(st.integers(1, 3)))
    )
    kinds = draw(st.lists(st.sampled_from(KINDS), min_size=count, max_size=count))
    job = job_of(
        *(draw(steps()) for _ in range(count)),
        hands=hands,
        kinds=tuple(kinds),
        materials=(paint() and replace(paint(), labels=draw(labels())),),
    )
    hours = [
        AirHourFactory(
            at=at(day, "00:00"),
            temperature_c=draw(st.floats(8, 28)),
            humidity_pct=draw(st.floats(30, 88)),
        )
        for day in range(-1, 4)
    ]
    job = with_room(job, air=GivenAirFactory(given=tuple(hours)))
    if draw(st.booleans()):
        wish = DateWishFactory(
            job="small",
            by=at(draw(st.integers(0, 4)), "12:00"),
            stage="touch",
            must=draw(st.booleans()),
        )
        job = replace(job, dates=(wish,))
    return job


def check(job):
    """A plan that its own audit has passed, or no plan with its reasons."""
    plan = plan_job(job, at=job.now, budget=0.3)
    if plan.outcome == "no-plan":
        assert plan.reasons
        assert all(reason.text for reason in plan.reasons)
        return
    ends = [stint.end for stint in plan.stints if stint.kind != "test"]
    assert plan.finish == max(ends)
    assert plan.bound.finish_not_before <= plan.finish
    for stint in plan.stints:
        if stint.reason.other is not None:
            assert plan.stint(stint.reason.other) is not None


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(random_jobs())
def test_every_random_job_gets_a_sound_plan_or_reasons(job):
    check(job)


@pytest.mark.measure
@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(random_jobs())
def test_many_random_jobs_get_a_sound_plan_or_reasons(job):
    check(job)
