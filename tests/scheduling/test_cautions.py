"""What stops a coat and what only wants care."""

from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling import cautions
from scheduling.cautions import blocked, blocked_by, coldest_ahead_c, may_start
from scheduling.problem import FAMILIES, Air
from scheduling.room_air import RoomAir

NOON = datetime(2026, 10, 14, 12, tzinfo=UTC)


def codes(family, temperature_c, humidity_pct, surface_c=None, ahead_c=None, **more):
    surface_c = temperature_c if surface_c is None else surface_c
    air = Air(temperature_c=temperature_c, humidity_pct=humidity_pct)
    found = cautions.cautions(
        family, air, surface_c=surface_c, coldest_ahead_c=ahead_c, **more
    )
    return {caution.code for caution in found}, may_start(found, family)


def room(temperatures, humidities, surfaces=None, step_min=60.0):
    temperature = np.array(temperatures, dtype=float)
    surface = temperature if surfaces is None else np.array(surfaces, dtype=float)
    return RoomAir(
        start=NOON,
        step_min=step_min,
        temperature_c=temperature,
        humidity_pct=np.array(humidities, dtype=float),
        surface_c=surface,
        moving_air_m_s=np.full(len(temperature), 0.1),
        spread=np.zeros(len(temperature)),
    )


@pytest.mark.parametrize(
    ("surface_c", "stops"),
    # 20 C and 60 %: dew point 12.0 C (ASHRAE form; MetPy gives 11.99).
    [(15.1, False), (14.9, True), (12.0, True)],
)
def test_a_wall_less_than_3_k_over_the_dew_point_stops_paint(surface_c, stops):
    # 3 K: practice with ISO 8502-4; UFC 3-190-06, 9.6.6 has 5 F, which is 2.8 K.
    found, may = codes("waterborne", 20.0, 60.0, surface_c)
    assert ("dew-margin" in found) is stops
    assert may is not stops


def test_lime_is_stopped_by_a_sweating_wall_only():
    found, may = codes("lime", 12.0, 90.0, 11.0)
    assert found & {"dew-margin", "humid"} == set()
    assert may
    found, may = codes("lime", 12.0, 90.0, 10.2)  # dew point 10.4 C
    assert "dew-margin" in found
    assert not may


def test_over_85_percent_no_coat_but_lime_may_start():
    # practice with ISO 12944-7: at most 85 %
    for family in FAMILIES:
        found, _ = codes(family, 25.0, 86.0)
        assert ("humid" in found) is (family != "lime")
        assert "humid" not in codes(family, 25.0, 85.0)[0]


@pytest.mark.parametrize(
    ("family", "limit_c"),
    # Wood Handbook ch. 16: latex 50 F, oil-alkyd 40 F; UFC 3-190-06 45 F for most.
    [("waterborne", 10.0), ("oil", 5.0), ("lime", 5.0), ("two-part", 10.0)],
)
def test_each_family_has_its_coldest_air_now_and_for_a_day(family, limit_c):
    assert "cold" in codes(family, limit_c - 0.1, 50.0)[0]
    assert "cold" not in codes(family, limit_c + 0.1, 50.0)[0]
    found, may = codes(family, 20.0, 50.0, ahead_c=limit_c - 1)
    assert "cold-ahead" in found
    assert not may


def test_paint_stops_above_90_f():
    # UFC 3-190-06, 7.4.1: 45 to 90 F
    assert codes("oil", 32.0, 40.0)[1]
    found, may = codes("oil", 32.5, 40.0)
    assert "hot" in found
    assert not may


def test_lime_stops_in_hot_dry_air_that_other_families_may_take():
    assert not codes("lime", 28.0, 30.0)[1]
    assert codes("waterborne", 28.0, 30.0)[1]


def test_shellac_is_warned_from_65_and_stopped_over_75_percent():
    assert "blush" not in codes("spirit", 22.0, 64.0)[0]
    assert codes("spirit", 22.0, 70.0) == ({"blush"}, True)
    found, may = codes("spirit", 22.0, 76.0)
    assert "blush" in found
    assert not may


def test_every_other_caution_leaves_the_start_free():
    found, may = codes(
        "waterborne",
        30.0,
        15.0,
        open_min=4.0,
        needed_min=10.0,
        open_capped=True,
        never=("hard",),
        moist_ground=True,
        not_hard=True,
    )
    assert {
        "too-fast",
        "too-dry",
        "outside-range",
        "open-capped",
        "never-ends",
        "moist-ground",
        "not-hard",
    } <= found
    assert may


def test_each_caution_names_its_source():
    air = Air(temperature_c=-1.0, humidity_pct=96.0)
    for family in FAMILIES:
        found = cautions.cautions(family, air, surface_c=-2.0, coldest_ahead_c=-3.0)
        assert found
        assert all(caution.source and caution.text for caution in found)


def test_the_coldest_hour_ahead_is_that_of_the_next_day():
    air = room([20.0] * 24 + [4.0] + [20.0] * 30, [50.0] * 55)
    ahead = coldest_ahead_c(air)
    assert ahead[0] == 4.0
    assert ahead[24] == 4.0
    assert ahead[25] == 20.0


temperatures = st.lists(st.floats(-5, 40), min_size=3, max_size=8)


@settings(max_examples=60, deadline=None)
@given(temperatures, st.data(), st.sampled_from(FAMILIES))
def test_the_map_of_blocked_hours_agrees_with_the_reasons_hour_by_hour(
    warm, data, family
):
    humid = data.draw(
        st.lists(st.floats(1, 100), min_size=len(warm), max_size=len(warm))
    )
    surfaces = [t - data.draw(st.floats(0, 6)) for t in warm]
    air = room(warm, humid, surfaces)
    stopped = blocked(family, air)
    for index in range(len(warm)):
        assert bool(stopped[index]) is bool(blocked_by(family, air, index))
