"""Several surfaces at once: all round a room, or one recipe on many."""

from collections.abc import Mapping
from typing import Any

from django import forms

from jobs.measures import LENGTH
from jobs.models import Job, Room, Surface
from jobs.set_up_forms_surfaces import LengthField, OpeningsField, RecipesForm

WALLS = 4


class AllRoundForm(RecipesForm):
    """A room's four walls, ceiling and floor from its length, width and height."""

    def __init__(
        self,
        *args: Any,
        job: Job,
        room: Room,
        lengths_m: Mapping[str, float],
        first: Mapping[str, Any],
        **options: Any,
    ) -> None:
        super().__init__(*args, job=job, **options)
        self.room = room
        for name in ("long", "wide", "high"):
            words = {"long": "Length", "wide": "Width", "high": "Height"}[name]
            self.fields[name] = LengthField(
                label=f"{words}, {LENGTH.unit(self.units)}",
                units=self.units,
                stored=lengths_m.get(name),
            )
        for number in range(1, WALLS + 1):
            self.fields[f"wall_{number}"] = forms.BooleanField(
                label=f"Wall {number}", required=False, initial=True
            )
            openings = OpeningsField(label=f"Openings of wall {number}",
                                     units=self.units)  # fmt: skip
            self.fields[f"openings_{number}"] = openings
        self.fields["ceiling"] = forms.BooleanField(label="Ceiling", required=False)
        self.fields["floor"] = forms.BooleanField(label="Floor", required=False)
        self.add_recipe("walls_recipe", "Recipe of the walls", first.get("wall"))
        for kind in ("ceiling", "floor"):
            label = f"Recipe of the {kind}"
            self.add_recipe(f"{kind}_recipe", label, first.get(kind))

    @property
    def walls(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """Each wall's tick with its openings."""
        numbers = range(1, WALLS + 1)
        return [(self[f"wall_{n}"], self[f"openings_{n}"]) for n in numbers]

    @property
    def openings_allowed(self) -> str:
        """What may be typed for openings."""
        field = self.fields["openings_1"]
        return field.allowed if isinstance(field, OpeningsField) else ""

    def clean(self) -> dict[str, Any]:
        """Openings smaller than their wall; something ticked."""
        cleaned = super().clean()
        if not {"long", "wide", "high"} <= cleaned.keys():
            return cleaned
        for number in range(1, WALLS + 1):
            if cleaned.get(f"wall_{number}"):
                width = cleaned["long" if number % 2 else "wide"]
                self.fits(f"openings_{number}", width, cleaned["high"])
        ticked = [name for name in cleaned if name.startswith(("wall_", "ceil", "flo"))]
        if not any(cleaned[name] is True for name in ticked):
            self.add_error(None, "Nothing ticked: give one wall, ceiling or floor.")
        return cleaned

    @property
    def entries(self) -> list[dict[str, Any]]:
        """The columns of each surface, walls first."""
        cleaned = self.cleaned_data
        long, wide, high = (cleaned[name] for name in ("long", "wide", "high"))
        made = [
            {"kind": "wall", "width_m": long if n % 2 else wide, "height_m": high,
             "openings_m2": cleaned[f"openings_{n}"],
             "recipe": self.recipes[cleaned["walls_recipe"]]}
            for n in range(1, WALLS + 1) if cleaned[f"wall_{n}"]
        ]  # fmt: skip
        for kind in ("ceiling", "floor"):
            if cleaned[kind]:
                recipe = self.recipes[cleaned[f"{kind}_recipe"]]
                made.append(
                    {"kind": kind, "width_m": long, "height_m": wide, "recipe": recipe}
                )
        return made


class OneRecipeForm(RecipesForm):
    """One recipe for several surfaces at once."""

    def __init__(self, *args: Any, job: Job, **options: Any) -> None:
        super().__init__(*args, job=job, **options)
        rows = job.surfaces.select_related("room").order_by(
            "room__position", "position"
        )
        self.surfaces: dict[str, Surface] = {row.key: row for row in rows}
        self.add_recipe("recipe", "Recipe", None)
        self.fields["surfaces"] = forms.MultipleChoiceField(
            label="On which surfaces",
            widget=forms.CheckboxSelectMultiple,
            choices=[(key, row.label) for key, row in self.surfaces.items()],
        )
        self.fields["surfaces"].error_messages = {
            "required": "Nothing chosen: give one surface or more.",
            "invalid_choice": "%(value)s is not here: give surfaces of this job.",
        }

    @property
    def chosen(self) -> list[Surface]:
        """The surfaces that were ticked."""
        return [self.surfaces[key] for key in self.cleaned_data["surfaces"]]
