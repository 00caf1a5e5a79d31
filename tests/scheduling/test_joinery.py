"""Where wood settles, how long it takes, and what is said before it is painted."""

from math import e, inf, log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.cautions import STOPPING
from scheduling.errors import BadInput
from scheduling.joinery import LAG_DAYS, acclimatising, joinery_caution
from scheduling.problem import Air
from tests.strategies import floats


def air(temperature_c=20.0, humidity_pct=50.0):
    return Air(temperature_c=temperature_c, humidity_pct=humidity_pct)


# USDA Wood Handbook, eq. 4-5 and table 4-2 (table from memory): 21.1 C (70 F) and
# 50, 65, 80 %: 9.2, 12.0, 16.0 %. Good to 0.1 % against the table.
@pytest.mark.parametrize(("humidity", "settles"), [(50, 9.2), (65, 12.0), (80, 16.0)])
def test_wood_settles_where_the_wood_handbook_says(humidity, settles):
    found = acclimatising(air(21.1, humidity), 12.0)
    assert found.settles_at_pct == pytest.approx(settles, abs=0.1)


def test_a_whole_board_takes_weeks_and_one_lag_brings_it_all_but_a_third():
    # 16 % of moisture to within a point of 9.2: ln(6.8) lags of a week.
    found = acclimatising(air(21.1, 50.0), 16.0)
    assert found.settled_days == pytest.approx(LAG_DAYS * log(6.76), rel=0.01)
    assert 7 < found.settled_days < 28
    start = found.settles_at_pct + e * (12.0 - found.settles_at_pct)
    one_lag = acclimatising(air(21.1, 50.0), start)
    assert one_lag.paintable_days == pytest.approx(LAG_DAYS)


def test_a_board_of_twice_the_thickness_takes_four_times_as_long():
    thin, thick = (
        acclimatising(air(), 16.0, thickness_mm=mm).settled_days for mm in (20.0, 40.0)
    )
    assert thick / thin == pytest.approx(4.0)


def test_moist_wood_is_told_with_its_moisture_the_limit_the_days_and_the_source():
    caution = joinery_caution(air(21.1, 50.0), 16.0)
    assert caution is not None
    assert caution.code == "moist-ground"
    assert caution.code not in STOPPING
    assert not caution.stops
    assert caution.text == (
        "Wood 16.0 %; at most 12 %. "
        "About 6 days in this air, where it settles at 9.2 %."
    )
    assert "UFGS 09 90 00" in caution.source
    assert "Wood Handbook" in caution.source


def test_wood_that_can_never_dry_in_this_air_is_told_so():
    assert acclimatising(air(20.0, 75.0), 16.0).paintable_days == inf
    caution = joinery_caution(air(20.0, 75.0), 16.0)
    assert caution is not None
    assert "never comes to it: dry the air first" in caution.text


def test_dry_wood_in_damp_air_is_told_before_it_takes_the_damp_up():
    caution = joinery_caution(air(20.0, 80.0), 9.0)
    assert caution is not None
    assert "paint it soon or dry the air" in caution.text


def test_unmeasured_wood_is_judged_by_the_air_alone():
    # 12 % is the equilibrium at 20 C and 65 %.
    assert joinery_caution(air(20.0, 64.0)) is None
    caution = joinery_caution(air(20.0, 66.0))
    assert caution is not None
    assert "measure the wood" in caution.text


@given(floats(5, 35), floats(20, 95), floats(0, 30), floats(5, 60))
def test_a_caution_stands_where_wood_or_air_is_too_moist_and_nowhere_else(
    temperature, humidity, moisture, thickness
):
    here = air(temperature, humidity)
    found = acclimatising(here, moisture, thickness_mm=thickness)
    caution = joinery_caution(here, moisture, thickness_mm=thickness)
    assert (caution is None) is (moisture <= 12 and found.settles_at_pct <= 12)
    assert found.paintable_days >= 0
    assert found.settled_days >= 0
    if moisture <= 12:
        assert found.paintable_days == 0


@given(floats(5, 35), floats(20, 60), st.tuples(floats(13, 30), floats(13, 30)))
def test_wetter_wood_is_never_ready_sooner(temperature, humidity, moistures):
    drier, wetter = sorted(moistures)
    one, two = (acclimatising(air(temperature, humidity), m) for m in (drier, wetter))
    assert one.paintable_days <= two.paintable_days
    assert one.settled_days <= two.settled_days


@pytest.mark.parametrize(
    ("field", "more"),
    [
        ("moisture_pct", {"moisture_pct": -1.0}),
        ("moisture_pct", {"moisture_pct": float("nan")}),
        ("thickness_mm", {"moisture_pct": 12.0, "thickness_mm": 0.0}),
    ],
)
def test_wood_that_cannot_be_is_refused_by_its_field(field, more):
    with pytest.raises(BadInput, match=field):
        acclimatising(air(), **more)


def test_air_that_cannot_be_is_refused_by_its_field():
    with pytest.raises(BadInput, match="humidity_pct"):
        joinery_caution(air(20.0, 105.0))
