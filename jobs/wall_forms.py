"""What My walls asks: a few big choices each, nothing to type.

Every form carries the key that makes its tap one record, and how long ago it was made.
"""

from typing import Any

from django import forms

from jobs.forms import choose
from jobs.measures import TEMPERATURE, US
from jobs.models import CoatTest, Tap
from jobs.templatetags.plan_format import say_minutes
from jobs.wall_taps import set_words

MOST_AGO_S = 14 * 24 * 3600  # Assumed: a phone finds a line within two weeks
ENDED_MIN = (0, 5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240)
SET_MIN = (-120, -60, -30, 0, 30, 60, 120, 240)
# Whole degrees that a room to be finished in has, in either unit, by half a degree C.
CELSIUS = tuple(step / 2 for step in range(-10, 91))
FAHRENHEIT = tuple(range(20, 116))
_CHOOSE = "choose"  # nothing is read until somebody has read it
HUMIDITY_PCT = tuple(range(15, 101))


class TapForm(forms.Form):
    """What all have in common; ``given`` is what ``wall_taps.keep_tap`` takes."""

    kind = ""

    key = forms.UUIDField(widget=forms.HiddenInput)
    ago_s = forms.IntegerField(
        widget=forms.HiddenInput, required=False, min_value=0, max_value=MOST_AGO_S
    )

    @property
    def given(self) -> dict[str, Any]:
        """The cleaned values, moments as seconds ago."""
        values = dict(self.cleaned_data)
        values.pop("key")
        return values | {"kind": self.kind, "ago_s": values["ago_s"] or 0}


class StintTapForm(TapForm):
    """About one stint."""

    stint = forms.CharField(widget=forms.HiddenInput, max_length=200)


class DoneForm(StintTapForm):
    """The work of a stint is done."""

    kind = Tap.Kind.DONE

    ended = forms.TypedChoiceField(
        label="It ended",
        coerce=int,
        choices=[
            (minutes, f"{say_minutes(minutes)} ago" if minutes else "just now")
            for minutes in ENDED_MIN
        ],
    )


class TestTapForm(StintTapForm):
    """What the test before a step said."""

    kind = Tap.Kind.TEST

    result = forms.ChoiceField(label="The test says", choices=CoatTest.Result)


class SetForm(StintTapForm):
    """The coat under a stint set earlier or later than planned."""

    kind = Tap.Kind.SET

    minutes = forms.TypedChoiceField(
        label="What is under it set",
        coerce=int,
        choices=[(minutes, set_words(minutes)) for minutes in SET_MIN],
        initial=0,
    )


class ProblemForm(StintTapForm):
    """What is wrong at a wall."""

    kind = Tap.Kind.PROBLEM

    problem = forms.ChoiceField(label="What is wrong", choices=Tap.Problem)


class WallReadingForm(TapForm):
    """The air of a room, in the link's own degrees, by choices."""

    kind = Tap.Kind.READING

    room = forms.ChoiceField(label="Room")
    temperature = forms.TypedChoiceField(coerce=float)
    humidity_pct = forms.TypedChoiceField(
        label="Humidity, %",
        coerce=float,
        choices=[("", _CHOOSE), *((n, f"{n} %") for n in HUMIDITY_PCT)],
        widget=forms.Select(attrs={"data-from": 50}),
    )

    def __init__(
        self, *args: Any, rooms: list[tuple[str, str]], units: str, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.units = units
        choose(self.fields["room"], rooms)
        unit = TEMPERATURE.unit(units)
        degrees = FAHRENHEIT if units == US else CELSIUS
        field = self.fields["temperature"]
        field.label = f"Temperature, {unit}"
        told = [(f"{number:g}", f"{number:g} {unit}") for number in degrees]
        field.choices = [("", _CHOOSE), *told]
        field.widget.attrs["data-from"] = 68 if units == US else 20

    @property
    def given(self) -> dict[str, Any]:
        """With the temperature in Celsius."""
        values = super().given
        shown = values.pop("temperature")
        return values | {"temperature_c": TEMPERATURE.read(f"{shown:g}", self.units)}


FORMS: dict[str, type[TapForm]] = {
    form.kind: form
    for form in (DoneForm, TestTapForm, SetForm, ProblemForm, WallReadingForm)
}
