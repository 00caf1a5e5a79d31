"""A recipe as a form: its name, its steps, and buttons that post to move them.

What is typed becomes the recipe's JSON in the job format. The engine's own reader
judges it, and what it says goes beside the field that it is about. Moving a step keeps
all that was typed, right or wrong.
"""

import re
from collections.abc import Iterable
from typing import Any

from django import forms

from jobs.forms import PlainField
from jobs.models import User
from jobs.recipe_typed import new_step, shown_step
from jobs.starting_set import starting_materials
from jobs.step_forms import FROM_BOOK, StepForm
from scheduling.errors import Fault, shown
from scheduling.problem import Job, Material, Recipe

Json = dict[str, Any]
# Where the reader's word on a step goes, by its path in the step.
FIELD_OF = {
    "id": "name",
    "hands": "hands_least",
    "hands.least": "hands_least",
    "hands.most": "hands_most",
    "after": "after_step",
    "after.step": "after_step",
    "after.stage": "after_stage",
    "rescue": "rescue_min_m2",
    "rescue.min_m2": "rescue_min_m2",
    "rescue.stage": "rescue_stage",
}


def units_typed(posted: Any, units: str) -> str:
    """The units that a form was shown in; the reader's where it says none."""
    said = posted.get("units", "")
    return said if said in User.Units.values else units


class NameForm(forms.Form):
    """What a recipe is called, and the version that the form was made from."""

    name = PlainField(label="What the finish is called", max_length=200)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    # A person may switch units in another tab meanwhile: a 3 beside min/m2 stays one.
    units = forms.CharField(widget=forms.HiddenInput, required=False)


class RecipeForm:
    """A recipe's name and steps: as they are, as typed and moved, or to be judged.

    ``rows`` are steps as typed; without any they are the recipe's own. ``posted`` is
    what is to be kept, whose faults are shown.
    """

    def __init__(
        self,
        *,
        recipe: Recipe | None,
        name: str,
        version: int | None,
        job: Job,
        units: str,
        rows: list[Json] | None = None,
        posted: Any = None,
    ) -> None:
        self.recipe, self.units = recipe, units
        self.skills = sorted({skill for hand in job.hands for skill in hand.skills})
        self.others: list[str] = []  # what is wrong with no field
        own = {row.id for row in job.materials}
        self.book = {row.id: row for row in starting_materials() if row.id not in own}
        self.materials = _material_choices(job.materials, self.book.values())
        self.stored = {step.id: step for step in recipe.steps} if recipe else {}
        if rows is None:
            rows = [shown_step(step) for step in recipe.steps] if recipe else []
        rows = rows or [new_step(())]
        self.name = (
            NameForm(initial={"name": name, "version": version, "units": units})
            if posted is None
            else NameForm(posted)
        )
        names = [(row["id"], row["name"] or "A new step") for row in rows]
        self.steps = [
            StepForm(
                posted,
                initial=row,
                prefix=f"step-{number}",
                units=units,
                materials=self.materials,
                steps=[*names[:number], *names[number + 1 :]],
                stored=self.stored.get(row["id"]),
            )
            for number, row in enumerate(rows)
        ]

    def is_valid(self) -> bool:
        """Whether all can be read; the engine has not judged it then."""
        every = [self.name.is_valid(), *(step.is_valid() for step in self.steps)]
        return all(every)

    def written(self, key: str) -> Json:
        """The recipe in the job format."""
        steps: list[Json] = []
        for step in self.steps:
            steps.append(step.written(steps[-1]["id"] if steps else ""))
        name = self.name.cleaned_data["name"]
        unnamed = self.recipe and self.recipe.name is None and name == key
        return {"id": key, **({} if unnamed else {"name": name}), "steps": steps}

    @property
    def from_book(self) -> list[Material]:
        """The book's materials that were chosen and come along."""
        chosen = dict.fromkeys(step.cleaned_data["material"] for step in self.steps)
        return [
            self.book[name.removeprefix(FROM_BOOK)]
            for name in chosen
            if name.startswith(FROM_BOOK)
        ]

    def refuse(self, faults: Iterable[Fault]) -> None:
        """The engine's words beside the fields of this recipe's faults."""
        for fault in faults:
            found = _STEP_FAULT.fullmatch(fault.path)
            if found is None:
                self.others.append(str(fault))
                continue
            form, rest = self.steps[int(found[1])], found[2]
            field = FIELD_OF.get(rest, rest.partition(".")[0].partition("[")[0])
            form.add_error(field if field in form.fields else None, _said(fault))

    @property
    def wrong(self) -> int:
        """How many fields need another look."""
        every = [self.name, *self.steps]
        return sum(len(form.errors) for form in every if form.is_bound)


_STEP_FAULT = re.compile(r"recipes\[\d+\]\.steps\[(\d+)\]\.(.+)")


def _said(fault: Fault) -> str:
    if fault.allowed == "required":
        return "Empty: give a value."
    return f"{shown(fault.value)}: give {fault.allowed}."


def _material_choices(
    own: Iterable[Material], book: Iterable[Material]
) -> list[tuple[str, Any]]:
    """The job's own materials, then those of the book that it has not got."""
    mine = [(row.id, row.name or row.id) for row in own]
    others = [(f"{FROM_BOOK}{row.id}", row.name or row.id) for row in book]
    others.sort(key=lambda choice: choice[1].casefold())
    return [("In this job", mine), ("From the book, with its label", others)]
