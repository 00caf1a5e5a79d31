"""The US National Weather Service: a point leads to a grid, and that has spells.

A value holds for its whole spell, PT5H say; the quantities are cut into spells of
their own, so each is laid out by the hour. Public domain; who asks is named with a
contact. The address of the grid is made from its numbers: what a reply gives as an
address is not followed.
"""

import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

from jobs.weather.hours import HOUR, MOST_HOURS, Place, Row
from jobs.weather.json_shapes import at_path, listed, moment, number, unit
from scheduling.errors import bad

_OFFICE = re.compile(r"[A-Z]{3}", re.ASCII)
# ISO 8601, as the service writes it: days, hours and minutes.
_SPELL = re.compile(
    r"P(?:(?P<days>\d{1,3})D)?(?:T(?:(?P<hours>\d{1,4})H)?(?:(?P<minutes>\d{1,4})M)?)?",
    re.ASCII,
)
_KM_H = "wmoUnit:km_h-1"


def points_address(base: str, place: Place) -> str:
    """Where the service says which grid a place is on."""
    return f"{base}/points/{','.join(place.rounded)}"


def grid_address(base: str, body: Any) -> str:
    """The address of the grid that a points reply names; BadInput where it does not."""
    office = at_path(body, "properties", "gridId")
    if not isinstance(office, str) or _OFFICE.fullmatch(office) is None:
        raise bad("properties.gridId", office, "three letters")
    across, up = (
        number(at_path(body, "properties", name), f"properties.{name}")
        for name in ("gridX", "gridY")
    )
    return f"{base}/gridpoints/{office}/{across:.0f},{up:.0f}"


def read(body: Any) -> tuple[list[Row], datetime]:
    """The rows of a grid's reply and when it was made; BadInput names a fault.

    An hour without a temperature, or with neither dew point nor humidity, is no row.
    """
    properties = at_path(body, "properties")
    degrees, share = "wmoUnit:degC", "wmoUnit:percent"
    temperature = _by_hour(properties, "temperature", degrees)
    dew = _by_hour(properties, "dewpoint", degrees)
    humidity = _by_hour(properties, "relativeHumidity", share)
    wind = {}
    if "windSpeed" in properties:
        wind = _by_hour(properties, "windSpeed", _KM_H, "wmoUnit:m_s-1")
        if properties["windSpeed"]["uom"] == _KM_H:
            wind = {at: speed / 3.6 for at, speed in wind.items()}
    rows = [
        Row(
            at=at,
            temperature_c=degrees_c,
            dew_point_c=dew.get(at),
            humidity_pct=humidity.get(at),
            wind_m_s=wind.get(at),
        )
        for at, degrees_c in sorted(temperature.items())
        if at in dew or at in humidity
    ]
    return rows, moment(at_path(properties, "updateTime"), "properties.updateTime")


def _by_hour(properties: Any, name: str, *units: str) -> dict[datetime, float]:
    series = at_path(properties, name)
    unit(at_path(series, "uom"), f"{name}.uom", *units)
    found: dict[datetime, float] = {}
    for place, entry in enumerate(listed(at_path(series, "values"), f"{name}.values")):
        path = f"{name}.values[{place}]"
        value = at_path(entry, "value")
        if value is None:
            continue
        for at in _hours(at_path(entry, "validTime"), f"{path}.validTime"):
            found[at] = number(value, f"{path}.value")
    return found


def _hours(text: Any, path: str) -> Iterator[datetime]:
    """Each full hour that a spell such as 2026-10-12T06:00:00+00:00/PT5H begins."""
    begins, slash, length = text.partition("/") if isinstance(text, str) else ("",) * 3
    found = _SPELL.fullmatch(length)
    at = moment(begins, path)
    if not slash or found is None or not any(found.groupdict().values()):
        raise bad(path, text, "a moment and how long, such as .../PT5H")
    days, hours, minutes = (int(part or 0) for part in found.groups())
    spell = timedelta(days=days, hours=hours, minutes=minutes)
    if spell > MOST_HOURS * HOUR:
        raise bad(path, text, f"a spell of at most {MOST_HOURS} h")
    end = at + spell
    at = at.replace(minute=0, second=0, microsecond=0)
    while at < end:
        yield at
        at += HOUR
