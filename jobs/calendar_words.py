"""How calendars say things: names, stages, times by the site's clock.

Knows nothing of plans, rows or files.
"""

import re
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from jobs.measures import AREA, LIQUID, METRIC, US, say
from scheduling import problem

_AMOUNT = re.compile(r"about ([0-9.e+-]+) l for ([0-9.e+-]+) m²$", re.MULTILINE)
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


# What each hand does at a wet wall, in words (``scheduling.roles``).
ROLE_WORDS = {"lays": "lays on", "works": "works it"}


def label(
    row: problem.Hand | problem.Material | problem.Recipe | problem.Room
    | problem.Step | problem.Surface,
) -> str:  # fmt: skip
    """What people call it: its name, else its id."""
    return row.name or row.id


def hands_text(
    job: problem.Job, hands: Iterable[str], roles: Mapping[str, str] | None = None
) -> str:
    """Names of the hands, in the plan's order: "Ada works it, Bo lays on"."""
    names = {hand.id: label(hand) for hand in job.hands}
    said = {hand: f" {ROLE_WORDS[role]}" for hand, role in (roles or {}).items()}
    return ", ".join(names.get(hand, hand) + said.get(hand, "") for hand in hands)


def names_in(job: problem.Job) -> frozenset[str]:
    """Everything that people named in a job: a wall "3 C" is no temperature."""
    rows = (
        *job.hands, *job.materials, *job.recipes, *job.rooms, *job.surfaces,
        *(step for recipe in job.recipes for step in recipe.steps),
    )  # fmt: skip
    gates = (gate.name for surface in job.surfaces for gate in surface.gates)
    return frozenset((*map(label, rows), *gates))


def amount_text(litres: float, area_m2: float, units: str = METRIC) -> str:
    """``about 2.1 l for 19.7 m²``."""
    return f"about {say(LIQUID, litres, units)} for {say(AREA, area_m2, units)}"


def in_units(description: str, units: str) -> str:
    """A published description for a reader in these units; entries are kept in SI."""
    if units != US:
        return description
    return _AMOUNT.sub(
        lambda found: amount_text(float(found[1]), float(found[2]), US), description
    )


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
