"""Writes about what the lead asks of the next plan: pins and bans, kept and taken off.

A person's mistake is a ValidationError with the field's name. Moments come in as
arguments.
"""

from collections.abc import Collection
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max

from jobs.models import Ban, Job, Pin, Step, Surface


@transaction.atomic(durable=True)
def keep_pin(
    *,
    job: Job,
    surface: Surface,
    step: Step,
    section: str,
    start: datetime,
    hands: Collection[str],
    now: datetime,
) -> Pin:
    """Hold a stint to a moment and, where hands (keys) are given, to them.

    It takes the place of the pin that the stint had.
    """
    _lock(job, now)
    _own(job, surface, step)
    if start < now:
        raise ValidationError({"start": "This is past: give a time to come."})
    _known_hands(job, hands)
    job.pins.filter(surface=surface, step=step, section=section).delete()
    pin = Pin(
        job=job,
        surface=surface,
        step=step,
        section=section,
        start=start,
        hands=list(hands),
        position=_after_last(job.pins),
    )
    pin.full_clean()
    pin.save()
    return pin


@transaction.atomic(durable=True)
def keep_ban(
    *,
    job: Job,
    surface: Surface,
    step: Step,
    section: str,
    now: datetime,
    hands: Collection[str] = (),
    start: datetime | None = None,
    end: datetime | None = None,
) -> Ban:
    """Keep hands off a step, or the step out of a time; the same ban is kept once."""
    _lock(job, now)
    _own(job, surface, step)
    if bool(hands) == (start is not None):
        raise ValidationError("Forbid either hands or a time.")
    if start is not None and (end is None or end <= start):
        raise ValidationError({"end": "Give an end later than its start."})
    if end is not None and end <= now:
        raise ValidationError({"end": "This is past: give an end to come."})
    _known_hands(job, hands)
    same = job.bans.filter(
        surface=surface, step=step, section=section, start=start, end=end
    )
    for ban in same:
        if set(ban.hands) == set(hands):
            return ban
    ban = Ban(
        job=job,
        surface=surface,
        step=step,
        section=section,
        hands=list(hands),
        start=start,
        end=end,
        position=_after_last(job.bans),
    )
    ban.full_clean()
    ban.save()
    return ban


@transaction.atomic(durable=True)
def take_off(*, row: Pin | Ban, now: datetime) -> None:
    """Let the next plan do without it."""
    _lock(row.job, now)
    row.delete()


def _lock(job: Job, now: datetime) -> None:
    """One write at a time to a job's lists, and note that plans are older than it."""
    Job.objects.select_for_update().get(pk=job.pk)
    Job.objects.filter(pk=job.pk).update(changed_at=now)
    job.changed_at = now


def _own(job: Job, surface: Surface, step: Step) -> None:
    if surface.job_id != job.pk or step.recipe_id != surface.recipe_id:
        raise ValidationError("Choose a step of a surface of this job.")


def _known_hands(job: Job, hands: Collection[str]) -> None:
    known = set(job.hands.values_list("key", flat=True))
    unknown = sorted(set(hands) - known)
    if unknown:
        raise ValidationError({"hands": f"{', '.join(unknown)}: no hand of this job."})


def _after_last(rows: Any) -> int:
    last = rows.aggregate(last=Max("position"))["last"]
    return 0 if last is None else last + 1
