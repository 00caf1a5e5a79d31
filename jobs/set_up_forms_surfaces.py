"""A surface as a person says it: kind, width, height, openings; one or many at once."""

import itertools
import json
import re
from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms import MeasureField, PlainField, choose
from jobs.measures import AREA, LENGTH, US, NotAMeasure
from jobs.models import Job, Recipe, Surface
from jobs.set_up_forms import KeptNumberField, SetUpForm
from jobs.set_up_forms_rooms import LEAST_M, MOST_M, WholeField
from scheduling.errors import shown

# As a finisher meets them in a room: what there is most of comes first.
KINDS = ("wall", "ceiling", "door", "trim", "panel", "column", "floor")
FIRST = 1  # the priority that the planner heeds; others are kept as they are
MOST_PANELS = 60  # Assumed: a longer run is two surfaces
_TIMES = re.compile(r"\s*(?:[x×*]|\bby\b)\s*", re.IGNORECASE)


class LengthField(MeasureField):
    """A width or a height of a surface, in metres."""

    def __init__(self, **options: Any) -> None:
        super().__init__(quantity=LENGTH, low=LEAST_M, high=MOST_M, **options)


class OpeningsField(PlainField):
    """Doors and windows: an area, or each by its sides: "0.9 x 2.1 + 1.2 x 1.4"."""

    def __init__(
        self, *, units: str, stored: float | None = None, **options: Any
    ) -> None:
        self.units, self.stored = units, stored
        self.typed = AREA.typed(stored, units) if stored else ""
        options.setdefault("initial", self.typed)
        attributes = {"autocomplete": "off", "autocapitalize": "none"}
        options.setdefault("widget", forms.TextInput(attrs=attributes))
        super().__init__(required=False, max_length=200, **options)
        each = "3 x 7 + 4 x 5" if units == US else "0.9 x 2.1 + 1.2 x 1.4"
        self.allowed = f"{AREA.unit(units)}, or width x height of each, such as {each}"

    def clean(self, value: Any) -> float:
        """Their area in m2; 0 where nothing is given."""
        text = super().clean(value)
        if not text:
            return 0.0
        if self.stored is not None and text == self.typed:
            return self.stored
        try:
            return sum(self._one(part.strip()) for part in text.split("+"))
        except NotAMeasure as why:
            allowed = str(why) or self.allowed
            raise ValidationError(f"{shown(text)}: give {allowed}.") from None

    def _one(self, text: str) -> float:
        sides = _TIMES.split(text)
        if len(sides) == 1:
            return AREA.read(text, self.units)
        if len(sides) != 2:
            raise NotAMeasure
        width, height = (LENGTH.read(side, self.units) for side in sides)
        return width * height


class StopLinesField(PlainField):
    """Where a wet edge may stop, from the left: "1.2, 2.4"; comes out in metres."""

    def __init__(self, *, units: str, stored: Iterable[float] = (), **options: Any):
        self.units, self.stored = units, tuple(stored)
        self.typed = "; ".join(LENGTH.typed(line, units) for line in self.stored)
        super().__init__(required=False, max_length=400, initial=self.typed, **options)
        example = "4 ft; 8 ft 6 in" if units == US else "1.2; 2.4"
        self.allowed = f"lengths from the left with ; between, such as {example}"

    def clean(self, value: Any) -> list[float]:
        """The lines in metres, as they were given."""
        text = super().clean(value)
        if text == self.typed:
            return list(self.stored)
        try:
            parts = [part.strip() for part in text.split(";") if part.strip()]
            return [LENGTH.read(part, self.units) for part in parts]
        except NotAMeasure as why:
            allowed = str(why) or self.allowed
            raise ValidationError(f"{shown(text)}: give {allowed}.") from None


class RecipesForm(SetUpForm):
    """A form in which one of the job's recipes is chosen."""

    def __init__(self, *args: Any, job: Job, **options: Any) -> None:
        super().__init__(*args, **options)
        self.recipes: dict[str, Recipe] = {row.key: row for row in job.recipes.all()}

    def add_recipe(self, name: str, label: str, initial: str | None) -> None:
        """A field for one of them."""
        self.fields[name] = forms.ChoiceField(label=label, initial=initial)
        choose(
            self.fields[name], [(key, row.label) for key, row in self.recipes.items()]
        )

    def fits(self, field: str, width_m: float, height_m: float) -> None:
        """Refuse openings that leave nothing of a surface."""
        gross, openings = width_m * height_m, self.cleaned_data.get(field)
        if openings is not None and openings >= gross:
            typed, whole = (AREA.typed(area, self.units) for area in (openings, gross))
            unit = AREA.unit(self.units)
            self.add_error(
                field,
                f"{typed} {unit} cannot be: give less than width times height, "
                f"which is {whole} {unit}.",
            )


class SurfaceForm(RecipesForm):
    """A surface. Of a new one what is not typed is as usual, and so is its name.

    ``first`` are the values a new one begins with: those of the last one typed;
    ``by_kind`` the recipes that a page with script begins with when a kind is tapped.
    """

    def __init__(
        self,
        *args: Any,
        job: Job,
        surface: Surface | None,
        first: Mapping[str, Any],
        by_kind: Mapping[str, str] | None = None,
        **options: Any,
    ) -> None:
        super().__init__(*args, job=job, **options)
        self.surface = surface
        unit = LENGTH.unit(self.units)
        self.fields["kind"] = forms.ChoiceField(
            label="What is it?", widget=forms.RadioSelect, initial=first.get("kind")
        )
        choose(self.fields["kind"], [(kind, kind.capitalize()) for kind in KINDS])
        for name in ("width_m", "height_m"):
            label = f"{name[:-2].capitalize()}, {unit}"
            self.fields[name] = LengthField(
                label=label, units=self.units, stored=first.get(name)
            )
        openings = OpeningsField(
            label="Openings", units=self.units, stored=first.get("openings_m2")
        )
        openings.help_text = f"Doors and windows: {openings.allowed}."
        self.fields["openings_m2"] = openings
        self.add_recipe("recipe", "Recipe", first.get("recipe"))
        if by_kind:
            attributes = {"data-by-kind": json.dumps(by_kind, sort_keys=True)}
            self.fields["recipe"].widget.attrs |= attributes
        self._add_more(first)

    def _add_more(self, first: Mapping[str, Any]) -> None:
        self.fields["name"] = PlainField(
            label="Name", required=False, max_length=200, initial=first.get("name"),
            help_text="Empty: room, kind and number.",
        )  # fmt: skip
        lines = StopLinesField(
            label="Stop lines", units=self.units, stored=first.get("stop_lines_m", ())
        )
        lines.help_text = f"A wet edge may rest there: {lines.allowed}."
        self.fields["stop_lines_m"] = lines
        self.fields["panels"] = WholeField(
            label="or equal panels in a run", low=2, high=MOST_PANELS, unit="panels",
            required=False, help_text="Each is a part by itself.",
        )  # fmt: skip
        self.fields["ground"] = forms.ChoiceField(
            label="Ground", required=False, widget=forms.RadioSelect,
            initial=first.get("ground", ""),
        )  # fmt: skip
        grounds = [("", "As its label says"), ("porous", "Sucks"), ("sealed", "Sealed")]
        choose(self.fields["ground"], grounds)
        self.fields["outside"] = forms.BooleanField(
            label="An outside wall", required=False, initial=first.get("outside")
        )
        self.fields["u_w_m2k"] = KeptNumberField(
            label="How much heat it lets out, W/m²K", low=0.01, high=10, unit="W/m²K",
            required=False, stored=first.get("u_w_m2k"),
        )  # fmt: skip
        self.fields["early"] = forms.BooleanField(
            label="Among the first, where nothing else decides",
            required=False,
            initial=first.get("priority") == FIRST,
        )
        self.add_hours("sun", "Sun on it", first.get("sun"))

    def clean(self) -> dict[str, Any]:
        """Openings smaller than the wall; stop lines on it, in order."""
        cleaned = super().clean()
        width, height = cleaned.get("width_m"), cleaned.get("height_m")
        if width is None or height is None:
            return cleaned
        self.fits("openings_m2", width, height)
        panels, lines = cleaned.get("panels"), cleaned.get("stop_lines_m") or []
        if panels and lines:
            both = "Stop lines and panels: give one of the two."
            self.add_error("panels", both)
        elif panels:
            cleaned["stop_lines_m"] = [
                width * number / panels for number in range(1, panels)
            ]
        edges = (0.0, *lines, width)
        if any(right <= left for left, right in itertools.pairwise(edges)):
            widest = f"{LENGTH.typed(width, self.units)} {self._bare_unit}".strip()
            self.add_error(
                "stop_lines_m",
                f"{self['stop_lines_m'].data}: give them rising, between 0 and the "
                f"width of {widest}.",
            )
        return cleaned

    @property
    def _bare_unit(self) -> str:
        return "" if self.units == US else LENGTH.unit(self.units)

    @property
    def more_is_open(self) -> bool:
        """Whether something under "more" is wrong."""
        return any(self[name].errors for name in MORE)

    @property
    def columns(self) -> dict[str, Any]:
        """The surface's columns."""
        cleaned = self.cleaned_data
        columns = {name: cleaned[name] for name in COLUMNS}
        columns["recipe"] = self.recipes[cleaned["recipe"]]
        before = self.surface.priority if self.surface else None
        other = None if before == FIRST else before
        columns["priority"] = FIRST if cleaned["early"] else other
        return columns


MORE = (*("name", "stop_lines_m", "panels", "ground", "outside", "u_w_m2k", "early"),)
COLUMNS = (
    *("kind", "width_m", "height_m", "openings_m2", "name", "stop_lines_m"),
    *("ground", "outside", "u_w_m2k", "sun"),
)
