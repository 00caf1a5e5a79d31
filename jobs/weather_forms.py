"""What a person types about the weather: a service and a place, a file, or days."""

from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms import MeasureField as Measure
from jobs.forms import NumberField, ReadersForm, TemperatureField
from jobs.measures import LENGTH, TEMPERATURE, US
from jobs.models import Job
from jobs.templatetags.plan_format import say_day
from jobs.weather.logger_file import (
    DAY_FIRST,
    MONTH_FIRST,
    MOST_BYTES,
    LoggerFile,
    read_logger,
)
from jobs.weather.sources import offered
from jobs.weather.typed_days import TypedDay

DAYS = 5  # Assumed: nobody types further ahead from a newspaper


class WeatherPlaceForm(ReadersForm):
    """Which service to ask, and where the site is."""

    def __init__(self, *args: Any, job: Job, units: str, **options: Any) -> None:
        super().__init__(*args, units=units, **options)
        services = [
            (row.key, f"{row.name}: {row.covers}. {row.terms}") for row in offered()
        ]
        self.fields["source"] = forms.ChoiceField(
            label="Weather service",
            required=False,
            choices=[("", "None: a file, days by hand, or the job file"), *services],
            widget=forms.RadioSelect,
            initial=job.weather_source,
        )
        self.fields["source"].error_messages["invalid_choice"] = (
            "%(value)s is not offered here: choose one of these."
        )
        for name, most in (("latitude", 90), ("longitude", 180)):
            stored = getattr(job, name)
            self.fields[name] = NumberField(
                label=f"{name.capitalize()}, °",
                low=-most,
                high=most,
                unit="°",
                required=False,
                initial="" if stored is None else f"{Decimal(repr(stored)):f}",
            )
        self.fields["latitude"].help_text = "North is positive: 38.7123."
        self.fields["longitude"].help_text = "East is positive; the Americas are not."
        self.fields["altitude_m"] = Measure(
            quantity=LENGTH,
            units=self.units,
            low=-500.0,
            high=6000.0,
            stored=job.altitude_m,
            label=f"Height above the sea, {LENGTH.unit(self.units)}",
            required=False,
        )

    def clean(self) -> dict[str, Any]:
        """Both coordinates or neither; a service needs them."""
        cleaned = super().clean() or {}
        if self.errors:
            return cleaned
        given = {name: cleaned.get(name) for name in ("latitude", "longitude")}
        missing = [name for name, value in given.items() if value is None]
        if len(missing) == 1 or (missing and cleaned.get("source")):
            for name in missing:
                self.add_error(name, "Empty: give both, or no service can be asked.")
        return cleaned


class LoggerForm(ReadersForm):
    """A logger's CSV file, chosen or pasted. ``read`` holds its rows when valid."""

    file = forms.FileField(
        label="Logger file",
        required=False,
        help_text="A CSV file with columns for time, temperature and humidity.",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
    )
    text = forms.CharField(
        label="or its rows",
        required=False,
        strip=False,
        help_text="Paste them with the first row, which names the columns.",
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false"}),
    )
    clock = forms.ChoiceField(
        label="Whose clock",
        required=False,
        help_text="Where the file’s times do not say it themselves.",
        choices=[
            ("", "The file says it"),
            ("site", "The site’s clock, summer time too"),
            ("winter", "The site’s winter time all year"),
            ("utc", "UTC"),
        ],
    )
    order = forms.ChoiceField(
        label="Dates such as 03/04",
        required=False,
        choices=[
            ("", "As the file shows"),
            (DAY_FIRST, "The day first"),
            (MONTH_FIRST, "The month first"),
        ],
    )

    read: LoggerFile | None = None
    file_name = ""

    def __init__(self, *args: Any, zone: ZoneInfo, now: datetime, **options: Any):
        super().__init__(*args, **options)
        self.zone, self.now = zone, now

    def clean(self) -> dict[str, Any]:
        """Reads whichever of the two was given."""
        cleaned = super().clean() or {}
        file, text = cleaned.get("file"), cleaned.get("text") or ""
        if self.errors:
            return cleaned
        if bool(file) == bool(text.strip()):
            given = f"{file.name} and pasted rows" if file else "Nothing is given"
            self.add_error("file", f"{given}: give one of the two.")
            return cleaned
        if file:
            text = self._text_of(file)
            self.file_name = "".join(filter(str.isprintable, file.name))[:60]
        if "file" in self.errors:
            return cleaned
        try:
            self.read = read_logger(
                text,
                zone=self._clock(cleaned.get("clock", "")),
                order=cleaned.get("order", ""),
                fahrenheit=self.units == US,
            )
        except ValidationError as error:
            faults = error.error_dict
            for name, field in (
                ("text", "text"),
                ("zone", "clock"),
                ("order", "order"),
            ):
                for fault in faults.get(name, ()):
                    self.add_error(field, fault)
        return cleaned

    def keep_typed(self) -> None:
        """Show a refused file's text: a browser never sends a chosen file twice."""
        if self.file_name and hasattr(self, "typed"):
            self.data = self.data.copy()
            self.data["text"] = self.typed

    def _text_of(self, file: Any) -> str:
        content = file.read(MOST_BYTES + 1)
        if len(content) > MOST_BYTES:
            most = f"{MOST_BYTES // 1_000_000} MB"
            self.add_error("file", f"{file.name}: give a file of at most {most}.")
            return ""
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = content.decode("cp1252", "replace")  # what older loggers write
        self.typed = text
        return text

    def _clock(self, asked: str) -> tzinfo | None:
        if asked == "winter":
            halves = [datetime(self.now.year, month, 1, tzinfo=UTC) for month in (1, 7)]
            offsets = [half.astimezone(self.zone).utcoffset() for half in halves]
            return timezone(min(offset for offset in offsets if offset is not None))
        return {"site": self.zone, "utc": UTC}.get(asked)


class DaysForm(ReadersForm):
    """The lowest and highest temperature of the next days, as a forecast tells them."""

    def __init__(self, *args: Any, today: date, units: str, **options: Any) -> None:
        super().__init__(*args, units=units, **options)
        self.days = [today + timedelta(days=number) for number in range(DAYS)]
        degrees = TEMPERATURE.unit(self.units)
        for number in range(DAYS):
            for end in ("low", "high"):
                name = "Lowest" if end == "low" else "Highest"
                self.fields[f"{end}_{number}"] = TemperatureField(
                    label=f"{name}, {degrees}", units=self.units, required=False
                )
            self.fields[f"humidity_{number}"] = NumberField(
                label="Humidity, %", low=1, high=100, unit="%", required=False
            )

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The fields day by day, for the page."""
        return [
            {
                "name": say_day(datetime.combine(day, datetime.min.time(), UTC), UTC),
                "low": self[f"low_{number}"],
                "high": self[f"high_{number}"],
                "humidity": self[f"humidity_{number}"],
            }
            for number, day in enumerate(self.days)
        ]

    def clean(self) -> dict[str, Any]:
        """Both ends of each day that has any, the lower one first, and no gap."""
        cleaned = super().clean() or {}
        self.typed: list[TypedDay] = []
        ended = False
        for number, day in enumerate(self.days):
            low, high = cleaned.get(f"low_{number}"), cleaned.get(f"high_{number}")
            humidity = cleaned.get(f"humidity_{number}")
            names = f"low_{number}", f"high_{number}", f"humidity_{number}"
            if self.errors.keys() & set(names):
                continue
            if low is None and high is None:
                if humidity is not None:
                    self.add_error(names[0], "Empty: a humidity needs both ends.")
                ended = ended or bool(self.typed)
            elif low is None or high is None:
                missing = names[0] if low is None else names[1]
                self.add_error(missing, "Empty: give both ends of the day.")
            elif low > high:
                self.add_error(names[0], "Higher than the highest: change them round.")
            elif ended:
                self.add_error(names[0], "A day before this one is empty: fill it in.")
            else:
                self.typed.append(
                    TypedDay(day=day, low_c=low, high_c=high, humidity_pct=humidity)
                )
        if not self.errors and not self.typed:
            self.add_error("low_0", "Nothing is typed: give at least one day.")
        return cleaned
