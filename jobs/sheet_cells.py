"""One cell of a sheet <-> one value of the job format, by the kind of its column.

Reading turns what a person typed into the JSON that the format has at that place, or
raises ``NotRead`` with what is allowed; whether the value may be so large is the
format's to say. Writing turns it back so that reading gives the very same value.
"""

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from typing import Any

from jobs.job_input import json_of
from jobs.measures import NotAMeasure, Quantity, number_of
from scheduling.errors import BadInput

Json = Any
YES, NO = ("yes", "y", "true", "x", "1"), ("no", "n", "false", "0")
_BARE = re.compile(
    r"[+-]?(?:[0-9]{1,18}\.?[0-9]{0,25}|\.[0-9]{1,25})(?:[eE][+-]?[0-9]{1,3})?"
)
_FRACTION = re.compile(r"[+-]?(?:[0-9]+[ -])?[0-9]+ ?/ ?[0-9]+")
_COULD_BE_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:\.[0-9]{3})+")
_HOURS = re.compile(
    r"(?:([a-z,-]+) )?([0-9]{2}:[0-9]{2}) ?[-–] ?([0-9]{2}:[0-9]{2})", re.IGNORECASE
)


class NotRead(ValueError):
    """What stands in a cell is not of its kind; the text says what is allowed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """How the cells of one column are to be read.

    ``unit``: that of a bare number, from the heading, the job format or the reader's
    switch. ``ids``: what may be named here, by name in small letters or by id, and
    ``called`` its names as people write them.
    """

    units: str
    unit: str = ""
    decimal_comma: bool = False
    comma_parts: bool = True  # a comma stands between the cells
    zone: tzinfo = UTC
    ids: Mapping[str, str] = field(default_factory=dict)
    called: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of cell: reads its text, writes its JSON."""

    read: Callable[[str, Reading], Json]
    write: Callable[[Json], str]


def measure(quantity: Quantity) -> Kind:
    """A measure in the column's unit, or in one of its own: 2.6, 8'6", 260 cm."""

    def read(text: str, how: Reading) -> float:
        allowed = f"{quantity.words} {quantity.example}"
        plain = _with_point(text, how)
        if _BARE.fullmatch(plain) is not None:
            return _whole(quantity.si_of(float(plain), how.unit))
        if _FRACTION.fullmatch(plain) is not None:
            plain = f"{plain} {how.unit}"
        try:
            return quantity.read(plain, how.units)
        except NotAMeasure as why:
            raise NotRead(str(why) or allowed) from None

    return Kind(read, json.dumps)


def _number(text: str, how: Reading) -> float:
    plain = _with_point(text, how)
    if _BARE.fullmatch(plain) is not None:
        return _whole(float(plain))
    try:
        return number_of(plain)
    except NotAMeasure as why:
        raise NotRead(str(why) or "a number, such as 0.5") from None


def _with_point(text: str, how: Reading) -> str:
    """A number as the rest of the program writes it: decimal point, plain minus."""
    plain = text.replace("−", "-").replace("\u00a0", " ").strip()
    if how.decimal_comma and _COULD_BE_THOUSANDS.fullmatch(plain):
        comma, bare = plain.replace(".", ",", 1), plain.replace(".", "")
        raise NotRead(f"{comma} or {bare}: the point could mean both")
    if not how.comma_parts and plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    return plain


def _whole(number: float) -> float:
    """5 for 5.0, as the format writes it; numbers too large for it stay floats."""
    return int(number) if abs(number) < 1e15 and number == int(number) else number


def _flag(text: str, how: Reading) -> bool:
    if text.lower() in YES:
        return True
    if text.lower() in NO:
        return False
    raise NotRead("yes or no")


def _named(text: str, how: Reading) -> str:
    """The id of what is named, by its id or its name."""
    found = text if text in how.ids.values() else how.ids.get(text.casefold())
    if found is None:
        listed = "; ".join(how.called[:20]) or "those of the job; it has none yet"
        raise NotRead(f"one of {listed}")
    return found


def _names(text: str, how: Reading) -> list[str]:
    return [part.strip() for part in text.split(";") if part.strip()]


def list_of(kind: Kind) -> Kind:
    """Several of a kind with semicolons between."""
    return Kind(
        lambda text, how: [kind.read(part.strip(), how) for part in text.split(";")],
        lambda values: "; ".join(kind.write(value) for value in values),
    )


def _moment(text: str, how: Reading) -> str:
    """ISO 8601; a time without its offset is by the site's clock."""
    allowed = "a day and a time, such as 2026-10-12 16:30"
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise NotRead(allowed) from None
    if len(text) <= len("2026-10-12"):
        raise NotRead(allowed)
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=how.zone)
        try:
            there = moment.astimezone(UTC).astimezone(how.zone)
        except (OverflowError, ValueError):
            raise NotRead(allowed) from None
        if there != moment:
            raise NotRead("an hour later: the clocks go forward over this time")
    return moment.isoformat()


def _json(text: str, how: Reading) -> Json:
    try:
        return json_of(text.encode("utf-8", "replace"), "cell")
    except BadInput as error:
        allowed = "; ".join(fault.allowed for fault in error.faults)
        raise NotRead(f"text as in a job file: {allowed}") from None


def _write_json(value: Json) -> str:
    return json.dumps(value, ensure_ascii=False)


def _hours(text: str, how: Reading) -> Json:
    if text.startswith("["):
        return _json(text, how)
    rules = []
    for part in text.split(";"):
        found = _HOURS.fullmatch(part.strip())
        if found is None:
            raise NotRead("hours such as mon-fri 08:00-16:30; sat 09:00-12:00")
        days = (found[1] or "mon-sun").lower()
        rules.append({"days": days, "from": found[2], "to": found[3]})
    return rules


def _write_hours(rules: Json) -> str:
    if not rules or any(rule.get("breaks") for rule in rules):
        return _write_json(rules)
    return "; ".join(f"{rule['days']} {rule['from']}-{rule['to']}" for rule in rules)


TEXT = Kind(lambda text, how: text, str)
WORD = Kind(lambda text, how: text.lower(), str)
NUMBER = Kind(_number, json.dumps)
FLAG = Kind(_flag, lambda value: "yes" if value else "no")
NAMED = Kind(_named, str)
NAMES = Kind(_names, "; ".join)
MOMENT = Kind(_moment, str)
HOURS = Kind(_hours, _write_hours)
JSON = Kind(_json, _write_json)
