"""Metric and US measures: what is read, what is shown, and that neither drifts."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.measures import (
    AIR_SPEED,
    AREA,
    DEGREES_APART,
    LENGTH,
    LIQUID,
    METRIC,
    PACE,
    SPREAD,
    TEMPERATURE,
    US,
    VOLUME,
    WATER_A_DAY,
    NotAMeasure,
    feet_and_inches,
    number_of,
    say,
    say_in,
)

ALL = (
    AIR_SPEED,
    AREA,
    DEGREES_APART,
    LENGTH,
    LIQUID,
    PACE,
    SPREAD,
    TEMPERATURE,
    VOLUME,
    WATER_A_DAY,
)
QUANTITIES = st.sampled_from(ALL)
READERS = st.sampled_from((METRIC, US))


@pytest.mark.parametrize(
    ("quantity", "typed", "value"),
    [
        # NIST SP 811, B.8, and NIST Handbook 44, appendix C: exact factors.
        (LENGTH, "1 ft", 0.3048),
        (LENGTH, "1 in", 0.0254),
        (AREA, "1 ft2", 0.09290304),
        (VOLUME, "1 cu ft", 0.028316846592),
        (LIQUID, "1 gal", 3.785411784),
        (LIQUID, "1 qt", 0.946352946),
        (LIQUID, "1 pt", 0.473176473),
        (AIR_SPEED, "1 mph", 0.44704),
        (AIR_SPEED, "1 ft/min", 0.00508),
        (TEMPERATURE, "212 F", 100.0),
        (TEMPERATURE, "-40 F", -40.0),
        (DEGREES_APART, "5.4 F", 3.0),
        (SPREAD, "1 sq ft/gal", 0.09290304 / 3.785411784),
        (WATER_A_DAY, "1 pint/day", 0.473176473),
        (PACE, "1 min/sq ft", 1 / 0.09290304),
    ],
)
def test_a_us_unit_is_its_published_size(quantity, typed, value):
    assert quantity.read(typed, METRIC) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    "typed",
    ["8 ft 6 in", "8'6\"", "8' 6\"", "8′6″", "8’6”", "8 ft. 6 in.", "8ft6in", "8'6",
     "8 feet and 6 inches", "8.5 ft", "8,5 ft", "8.5", "8½ ft", "8 1/2 ft", "102 in",
     "8-1/2 ft", "8 FT 6 IN", "2.5908 m", "259,08 cm"],
)  # fmt: skip
def test_a_length_is_read_in_feet_inches_and_metres(typed):
    assert LENGTH.read(typed, US) == pytest.approx(2.5908, rel=1e-12)


@pytest.mark.parametrize(
    ("quantity", "typed"),
    [(AREA, "212 sq ft"), (AREA, "212 square feet"), (AREA, "212ft²"), (AREA, "212"),
     (AREA, "212 sq. ft."), (AREA, "212 sqft"), (AREA, "19.69544448 m²")],
)  # fmt: skip
def test_an_area_is_read_in_every_usual_spelling(quantity, typed):
    assert quantity.read(typed, US) == pytest.approx(212 * 0.09290304, rel=1e-12)


@pytest.mark.parametrize(
    "typed", ["2 gal 3 qt 1 pt", "2.875 gal", "11 qt 1 pt", "23 pints", "2 7/8 gallons"]
)
def test_liquids_add_up_from_gallons_quarts_and_pints(typed):
    assert LIQUID.read(typed, METRIC) == pytest.approx(23 * 0.473176473, rel=1e-12)


@pytest.mark.parametrize(
    "typed",
    ["", "ft", "8 ft 14 in", "8.5 ft 6 in", "6 in 8 ft", "8 ft 8 ft", "-8 ft", "8 6 in",
     "8 gal", "8 m2", "8 ft 6 in 1 m", "1e3", "٨ ft", "８ ft", "²0 ft", "nan", "inf",
     "8 1/0 in", "3/2 in", "8..5", "8,,5", "1" * 12],
)  # fmt: skip
def test_what_is_no_length_is_refused(typed):
    with pytest.raises(NotAMeasure):
        LENGTH.read(typed, US)


def test_a_comma_before_three_digits_is_never_guessed_at():
    with pytest.raises(NotAMeasure, match=r"1\.200 or 1200"):
        AREA.read("1,200 sq ft", US)
    assert number_of("0,125") == 0.125
    assert number_of("1,20") == 1.2


@given(QUANTITIES, READERS, st.floats(0.0, 1e5))
def test_what_is_shown_in_a_form_reads_back_and_is_shown_alike(quantity, units, value):
    shown = quantity.typed(value, units)
    back = quantity.read(shown, units)
    assert quantity.typed(back, units) == shown
    assert quantity.typed(quantity.read(quantity.typed(back, units), units), units) == (
        shown
    )


@given(QUANTITIES, READERS, st.data())
def test_a_number_typed_as_finely_as_shown_is_shown_as_typed(quantity, units, data):
    digits = 0 if quantity is LENGTH and units == US else quantity.digits
    number = data.draw(st.integers(0, 10**6)) / 10**digits
    typed = f"{number:.{digits}f}"
    shown = quantity.typed(quantity.read(typed, units), units)
    if quantity is LENGTH and units == US:
        assert shown == f"{typed} ft"
    else:
        assert float(shown) == number


@given(st.integers(0, 10_000), st.integers(0, 1199))
def test_feet_and_inches_to_a_hundredth_never_drift(feet, hundredths):
    inches = f"{hundredths / 100:.2f}".rstrip("0").rstrip(".")
    typed = f"{feet} ft {inches} in"
    value = LENGTH.read(typed, METRIC)
    expected = f"{feet} ft" if not hundredths else typed.removeprefix("0 ft ")
    assert LENGTH.typed(value, US) == expected


@given(st.integers(-4000, 4000))
def test_a_tenth_of_a_degree_fahrenheit_survives_the_store(tenths):
    typed = f"{tenths / 10:.1f}"
    assert float(TEMPERATURE.typed(TEMPERATURE.read(typed, US), US)) == tenths / 10


@given(QUANTITIES, READERS, st.text(max_size=12))
def test_any_text_is_read_or_refused(quantity, units, text):
    with suppress(NotAMeasure):
        quantity.read(text, units)


@given(QUANTITIES, READERS, st.floats(0.0, 1e5))
def test_what_a_person_reads_can_be_typed(quantity, units, value):
    said = say(quantity, value, units)
    assert quantity.read(said, METRIC) == pytest.approx(value, rel=0.06, abs=0.05)


def test_inches_never_round_up_to_twelve():
    assert feet_and_inches(0.3048 * 2.9999) == "3 ft"
    assert feet_and_inches(0.3048 * 0.9999) == "1 ft"
    assert feet_and_inches(2.5908) == "8 ft 6 in"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Surface 2.1 K over the dew point; at least 3.0 K needed.",
         "Surface 3.8 °F over the dew point; at least 5.4 °F needed."),
        ("4.0 C; at least 10 C needed.", "39.2 °F; at least 50 °F needed."),
        ("33.0 C; at most 32 C.", "91.4 °F; at most 90 °F."),
        ("Only 0.20 m stays open for two, under 0.3 m: add a hand.",
         "Only 7.9 in stays open for two, under 11.8 in: add a hand."),
        ("about 2.1 l for 19.7 m²", "about 2.2 qt for 212 ft²"),
        ("Humidity 30 %, air 0.5 m/s: damp down.",
         "Humidity 30 %, air 98 ft/min: damp down."),
        ("dry by 7 min, 3 h, 2 d", "dry by 7 min, 3 h, 2 d"),
        ("Flat 3C and room K2 stay", "Flat 3C and room K2 stay"),
    ],
)  # fmt: skip
def test_figures_in_a_sentence_are_told_in_us_units(text, said):
    assert say_in(text, US) == said


def test_a_name_that_looks_like_a_figure_stays_a_name():
    text = "Top before bottom: Flat 3 C, ceiling comes first; 3 C is too cold."
    assert say_in(text, US, ["Flat 3 C, ceiling", "Flat 3 C"]) == (
        "Top before bottom: Flat 3 C, ceiling comes first; 37 °F is too cold."
    )


def test_a_metric_reader_sees_degrees_with_their_sign_and_the_rest_as_it_is():
    text = "Surface 2.1 K over; 10 C; strips of 0.45 m; 2.1 l for 19.7 m²"
    assert say_in(text, METRIC) == (
        "Surface 2.1 °C over; 10 °C; strips of 0.45 m; 2.1 l for 19.7 m²"
    )
