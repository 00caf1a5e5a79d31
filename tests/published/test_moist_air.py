"""Moist air against handbook tables and two reference libraries."""

import numpy as np
import psychrolib
import pytest
from CoolProp.HumidAirProp import HAPropsSI

from scheduling.psychrometrics import (
    dew_point_c,
    humidity_ratio_g_kg,
    pressure_pa,
    saturation_ice_pa,
    saturation_pa,
    vapour_from_ratio,
    vapour_pa,
    wood_moisture_pct,
)

GRID = [
    (float(t), float(h)) for t in range(5, 36, 3) for h in (20, 35, 50, 65, 80, 90, 95)
]


@pytest.fixture(autouse=True)
def _si_units():
    psychrolib.SetUnitSystem(psychrolib.SI)


# ASHRAE Handbook - Fundamentals 2017, ch. 1 table 3, as quoted by PsychroLib's own
# tests: 300 ppm.
@pytest.mark.parametrize(
    ("temperature_c", "saturated_pa"),
    [(5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3)],
)
def test_saturation_over_water_is_the_handbook_table(temperature_c, saturated_pa):
    assert saturation_pa(temperature_c) == pytest.approx(saturated_pa, rel=3e-4)


@pytest.mark.parametrize(
    ("temperature_c", "saturated_pa"), [(-20.0, 103.24), (-5.0, 401.74)]
)
def test_saturation_over_ice_is_the_handbook_table(temperature_c, saturated_pa):
    assert saturation_ice_pa(temperature_c) == pytest.approx(saturated_pa, rel=3e-4)


# Same handbook, table 2. It is of real air, hence the width: an ideal gas holds less.
@pytest.mark.parametrize(
    ("temperature_c", "ratio_g_kg", "rel"),
    [(5.0, 5.425, 5e-3), (25.0, 20.173, 5e-3), (50.0, 86.863, 1e-2)],
)
def test_saturated_humidity_ratio_is_the_handbook_table(temperature_c, ratio_g_kg, rel):
    ratio = humidity_ratio_g_kg(saturation_pa(temperature_c))
    assert ratio == pytest.approx(ratio_g_kg, rel=rel)


# Same handbook, table 1.
@pytest.mark.parametrize(
    ("altitude_m", "expected_pa"), [(0, 101325), (500, 95461), (1000, 89875)]
)
def test_pressure_by_altitude_is_the_handbook_table(altitude_m, expected_pa):
    assert pressure_pa(altitude_m) == pytest.approx(expected_pa, abs=1.0)


def test_humidity_ratio_at_500_m_is_the_handbook_value():
    # PsychroLib's test of ASHRAE 2017 ch. 1 eq. 20.
    ratio = humidity_ratio_g_kg(3169.7, 95461.0)
    assert ratio == pytest.approx(21.36040, rel=1e-5)


def test_dew_points_are_those_that_metpy_prints():
    # MetPy's documented examples: 10 C and 50 %; 10 g/kg at 1000 hPa. It uses a
    # Magnus form after Bolton (1980), hence 0.06 K.
    assert dew_point_c(vapour_pa(10.0, 50.0)) == pytest.approx(0.0479, abs=0.06)
    vapour = vapour_from_ratio(10.0, 100000.0)
    assert vapour == pytest.approx(1582.3864, rel=1e-4)
    assert dew_point_c(vapour) == pytest.approx(13.8547, abs=0.06)


@pytest.mark.parametrize(("temperature_c", "humidity_pct"), GRID)
def test_moist_air_agrees_with_psychrolib(temperature_c, humidity_pct):
    vapour = vapour_pa(temperature_c, humidity_pct)
    share = humidity_pct / 100
    theirs = psychrolib.GetVapPresFromRelHum(temperature_c, share)
    assert vapour == pytest.approx(theirs, rel=1e-9)
    ratio = 1000 * psychrolib.GetHumRatioFromVapPres(theirs, 101325.0)
    assert humidity_ratio_g_kg(vapour) == pytest.approx(ratio, rel=1e-6)
    dew = psychrolib.GetTDewPointFromRelHum(temperature_c, share)
    if dew > 0.0:  # below, PsychroLib answers over ice
        assert dew_point_c(vapour) == pytest.approx(dew, abs=0.005)


@pytest.mark.parametrize(("temperature_c", "humidity_pct"), GRID)
def test_moist_air_agrees_with_coolprop_real_air(temperature_c, humidity_pct):
    state = ("T", temperature_c + 273.15, "P", 101325.0, "R", humidity_pct / 100)
    vapour = vapour_pa(temperature_c, humidity_pct)
    assert vapour == pytest.approx(HAPropsSI("P_w", *state), rel=6e-3)
    assert humidity_ratio_g_kg(vapour) == pytest.approx(
        1000 * HAPropsSI("W", *state), rel=8e-3
    )
    dew = HAPropsSI("D", *state) - 273.15
    if dew > 0.0:  # below, CoolProp answers over ice
        assert dew_point_c(vapour) == pytest.approx(dew, abs=0.06)


def test_saturation_over_supercooled_water_is_murphy_and_koop():
    # Murphy and Koop (2005), eq. 10, valid from 123 to 332 K; formula from memory.
    celsius = np.linspace(-30, 0, 16)
    t = celsius + 273.15
    ln = 54.842763 - 6763.22 / t - 4.210 * np.log(t) + 0.000367 * t
    ln += np.tanh(0.0415 * (t - 218.8)) * (
        53.878 - 1331.22 / t - 9.44523 * np.log(t) + 0.014025 * t
    )
    assert saturation_pa(celsius) == pytest.approx(np.exp(ln), rel=5e-3)


# USDA Wood Handbook (FPL-GTR-190), table 4-2, percent moisture content; values from
# memory, good to 0.1.
@pytest.mark.parametrize(
    ("temperature_c", "by_humidity"),
    [
        (10.0, {30: 6.3, 40: 7.9, 50: 9.5, 60: 11.2, 70: 13.4, 80: 16.4, 90: 20.9}),
        (21.1, {30: 6.2, 40: 7.7, 50: 9.2, 60: 11.0, 70: 13.1, 80: 16.0, 90: 20.5}),
        (32.2, {30: 5.9, 40: 7.4, 50: 8.9, 60: 10.5, 70: 12.6, 80: 15.4, 90: 19.8}),
    ],
)
def test_wood_moisture_is_the_wood_handbook_table(temperature_c, by_humidity):
    for humidity_pct, expected in by_humidity.items():
        moisture = wood_moisture_pct(temperature_c, float(humidity_pct))
        assert moisture == pytest.approx(expected, abs=0.1)
