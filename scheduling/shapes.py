"""What a JSON value may be: one description that reads, writes and publishes a schema.

``read`` collects every fault with its path instead of stopping at the first, and
returns ``WRONG`` in place of a value it refused. ``schema`` gives JSON Schema 2020-12.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any, Protocol
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from scheduling.errors import Fault

Json = Any
WRONG = object()

ID_PATTERN = r"^[a-z0-9-]{1,40}$"
CLOCK_PATTERN = r"^([01][0-9]|2[0-3]):[0-5][0-9]$|^24:00$"
_DAY = r"(mon|tue|wed|thu|fri|sat|sun)"
DAYS_PATTERN = rf"^{_DAY}(-{_DAY})?(,{_DAY}(-{_DAY})?)*$"
DAY_NAMES = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
# Planning a coat before 2000 or after 2200 is a slip of the finger, and dates near the
# calendar's end overflow when hours are added.
FIRST_YEAR, LAST_YEAR = 2000, 2199


class Shape(Protocol):
    """A kind of value: how to read it, write it and describe it."""

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any: ...
    def write(self, value: Any) -> Json: ...
    def schema(self) -> dict[str, Json]: ...


class _Plain:
    def write(self, value: Any) -> Json:
        return value


@dataclass(frozen=True)
class Number(_Plain):
    """A finite number between ``low`` and ``high``; ``above`` leaves ``low`` out."""

    low: float
    high: float
    above: bool = False
    whole: bool = False

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        right_kind = isinstance(value, int if self.whole else int | float)
        if (
            isinstance(value, bool)
            or not right_kind
            or not self.low <= value <= self.high  # refuses NaN too
            or (self.above and value == self.low)
        ):
            faults.append(Fault(path, value, self.allowed))
            return WRONG
        return value

    @property
    def allowed(self) -> str:
        kind = "a whole number" if self.whole else "a number"
        if self.above:
            return f"{kind} above {self.low:g}, at most {self.high:g}"
        return f"{kind} from {self.low:g} to {self.high:g}"

    def schema(self) -> dict[str, Json]:
        lowest = "exclusiveMinimum" if self.above else "minimum"
        kind = "integer" if self.whole else "number"
        return {"type": kind, lowest: self.low, "maximum": self.high}


@dataclass(frozen=True)
class Flag(_Plain):
    """true or false."""

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        if not isinstance(value, bool):
            faults.append(Fault(path, value, "true or false"))
            return WRONG
        return value

    def schema(self) -> dict[str, Json]:
        return {"type": "boolean"}


@dataclass(frozen=True)
class Text(_Plain):
    """Text of 1 to ``most`` characters without control characters."""

    most: int = 200
    pattern: str | None = None
    allowed: str = ""

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        allowed = self.allowed or f"text of 1 to {self.most} characters"
        if (
            not isinstance(value, str)
            or not 1 <= len(value) <= self.most
            or any(
                ord(letter) < 32 or 0xD800 <= ord(letter) < 0xE000 for letter in value
            )
            or (self.pattern is not None and re.search(self.pattern, value) is None)
            or value.endswith("\n")
        ):
            faults.append(Fault(path, value, allowed))
            return WRONG
        return value

    def schema(self) -> dict[str, Json]:
        schema: dict[str, Json] = {
            "type": "string",
            "minLength": 1,
            "maxLength": self.most,
        }
        if self.pattern is not None:
            schema["pattern"] = self.pattern
        return schema


def ident() -> Text:
    """An id: small letters, digits and hyphens."""
    return Text(40, ID_PATTERN, "1 to 40 of a-z, 0-9 and -")


def clock_time() -> Text:
    """A time of day."""
    return Text(5, CLOCK_PATTERN, 'a time of day like "08:00", up to "24:00"')


def week_days() -> Text:
    """Days of the week: "mon-fri", "sat", "mon,wed-thu"."""
    return Text(60, DAYS_PATTERN, 'days like "mon-fri", "sat" or "mon,wed-thu"')


@dataclass(frozen=True)
class Choice(_Plain):
    """One of a closed list of words."""

    options: tuple[str, ...]

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        if not isinstance(value, str) or value not in self.options:
            faults.append(Fault(path, value, "one of " + ", ".join(self.options)))
            return WRONG
        return value

    def schema(self) -> dict[str, Json]:
        return {"enum": list(self.options)}


@dataclass(frozen=True)
class Moment:
    """ISO 8601 date and time with an offset; refused without one."""

    allowed: str = (
        'a date and time with its offset, like "2026-10-14T08:00:00+01:00", '
        f"{FIRST_YEAR} to {LAST_YEAR}"
    )

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        try:
            moment = datetime.fromisoformat(value)
        except (TypeError, ValueError):
            moment = None
        if (
            moment is None
            or "T" not in value.upper().replace(" ", "T")
            or moment.utcoffset() is None
            or not FIRST_YEAR <= moment.year <= LAST_YEAR
            or not FIRST_YEAR <= moment.astimezone(UTC).year <= LAST_YEAR
        ):
            faults.append(Fault(path, value, self.allowed))
            return WRONG
        return moment

    def write(self, value: Any) -> Json:
        return value.isoformat()

    def schema(self) -> dict[str, Json]:
        return {"type": "string", "format": "date-time"}


@dataclass(frozen=True)
class Day:
    """A calendar date."""

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        try:
            day = date.fromisoformat(value)
        except (TypeError, ValueError):
            day = None
        if day is None or not FIRST_YEAR <= day.year <= LAST_YEAR:
            faults.append(Fault(path, value, 'a date like "2026-10-14"'))
            return WRONG
        return day

    def write(self, value: Any) -> Json:
        return value.isoformat()

    def schema(self) -> dict[str, Json]:
        return {"type": "string", "format": "date"}


@dataclass(frozen=True)
class Zone(_Plain):
    """The name of a time zone in the IANA database."""

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        try:
            ZoneInfo(value)
        except (TypeError, ValueError, OSError, ZoneInfoNotFoundError):
            faults.append(Fault(path, value, 'a time zone like "Europe/Lisbon"'))
            return WRONG
        return value

    def schema(self) -> dict[str, Json]:
        return {"type": "string"}


@dataclass(frozen=True)
class ListOf:
    """A list, read into a tuple; with ``unique`` no two rows share an ``id``."""

    of: Shape
    least: int = 0
    most: int = 100_000
    unique: bool = False

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        if not isinstance(value, list) or not self.least <= len(value) <= self.most:
            allowed = f"a list of {self.least} to {self.most} entries"
            faults.append(Fault(path, value, allowed))
            return WRONG
        rows = [
            self.of.read(row, f"{path}[{number}]", faults)
            for number, row in enumerate(value)
        ]
        if self.unique:
            seen: set[str] = set()
            for number, row in enumerate(value):
                row_id = row.get("id") if isinstance(row, dict) else None
                if isinstance(row_id, str) and row_id in seen:
                    fault = Fault(
                        f"{path}[{number}].id", row_id, "an id used only once"
                    )
                    faults.append(fault)
                elif isinstance(row_id, str):
                    seen.add(row_id)
        return WRONG if any(row is WRONG for row in rows) else tuple(rows)

    def write(self, value: Any) -> Json:
        return [self.of.write(row) for row in value]

    def schema(self) -> dict[str, Json]:
        schema: dict[str, Json] = {"type": "array", "items": self.of.schema()}
        if self.least:
            schema["minItems"] = self.least
        return schema


@dataclass(frozen=True)
class PairOf:
    """Two values of one kind, the first before the second."""

    of: Shape

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        if not isinstance(value, list) or len(value) != 2:
            faults.append(Fault(path, value, "two entries: from, to"))
            return WRONG
        first = self.of.read(value[0], f"{path}[0]", faults)
        second = self.of.read(value[1], f"{path}[1]", faults)
        if first is WRONG or second is WRONG:
            return WRONG
        if not first < second:
            faults.append(Fault(path, value, "the first before the second"))
            return WRONG
        return (first, second)

    def write(self, value: Any) -> Json:
        return [self.of.write(value[0]), self.of.write(value[1])]

    def schema(self) -> dict[str, Json]:
        return {
            "type": "array",
            "items": self.of.schema(),
            "minItems": 2,
            "maxItems": 2,
        }


@dataclass(frozen=True)
class MapOf:
    """An object from names (a closed list, or any text) to values of one kind."""

    of: Shape
    names: tuple[str, ...] | None = None
    least: int = 0

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        if not isinstance(value, dict) or len(value) < self.least:
            least = f" with {self.least} or more entries" if self.least else ""
            faults.append(Fault(path, value, "an object" + least))
            return WRONG
        rows = {}
        for name, entry in value.items():
            if self.names is None:
                Text(40).read(name, f"{path}.{name}", faults)
            elif name not in self.names:
                allowed = "one of " + ", ".join(self.names)
                faults.append(Fault(f"{path}.{name}", name, allowed))
            rows[name] = self.of.read(entry, f"{path}.{name}", faults)
        return WRONG if any(row is WRONG for row in rows.values()) else rows

    def write(self, value: Any) -> Json:
        return {name: self.of.write(entry) for name, entry in value.items()}

    def schema(self) -> dict[str, Json]:
        schema: dict[str, Json] = {
            "type": "object",
            "additionalProperties": self.of.schema(),
        }
        if self.names is not None:
            schema["propertyNames"] = {"enum": list(self.names)}
        if self.least:
            schema["minProperties"] = self.least
        return schema


@dataclass(frozen=True)
class NullOr:
    """null or the shape."""

    of: Shape

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        return None if value is None else self.of.read(value, path, faults)

    def write(self, value: Any) -> Json:
        return None if value is None else self.of.write(value)

    def schema(self) -> dict[str, Json]:
        return {"anyOf": [{"type": "null"}, self.of.schema()]}


@dataclass(frozen=True)
class Either:
    """One of two shapes: ``first`` when ``is_first`` says so of the JSON value.

    ``is_first_value`` tells the same of a value already read.
    """

    first: Shape
    second: Shape
    is_first: Callable[[Json], bool]
    is_first_value: Callable[[Any], bool]

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        shape = self.first if self.is_first(value) else self.second
        return shape.read(value, path, faults)

    def write(self, value: Any) -> Json:
        shape = self.first if self.is_first_value(value) else self.second
        return shape.write(value)

    def schema(self) -> dict[str, Json]:
        return {"anyOf": [self.first.schema(), self.second.schema()]}


@dataclass(frozen=True)
class Key:
    """One key of a record: its shape, its attribute, whether it may be missing.

    A key that may be missing is written only when its value differs from ``default``,
    the value that the class gives it.
    """

    shape: Shape
    attribute: str = ""
    optional: bool = False
    default: Any = None


@dataclass(frozen=True)
class Record:
    """An object with known keys, read into ``make``; other keys are refused."""

    make: Callable[..., Any]
    keys: Mapping[str, Key]
    check: Callable[[Any, str, list[Fault]], None] = field(
        default=lambda value, path, faults: None
    )

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        if not isinstance(value, dict):
            known = ", ".join(self.keys)
            faults.append(Fault(path or "file", value, f"an object with {known}"))
            return WRONG
        before = len(faults)
        dot = f"{path}." if path else ""
        for name in value:
            if name not in self.keys:
                allowed = "no such key; known are " + ", ".join(self.keys)
                faults.append(Fault(f"{dot}{name}", value[name], allowed))
        arguments = {}
        for name, key in self.keys.items():
            if name in value:
                read = key.shape.read(value[name], f"{dot}{name}", faults)
                arguments[key.attribute or name] = read
            elif not key.optional:
                faults.append(Fault(f"{dot}{name}", None, "required"))
        if len(faults) > before:
            return WRONG
        made = self.make(**arguments)
        self.check(made, path, faults)
        return made if len(faults) == before else WRONG

    def write(self, value: Any) -> Json:
        written = {}
        for name, key in self.keys.items():
            entry = getattr(value, key.attribute or name)
            if key.optional and entry == key.default:
                continue
            written[name] = key.shape.write(entry)
        return written

    def schema(self) -> dict[str, Json]:
        required = [name for name, key in self.keys.items() if not key.optional]
        return {
            "type": "object",
            "properties": {name: key.shape.schema() for name, key in self.keys.items()},
            "required": required,
            "additionalProperties": False,
        }
