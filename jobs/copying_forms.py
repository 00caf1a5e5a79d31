"""What a person types to make a copy: its name, and from which day a job goes on."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms import PlainField
from scheduling.errors import Fault, shown
from scheduling.shapes import FIRST_YEAR, LAST_YEAR, WRONG, Text

LONGEST_NAME = 200  # of the job format


class NameField(PlainField):
    """A name that the job format can hold."""

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=LONGEST_NAME, **options)

    def clean(self, value: Any) -> str:
        """The name without blanks at its ends; a line break is none."""
        text = super().clean(value)
        faults: list[Fault] = []
        if Text(LONGEST_NAME).read(text, "name", faults) is WRONG:
            raise ValidationError(f"{shown(text)}: give {faults[0].allowed} on a line.")
        return text


class DayField(PlainField):
    """A day of the calendar; comes out as a date."""

    allowed = "a day, such as 2026-10-12"

    def __init__(self, **options: Any) -> None:
        super().__init__(widget=forms.DateInput(attrs={"type": "date"}), **options)

    def prepare_value(self, value: Any) -> Any:
        """As the browser's own field wants it."""
        return value.isoformat() if isinstance(value, date) else value

    def clean(self, value: Any) -> date:
        """The day; one near the ends of the calendar is a slip of the finger."""
        text = super().clean(value)
        try:
            day = date.fromisoformat(text)
        except ValueError:
            raise ValidationError(f"{shown(text)}: give {self.allowed}.") from None
        if not FIRST_YEAR < day.year < LAST_YEAR:
            years = f"a year from {FIRST_YEAR + 1} to {LAST_YEAR - 1}"
            raise ValidationError(f"{shown(text)}: give {years}.")
        return day


class CopyForm(forms.Form):
    """The name of the copy of a room or a recipe."""

    name = NameField(label="Name of the copy")


class CopyJobForm(forms.Form):
    """The title of a job's copy, and by how many days it comes later."""

    title = NameField(label="Title of the copy")
    first_day = DayField(
        label="First day of the old job",
        help_text="From here its dates, gates and other trades’ days are counted.",
    )
    start = DayField(
        label="First day of the copy",
        help_text="They come as long after this day as they came after that one.",
    )
