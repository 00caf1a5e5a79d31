"""Both unit systems at every edge: what goes out in one and comes back is the same.

Definitions: NIST SP 811, appendix B.8 (t(F) = 1.8 t(C) + 32; 1 ft = 0.3048 m exactly;
1 ft2 = 0.092 903 04 m2 exactly; 1 US gallon = 3.785 411 784 l exactly).
"""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs import typed_units
from jobs.forms import TemperatureField
from jobs.measures import M2_PER_FT2, M_PER_FT, say_in
from jobs.templatetags.plan_format import (
    say_area,
    say_degrees_apart,
    say_length,
    say_temperature,
)
from scheduling.errors import BadInput
from scheduling.mixing import (
    l_from_us_gallons,
    mix,
    spread_ft2_per_gallon,
    spread_m2_per_l,
    us_gallons_from_l,
)
from scheduling.psychrometrics import celsius_from_fahrenheit, fahrenheit_from_celsius
from tests.strategies import floats

TIMES = 1000  # how often a value is saved and opened again


def there_and_back(
    value: float, out: Callable[[float], float], back: Callable[[float], float]
) -> float:
    for _ in range(TIMES):
        value = back(out(value))
    return value


@given(floats(-60, 70))
def test_a_temperature_does_not_drift_between_celsius_and_fahrenheit(celsius):
    found = there_and_back(celsius, fahrenheit_from_celsius, celsius_from_fahrenheit)
    assert found == pytest.approx(celsius, abs=1e-10)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(-40, -40), (32, 0), (50, 10), (212, 100)]
)
def test_fahrenheit_is_the_scale_of_its_definition(fahrenheit, celsius):
    assert celsius_from_fahrenheit(fahrenheit) == pytest.approx(celsius, abs=1e-12)
    assert fahrenheit_from_celsius(celsius) == pytest.approx(fahrenheit, abs=1e-12)


@pytest.mark.parametrize(("units", "letter"), [("us", "F"), ("metric", "C")])
def test_every_tenth_of_a_degree_typed_in_a_form_is_shown_again_as_it_was(
    units, letter
):
    field = TemperatureField(units=units)
    low, high = round(field.low * 10), round(field.high * 10)
    for tenths in range(low, high + 1):
        typed = f"{tenths / 10:.1f}"
        celsius = field.clean(typed)
        assert celsius is not None
        assert field.typed(celsius) == typed
        assert say_temperature(celsius, units) == (f"{typed} °{letter}")


@given(st.integers(-220, 1400))
def test_a_temperature_at_a_shell_is_the_one_of_the_form(tenths):
    text = f"{tenths / 10:.1f}"
    celsius = typed_units.temperature_c("--air", f"{text}F")
    assert celsius == TemperatureField(units="us").clean(text)
    assert say_temperature(celsius, "us") == f"{text} °F"


def test_the_limits_of_a_form_are_the_same_air_in_both_units():
    metric = TemperatureField(units="metric", low_c=-30.0, high_c=60.0)
    us = TemperatureField(units="us", low_c=-30.0, high_c=60.0)
    assert (us.low, us.high) == (-22.0, 140.0)
    for field, low, high in ((metric, "-30", "60"), (us, "-22", "140")):
        assert field.clean(low) == pytest.approx(-30.0)
        assert field.clean(high) == pytest.approx(60.0)


@pytest.mark.parametrize("text", ["-22.1F", "140.1F", "300C", "nanF", "1e3C"])
def test_a_temperature_out_of_reach_is_refused_in_either_unit(text):
    with pytest.raises(BadInput, match=r"air.*-30C to 60C, or F"):
        typed_units.temperature_c("air", text)


@given(st.integers(0, 400))
def test_a_difference_has_no_32_in_it_and_keeps_its_tenths(tenths):
    said = say_degrees_apart(tenths / 10 / 1.8, "us")
    assert said == f"{tenths / 10:.1f} °F"
    assert say_degrees_apart(3.0, "us") == "5.4 °F"


@given(st.integers(-300, 600))
def test_a_sentence_of_the_engine_says_the_degrees_of_the_page(tenths):
    celsius = tenths / 10
    said = say_in(f"Falls to {celsius:.1f} C within a day.", "us")
    assert said == f"Falls to {say_temperature(celsius, 'us')} within a day."


# Feet and square feet -----------------------------------------------------------------


def test_feet_are_of_the_definition():
    assert M_PER_FT == 0.3048
    assert pytest.approx(0.09290304, rel=1e-15) == M2_PER_FT2


@given(st.integers(1, 1000), st.integers(1, 11))
def test_every_inch_is_said_as_it_was(feet, inches):
    assert say_length((feet * 12 + inches) * 0.0254, "us") == f"{feet} ft {inches} in"
    assert say_length(feet * 0.3048, "us") == f"{feet} ft"


@given(st.integers(0, 100_000))
def test_every_square_foot_is_said_as_it_was(feet):
    assert say_area(feet * 0.09290304, "us") == f"{feet} ft²"


@given(floats(0.01, 1e4))
def test_lengths_and_areas_do_not_drift(metres):
    length = there_and_back(metres, lambda m: m / M_PER_FT, lambda ft: ft * M_PER_FT)
    area = there_and_back(metres, lambda m: m / M2_PER_FT2, lambda ft: ft * M2_PER_FT2)
    assert length == pytest.approx(metres, rel=1e-12)
    assert area == pytest.approx(metres, rel=1e-12)


# Gallons ------------------------------------------------------------------------------


def test_a_gallon_is_231_cubic_inches():
    assert l_from_us_gallons(1.0) == pytest.approx(231 * 0.254**3, rel=1e-15)


@given(floats(0.001, 1e5))
def test_litres_and_spreads_do_not_drift(value):
    litres = there_and_back(value, us_gallons_from_l, l_from_us_gallons)
    spread = there_and_back(value, spread_ft2_per_gallon, spread_m2_per_l)
    assert litres == pytest.approx(value, rel=1e-12)
    assert spread == pytest.approx(value, rel=1e-12)


def test_a_gallon_covers_1604_square_feet_at_a_mil():
    # UFC 3-190-06, 2.1.5, rounds it to 1600 ft2; 39.3 m2 a litre at 25.4 um.
    assert spread_ft2_per_gallon(1 / 0.0254) == pytest.approx(1604, abs=0.5)


@given(floats(1, 5000), floats(50, 800))
def test_a_batch_reckoned_in_feet_and_gallons_is_the_batch_in_metres(feet2, ft2_gallon):
    found = mix(
        area_m2=feet2 * 0.09290304,
        spread_m2_per_l=spread_m2_per_l(ft2_gallon),
        parts={"colour": 1.0, "medium": 1.0},
    )
    assert us_gallons_from_l(found.net_l) == pytest.approx(feet2 / ft2_gallon)
