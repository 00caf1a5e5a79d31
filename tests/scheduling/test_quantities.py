"""What to order and by when, from areas, coats, spreads, parts and the plan."""

from dataclasses import replace
from datetime import timedelta

import pytest

from jobs.factories import CoatFactory, MaterialFactory, RecipeFactory, SurfaceFactory
from scheduling.quantities import quantities
from tests.scheduling.planning_jobs import at, coat, job_of, planned

PAINT = MaterialFactory(
    id="material",
    labels={"open": 10.0, "touch": 60.0, "recoat": 240.0},
    spread_m2_per_l=10.0,
)


def two_coats(**changes):
    """Two coats on a wall of 12.5 m2."""
    job = job_of((coat("one"), coat("two")), materials=(PAINT,))
    return replace(job, **changes)


def only(job, plan=None):
    (order,) = quantities(job, plan)
    return order


def test_each_coat_of_each_net_area_counts_with_its_waste():
    order = only(two_coats())
    assert (order.area_m2, order.coats, order.surfaces) == (25.0, 2, 1)
    assert order.litres == pytest.approx(2.5 * 1.15)  # 15 % unless the job says


def test_the_job_sets_its_waste():
    assert only(two_coats(waste_pct=0.0)).litres == pytest.approx(2.5)
    assert only(two_coats(waste_pct=30.0)).litres == pytest.approx(3.25)


def test_openings_are_taken_off():
    job = two_coats(waste_pct=0.0)
    wall = replace(job.surfaces[0], openings_m2=2.5)
    assert only(replace(job, surfaces=(wall,))).litres == pytest.approx(2.0)


def test_a_thick_coat_takes_as_much_more():
    job = job_of((coat("one", coat=3.0),), materials=(PAINT,))
    order = only(replace(job, waste_pct=0.0))
    assert (order.area_m2, order.litres) == (12.5, pytest.approx(3.75))


def test_what_is_logged_is_not_ordered_again():
    done = CoatFactory(surface="wall-1", step="one", start=at(0, "08:00"),
                       end=at(0, "09:00"))  # fmt: skip
    assert only(two_coats(coats=(done,))).area_m2 == 12.5
    last = replace(done, step="two")
    assert quantities(two_coats(coats=(last,)), None) == ()


def test_of_a_wall_begun_only_the_sections_that_are_left():
    job = two_coats()
    wall = replace(job.surfaces[0], stop_lines_m=(1.0,))
    done = CoatFactory(surface="wall-1", step="one", section="1",
                       start=at(0, "08:00"), end=at(0, "09:00"))  # fmt: skip
    order = only(replace(job, surfaces=(wall,), coats=(done,)))
    assert order.area_m2 == pytest.approx(12.5 * 0.8 + 12.5)


def test_a_mix_is_bought_by_its_parts():
    glaze = replace(PAINT, parts={"colour": 1.0, "medium": 4.0}, tins_l=(1.0,))
    order = only(two_coats(materials=(glaze,), waste_pct=0.0))
    bought = {part.name: (part.litres, part.bought_l) for part in order.bought}
    assert bought == {"colour": (0.5, 1.0), "medium": (2.0, 2.0)}


def test_whole_tins_only_where_sizes_are_given():
    (part,) = only(two_coats()).bought
    assert (part.tins, part.bought_l) == ((), part.litres)
    tinned = replace(PAINT, tins_l=(1.0, 2.5))
    (part,) = only(two_coats(materials=(tinned,))).bought
    assert part.bought_l == 3.0


def test_without_a_spread_it_is_named_and_not_guessed():
    bare = replace(PAINT, spread_m2_per_l=None, tins_l=(5.0,))
    order = only(two_coats(materials=(bare,)))
    assert (order.bought, order.litres, order.area_m2) == ((), None, 25.0)


def test_it_is_ordered_its_lead_time_before_its_first_use():
    slow = replace(PAINT, lead_days=7)
    job = two_coats(materials=(slow,))
    order = only(job, planned(job))
    assert order.first_use == at(0, "08:00")
    assert order.order_by == (at(0, "08:00") - timedelta(days=7)).date()


def test_without_a_lead_time_it_is_there_on_its_first_day():
    job = two_coats()
    assert only(job, planned(job)).order_by == at(0, "08:00").date()


def test_without_a_plan_there_is_no_day():
    order = only(two_coats())
    assert (order.first_use, order.order_by) == (None, None)


def test_a_test_or_a_rescue_is_no_use():
    job = two_coats()
    plan = planned(job)
    stints = tuple(
        replace(stint, kind="rescue") if stint.step == "one" else stint
        for stint in plan.stints
    )
    order = only(job, replace(plan, stints=stints))
    assert order.first_use == plan.stints[-1].start


def test_the_one_to_order_soonest_comes_first():
    late = replace(PAINT, id="late", name="Late", lead_days=10)
    job = two_coats(
        materials=(PAINT, late),
        recipes=(
            RecipeFactory(
                id="recipe-1", steps=(coat("one"), coat("two", material="late"))
            ),
        ),
    )
    found = quantities(job, planned(job))
    assert [order.material.id for order in found] == ["late", "material"]
    assert [order.material.id for order in quantities(job, None)] == [
        "material",
        "late",
    ]


def test_a_material_that_no_wall_gets_is_not_listed():
    job = two_coats(materials=(PAINT, replace(PAINT, id="spare")))
    assert [order.material.id for order in quantities(job, None)] == ["material"]


def test_walls_add_up():
    job = two_coats(waste_pct=0.0)
    more = SurfaceFactory(id="more", recipe=job.surfaces[0].recipe,
                          room=job.surfaces[0].room)  # fmt: skip
    order = only(replace(job, surfaces=(*job.surfaces, more)))
    assert (order.surfaces, order.litres) == (2, pytest.approx(5.0))
