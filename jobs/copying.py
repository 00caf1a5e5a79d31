"""Copies of what was set up: a room with its surfaces, a recipe, a whole job.

One durable transaction each, for leads. A copy is told in the job format and read like
any file before it is stored, so it is as sound as what it was made from: BadInput where
it would not be, and nothing is written. A name that is taken is a ValidationError.
"""

import dataclasses
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import transaction

from jobs.free_ids import free_id
from jobs.models import Company, Job, Recipe, Room
from jobs.translation import job_json, job_value, store_job, store_more
from scheduling import problem
from scheduling.errors import shown
from scheduling.job_file import read_job
from scheduling.psychrometrics import humidity_pct_of, vapour_pa

Json = dict[str, Any]
_Value = TypeVar("_Value")

# What a room has of its own and its copy has not: its place in the building, and the
# days that other trades have in it.
OF_ONE_ROOM = ("connected", "others")


@transaction.atomic(durable=True)
def copy_room(*, job: Job, room: Room, name: str, now: datetime) -> Room:
    """One more room like it, with surfaces like its own, after the job's last."""
    with _changing(job, now) as written:
        _free_name(name, "room", job.rooms.all())
        old = _entry(written["rooms"], room.key)
        key = free_id(name, "room", _ids(written["rooms"]))
        copied = {name: value for name, value in old.items() if name not in OF_ONE_ROOM}
        copied |= {"id": key, "name": name}
        taken = set(_ids(written["surfaces"]))
        surfaces = []
        for entry in written["surfaces"]:
            if entry["room"] == room.key:
                own = entry["id"].removeprefix(room.key).strip("-") or entry["kind"]
                new = free_id(f"{key}-{own}", entry["kind"], taken)
                taken.add(new)
                surface = {**entry, "id": new, "room": key}
                if "name" in entry:
                    surface["name"] = _renamed(entry["name"], room.label, name)
                surfaces.append(surface)
        _store(job, written, rooms=[copied], surfaces=surfaces)
    return job.rooms.get(key=key)


@transaction.atomic(durable=True)
def copy_recipe(*, job: Job, recipe: Recipe, name: str, now: datetime) -> Recipe:
    """One more recipe with the same steps and materials, on no surface yet."""
    with _changing(job, now) as written:
        _free_name(name, "recipe", job.recipes.all())
        key = free_id(name, "recipe", _ids(written["recipes"]))
        copied = _entry(written["recipes"], recipe.key) | {"id": key, "name": name}
        _store(job, written, recipes=[copied])
    return job.recipes.get(key=key)


@transaction.atomic(durable=True)
def copy_job(
    *, company: Company, job: Job, title: str, first_day: date, start: date
) -> Job:
    """A new job set up like that one: what began on ``first_day`` begins on ``start``.

    What counts from the job's own days moves by as many days, at the same hours of the
    site's clock: wished dates, gates, hand-back, other trades' days, given air. What
    the calendar says stays: days the site is closed, days a hand is away. Coats,
    readings, pins, bans, forecast and plans are the old job's alone.
    """
    Company.objects.select_for_update().get(pk=company.pk)  # two copies, two ids
    if company.jobs.filter(title__iexact=title).exists():
        raise _taken("title", title, "job")
    value = job_value(job)
    key = free_id(title, "job", company.jobs.values_list("key", flat=True))
    days = (start - first_day).days
    zone = value.site.tz
    return store_job(
        company,
        dataclasses.replace(
            value,
            id=key,
            title=title,
            now=None,
            site=dataclasses.replace(value.site, typical_air=_typical_air(value)),
            rooms=_moved(value.rooms, days, zone),
            surfaces=_moved(value.surfaces, days, zone),
            dates=tuple(
                dataclasses.replace(wish, job=key) if wish.job else wish
                for wish in _moved(value.dates, days, zone)
            ),
            outdoors=(),
            outdoors_from=None,
            readings=(),
            moisture=(),
            coats=(),
            pins=(),
            bans=(),
        ),
    )


def free_name(name: str, taken: Iterable[str]) -> str:
    """A name to offer for a copy: "Hall 2", or the next number that is not taken."""
    lower = {other.casefold() for other in taken}
    stem, number = name, 2
    head, _, last = name.rpartition(" ")
    if head and last.isdecimal() and last.isascii() and len(last) < 4:
        stem, number = head, int(last) + 1
    while f"{stem} {number}".casefold() in lower:
        number += 1
    return f"{stem} {number}"


@contextmanager
def _changing(job: Job, now: datetime) -> Iterator[Json]:
    """The job in its format while no other write goes on; plans are older than it."""
    Job.objects.select_for_update().get(pk=job.pk)
    Job.objects.filter(pk=job.pk).update(changed_at=now)
    job.changed_at = now
    yield job_json(job)


def _store(job: Job, written: Json, **more: list[Json]) -> None:
    """Rows after the job's own, if the job with them is still one."""
    lists = {name: [*written[name], *rows] for name, rows in more.items()}
    store_more(job, read_job(written | lists))


def _entry(rows: Iterable[Json], key: str) -> Json:
    return next(row for row in rows if row["id"] == key)


def _ids(rows: Iterable[Json]) -> list[str]:
    return [row["id"] for row in rows]


def _free_name(name: str, kind: str, rows: Iterable[Room | Recipe]) -> None:
    if name.casefold() in {row.label.casefold() for row in rows}:
        raise _taken("name", name, kind)


def _taken(field: str, name: str, kind: str) -> ValidationError:
    message = f"{shown(name)}: a {kind} is called so already; give another name."
    return ValidationError({field: message})


def _renamed(name: str, old: str, new: str) -> str:
    """A surface named after its room, after the other; any other name as it is."""
    if not name.casefold().startswith(old.casefold()):
        return name
    return (new + name[len(old) :])[:200]  # the longest name of the format


def _typical_air(job: problem.Job) -> tuple[problem.TypicalAir, ...]:
    """What the job says, else the mean of its outdoor air by hour of the day.

    The forecast of another month is no forecast; without any outdoor air a room that is
    not given its air could not be planned.
    """
    if job.site.typical_air or not job.outdoors:
        return job.site.typical_air
    hours = sorted(job.outdoors, key=lambda hour: hour.at)
    last = hours[-1].at
    found: dict[int, list[problem.AirHour]] = {}
    at, place = hours[0].at, 0
    while at <= last:
        while place + 1 < len(hours) and hours[place + 1].at <= at:
            place += 1
        found.setdefault(at.astimezone(job.site.tz).hour, []).append(hours[place])
        at += timedelta(hours=1)
    return tuple(_mean_air(hour, found[hour]) for hour in sorted(found))


def _mean_air(hour: int, airs: list[problem.AirHour]) -> problem.TypicalAir:
    """Vapour, not relative humidity, is what airs have in common."""
    degrees = sum(air.temperature_c for air in airs) / len(airs)
    vapour = sum(vapour_pa(air.temperature_c, air.humidity_pct) for air in airs)
    humidity = humidity_pct_of(degrees, vapour / len(airs))
    return problem.TypicalAir(
        start=f"{hour:02}:00",
        temperature_c=round(degrees, 1),
        humidity_pct=min(100.0, round(humidity, 1)),
    )


def _moved(value: _Value, days: int, zone: tzinfo) -> _Value:
    """The same value with every moment in it days later, at the site's same hour."""
    moved: Any = value
    if isinstance(value, datetime):
        moved = value.astimezone(zone) + timedelta(days=days)
        moved = moved.astimezone(UTC).astimezone(zone)  # the hour the clocks skip
    elif isinstance(value, tuple):
        moved = tuple(_moved(entry, days, zone) for entry in value)
    elif isinstance(value, Mapping):
        moved = {name: _moved(entry, days, zone) for name, entry in value.items()}
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        changes = {
            field.name: _moved(getattr(value, field.name), days, zone)
            for field in dataclasses.fields(value)
        }
        moved = dataclasses.replace(value, **changes)
    return moved
