"""A recipe as a form: its name, its steps, and buttons that post to move them.

What is typed becomes the recipe's JSON in the job format. The engine's own reader
judges it, and what it says goes beside the field that it is about. Moving a step keeps
all that was typed, right or wrong.
"""

import re
from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms import MeasureField, PlainField
from jobs.measures import PACE, NotAMeasure, number_of
from jobs.models import User
from jobs.recipe_typed import new_step, shown_step
from jobs.recipe_words import STAGE_NAMES
from jobs.starting_set import starting_materials
from scheduling.errors import Fault, shown
from scheduling.problem import MAKES, Job, Material, Recipe, Step

FROM_BOOK = "book:"
FASTEST, SLOWEST = 0.0, 10_000.0  # minutes a m2 that the job format takes

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


class FigureField(PlainField):
    """A number as typed; whether it can be is the engine's to say."""

    def __init__(self, **options: Any) -> None:
        attributes = {"inputmode": "decimal", "autocomplete": "off"}
        options.setdefault("widget", forms.TextInput(attrs=attributes))
        super().__init__(**options)

    def clean(self, value: Any) -> float | int | None:
        """The number, whole where it is; None where nothing is needed or given."""
        text = super().clean(value)
        if not text:
            return None
        try:
            number = number_of(text)
        except NotAMeasure as why:
            said = str(why) or "give a number"
            raise ValidationError(f"{shown(text)}: {said}.") from None
        return int(number) if number.is_integer() else number


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


class StepForm(forms.Form):
    """One step of a recipe."""

    id = forms.CharField(widget=forms.HiddenInput, required=False)
    name = PlainField(label="What is done", max_length=200)
    material = forms.ChoiceField(label="What goes on", required=False)
    hands_least = FigureField(label="Hands, at least", max_length=20)
    hands_most = FigureField(label="at most", max_length=20, required=False)
    setup_min = FigureField(label="Set-up, minutes", max_length=20, required=False)
    skill = PlainField(
        label="Skill of one of them", required=False, max_length=60
    )  # fmt: skip
    after_step = forms.ChoiceField(label="Waits for", required=False)
    after_stage = forms.ChoiceField(
        label="until that is",
        required=False,
        choices=[("", "as usual"), *STAGE_NAMES.items()],
    )
    rescue_stage = forms.ChoiceField(
        label="then waits until that is",
        required=False,
        choices=[("", "nothing"), *STAGE_NAMES.items()],
    )
    wet = forms.BooleanField(
        label="Wet edge: one unbroken stretch, one lays and one works it",
        required=False,
    )
    splits = forms.BooleanField(label="May be spread over days", required=False)
    same_hand = forms.BooleanField(
        label="The same hand on all of a room’s walls", required=False
    )
    makes = forms.MultipleChoiceField(
        label="Makes",
        required=False,
        choices=[(name, name) for name in MAKES],
        widget=forms.CheckboxSelectMultiple,
    )
    coat = FigureField(
        label="Coat, times the label’s thickness", max_length=20, required=False
    )
    seals = forms.ChoiceField(
        label="On porous ground",
        required=False,
        choices=[
            ("", "as its material usually does"),
            ("yes", "it seals"),
            ("no", "it does not seal"),
        ],
    )
    prefers = forms.ChoiceField(
        label="In its day",
        required=False,
        choices=[("", "at any time"), ("early", "early"), ("late", "late")],
    )

    def __init__(
        self,
        *args: Any,
        units: str,
        materials: list[tuple[str, Any]],
        steps: list[tuple[str, str]],
        stored: Step | None,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.stored = stored
        self.fields["material"].choices = [("", "nothing: a dry step"), *materials]
        self.fields["after_step"].choices = [("", "the step before it"), *steps]
        self.fields["skill"].widget.attrs["list"] = "skills"
        self.fields["skill"].widget.attrs["autocapitalize"] = "none"
        unit = PACE.unit(units)
        rescue = stored.rescue if stored else None
        paces = (
            ("apply_min_m2", "Laying it on", stored and stored.apply_min_m2),
            ("work_min_m2", "Working it", (stored and stored.work_min_m2) or None),
            ("rescue_min_m2", "A missed window takes", rescue and rescue.min_m2),
        )
        for name, label, value in paces:
            self.fields[name] = MeasureField(
                quantity=PACE,
                units=units,
                low=FASTEST,
                high=SLOWEST,
                label=f"{label}, {unit}",
                stored=value,
                required=name == "apply_min_m2",
            )

    @property
    def title(self) -> str:
        """How the step is called in its line, as typed so far."""
        return str(self["name"].value() or "") or "A new step"

    @property
    def opened(self) -> bool:
        """Whether its fields are shown at once: it is new, or something is wrong."""
        return self.stored is None or bool(self.is_bound and self.errors)

    def written(self, before: str) -> Json:
        """The step in the job format; ``before`` is the id of the step above it."""
        typed = self.cleaned_data
        most = {} if typed["hands_most"] is None else {"most": typed["hands_most"]}
        step: Json = {
            "id": typed["id"],
            **self._name(),
            "material": typed["material"].removeprefix(FROM_BOOK) or None,
            "apply_min_m2": typed["apply_min_m2"],
            "hands": {"least": typed["hands_least"], **most},
            "wet": typed["wet"],
            "splits": typed["splits"],
            "same_hand": typed["same_hand"],
            "makes": self._makes(),
        }
        for name in ("work_min_m2", "setup_min", "coat"):
            if typed[name] is not None:
                step[name] = typed[name]
        for name in ("skill", "prefers"):
            if typed[name]:
                step[name] = typed[name]
        if typed["seals"]:
            step["seals"] = typed["seals"] == "yes"
        stage = typed["after_stage"]
        if typed["after_step"] or stage:
            step["after"] = {"step": typed["after_step"] or before}
            step["after"] |= {"stage": stage} if stage else {}
        if typed["rescue_min_m2"] is not None or typed["rescue_stage"]:
            step["rescue"] = {
                name: value
                for name, value in (
                    ("min_m2", typed["rescue_min_m2"]),
                    ("stage", typed["rescue_stage"]),
                )
                if value not in (None, "")
            }
        return step

    def _name(self) -> Json:
        name, stored = self.cleaned_data["name"], self.stored
        unnamed = stored and stored.name is None and name == stored.id
        return {} if unnamed else {"name": name}

    def _makes(self) -> list[str]:
        """In the order that they had, where nothing was changed."""
        chosen = self.cleaned_data["makes"]
        same = self.stored and set(chosen) == set(self.stored.makes)
        return list(self.stored.makes) if same else chosen


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
