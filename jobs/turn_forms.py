"""What a person types about the days to come: a damper day, a hand off or late."""

from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms import NumberField
from jobs.models import Job

WHAT = (
    ("humidity", "It is so damp outdoors on that day"),
    ("off", "That hand is off on that day"),
    ("late", "That hand does not come before that day"),
)


class SupposeForm(forms.Form):
    """One thing supposed of one day, and the hand or the humidity that goes with it."""

    def __init__(self, *args: Any, job: Job, now: datetime, **options: Any) -> None:
        super().__init__(*args, **options)
        self.today = now.astimezone(job.tz).date()
        self.fields["what"] = forms.ChoiceField(
            label="What if", choices=WHAT, initial="humidity"
        )
        self.fields["what"].error_messages["invalid_choice"] = (
            "%(value)s is not asked here: choose one of these."
        )
        self.fields["day"] = forms.DateField(
            label="Day",
            input_formats=["%Y-%m-%d"],
            widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        )
        self.fields["day"].error_messages.update(
            required="Empty: give a day.",
            invalid="This is no day: give it as 2026-10-15, the year first.",
        )
        self.fields["pct"] = NumberField(
            label="Humidity outdoors, %", low=0, high=100, unit="%", required=False
        )
        self.fields["hand"] = forms.ChoiceField(
            label="Hand",
            required=False,
            choices=[
                ("", "Nobody"),
                *((hand.key, str(hand)) for hand in job.hands.all()),
            ],
        )
        self.fields["hand"].error_messages["invalid_choice"] = (
            "%(value)s is no hand of this job: choose one of these."
        )

    def clean_day(self) -> Any:
        """Today or later: what has been cannot be supposed."""
        day = self.cleaned_data["day"]
        if day < self.today:
            raise ValidationError(f"{day} is past: give {self.today} or a later day.")
        return day

    def clean(self) -> dict[str, Any]:
        """The humidity or the hand that the question needs."""
        typed = super().clean() or self.cleaned_data
        what = typed.get("what")
        if what == "humidity" and typed.get("pct") is None and "pct" not in self.errors:
            self.add_error("pct", "Empty: give a number from 0 to 100 %.")
        needs_hand = what in ("off", "late") and not typed.get("hand")
        if needs_hand and "hand" not in self.errors:
            self.add_error("hand", "Nobody: choose the hand.")
        return typed

    @property
    def question(self) -> dict[str, Any]:
        """What was asked, as a run keeps it."""
        typed = self.cleaned_data
        kept = {"what": typed["what"], "day": typed["day"].isoformat()}
        if typed["what"] == "humidity":
            return kept | {"pct": typed["pct"]}
        return kept | {"hand": typed["hand"]}
