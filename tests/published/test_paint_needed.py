"""Paint for a room against a worked example in print.

Source: reference.com, "How do you estimate the amount of paint you need?", home and
garden, read in 2026. A room of 10 by 15 ft, 9 ft high, one door of 20 and one window of
15 sq ft, at 350 sq ft a gallon, one coat, no waste: a ceiling of 150 sq ft takes
0.43 gal, "two quarts"; walls of 415 sq ft take 1.2 gal, "one gallon and one quart".
"""

from dataclasses import replace

import pytest

from jobs.factories import MaterialFactory, SurfaceFactory, small_job
from scheduling.mixing import L_PER_US_GALLON, M2_PER_FT2, spread_m2_per_l
from scheduling.quantities import quantities

M_PER_FT = 0.3048
GALLON, QUART = L_PER_US_GALLON, L_PER_US_GALLON / 4
PAINT = MaterialFactory(
    id="material", spread_m2_per_l=spread_m2_per_l(350), tins_l=(GALLON, QUART)
)


def order_for(*surfaces):
    job = small_job(materials=(PAINT,), surfaces=surfaces, waste_pct=0.0)
    (recipe,) = job.recipes
    once = replace(recipe, steps=recipe.steps[:1])
    (order,) = quantities(replace(job, recipes=(once,)), None)
    return order


def wall(name, width_ft, openings_ft2=0.0):
    return SurfaceFactory(
        id=name,
        width_m=width_ft * M_PER_FT,
        height_m=9 * M_PER_FT,
        openings_m2=openings_ft2 * M2_PER_FT2,
    )


def tins(order):
    (part,) = order.bought
    return {tin.size_l: tin.count for tin in part.tins}


def test_the_ceiling_takes_two_quarts():
    order = order_for(
        SurfaceFactory(
            id="ceiling", kind="ceiling", width_m=15 * M_PER_FT, height_m=10 * M_PER_FT
        )
    )
    assert order.litres / GALLON == pytest.approx(0.43, abs=0.005)
    assert tins(order) == {QUART: 2}


def test_the_walls_take_a_gallon_and_a_quart():
    order = order_for(
        wall("one", 10, 20.0),
        wall("two", 10),
        wall("three", 15, 15.0),
        wall("four", 15),
    )
    assert order.area_m2 / M2_PER_FT2 == pytest.approx(415)
    assert order.litres / GALLON == pytest.approx(1.2, abs=0.05)
    assert tins(order) == {GALLON: 1, QUART: 1}
