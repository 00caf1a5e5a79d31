"""Writes of setting up: one thing a lead does, one durable transaction each.

After each the whole job is read as a file would be, so that it stays one that can be
exported and planned: BadInput, in the engine's own words, and nothing is written.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Max, Model, QuerySet

from jobs.free_ids import free_id
from jobs.models import Company, Job, Room
from jobs.starting_recipes import Book
from jobs.translation import job_value, store_job
from scheduling.job_file import FORMAT, read_job, write_job
from scheduling.problem import Job as JobValue
from scheduling.problem import Site


@transaction.atomic(durable=True)
def start_job(
    *, company: Company, title: str, site: Mapping[str, Any], book: Book
) -> Job:
    """A new job without rooms and hands; ``site`` in the words of the job format."""
    Company.objects.select_for_update().get(pk=company.pk)  # two starts, two ids
    key = free_key(title, "job", company.jobs.all())
    begun = write_job(
        JobValue(
            id=key,
            title=title,
            site=Site(zone="UTC", hours=()),
            hands=(),
            materials=book.materials,
            recipes=book.recipes,
            rooms=(),
            surfaces=(),
        )
    )
    return store_job(company, read_job({**begun, "format": FORMAT, "site": dict(site)}))


@contextmanager
def changing(job: Job, now: datetime) -> Iterator[None]:
    """One write at a time to a job, kept if the job can still be read; else BadInput.

    Plans made before are out of date after it.
    """
    with transaction.atomic(durable=True):
        Job.objects.select_for_update().get(pk=job.pk)
        Job.objects.filter(pk=job.pk).update(changed_at=now)
        job.changed_at = now
        yield
        job_value(job)


def change_site(*, job: Job, now: datetime, **columns: Any) -> None:
    """New values for columns of the job itself: title, zone, hours, usual air ..."""
    with changing(job, now):
        put_columns(job, columns)


def free_key(name: str, kind: str, rows: QuerySet[Any]) -> str:
    """An id made from a name that none of the rows has: "lounge", "lounge-2" ..."""
    return free_id(name, kind, set(rows.values_list("key", flat=True)))


def after_last(rows: QuerySet[Any]) -> int:
    """The next place in line."""
    last = rows.aggregate(last=Max("position"))["last"]
    return 0 if last is None else last + 1


def keep_room(*, job: Job, room: Room | None, now: datetime, **columns: Any) -> Room:
    """A new room, or new values for one. A door leads both ways.

    Surfaces that are called after the room keep being so.
    """
    with changing(job, now):
        if room is None:
            key = free_key(columns["name"], "room", job.rooms.all())
            room = Room(job=job, key=key, position=after_last(job.rooms.all()))
        called = room.name
        put_columns(room, columns)
        _lead_both_ways(job, room)
        if called and called != room.name:
            _call_after(room, called)
    return room


def put_columns(row: Model, columns: Mapping[str, Any]) -> None:
    """Write these columns alone: others may have been written since it was read."""
    for name, value in columns.items():
        setattr(row, name, value)
    row.save(update_fields=tuple(columns) if row.pk else None)


def _lead_both_ways(job: Job, room: Room) -> None:
    for other in job.rooms.exclude(pk=room.pk):
        beside = [key for key in other.connected if key != room.key]
        if other.key in room.connected:
            beside.append(room.key)
        if set(beside) != set(other.connected):
            other.connected = beside
            other.save(update_fields=("connected",))


def _call_after(room: Room, called: str) -> None:
    for surface in room.surfaces.filter(name__startswith=f"{called}, "):
        surface.name = f"{room.name}{surface.name[len(called) :]}"[:200]
        surface.save(update_fields=("name",))


def remove_room(*, room: Room, now: datetime) -> None:
    """A room goes with its surfaces and all that was logged in it."""
    job = room.job
    with changing(job, now):
        for other in job.rooms.exclude(pk=room.pk):
            if room.key in other.connected:
                other.connected = [key for key in other.connected if key != room.key]
                other.save(update_fields=("connected",))
        room.delete()
