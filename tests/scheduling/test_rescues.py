"""Rescues as a choice: made where the whole plan is better, left where it is not."""

from dataclasses import replace
from itertools import chain, combinations
from random import Random

import pytest

from jobs.factories import CoatFactory, DateWishFactory, MaterialFactory
from scheduling.air_of_job import job_air
from scheduling.bound import Bounder
from scheduling.clock_tables import ClockTables
from scheduling.greedy import Greedy
from scheduling.placing import score
from scheduling.planning import plan_job
from scheduling.problem import Rescue
from scheduling.process_of_job import make_process
from scheduling.rescues import Settled, by_trying, carried, relaxed, settled
from scheduling.solver import Effort, solve
from scheduling.working_time import make_axis
from tests.scheduling.planning_jobs import (
    at,
    coat,
    dry,
    job_of,
    paint,
    planned,
    span,
    stint,
    with_room,
)
from tests.scheduling.test_audit import broken_rules, moved
from tests.scheduling.test_audit_fuzz import plan_and_plan_again
from tests.scheduling.test_site_rules import hours

SCUFF = Rescue(min_m2=2.4)  # 30 minutes on a wall of these jobs
DAYS = 4


def two_walls(rescue=SCUFF, long=420.0, window=300.0):
    """One hand: a coat whose window is an hour at noon, and a day's dry work."""
    two = coat("two", rescue=rescue)
    return job_of((coat("one"), two), (dry("long", long),), materials=paints(window))


def paints(window):
    return (paint(window=window),)


def kinds(plan):
    return [s.kind for s in plan.stints]


def test_a_window_is_given_up_where_its_rescue_ends_the_job_sooner():
    plan = planned(two_walls())
    assert span(plan, 1, "one") == (at(0, "08:00"), at(0, "09:00"))
    assert span(plan, 2, "long") == (at(0, "09:00"), at(0, "16:30"))
    rescue = stint(plan, 1, "two", "rescue")
    assert (rescue.start, rescue.end) == (at(1, "08:00"), at(1, "08:30"))
    assert plan.finish == at(1, "09:30")
    assert plan.bound.proved


def test_without_that_rescue_the_window_is_met_and_the_job_ends_later():
    plan = planned(two_walls(rescue=None))
    assert span(plan, 1, "two") == (at(1, "13:00"), at(1, "14:00"))
    assert plan.finish == at(1, "14:00")


def test_a_rescue_that_takes_longer_than_it_gains_is_not_made():
    plan = planned(two_walls(rescue=Rescue(min_m2=33.6)))  # 420 minutes
    assert "rescue" not in kinds(plan)
    assert plan.finish == at(1, "14:00")


def test_a_rescue_with_a_coat_of_its_own_waits_for_that():
    plan = planned(two_walls(rescue=Rescue(min_m2=2.4, stage="recoat")))
    rescue = stint(plan, 1, "two", "rescue")
    assert rescue.end == at(1, "08:30")
    assert span(plan, 1, "two") == (at(1, "12:30"), at(1, "13:30"))


def test_no_rescue_is_made_where_the_window_can_be_met_as_well():
    plan = planned(two_walls(long=240.0))
    assert "rescue" not in kinds(plan)
    assert plan.finish == at(0, "14:30")


def test_a_logged_coats_window_is_given_up_for_a_date_that_must_be_kept():
    job = job_of(
        (coat("one"), coat("two", rescue=SCUFF)),
        (dry("soon", 120.0),),
        materials=paints(65 * 60.0),
        coats=(
            CoatFactory(
                surface="wall-1", step="one", start=at(-3, "15:00"), end=at(-3, "16:00")
            ),
        ),
        dates=(
            DateWishFactory(
                surface="wall-2",
                room=None,
                job=None,
                by=at(0, "10:00"),
                stage="recoat",
                promise=None,
                must=True,
            ),
        ),
    )
    plan = planned(job)
    assert span(plan, 2, "soon") == (at(0, "08:00"), at(0, "10:00"))
    rescue = stint(plan, 1, "two", "rescue")
    assert rescue.start == at(0, "10:00")
    assert "lets work begin until Mon 12 Oct 09:00" in rescue.reason.text
    bare = replace(
        job,
        recipes=tuple(
            replace(r, steps=tuple(replace(s, rescue=None) for s in r.steps))
            for r in job.recipes
        ),
    )
    assert plan_job(bare, at=job.now, budget=2).outcome == "no-plan"


def test_the_reason_names_the_window_that_a_rescue_gives_up():
    rescue = stint(planned(two_walls()), 1, "two", "rescue")
    assert rescue.reason.text.endswith(
        "The window of the coat before lets work begin until Mon 12 Oct 14:00; no plan "
        "was found that meets it, or none as good."
    )


def test_planning_again_moves_no_rescue():
    job = two_walls()
    plan = planned(job)
    again = planned(job, previous=plan)
    assert again.changes == ()
    assert again.stints == plan.stints


# -- the audit -------------------------------------------------------------------------


def test_the_audit_asks_a_rescue_for_its_time_its_wait_and_its_recipe():
    job = two_walls()
    stints = planned(job).stints
    assert broken_rules(job, stints) == set()
    (rescue,) = (s for s in stints if s.kind == "rescue")
    rest = tuple(s for s in stints if s.kind != "rescue")
    assert "window" in broken_rules(job, rest)
    short = replace(rescue, end=at(1, "08:10"))
    assert broken_rules(job, (*rest, short)) == {"rescue"}
    early = moved((rescue,), "wall-1", "two", at(0, "09:00"))
    assert "rescue" in broken_rules(job, (*rest, *early))
    assert broken_rules(two_walls(rescue=None), stints) == {"rescue"}


# -- against trying everything ---------------------------------------------------------


def remaker(job):
    air = job_air(job, at=job.now, days=DAYS)
    axis = make_axis(job, air.origin, job.now, DAYS)
    tables = ClockTables(axis, air.surfaces)

    def remake(rescued, *, offered=False):
        return make_process(
            job,
            axis,
            tables,
            at=job.now,
            days=DAYS,
            rescued=rescued,
            offered=offered,
        )

    return remake


def random_job(seed):
    """Two or three walls of coats with short windows, dear and cheap rescues."""
    draw = Random(seed)
    recipes = []
    for _ in range(draw.choice((2, 3))):
        steps = [coat("one", draw.choice((30, 60, 90)))]
        for name in ("two", "three")[: draw.choice((1, 1, 2))]:
            stage = draw.choice((None, None, "recoat"))
            rescue = Rescue(min_m2=draw.choice((1.2, 4.8, 12.0)), stage=stage)
            steps.append(coat(name, draw.choice((30, 90)), rescue=rescue))
        recipes.append(tuple(steps))
    recipes.append((dry("long", draw.choice((120, 300, 420))),))
    wish = DateWishFactory(
        surface=f"wall-{len(recipes)}",
        room=None,
        job=None,
        by=at(0, draw.choice(("12:00", "16:00"))),
        stage="recoat",
        promise=None,
        must=False,
    )
    return job_of(
        *recipes,
        hands=draw.choice((1, 2)),
        materials=paints(draw.choice((250.0, 300.0))),
        dates=(wish,) if draw.random() < 0.5 else (),
    )


def found_by(process):
    """Lateness in the model's own units and finish of the best plan, proved."""
    run = solve(process, None, effort=Effort(budget=60.0), aims=("late", "finish"))
    if run.placing is None:
        assert run.outcome == "infeasible"
        return None, None
    judged = score(process, run.placing)
    assert run.finish_low == judged.finish
    return run.placing, judged


@pytest.mark.parametrize("seed", range(12))
def test_the_model_makes_the_rescues_that_trying_all_of_them_would(seed):
    remake = remaker(random_job(seed))
    offered = remake(frozenset(), offered=True)
    keys = [offered.keys[offered.units[c.unit].id] for c in offered.choices]
    assert keys
    best = None
    for made in chain.from_iterable(
        combinations(keys, count) for count in range(len(keys) + 1)
    ):
        placing, judged = found_by(remake(frozenset(made)))
        if placing is not None and (best is None or judged.key()[:2] < best):
            best = judged.key()[:2]
    placing, judged = found_by(offered)
    assert judged.key()[:2] == best
    assert Bounder(relaxed(offered)).finish_low(0, judged.finish) <= judged.finish
    plan = settled(offered, placing)
    assert score(plan.process, plan.placing).key()[:2] == best
    assert plan.process.choices == ()


@pytest.mark.parametrize("seed", range(12))
def test_rescues_tried_one_by_one_never_make_a_plan_worse(seed):
    remake = remaker(random_job(seed))
    offered = remake(frozenset(), offered=True)
    process = remake(frozenset())
    placing = Greedy(process).best()
    if placing is None:
        return
    start = Settled(process=process, placing=placing)
    tried = by_trying(start, offered)
    before, after = score(process, placing), score(tried.process, tried.placing)
    assert after.key()[:2] <= before.key()[:2]
    assert carried(tried.placing, tried.process, offered) is not None


def test_a_plan_without_the_exact_search_tries_rescues_too():
    plan = planned(two_walls(), budget=0.0)
    assert plan.finish == at(1, "09:30")


@pytest.mark.parametrize("seed", range(12))
def test_plans_with_rescues_pass_their_audit_and_plan_again(seed):
    job = random_job(seed)
    if seed % 3 == 0:  # a size that is sized again; the rest as it is
        labels = {"tack": 240.0, "closes": 420.0}
        size = MaterialFactory(id="material", family="oil-size", labels=labels)
        steps = [
            tuple(
                replace(s, rescue=replace(s.rescue, stage="tack"))
                if s.rescue is not None and s.rescue.stage
                else s
                for s in recipe.steps
            )
            for recipe in job.recipes
        ]
        recipes = zip(job.recipes, steps, strict=True)
        recipes = tuple(replace(recipe, steps=made) for recipe, made in recipes)
        job = replace(job, materials=(size,), recipes=recipes, dates=())
    if seed % 4 == 1:
        job = with_room(job, opens=hours("17:00", "20:00"))
    plan_and_plan_again(job, "hand-1" if seed % 2 else "nobody")
