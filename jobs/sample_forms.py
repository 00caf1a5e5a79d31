"""A sample as a form: when it was laid, in which air, and how long each stage took."""

import re
from datetime import datetime, tzinfo
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms import MomentField, NumberField, PlainField, TemperatureField
from jobs.measures import TEMPERATURE
from jobs.recipe_typed import plain_time
from jobs.samples import WATCHED
from jobs.typed_units import label_min
from scheduling.errors import BadInput, shown
from scheduling.problem import SIZES, Material

_WORDS = {
    "open": "Still open until, after laying",
    "touch": "Dry to touch after",
    "recoat": "Takes the next coat after",
    "hard": "Hard after",
    "tack": "At tack after",
}
_ALLOWED = "one time, such as 35 min or 5 h; a bare number is minutes"


class WatchedField(PlainField):
    """One time in minutes, or with its unit; None where nothing is given."""

    def clean(self, value: Any) -> float | None:
        """The minutes."""
        text = super().clean(value)
        if not text:
            return None
        plain = plain_time(text)
        bare = re.fullmatch(r"[0-9]*\.?[0-9]*", plain) is not None
        try:
            minutes = label_min("", f"{plain} min" if bare else plain)
        except BadInput:
            raise ValidationError(f"{shown(text)}: give {_ALLOWED}.") from None
        if isinstance(minutes, tuple):
            raise ValidationError(f"{shown(text)}: give {_ALLOWED}.")
        return minutes


class SampleForm(forms.Form):
    """What was watched, with a clock and a hygrometer beside it."""

    units = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(
        self,
        *args: Any,
        material: Material,
        zone: tzinfo,
        now: datetime,
        units: str,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.fields["units"].initial = units
        self.fields["laid_at"] = MomentField(label="Laid at", zone=zone, now=now)
        self.fields["temperature"] = TemperatureField(
            label=f"Temperature, {TEMPERATURE.unit(units)}",
            units=units,
            low_c=-30.0,
            high_c=60.0,
        )
        self.fields["humidity"] = NumberField(
            label="Humidity, %", low=0, high=100, unit="%"
        )
        size = material.family in SIZES
        for stage in WATCHED:
            if stage != "tack" or size or "tack" in material.labels:
                self.fields[stage] = WatchedField(label=_WORDS[stage], required=False)

    @property
    def stages(self) -> list[forms.BoundField]:
        """The times that may be watched."""
        return [self[stage] for stage in WATCHED if stage in self.fields]

    @property
    def minutes(self) -> dict[str, float]:
        """Those that were."""
        given = {stage: self.cleaned_data.get(stage) for stage in WATCHED}
        return {stage: value for stage, value in given.items() if value is not None}


class AcceptForm(forms.Form):
    """How the label follows a sample, and which version was looked at."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    how = forms.ChoiceField(
        label="How it should follow",
        choices=[
            ("point", "The label is right at its own air; here it is as watched"),
            ("label", "The label is off in any air: set it so that this comes out"),
        ],
        widget=forms.RadioSelect,
        error_messages={
            "required": "Nothing chosen: give one of the two.",
            "invalid_choice": "%(value)s is not here: give one of the two.",
        },
    )
