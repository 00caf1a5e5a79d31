"""A material's label as a form: what was typed becomes its JSON in the job format.

Times are typed with their unit, as 20 min or 2-4 h; what the engine's reader says of
them goes beside the field.
"""

import re
from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms import MeasureField, PlainField, TemperatureField
from jobs.measures import SPREAD, TEMPERATURE, NotAMeasure, number_of
from jobs.recipe_typed import plain_time
from jobs.recipe_words import LABEL_NAMES
from jobs.step_forms import FigureField
from jobs.typed_units import label_min
from scheduling.errors import BadInput, Fault, shown
from scheduling.problem import FAMILIES, PROMISES, STAGES, Label, Material

Json = dict[str, Any]
_PARTS = "parts such as 1 colour, 4 medium"
_FAULT = re.compile(r"materials\[\d+\]\.(.+)")


class LabelField(PlainField):
    """A label's time or range; comes out in minutes, None where nothing is given."""

    def __init__(self, *, stored: Label | None = None, **options: Any) -> None:
        self.stored = stored
        attributes = {"autocomplete": "off", "autocapitalize": "none"}
        options.setdefault("widget", forms.TextInput(attrs=attributes))
        if stored is not None:
            options.setdefault("initial", typed_label(stored))
        super().__init__(required=False, **options)

    def clean(self, value: Any) -> Label | None:
        """The minutes; text left as shown gives back the very value."""
        text = super().clean(value)
        if not text:
            return None
        if self.stored is not None and text == typed_label(self.stored):
            return self.stored
        try:
            return label_min("", plain_time(text))
        except BadInput as error:
            allowed = error.faults[0].allowed
            raise ValidationError(f"{shown(text)}: give {allowed}.") from None


class PartsField(PlainField):
    """What is mixed, by parts: "1 colour, 4 medium"."""

    def clean(self, value: Any) -> dict[str, float]:
        """Numbers by name, in order."""
        text = super().clean(value)
        found: dict[str, float] = {}
        for part in text.split(",") if text else ():
            number, _, name = part.strip().partition(" ")
            try:
                found[name.strip()] = number_of(number)
            except NotAMeasure:
                name = ""
            if not name.strip():
                raise ValidationError(f"{shown(part.strip())}: give {_PARTS}.")
        return found


class MaterialForm(forms.Form):
    """A material: its family, its label's air and times, its spread and its parts."""

    name = PlainField(label="What it is called", max_length=200)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    units = forms.CharField(widget=forms.HiddenInput, required=False)
    family = forms.ChoiceField(
        label="Family: how it dries", choices=[(name, name) for name in FAMILIES]
    )
    oily = forms.BooleanField(
        label="Oily: its rags can heat by themselves", required=False
    )
    solvent = forms.BooleanField(label="Gives off solvent", required=False)
    humidity = FigureField(label="and humidity, %")
    water_share = FigureField(label="Share of it that is water, 0 to 1", required=False)
    parts = PartsField(label="Mixed by parts", required=False, max_length=200)

    def __init__(
        self, *args: Any, units: str, material: Material | None, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.material = material
        self.fields["units"].initial = units
        air_c = material.label_air.temperature_c if material else 23.0
        self.fields["temperature"] = TemperatureField(
            label=f"Label times are for {TEMPERATURE.unit(units)}",
            units=units,
            stored=air_c,
        )
        self.fields["spread"] = MeasureField(
            label=f"Spread, {SPREAD.unit(units)}",
            quantity=SPREAD,
            units=units,
            low=0.01,
            high=1000,
            stored=material.spread_m2_per_l if material else None,
            required=False,
        )
        labels = {**material.labels, **material.promises} if material else {}
        for stage in (*STAGES, *PROMISES):
            self.fields[stage] = LabelField(
                label=LABEL_NAMES[stage], stored=labels.get(stage)
            )
        self.others: list[str] = []

    @property
    def stages(self) -> list[forms.BoundField]:
        """The label's times."""
        return [self[stage] for stage in STAGES]

    @property
    def promises(self) -> list[forms.BoundField]:
        """What the label promises of use."""
        return [self[promise] for promise in PROMISES]

    def written(self, key: str) -> Json:
        """The material in the job format; what the form does not show stays."""
        typed = self.cleaned_data
        before = self.material
        unnamed = before and before.name is None and typed["name"] == key
        found: Json = {
            "id": key,
            **({} if unnamed else {"name": typed["name"]}),
            "family": typed["family"],
            "label_air": {
                "temperature_c": typed["temperature"],
                "humidity_pct": typed["humidity"],
            },
            "labels": self._times(STAGES),
            "promises": self._times(PROMISES),
            "parts": typed["parts"],
            "oily": typed["oily"],
            "solvent": typed["solvent"],
        }
        if before and before.points:
            found["points"] = points_json(before)
        for name, value in (
            ("water_share", typed["water_share"]),
            ("spread_m2_per_l", typed["spread"]),
        ):
            if value is not None:
                found[name] = value
        return found

    def _times(self, stages: Iterable[str]) -> Json:
        given = {stage: self.cleaned_data[stage] for stage in stages}
        return {
            stage: list(label) if isinstance(label, tuple) else label
            for stage, label in given.items()
            if label is not None
        }

    def refuse(self, faults: Iterable[Fault]) -> None:
        """The engine's words beside the fields that they are about."""
        names = {
            "label_air.temperature_c": "temperature",
            "label_air": "temperature",
            "label_air.humidity_pct": "humidity",
            "spread_m2_per_l": "spread",
        }
        for fault in faults:
            found = _FAULT.fullmatch(fault.path)
            if found is None:
                self.others.append(str(fault))
                continue
            rest = found[1].removeprefix("labels.").removeprefix("promises.")
            field = names.get(rest, rest.partition(".")[0].partition("[")[0])
            said = f"{shown(fault.value)}: give {fault.allowed}."
            self.add_error(field if field in self.fields else None, said)


def shown_material(material: Material, version: int | None) -> Json:
    """A material as its form shows it, beside the fields that show themselves."""
    share = material.water_share
    return {
        "name": material.name or material.id,
        "version": version,
        "family": material.family,
        "oily": material.oily,
        "solvent": material.solvent,
        "humidity": f"{material.label_air.humidity_pct:.10g}",
        "water_share": "" if share is None else f"{share:.10g}",
        "parts": ", ".join(f"{n:.10g} {name}" for name, n in material.parts.items()),
    }


def points_json(material: Material) -> list[Json]:
    """A material's points in the job format."""
    return [
        {
            "air": {
                "temperature_c": point.air.temperature_c,
                "humidity_pct": point.air.humidity_pct,
            },
            "labels": {
                stage: list(label) if isinstance(label, tuple) else label
                for stage, label in point.labels.items()
            },
        }
        for point in material.points
    ]


def typed_label(label: Label) -> str:
    """A label's time as a person would type it: "2-4 h", "20 min", "2 d"."""
    ends = label if isinstance(label, tuple) else (label,)
    unit, size = next(
        (unit, size)
        for unit, size in (("d", 1440.0), ("h", 60.0), ("min", 1.0))
        if size == 1 or all(end % size == 0 for end in ends)
    )
    if unit == "d" and max(ends) <= 1440:
        unit, size = "h", 60.0
    return "-".join(f"{end / size:.10g}" for end in ends) + f" {unit}"
