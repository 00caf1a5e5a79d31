"""One step of a recipe as a form: what was typed becomes its JSON in the job format."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms import MeasureField, PlainField
from jobs.measures import PACE, NotAMeasure, number_of
from jobs.recipe_words import STAGE_NAMES
from scheduling.errors import shown
from scheduling.problem import MAKES, Step

Json = dict[str, Any]
FROM_BOOK = "book:"  # stands before a material that is not in the job yet
FASTEST, SLOWEST = 0.0, 10_000.0  # minutes a m2 that the job format takes


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
