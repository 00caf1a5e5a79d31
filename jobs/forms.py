"""What a person may type, and what we say beside the field when it cannot be.

Every message names the value and what is allowed. A bound form shows again exactly
what was typed; degrees and times are in the reader's units and the site's zone.
"""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError

from jobs.job_input import MOST_BYTES, json_of
from jobs.measures import LENGTH, TEMPERATURE, US, NotAMeasure, Quantity, number_of
from jobs.models import CoatTest, Job, Room, Step, Surface, User
from jobs.templatetags.plan_format import say_day
from scheduling.errors import BadInput, Fault, shown
from scheduling.shapes import FIRST_YEAR, LAST_YEAR

COLDEST_C, HOTTEST_C = -60.0, 70.0  # what the job format allows for any air
_FAULTS_SHOWN = 60


class PlainField(forms.CharField):
    """Text that comes in as typed: its own message when it is missing or too long."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("max_length", 60)
        super().__init__(**options)
        self.error_messages["required"] = "Empty: give a value."


class NumberField(PlainField):
    """A number from ``low`` to ``high``, with a decimal point or comma."""

    def __init__(self, *, low: float, high: float, unit: str, **options: Any) -> None:
        self.low, self.high, self.unit = low, high, unit
        attributes = {"inputmode": "decimal", "autocomplete": "off"}
        options.setdefault("widget", forms.TextInput(attrs=attributes))
        super().__init__(**options)

    @property
    def allowed(self) -> str:
        """What may be typed."""
        return f"a number from {self.low:g} to {self.high:g} {self.unit}"

    def clean(self, value: Any) -> float | None:
        """The number in the field's unit; None where nothing is needed or given."""
        text = super().clean(value)
        if not text:
            return None
        bare = text.removesuffix(self.unit).strip()
        try:
            number = number_of(bare)
        except NotAMeasure as why:
            raise _not_read(text, str(why) or self.allowed) from None
        if "/" in bare or not self.low <= number <= self.high:
            raise ValidationError(f"{bare} {self.unit} cannot be: give {self.allowed}.")
        return number


class MeasureField(PlainField):
    """A measure from ``low`` to ``high`` in SI; comes out in SI.

    A bare number is in the reader's unit, one with a unit in that: ``8'6"`` or 2.6 m.
    ``stored`` is a value to be changed: text that was left as it is shown gives back
    that very value, so that saving a form moves nothing by a rounding.
    """

    def __init__(
        self,
        *,
        quantity: Quantity,
        units: str,
        low: float,
        high: float,
        stored: float | None = None,
        **options: Any,
    ) -> None:
        self.quantity, self.units = quantity, units
        self.least, self.most, self.stored = low, high, stored
        attributes = {"inputmode": "decimal", "autocomplete": "off"}
        if quantity is LENGTH and units == US:
            attributes["inputmode"] = "text"  # feet and inches need more than digits
        options.setdefault("widget", forms.TextInput(attrs=attributes))
        if stored is not None:
            options.setdefault("initial", self.typed(stored))
        super().__init__(**options)

    @property
    def allowed(self) -> str:
        """What may be typed."""
        return self.quantity.between(self.least, self.most, self.units)

    def typed(self, value: float) -> str:
        """A value as a person would type it here."""
        return self.quantity.typed(value, self.units)

    def clean(self, value: Any) -> float | None:
        """The value in SI; None where nothing is needed or given."""
        text = super().clean(value)
        if not text:
            return None
        if self.stored is not None and text == self.typed(self.stored):
            return self.stored
        try:
            number = self.quantity.read(text, self.units)
        except NotAMeasure as why:
            raise _not_read(text, str(why) or self.allowed) from None
        for end in (self.least, self.most):  # an end as it is shown counts as the end
            if self.typed(number) == self.typed(end):
                return number if self.least <= number <= self.most else end
        if not self.least <= number <= self.most:
            raise ValidationError(
                f"{self._with_unit(text)} cannot be: give {self.allowed}."
            )
        return number

    def _with_unit(self, text: str) -> str:
        bare = text[-1:].isdigit() or text[-1:] in (".", ",")
        return f"{text} {self.quantity.unit(self.units)}" if bare else text


class TemperatureField(MeasureField):
    """A temperature in the reader's unit, or with its own; comes out in Celsius."""

    def __init__(
        self,
        *,
        units: str,
        low_c: float = COLDEST_C,
        high_c: float = HOTTEST_C,
        **options: Any,
    ) -> None:
        super().__init__(
            quantity=TEMPERATURE, units=units, low=low_c, high=high_c, **options
        )
        self.low = round(TEMPERATURE.shown(low_c, units), 1)
        self.high = round(TEMPERATURE.shown(high_c, units), 1)

    @property
    def allowed(self) -> str:
        """What may be typed."""
        unit = self.quantity.unit(self.units)
        return f"a number from {self.low:g} to {self.high:g} {unit}"


class ReadersForm(forms.Form):
    """Keeps the units it was shown in: a person may switch in another tab meanwhile.

    Without that, a 20 typed beside °C would come in as 20 °F.
    """

    def __init__(self, *args: Any, units: str, **options: Any) -> None:
        super().__init__(*args, **options)
        asked = self.data.get("units") if self.is_bound else None
        self.units = asked if asked in User.Units.values else units
        self.fields["units"] = forms.CharField(
            required=False, widget=forms.HiddenInput, initial=self.units
        )


class MomentField(PlainField):
    """A day and a time by the site's clock; comes out as an aware moment."""

    allowed = "a day and a time, such as 2026-10-12 08:30"

    def __init__(self, *, zone: tzinfo, now: datetime, **options: Any) -> None:
        self.zone, self.now = zone, now
        widget = forms.DateTimeInput(attrs={"type": "datetime-local"})
        super().__init__(widget=widget, **options)

    def prepare_value(self, value: Any) -> Any:
        """As the browser's own field wants it."""
        if isinstance(value, datetime):
            return f"{value.astimezone(self.zone):%Y-%m-%dT%H:%M}"
        return value

    def clean(self, value: Any) -> datetime | None:
        """The moment, refused when the site's clock never shows it."""
        text = super().clean(value)
        if not text:
            return None
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            raise ValidationError(f"{shown(text)}: give {self.allowed}.") from None
        if not FIRST_YEAR < moment.year < LAST_YEAR:
            years = f"a year from {FIRST_YEAR + 1} to {LAST_YEAR - 1}"
            raise ValidationError(f"{shown(text)}: give {years}.")
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=self.zone)
            if moment.astimezone(UTC).astimezone(self.zone) != moment:
                raise ValidationError(
                    f"{shown(text)}: the clocks go forward over this time; "
                    "give an hour later."
                )
        return moment.astimezone(UTC).astimezone(self.zone)


class SignInForm(AuthenticationForm):
    """Sign-in by e-mail; says nothing about which half was wrong."""

    error_messages = {
        "invalid_login": "This e-mail and password do not belong together. "
        "Capitals count in the password.",
        "inactive": "This account is switched off. Ask the lead.",
    }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["username"].widget.attrs.update(
            {"autocomplete": "username", "inputmode": "email", "autocapitalize": "none"}
        )
        for field in self.fields.values():
            field.error_messages["required"] = "Empty: give a value."


class AccountForm(forms.ModelForm):
    """How a person is called and which units they read."""

    class Meta:
        model = User
        fields = ("name", "units")
        widgets = {"units": forms.RadioSelect}
        labels = {"name": "Name", "units": "Units"}
        help_texts = {"name": "As it stands beside what you log."}


class JobFileForm(forms.Form):
    """A job file, chosen or pasted. ``written`` holds the parsed JSON when valid."""

    file = forms.FileField(
        label="Job file",
        required=False,
        help_text="The .json file of a job, as exported here or written by hand.",
        widget=forms.FileInput(attrs={"accept": ".json,application/json"}),
    )
    text = forms.CharField(
        label="or its text",
        required=False,
        strip=False,
        help_text="Paste the whole of it, from the first brace to the last.",
        widget=forms.Textarea(attrs={"rows": 12, "spellcheck": "false"}),
    )
    replace = forms.BooleanField(
        label="Let it take the place of the job that has its id",
        required=False,
        help_text="Rooms, surfaces, coats and readings become those of the file. "
        "Plans and calendar links stay.",
    )

    written: Any = None

    def clean(self) -> dict[str, Any]:
        """Reads whichever of the two was given."""
        cleaned = super().clean() or {}
        file, text = cleaned.get("file"), cleaned.get("text") or ""
        if "file" in self.errors or "text" in self.errors:
            return cleaned
        if file and text.strip():
            self.add_error("file", f"{file.name} and a pasted text: give only one.")
        elif not file and not text.strip():
            self.add_error("file", "Nothing chosen or pasted: give one of the two.")
        elif file:
            self._read("file", file.read(MOST_BYTES + 1), file.name)
        else:
            self._read("text", text.encode("utf-8", "replace"), "the pasted text")
        return cleaned

    def _read(self, field: str, content: bytes, name: str) -> None:
        try:
            self.written = json_of(content, name)
        except BadInput as error:
            self.refuse(error.faults, field)
        self.read_from = field
        self.typed = content[:MOST_BYTES].decode("utf-8", "replace")

    def refuse(self, faults: Iterable[Fault], field: str | None = None) -> None:
        """Put every fault of the file beside the field that it came in by."""
        field = field or self.read_from
        for number, fault in enumerate(faults):
            if number == _FAULTS_SHOWN:
                self.add_error(field, "And more: mend these first.")
                break
            self.add_error(
                field, f"{fault.path}: {shown(fault.value)}: {fault.allowed}"
            )

    def keep_typed(self) -> None:
        """Show a refused file's text, so that it can be mended in place.

        A browser never sends a chosen file twice; without this it would be lost.
        """
        if getattr(self, "read_from", "") == "file":
            self.data = self.data.copy()
            self.data["text"] = self.typed


class _AtTheWallForm(forms.Form):
    """Which step on which part of one surface."""

    step = forms.ChoiceField(label="Step")
    section = forms.ChoiceField(label="Part", required=False)

    def __init__(self, *args: Any, surface: Surface, **options: Any) -> None:
        super().__init__(*args, **options)
        self.surface = surface
        self.steps: dict[str, Step] = {
            step.key: step for step in surface.recipe.steps.all()
        }
        names = [(step.key, step.label) for step in self.steps.values()]
        choose(self.fields["step"], names)
        if surface.sections:
            parts = [(key, f"Part {key}") for key in surface.sections]
            choose(self.fields["section"], [("", "The whole surface"), *parts])
        else:
            del self.fields["section"]

    @property
    def target(self) -> dict[str, Any]:
        """What was chosen, as the actions take it."""
        return {
            "surface": self.surface,
            "step": self.steps[self.cleaned_data["step"]],
            "section": self.cleaned_data.get("section", ""),
        }


class CoatForm(_AtTheWallForm):
    """A coat that is on: which step, from when to when."""

    def __init__(self, *args: Any, zone: tzinfo, now: datetime, **options: Any) -> None:
        super().__init__(*args, **options)
        self.now = now
        self.fields["start"] = MomentField(label="From", zone=zone, now=now)
        self.fields["end"] = MomentField(label="To", zone=zone, now=now)

    def clean(self) -> dict[str, Any]:
        """The end after the start, and neither still to come."""
        cleaned = super().clean() or {}
        start, end = cleaned.get("start"), cleaned.get("end")
        for field, moment in (("start", start), ("end", end)):
            if moment is not None and moment > self.now + timedelta(minutes=1):
                self.add_error(field, _still_to_come(moment))
        if self.errors.keys() & {"start", "end"}:
            return cleaned
        if start is not None and end is not None and end < start:
            self.add_error(
                "end",
                f"{_day_and_time(end)} is before the start: "
                f"give {_day_and_time(start)} or later.",
            )
        elif end is not None:
            cleaned["end"] = min(end, self.now)  # minutes hide the seconds
            cleaned["start"] = min(start, cleaned["end"]) if start else start
        return cleaned


class TestForm(_AtTheWallForm):
    """What a test said before a step."""

    result = forms.ChoiceField(
        label="The test says", choices=CoatTest.Result, widget=forms.RadioSelect
    )

    def __init__(self, *args: Any, zone: tzinfo, now: datetime, **options: Any) -> None:
        super().__init__(*args, **options)
        self.now = now
        self.fields["step"].label = "Before which step"
        allowed = ", ".join(CoatTest.Result.labels).lower()
        self.fields["result"].error_messages = {
            "required": f"Nothing chosen: give one of {allowed}.",
            "invalid_choice": f"%(value)s: give one of {allowed}.",
        }
        self.fields["at"] = MomentField(label="When", zone=zone, now=now)

    def clean_at(self) -> datetime:
        """No test of tomorrow."""
        return _past(self.cleaned_data["at"], self.now)


class ReadingForm(ReadersForm):
    """A hygrometer's word on a room."""

    room = forms.ChoiceField(label="Room")

    def __init__(
        self,
        *args: Any,
        job: Job,
        zone: tzinfo,
        now: datetime,
        units: str,
        **options: Any,
    ) -> None:
        super().__init__(*args, units=units, **options)
        self.now = now
        self.rooms: dict[str, Room] = {room.key: room for room in job.rooms.all()}
        choose(
            self.fields["room"], [(key, room.label) for key, room in self.rooms.items()]
        )
        degrees = TEMPERATURE.unit(self.units)
        self.fields["temperature_c"] = TemperatureField(
            label=f"Temperature, {degrees}", units=self.units
        )
        self.fields["humidity_pct"] = NumberField(
            label="Humidity, %", low=0, high=100, unit="%"
        )
        self.fields["surface_c"] = TemperatureField(
            label=f"The wall itself, {degrees}",
            units=self.units,
            required=False,
            help_text="From an infrared thermometer. Dew settles on the wall, not in "
            "the air.",
        )
        self.fields["at"] = MomentField(label="Read at", zone=zone, now=now)

    def clean_at(self) -> datetime:
        """No reading of tomorrow."""
        return _past(self.cleaned_data["at"], self.now)


class AirForm(ReadersForm):
    """An air to run a recipe's clocks in."""

    def __init__(self, *args: Any, units: str, **options: Any) -> None:
        super().__init__(*args, units=units, **options)
        degrees = TEMPERATURE.unit(self.units)
        # -30 to 60 C is what a clock is answered for.
        limits = {"units": self.units, "low_c": -30.0, "high_c": 60.0}
        self.fields["temperature"] = TemperatureField(
            label=f"Temperature, {degrees}", **limits
        )
        self.fields["humidity"] = NumberField(
            label="Humidity, %", low=0, high=100, unit="%"
        )
        self.fields["surface"] = TemperatureField(
            label=f"The wall, {degrees}", required=False, **limits
        )


def _not_read(text: str, allowed: str) -> ValidationError:
    return ValidationError(f"{shown(text)}: give {allowed}.")


def choose(field: forms.Field, choices: list[tuple[str, str]]) -> None:
    """Give a field its choices, and messages that name them."""
    field.choices = choices
    allowed = ", ".join(str(name) for _, name in choices[:12])
    field.error_messages = {
        "required": f"Nothing chosen: give one of {allowed}.",
        # Django puts the value in by %, so a % of a name's own is doubled.
        "invalid_choice": f"%(value)s is not here: give one of {allowed}.".replace(
            "%", "%%"
        ).replace("%%(value)s", "%(value)s", 1),
    }


def _past(moment: datetime, now: datetime) -> datetime:
    if moment > now + timedelta(minutes=1):
        raise ValidationError(_still_to_come(moment))
    return min(moment, now)


def _still_to_come(moment: datetime) -> str:
    return f"{_day_and_time(moment)} is still to come: give a time past."


def _day_and_time(moment: datetime) -> str:
    return f"{say_day(moment, moment.tzinfo or UTC)} {moment:%H:%M}"
