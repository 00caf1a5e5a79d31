"""A room as a person says it: name, size, kind; its air and hours where they differ."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms import (
    MeasureField,
    MomentField,
    NumberField,
    PlainField,
    TemperatureField,
    choose,
)
from jobs.measures import (
    LENGTH,
    TEMPERATURE,
    US,
    VOLUME,
    WATER_A_DAY,
    NotAMeasure,
)
from jobs.models import Job, Room
from jobs.room_kinds import ROOM_KINDS
from jobs.set_up_forms import KeptNumberField, SetUpForm
from scheduling.errors import shown

LEAST_M, MOST_M = 0.01, 1000.0  # a length that the job format allows, above 0
LEAST_M3, MOST_M3 = 0.001, 1_000_000.0
_TIMES = re.compile(r"\s*(?:[x×*]|\bby\b)\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """A room's volume in m3; length, width and height in m where these were said."""

    volume_m3: float
    lengths_m: tuple[float, ...] = ()


class SizeField(PlainField):
    """ "5 x 4 x 2.5" or a volume alone; comes out as a Size."""

    def __init__(self, *, units: str, stored: float | None = None, **options: Any):
        self.units, self.stored = units, stored
        unit = VOLUME.unit(units)
        self.typed = "" if stored is None else f"{VOLUME.typed(stored, units)} {unit}"
        options.setdefault("initial", self.typed)
        attributes = {"autocomplete": "off", "autocapitalize": "none"}
        options.setdefault("widget", forms.TextInput(attrs=attributes))
        super().__init__(**options)
        example = "16 x 13 x 8'6\"" if units == US else "5 x 4 x 2.6"
        self.allowed = f"length x width x height, such as {example}, or {unit} alone"
        self.error_messages["required"] = f"Empty: give {self.allowed}."

    def clean(self, value: Any) -> Size:
        """The size in SI; ValidationError says what was wrong with which part."""
        text = super().clean(value)
        if self.stored is not None and text == self.typed:
            return Size(volume_m3=self.stored)
        parts = _TIMES.split(text)
        if len(parts) not in (1, 3):
            raise ValidationError(f"{shown(text)}: give {self.allowed}.")
        try:
            if len(parts) == 1:
                size = Size(volume_m3=VOLUME.read(text, self.units))
            else:
                lengths = tuple(LENGTH.read(part, self.units) for part in parts)
                long, wide, high = lengths
                size = Size(volume_m3=long * wide * high, lengths_m=lengths)
        except NotAMeasure as why:
            allowed = str(why) or self.allowed
            raise ValidationError(f"{shown(text)}: give {allowed}.") from None
        for length in size.lengths_m:
            if not LEAST_M <= length <= MOST_M:
                allowed = LENGTH.between(LEAST_M, MOST_M, self.units)
                raise ValidationError(f"{shown(text)}: each is {allowed}.")
        if not LEAST_M3 <= size.volume_m3 <= MOST_M3:
            allowed = VOLUME.between(LEAST_M3, MOST_M3, self.units)
            raise ValidationError(f"{shown(text)}: give {allowed}.")
        return size


class WholeField(NumberField):
    """A whole number, as of people."""

    @property
    def allowed(self) -> str:
        """What may be typed."""
        return f"a whole number from {self.low:g} to {self.high:g}"

    def clean(self, value: Any) -> int | None:
        """The number; None where nothing is needed or given."""
        number = super().clean(value)
        if number is None:
            return None
        if number != int(number):
            raise ValidationError(f"{number:g} cannot be: give {self.allowed}.")
        return int(number)


# The fields of a room's air, by the keys of the job format.
AIR = (
    *("changes_per_h", "day_c", "night_c", "dehumidifier_l_day"),
    *("humidifier_l_day", "cooling_c", "occupants_g_h", "doors_m3_h"),
)
USUAL = ("changes_per_h", "day_c", "night_c")  # which a kind of room has


class RoomForm(SetUpForm):
    """A room. Of a new one, air that is left empty is that of its kind."""

    def __init__(
        self,
        *args: Any,
        job: Job,
        room: Room | None,
        zone: tzinfo,
        now: datetime,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.room = room
        self.fields["name"] = PlainField(
            label="Name", max_length=200, initial=room.label if room else None
        )
        stored = room.volume_m3 if room else None
        self.fields["size"] = SizeField(
            label=f"Size, {LENGTH.unit(self.units)}", units=self.units, stored=stored
        )
        size = self.fields["size"]
        size.help_text = f"{size.allowed[0].upper()}{size.allowed[1:]}."
        self.has_air = room is None or "given" not in room.air
        if room is None:
            self.fields["kind"] = forms.ChoiceField(
                label="What kind of room?", widget=forms.RadioSelect, initial="living"
            )
            kinds = [(key, kind.name) for key, kind in ROOM_KINDS.items()]
            choose(self.fields["kind"], kinds)
        if self.has_air:
            self._add_air(room.air if room else {})
        others = job.rooms.exclude(pk=room.pk) if room else job.rooms.all()
        names = [(other.key, other.label) for other in others]
        if names:
            self.fields["connected"] = forms.MultipleChoiceField(
                label="Open to these rooms",
                help_text="Dust and damp go through.",
                required=False,
                widget=forms.CheckboxSelectMultiple,
                initial=room.connected if room else None,
                choices=names,
            )
        self.add_hours("access", "You may be in it", room.access if room else None,
                       hint="Nothing stated: in the site's hours.")  # fmt: skip
        self.add_hours("opens", "Open to the public", room.opens if room else None)
        self.add_hours("smell_free", "No smell", room.smell_free if room else None)
        self.fields["hands_most"] = WholeField(
            label="Hands at most", low=1, high=50, unit="hands", required=False,
            initial=room.hands_most if room else None,
        )  # fmt: skip
        self.fields["hand_back"] = MomentField(
            label="Hand it back by", zone=zone, now=now, required=False,
            initial=room.hand_back if room else None,
        )  # fmt: skip
        self.fields["any_order"] = forms.BooleanField(
            label="A lower surface may go before a higher",
            required=False,
            initial=room.any_order if room else False,
        )

    def _add_air(self, air: Mapping[str, Any]) -> None:
        degrees = TEMPERATURE.unit(self.units)
        limits = {"units": self.units, "low_c": -30.0, "high_c": 50.0}
        needed = self.room is not None
        self.fields["changes_per_h"] = KeptNumberField(
            label="Air changes an hour", low=0, high=100, unit="an hour",
            required=needed, stored=air.get("changes_per_h"),
        )  # fmt: skip
        for name, words in (("day_c", "in the day"), ("night_c", "at night")):
            self.fields[name] = TemperatureField(
                label=f"{degrees} {words}",
                stored=air.get(name),
                required=needed,
                **limits,
            )
        for name, label in (
            ("dehumidifier_l_day", "Dehumidifier"),
            ("humidifier_l_day", "Humidifier"),
        ):
            self.fields[name] = MeasureField(
                label=f"{label}, {WATER_A_DAY.unit(self.units)}",
                quantity=WATER_A_DAY, units=self.units, low=0.0, high=1000.0,
                stored=air.get(name), required=False,
            )  # fmt: skip
        self.fields["cooling_c"] = TemperatureField(
            label=f"Cooled to, {degrees}", units=self.units, low_c=16.0, high_c=50.0,
            stored=air.get("cooling_c"), required=False,
        )  # fmt: skip
        self.fields["occupants_g_h"] = KeptNumberField(
            label="Water of people, g an hour", low=0, high=100_000, unit="g",
            required=False, stored=air.get("occupants_g_h"),
        )  # fmt: skip
        self.fields["doors_m3_h"] = MeasureField(
            label=f"Through each open door, {VOLUME.unit(self.units)} an hour",
            quantity=VOLUME, units=self.units, low=0.0, high=100_000.0,
            stored=air.get("doors_m3_h"), required=False,
        )  # fmt: skip

    @property
    def air_is_open(self) -> bool:
        """Whether something of the air is wrong."""
        return any(field.errors for field in self.air_fields)

    @property
    def more_is_open(self) -> bool:
        """Whether something under "more" is wrong."""
        names = ("hands_most", "hand_back", "connected")
        return any(self[name].errors for name in names if name in self.fields)

    @property
    def air_fields(self) -> list[forms.BoundField]:
        """The fields of the air, in order."""
        return [self[name] for name in AIR if name in self.fields]

    @property
    def columns(self) -> dict[str, Any]:
        """The room's columns; the air whole, access None where the site's counts."""
        cleaned = self.cleaned_data
        names = ("name", "connected", "opens", "smell_free", "hands_most")
        columns = {name: cleaned.get(name) for name in names}
        columns |= {"volume_m3": cleaned["size"].volume_m3}
        columns |= {name: cleaned[name] for name in ("hand_back", "any_order")}
        columns["connected"] = columns["connected"] or []
        never = self.room is not None and self.room.access == []
        columns["access"] = cleaned["access"] or ([] if never else None)
        if self.has_air:
            kind = ROOM_KINDS[cleaned["kind"]].air if self.room is None else {}
            typed = {name: cleaned[name] for name in AIR if cleaned[name] is not None}
            columns["air"] = kind | typed
        return columns
