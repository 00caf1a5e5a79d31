"""Moist air: what must hold whatever the numbers are."""

import warnings

import numpy as np
import pytest

from scheduling.psychrometrics import (
    SEA_LEVEL_PA,
    celsius_from_fahrenheit,
    dew_point_c,
    fahrenheit_from_celsius,
    frost_point_c,
    humidity_pct_of,
    humidity_ratio_g_kg,
    saturation_ice_pa,
    saturation_pa,
    vapour_from_ratio,
    vapour_pa,
    wood_moisture_pct,
)


def test_dew_point_gives_back_the_temperature_of_saturation():
    temperature = np.linspace(-60, 90, 1501)
    assert np.abs(dew_point_c(saturation_pa(temperature)) - temperature).max() < 1e-9


def test_frost_point_gives_back_the_temperature_of_saturation_over_ice():
    temperature = np.linspace(-60, -0.01, 600)
    frost = frost_point_c(saturation_ice_pa(temperature))
    assert np.abs(frost - temperature).max() < 0.01


def test_frost_point_is_the_dew_point_above_freezing_and_warmer_below():
    assert frost_point_c(vapour_pa(20.0, 50.0)) == dew_point_c(vapour_pa(20.0, 50.0))
    assert frost_point_c(300.0) > dew_point_c(300.0)


def test_dew_point_of_saturated_air_is_its_temperature():
    assert dew_point_c(vapour_pa(17.0, 100.0)) == pytest.approx(17.0, abs=1e-9)


def test_perfectly_dry_air_is_answered_with_the_lowest_dew_point():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert dew_point_c(0.0) == pytest.approx(-100.0)
        assert humidity_ratio_g_kg(0.0) == 0.0


def test_humidity_stands_over_water_below_freezing():
    """So saturation over ice at -10 C is about 91 % of humidity, not 100 %."""
    humidity = humidity_pct_of(-10.0, saturation_ice_pa(-10.0))
    assert humidity == pytest.approx(90.7, abs=0.3)


def test_water_and_ice_meet_at_freezing():
    assert saturation_pa(0.01) == pytest.approx(saturation_ice_pa(0.01), rel=2e-4)


def test_humidity_ratio_and_vapour_pressure_undo_each_other():
    vapour = np.linspace(0, 6000, 50)
    ratio = humidity_ratio_g_kg(vapour, 90000.0)
    assert vapour_from_ratio(ratio, 90000.0) == pytest.approx(vapour)


def test_humidity_undoes_vapour_pressure_for_arrays_and_mixed_shapes():
    humidity = np.array([0.0, 35.0, 99.0])
    assert humidity_pct_of(12.0, vapour_pa(12.0, humidity)) == pytest.approx(humidity)


def test_floats_come_back_as_plain_floats():
    results = [
        saturation_pa(20.0),
        vapour_pa(20.0, 50.0),
        dew_point_c(1000.0),
        frost_point_c(200.0),
        humidity_ratio_g_kg(1000.0),
        vapour_from_ratio(8.0),
        humidity_pct_of(20.0, 1000.0),
        wood_moisture_pct(20.0, 50.0),
    ]
    assert {type(result) for result in results} == {float}


def test_arrays_come_back_as_arrays_of_the_same_shape():
    grid = np.full((3, 4), 15.0)
    for result in (saturation_pa(grid), dew_point_c(grid * 80), vapour_pa(grid, grid)):
        assert result.shape == (3, 4)


def test_vapour_grows_with_temperature_and_humidity():
    temperature = np.linspace(-30, 60, 200)
    assert (np.diff(saturation_pa(temperature)) > 0).all()
    assert (np.diff(vapour_pa(20.0, np.linspace(0, 100, 50))) > 0).all()


def test_wood_gets_damper_in_damp_air_and_is_dry_in_dry_air():
    moisture = wood_moisture_pct(20.0, np.linspace(0, 99, 100))
    assert moisture[0] == 0.0
    assert (np.diff(moisture) > 0).all()


def test_thinner_air_takes_more_water_by_mass_at_one_vapour_pressure():
    assert humidity_ratio_g_kg(1500.0, 80000.0) > humidity_ratio_g_kg(
        1500.0, SEA_LEVEL_PA
    )


@pytest.mark.parametrize(("celsius", "fahrenheit"), [(0, 32), (100, 212), (-40, -40)])
def test_fahrenheit_and_celsius(celsius, fahrenheit):
    assert fahrenheit_from_celsius(celsius) == pytest.approx(fahrenheit)
    assert celsius_from_fahrenheit(fahrenheit) == pytest.approx(celsius)
