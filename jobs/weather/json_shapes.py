"""Reads values out of a reply's JSON and says where one is missing or wrong."""

from datetime import UTC, datetime
from math import isfinite
from typing import Any

from scheduling.errors import bad


def at_path(body: Any, *names: str) -> Any:
    """The value under those keys; BadInput names the first that is missing."""
    path = ""
    for name in names:
        path = f"{path}.{name}" if path else name
        if not isinstance(body, dict) or name not in body:
            raise bad(path, None, "a key of the reply")
        body = body[name]
    return body


def listed(value: Any, path: str) -> list[Any]:
    """The same list; BadInput where it is none."""
    if not isinstance(value, list):
        raise bad(path, value, "a list")
    return value


def number(value: Any, path: str) -> float:
    """A finite number; a text or a truth is none."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise bad(path, value, "a number")
    if not isfinite(value):
        raise bad(path, value, "a finite number")
    return float(value)


def moment(value: Any, path: str, *, utc: bool = False) -> datetime:
    """An ISO moment; one without an offset only where the reply is in UTC."""
    allowed = "a moment such as 2026-10-12T06:00:00Z"
    try:
        read = datetime.fromisoformat(value)
    except (TypeError, ValueError):
        raise bad(path, value, allowed) from None
    if read.tzinfo is None:
        if not utc:
            raise bad(path, value, allowed)
        read = read.replace(tzinfo=UTC)
    if not 2000 < read.year < 2200:
        raise bad(path, value, "a year from 2001 to 2199")
    return read.astimezone(UTC)


def unit(value: Any, path: str, *allowed: str) -> str:
    """The unit that a reply states, one of those we know."""
    if value not in allowed:
        raise bad(path, value, f"one of {', '.join(allowed)}")
    return str(value)
