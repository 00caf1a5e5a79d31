"""How calendars say things: names, stages, times by the site's clock.

Knows nothing of plans, rows or files.
"""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from scheduling import problem

GRAIN = timedelta(minutes=5)  # Assumed: nobody reads a wall more finely.

READY = {
    "open": "set",
    "touch": "touch dry",
    "recoat": "dry",
    "through": "dry through",
    "hard": "hard",
    "tack": "at tack",
    "cured": "cured",
}


def label(
    row: problem.Hand | problem.Material | problem.Recipe | problem.Room
    | problem.Step | problem.Surface,
) -> str:  # fmt: skip
    """What people call it: its name, else its id."""
    return row.name or row.id


def time_between(start: datetime, end: datetime) -> timedelta:
    """Time that passes; two clocks of one zone would be subtracted as they read."""
    return end.astimezone(UTC) - start.astimezone(UTC)


def floor(moment: datetime) -> datetime:
    """The last whole five minutes at or before ``moment``, in UTC."""
    moment = moment.astimezone(UTC)
    return moment - (moment - datetime(2000, 1, 1, tzinfo=UTC)) % GRAIN


def ceil(moment: datetime) -> datetime:
    """The first whole five minutes at or after ``moment``, in UTC."""
    # Compared in UTC: a local time that the clocks repeat equals none (PEP 495).
    moment = moment.astimezone(UTC)
    lower = floor(moment)
    return lower if lower == moment else lower + GRAIN


def moment_text(moment: datetime, zone: ZoneInfo) -> str:
    """``Wed 14 Oct 08:30`` by the site's clock."""
    local = moment.astimezone(zone)
    return f"{local:%a} {local.day} {local:%b %H:%M}"


def clock_text(start: datetime, end: datetime, zone: ZoneInfo) -> str:
    """``08:30 to 16:00``, with the days where there are two."""
    here, there = start.astimezone(zone), end.astimezone(zone)
    if here.date() == there.date():
        return f"{here:%H:%M} to {there:%H:%M}"
    return f"{here:%a %H:%M} to {there:%a %H:%M}"


def span_text(start: datetime, end: datetime, zone: ZoneInfo) -> str:
    """The site's wall clock in words, with the clock's name where it changes."""
    here, there = start.astimezone(zone), end.astimezone(zone)
    turns = here.utcoffset() != there.utcoffset()
    at = "%H:%M %Z" if turns else "%H:%M"
    day = f"{here:%A} {here.day} {here:%B %Y}"
    until = f"{there:{at}}"
    if here.date() != there.date():
        until = f"{there:%A} {there.day} {there:%B}, {until}"
    return f"{day}, {here:{at}} to {until} (site time, {zone.key})"
