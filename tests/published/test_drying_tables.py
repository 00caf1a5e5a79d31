"""Clocks held against what others have published. Each table names its source."""

import numpy as np
import pytest

from scheduling.drying import clock
from scheduling.problem import Air, Family, Material
from scheduling.rate_laws import (
    Phase,
    Weather,
    evaporation,
    law,
    rate,
)
from scheduling.room_air import constant_air
from tests.strategies import START


def likely(
    family: Family,
    stage: str,
    label: float,
    air: tuple[float, float],
    at: tuple[float, float] = (23.0, 50.0),
) -> float:
    """Likely minutes at ``air`` of a label that speaks of ``at``."""
    material = Material(
        id="m",
        family=family,
        label_air=Air(temperature_c=at[0], humidity_pct=at[1]),
        labels={stage: label},
    )
    steady = constant_air(START, temperature_c=air[0], humidity_pct=air[1])
    return float(clock(material, stage, steady, np.zeros(1)).likely_min[0])


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8


# Joint compound, 1/16 in, hours by humidity and temperature: the drying-time chart that
# GA-236 and the Drywall Finishing Council refer to. From memory; verify before quoting.
COMPOUND_H = {
    30: (26, 12, 4.5),
    50: (36, 17, 6),
    70: (54, 26, 10),
    80: (78, 38, 14),
}
COMPOUND_F = (50, 70, 100)


@pytest.mark.parametrize("humidity", COMPOUND_H)
@pytest.mark.parametrize("column", range(3))
def test_joint_compound_dries_as_its_published_chart_within_a_quarter(humidity, column):
    air = (celsius(COMPOUND_F[column]), float(humidity))
    found = likely("gypsum", "recoat", 17.0, air, at=(celsius(70), 50.0))
    assert found == pytest.approx(COMPOUND_H[humidity][column], rel=0.25)


@pytest.mark.parametrize(("fahrenheit", "hours"), [(50, 144), (70, 72), (100, 26)])
def test_joint_compound_at_90_percent_errs_slow_and_by_a_third_at_most(
    fahrenheit, hours
):
    found = likely(
        "gypsum", "recoat", 17.0, (celsius(fahrenheit), 90.0), at=(celsius(70), 50.0)
    )
    assert 1.0 <= found / hours <= 1.34


# Cure takes twice as long at 10 C and half at 30 C of what it takes at 20 C: the ten
# degree rule of two-part coatings, common practice, no single source.
@pytest.mark.parametrize("family", ["two-part", "oil", "oil-size"])
@pytest.mark.parametrize(("air_c", "times"), [(10.0, 2.0), (30.0, 0.5)])
def test_ten_degrees_double_or_halve_a_reacting_film(family, air_c, times):
    stage = "tack" if family == "oil-size" else "hard"
    found = likely(family, stage, 600.0, (air_c, 50.0), at=(20.0, 50.0))
    assert found / 600.0 == pytest.approx(times, rel=0.16)


# Carbonation is fastest at 55 to 65 % RH: Langmuir (2025), doi
# 10.1021/acs.langmuir.4c03811; Wierig (1984) has 55 to 75 %.
def test_lime_carbonates_fastest_between_55_and_65_percent():
    humidity = np.arange(20.0, 96.0)
    wait = [likely("lime", "cured", 20160.0, (20.0, h)) for h in humidity]
    assert 55 <= humidity[int(np.argmin(wait))] <= 65


# Wind on a wet surface at 1 m/s over still air: 1.76 (25 + 19 v), 1.85 (Menzel 1954),
# 1.88 (ASHRAE pool law), 1.90 (Uno 1998, ACI Materials Journal 95-M34).
def test_wind_helps_evaporation_as_four_published_laws_say():
    phase = law("waterborne", "open").phases[0]
    still, windy = (
        float(
            rate(
                phase,
                Weather(
                    constant_air(
                        START,
                        temperature_c=21.0,
                        humidity_pct=70.0,
                        moving_air_m_s=wind,
                    )
                ),
                1.0,
            )[0]
        )
        for wind in (0.0, 1.0)
    )
    assert 1.76 <= windy / still <= 1.90


# Drying tendency of the air over a wet surface, 10 mph, 70 F: lb/ft2h by humidity
# (Lerch 1957, Portland Cement Association; from memory). Only the ratios are ours.
@pytest.mark.parametrize(
    ("humidity", "published"), [(90, 0.020), (70, 0.062), (30, 0.135), (10, 0.175)]
)
def test_water_leaves_by_humidity_as_in_the_concrete_makers_table(humidity, published):
    water = Phase(kind="evaporation", activity=1.0)

    def drive(percent: float) -> float:
        air = constant_air(START, temperature_c=celsius(70), humidity_pct=percent)
        return float(evaporation(water, Weather(air))[0])

    assert drive(humidity) / drive(50) == pytest.approx(published / 0.100, rel=0.11)


# Quick oil size comes to tack in 1 to 3 h, slow in about 12, and stays open roughly as
# long again (Picture Framing Magazine, July 2019, p. 12).
@pytest.mark.parametrize("air", [(12.0, 70.0), (18.0, 50.0), (28.0, 40.0)])
def test_a_gilding_window_stays_as_long_as_its_tack_took(air):
    tack = likely("oil-size", "tack", 720.0, air)
    closes = likely("oil-size", "closes", 1440.0, air)
    assert (closes - tack) / tack == pytest.approx(1.0, rel=1e-9)


# A film is said to hardly dry over 90 % and not to form under 10 C (50 F): USDA Wood
# Handbook, FPL-GTR-190, ch. 16, for latex.
def test_latex_does_not_form_a_film_far_below_50_f():
    assert likely("waterborne", "recoat", 180.0, (7.0, 50.0)) == np.inf
    assert np.isfinite(likely("waterborne", "recoat", 180.0, (10.0, 50.0)))
