"""Litres of a batch and its parts. Check values: common practice, no source."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.demo_materials import materials
from scheduling.drying import clock
from scheduling.errors import BadInput
from scheduling.mixing import LEAST_WASTE, USUAL_WASTE, mix, mix_of
from scheduling.problem import Air, Material
from scheduling.room_air import constant_air
from tests.strategies import START, humidities_pct, temperatures_c


def glaze(**more):
    values = {
        "area_m2": 28.0,
        "spread_m2_per_l": 14.0,
        "parts": {"colour": 1.0, "medium": 1.0},
    }
    return mix(**values | more)


def test_one_part_colour_to_one_part_medium_splits_a_batch_in_halves():
    found = glaze()
    assert found.parts_l["colour"] == found.parts_l["medium"] == found.batch_l / 2


def test_one_batch_covers_the_area_with_every_coat_and_the_waste():
    # 28 m2 at 14 m2 a litre: 2 l on the wall, 2.2 to 2.3 in the can.
    assert glaze().net_l == pytest.approx(2.0)
    assert glaze().batch_l == pytest.approx(2.3)
    assert glaze(waste=LEAST_WASTE).batch_l == pytest.approx(2.2)
    assert glaze(coats=2).batch_l == pytest.approx(4.6)
    assert (LEAST_WASTE, USUAL_WASTE) == (0.10, 0.15)


def test_a_material_is_mixed_by_its_own_parts_and_spread():
    by_id = {material.id: material for material in materials()}
    slow = mix_of(by_id["slow-glaze"], 28.0)
    assert slow.parts_l["medium"] == pytest.approx(4 * slow.parts_l["colour"])
    paint = mix_of(by_id["wall-paint"], 57.0, coats=2)
    assert paint.parts_l == {"Dispersion wall paint": paint.batch_l}
    assert paint.net_l == pytest.approx(11.4)


def test_a_material_without_a_spread_is_refused_by_its_name():
    bare = Material(
        id="size",
        family="oil-size",
        label_air=Air(temperature_c=23.0, humidity_pct=50.0),
        labels={"tack": 720.0},
    )
    with pytest.raises(BadInput, match=r"spread_m2_per_l.*size"):
        mix_of(bare, 3.0)


@given(
    st.floats(0, 500),
    st.floats(1, 40),
    st.dictionaries(st.text(min_size=1), st.floats(0.1, 20), min_size=1, max_size=5),
    st.integers(1, 5),
    st.floats(0.1, 0.15),
)
def test_the_parts_are_the_batch_and_none_is_lost(area, spread, parts, coats, waste):
    found = mix(
        area_m2=area, spread_m2_per_l=spread, parts=parts, coats=coats, waste=waste
    )
    assert sum(found.parts_l.values()) == pytest.approx(found.batch_l)
    assert found.net_l * 1.1 <= found.batch_l * (1 + 1e-12)
    assert found.batch_l <= found.net_l * 1.15 * (1 + 1e-12)
    assert found.net_l * spread == pytest.approx(area * coats)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("area_m2", -1.0),
        ("area_m2", float("nan")),
        ("spread_m2_per_l", 0.0),
        ("coats", 0),
        ("waste", -0.1),
        ("parts", {"colour": 0.0}),
        ("parts", {}),
        ("parts", {"colour": -1.0}),
    ],
)
def test_a_mix_that_cannot_be_is_refused_by_its_field(field, value):
    with pytest.raises(BadInput, match=field):
        glaze(**{field: value})


# A satin ground and the medium lengthen open time: common practice, no source.


@given(temperatures_c, humidities_pct)
def test_a_satin_ground_lengthens_the_open_time_over_one_that_sucks(t, humidity):
    by_id = {material.id: material for material in materials()}
    air = constant_air(START, temperature_c=t, humidity_pct=humidity)
    satin, sucking = (
        clock(by_id["slow-glaze"], "open", air, np.zeros(1), porous=porous)
        for porous in (False, True)
    )
    assert satin.early_min[0] > sucking.early_min[0]
    assert satin.likely_min[0] > sucking.likely_min[0]


def test_more_medium_in_the_mix_stays_open_longer_by_its_label():
    by_id = {material.id: material for material in materials()}
    air = constant_air(START, temperature_c=20.0, humidity_pct=50.0)
    slow, drag, paint = (
        float(clock(by_id[name], "open", air, np.zeros(1)).likely_min[0])
        for name in ("slow-glaze", "drag-glaze", "wall-paint")
    )
    share = {
        name: by_id[name].parts["medium"] / sum(by_id[name].parts.values())
        for name in ("slow-glaze", "drag-glaze")
    }
    assert share["slow-glaze"] > share["drag-glaze"]
    assert slow > drag > paint
