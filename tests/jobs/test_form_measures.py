"""Fields for measures: kept to the last bit when left alone, read in both systems."""

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from jobs.forms import AirForm, MeasureField, NumberField, TemperatureField
from jobs.measures import (
    AREA,
    LENGTH,
    LIQUID,
    METRIC,
    SPREAD,
    TEMPERATURE,
    US,
    VOLUME,
    WATER_A_DAY,
)

SIZES = (AREA, LENGTH, LIQUID, SPREAD, VOLUME, WATER_A_DAY, TEMPERATURE)


def field(quantity, units, **options):
    return MeasureField(quantity=quantity, units=units, low=0.0, high=1e5, **options)


@given(st.sampled_from(SIZES), st.sampled_from((METRIC, US)), st.floats(0.0, 1e5))
def test_a_field_left_as_it_is_shown_changes_no_bit_of_what_is_stored(
    quantity, units, stored
):
    shown = field(quantity, units, stored=stored)
    assert shown.clean(shown.initial) == stored


@given(st.sampled_from(SIZES), st.sampled_from((METRIC, US)), st.floats(0.01, 1e4))
def test_the_ends_of_a_field_can_be_typed_as_they_are_told(quantity, units, end):
    least = MeasureField(quantity=quantity, units=units, low=end, high=2e4)
    most = MeasureField(quantity=quantity, units=units, low=0.0, high=end)
    assert least.clean(least.typed(end)) >= end
    assert most.clean(most.typed(end)) <= end


@pytest.mark.parametrize("units", [METRIC, US])
def test_a_unit_that_stands_there_counts_whatever_the_reader_chose(units):
    assert field(LENGTH, units).clean("8'6\"") == pytest.approx(2.5908)
    assert field(LENGTH, units).clean("2.6 m") == 2.6
    assert field(LIQUID, units).clean("3 pints") == pytest.approx(1.419529419)
    assert TemperatureField(units=units).clean("68 F") == pytest.approx(20.0)
    assert TemperatureField(units=units).clean("20 °C") == 20.0


def test_what_is_no_measure_is_told_with_what_is_allowed_in_the_readers_units():
    walls = MeasureField(quantity=LENGTH, units=US, low=0.3048, high=30.48)
    with pytest.raises(ValidationError) as caught:
        walls.clean("8 ells")
    assert caught.value.messages == [
        '"8 ells": give a length from 1 ft to 100 ft, such as 2.6 m, 8 ft 6 in, '
        "8'6\" or 8.5 ft."
    ]
    with pytest.raises(ValidationError, match="101 ft cannot be: give a length"):
        walls.clean("101")
    with pytest.raises(ValidationError, match=r"1\.200 or 1200"):
        field(AREA, US).clean("1,200")


@pytest.mark.parametrize("typed", ["٥٠", "５０", "5²", "1e1"])
def test_a_plain_field_takes_digits_of_this_keyboard_only(typed):
    humidity = NumberField(low=0, high=100, unit="%")
    assert humidity.clean("50,5 %") == 50.5
    with pytest.raises(ValidationError, match="a number from 0 to 100 %"):
        humidity.clean(typed)


def test_a_form_is_read_in_the_units_it_was_shown_in():
    typed = {"temperature": "68", "humidity": "50", "units": US}
    form = AirForm(typed, units=METRIC)  # switched in another tab since
    assert form.is_valid()
    assert form.cleaned_data["temperature"] == pytest.approx(20.0)
    assert form.fields["temperature"].label == "Temperature, °F"
    nonsense = AirForm({**typed, "units": "cubits", "temperature": "20"}, units=METRIC)
    assert nonsense.is_valid()
    assert nonsense.cleaned_data["temperature"] == 20.0
