"""Forms of setting up a job: what it is called, when its site is open, its usual air.

What the engine refuses comes back beside the field it is about (``put_faults``).
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms import NumberField, PlainField, ReadersForm, TemperatureField, choose
from jobs.measures import TEMPERATURE
from jobs.models import Job
from jobs.set_up_hours import HoursList
from jobs.usual_air import USUAL_AIRS, day_and_night, typical_air
from scheduling.errors import Fault, shown

USUAL_HOURS = [
    {"days": "mon-fri", "from": "08:00", "to": "16:30", "breaks": [["12:00", "12:30"]]}
]
BOOK = "book"  # the recipes that ship with the service
OWN_AIR, KEPT_AIR = "own", "kept"
_SEGMENT = re.compile(r"(\w+)(?:\[(\d+)\])?")


class SetUpForm(ReadersForm):
    """A form that may have hours in it: rules of days and times under headings."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.hours: dict[str, HoursList] = {}

    def add_hours(
        self, name: str, label: str, stored: Sequence[Any] | None, **options: Any
    ) -> None:
        """One more heading; ``cleaned_data[name]`` is the JSON of its rules."""
        data = self.data if self.is_bound else None
        self.hours[name] = HoursList(name, label, data=data, stored=stored, **options)

    def clean(self) -> dict[str, Any]:
        """Every rule of hours with the rest."""
        cleaned = super().clean() or {}
        for name, rules in self.hours.items():
            cleaned[name] = rules.value
            if rules.value is None:
                self.add_error(None, f"{rules.label}: one line needs another look.")
        return cleaned

    def put_faults(self, faults: Iterable[Fault]) -> None:
        """What the engine says is wrong, each beside the field that it is about."""
        for fault in faults:
            parts = _SEGMENT.findall(fault.path)
            parts = parts[1:] or parts
            text = f"{shown(fault.value)}: {fault.allowed}."
            hours = [part for part in parts if part[0] in self.hours and part[1]]
            fields = [name for name, _ in parts if name in self.fields]
            if hours:
                name, at = hours[0]
                self.hours[name].refuse(int(at), parts[-1][0], text)
                heading = self.hours[name].label
                self.add_error(None, f"{heading}: one line needs another look.")
            elif fields:
                self.add_error(fields[-1], text)
            else:
                self.add_error(None, f"{fault.path}: {text}")


class KeptNumberField(NumberField):
    """A number to be changed: left as it is shown it stays to the last bit."""

    def __init__(self, *, stored: float | None, **options: Any) -> None:
        self.stored = stored
        self.typed = "" if stored is None else f"{stored:.6g}"
        super().__init__(initial=self.typed, **options)

    def clean(self, value: Any) -> float | None:
        """The number in the field's unit; None where nothing is needed or given."""
        if self.stored is not None and str(value).strip() == self.typed:
            return self.stored
        return super().clean(value)


class ZoneField(PlainField):
    """A time zone by its name in the IANA database, or by its city alone."""

    allowed = 'a time zone like "Europe/Lisbon"'

    def __init__(self, **options: Any) -> None:
        attributes = {
            "list": "zones", "autocomplete": "off", "autocapitalize": "none",
            "spellcheck": "false", "data-zone": "",
        }  # fmt: skip
        options.setdefault("widget", forms.TextInput(attrs=attributes))
        super().__init__(max_length=64, **options)
        self.error_messages["required"] = f"Empty: give {self.allowed}."

    def clean(self, value: Any) -> str:
        """The zone's full name."""
        text = super().clean(value)
        asked = text.replace(" ", "_").casefold()
        names = {name.casefold(): name for name in sorted(available_timezones())}
        cities = {name.rpartition("/")[2]: full for name, full in names.items()}
        found = names.get(asked) or cities.get(asked)
        if found is None:
            raise ValidationError(f"{shown(text)}: give {self.allowed}.")
        return found


def zone_names() -> list[str]:
    """The zones that a person may choose from: an area, and a city in it."""
    return sorted(name for name in available_timezones() if _is_a_place(name))


def _is_a_place(name: str) -> bool:
    area = name.partition("/")[0]
    return "/" in name and area not in {"Etc", "SystemV", "posix", "right"}


class NewJobForm(SetUpForm):
    """What a job begins with: a title is all that must be typed."""

    title = PlainField(label="What is the job called?", max_length=200)
    zone = ZoneField(
        label="Time zone of the place", help_text="A city is enough: Lisbon."
    )
    air = forms.ChoiceField(
        label="Outdoors on a usual day there, this season",
        widget=forms.RadioSelect,
        initial="mild",
        help_text="Until a forecast or your own figures say better.",
    )

    def __init__(self, *args: Any, others: Mapping[str, str], **options: Any) -> None:
        super().__init__(*args, **options)
        words = [(key, air.words(self.units)) for key, air in USUAL_AIRS.items()]
        choose(self.fields["air"], words)
        self.add_hours("hours", "Hours of the site", USUAL_HOURS, with_breaks=True)
        if others:
            self.fields["recipes"] = forms.ChoiceField(
                label="Recipes", widget=forms.RadioSelect, initial=next(iter(others))
            )
            names = [(key, f"As on {title}") for key, title in others.items()]
            choose(self.fields["recipes"], [*names, (BOOK, "The starting recipes")])

    @property
    def site(self) -> dict[str, Any]:
        """The site in the words of the job format."""
        return {
            "zone": self.cleaned_data["zone"],
            "hours": self.cleaned_data["hours"],
            "typical_air": USUAL_AIRS[self.cleaned_data["air"]].typical_air,
        }


class SiteForm(SetUpForm):
    """A job's title, zone, hours, closed days and quiet."""

    title = PlainField(label="Title", max_length=200)
    zone = ZoneField(label="Time zone of the place")

    def __init__(self, *args: Any, job: Job, **options: Any) -> None:
        super().__init__(
            *args, initial={"title": job.title, "zone": job.zone}, **options
        )
        del self.fields["zone"].widget.attrs["data-zone"]
        self.add_hours("hours", "Hours", job.hours, with_breaks=True)
        self.add_hours("quiet", "Quiet: no noise", job.quiet)
        self.add_hours("smell_free", "No smell", job.smell_free)
        if job.closed:
            days = [(day, say_date(day)) for day in job.closed]
            self.fields["closed"] = forms.MultipleChoiceField(
                label="Closed days",
                required=False,
                widget=forms.CheckboxSelectMultiple,
                initial=list(job.closed),
                choices=days,
            )
        self.fields["closed_from"] = DayField(label="Close from", required=False)
        self.fields["closed_to"] = DayField(label="to", required=False)

    def clean(self) -> dict[str, Any]:
        """The closed days that stay, with those of the new span."""
        cleaned = super().clean()
        first, last = cleaned.get("closed_from"), cleaned.get("closed_to")
        days = set(cleaned.get("closed") or ())
        if last and not first and "closed_from" not in self.errors:
            self.add_error("closed_from", "Empty: give the first closed day.")
        elif first and not {"closed_from", "closed_to"} & self.errors.keys():
            last = last or first
            span = (last - first).days
            if not 0 <= span <= MOST_CLOSED:
                allowed = f"{first} or up to {MOST_CLOSED} days later"
                self.add_error("closed_to", f"{last} cannot be: give {allowed}.")
            else:
                ordinals = range(first.toordinal(), last.toordinal() + 1)
                days |= {date.fromordinal(day).isoformat() for day in ordinals}
        cleaned["closed"] = sorted(days)
        return cleaned

    @property
    def columns(self) -> dict[str, Any]:
        """The job's columns."""
        names = ("title", "zone", "hours", "quiet", "smell_free", "closed")
        return {name: self.cleaned_data[name] for name in names}


MOST_CLOSED = 366


class DayField(PlainField):
    """A day of the calendar."""

    allowed = 'a date like "2026-10-14"'

    def __init__(self, **options: Any) -> None:
        options.setdefault("widget", forms.DateInput(attrs={"type": "date"}))
        super().__init__(**options)

    def clean(self, value: Any) -> date | None:
        """The day; None where nothing is needed or given."""
        text = super().clean(value)
        if not text:
            return None
        try:
            day = date.fromisoformat(text)
        except ValueError:
            raise ValidationError(f"{shown(text)}: give {self.allowed}.") from None
        if not 2000 < day.year < 2199:  # the job format's, less a zone's shift
            raise ValidationError(f"{shown(text)}: give a year from 2001 to 2198.")
        return day


class UsualAirForm(SetUpForm):
    """The usual air outdoors: one of a few, or four figures."""

    air = forms.ChoiceField(label="Outdoors on a usual day", widget=forms.RadioSelect)

    def __init__(self, *args: Any, job: Job, **options: Any) -> None:
        super().__init__(*args, **options)
        self.stored = job.typical_air
        known = {key: air.typical_air for key, air in USUAL_AIRS.items()}
        kind = next((key for key, air in known.items() if air == self.stored), None)
        own = None if kind else day_and_night(self.stored)
        choices = [(key, air.words(self.units)) for key, air in USUAL_AIRS.items()]
        if self.stored and not (kind or own):
            choices.insert(0, (KEPT_AIR, f"As it is, in {len(self.stored)} steps"))
            kind = KEPT_AIR
        choose(self.fields["air"], [*choices, (OWN_AIR, "Other figures, typed below")])
        self.fields["air"].initial = kind or (OWN_AIR if own else None)
        degrees = TEMPERATURE.unit(self.units)
        for part, words in (("day", "by day"), ("night", "by night")):
            self.fields[f"{part}_c"] = TemperatureField(
                label=f"{degrees} {words}",
                units=self.units,
                required=False,
                stored=own[f"{part}_c"] if own else None,
            )
            self.fields[f"{part}_pct"] = KeptNumberField(
                label=f"% {words}", low=0, high=100, unit="%", required=False,
                stored=own[f"{part}_pct"] if own else None,
            )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """All four figures where they are wanted."""
        cleaned = super().clean()
        if cleaned.get("air") != OWN_AIR:
            return cleaned
        for name in OWN_FIGURES:
            if name not in self.errors and cleaned.get(name) is None:
                allowed = getattr(self.fields[name], "allowed", "a number")
                self.add_error(name, f"Empty: give {allowed}.")
        return cleaned

    @property
    def typical_air(self) -> list[dict[str, Any]]:
        """In the words of the job format."""
        if self.cleaned_data["air"] == KEPT_AIR:
            return self.stored
        if self.cleaned_data["air"] != OWN_AIR:
            return USUAL_AIRS[self.cleaned_data["air"]].typical_air
        return typical_air(*(self.cleaned_data[name] for name in OWN_FIGURES))


OWN_FIGURES = ("day_c", "day_pct", "night_c", "night_pct")


def say_date(text: str) -> str:
    """A date of the job format as people say it: "Thu 24 Dec 2026"."""
    day = date.fromisoformat(text)
    return f"{day:%a} {day.day} {day:%b %Y}"
