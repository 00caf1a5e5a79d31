"""What sensors and loggers bring: addresses made and switched off, readings kept.

A sensor's readings are kept a quarter of an hour apart, after two days an hour apart,
and for thirty days: nothing older counts, and a plan need not read thousands of them.
"""

import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Max, Q, QuerySet
from django.urls import reverse

from jobs.feed_links import TOKEN_BYTES, token_sha256
from jobs.models import Job, Reading, Room, SensorLink
from jobs.models.air import COLDEST_C, HOTTEST_C
from jobs.weather.hours import Row
from scheduling.psychrometrics import humidity_pct_of, vapour_pa

APART = timedelta(minutes=15)
CLOSE_FOR = timedelta(days=2)
KEPT_FOR = timedelta(days=30)  # as far back as the planner looks
# Assumed: clocks of sensors drift; further ahead they are wrong.
AHEAD_MOST = timedelta(minutes=5)
# Assumed: one reading a minute is the most that any room needs, and a sensor that was
# away may send ten minutes' worth at once, several times.
MOST_IN_WINDOW, WINDOW = 60, timedelta(minutes=10)
# Assumed: what moves a clock by a few percent; less does not make a plan out of date.
MATTERS_C, MATTERS_PCT = 1.5, 7.0

Kept = Literal["kept", "there already", "older than what is kept"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """What a sensor sent: air at a moment."""

    at: datetime
    temperature_c: float
    humidity_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportedReadings:
    """What of a logger's rows would be kept, and what was left out."""

    readings: tuple[Sent, ...]
    notes: tuple[str, ...]


@transaction.atomic(durable=True)
def make_sensor_link(*, room: Room, at: datetime) -> tuple[SensorLink, str]:
    """A new address for a room's sensor, and its token; the one before is off."""
    Job.objects.select_for_update().get(pk=room.job_id)  # two taps, one address
    SensorLink.objects.filter(room=room, revoked_at=None).update(revoked_at=at)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    link = SensorLink.objects.create(
        job_id=room.job_id, room=room, token_sha256=token_sha256(token), created_at=at
    )
    return link, token


@transaction.atomic(durable=True)
def revoke_sensor_link(*, link: SensorLink, at: datetime) -> bool:
    """Switch an address off; false where it was off already."""
    live = SensorLink.objects.filter(pk=link.pk, revoked_at=None)
    return bool(live.update(revoked_at=at))


def sensor_address(token: str) -> str:
    """The address to give to the sensor, at the site's own address whoever asks."""
    return f"{settings.SITE_URL}{reverse('post-reading', kwargs={'token': token})}"


def too_often(link: SensorLink, now: datetime) -> timedelta | None:
    """How long a sensor has to wait; None where it may go on, and that is counted."""
    begun = link.counted_from
    if begun is not None and begun <= now < begun + WINDOW:
        if link.counted >= MOST_IN_WINDOW:
            return begun + WINDOW - now
        same = SensorLink.objects.filter(pk=link.pk, counted__lt=MOST_IN_WINDOW)
        if same.update(counted=F("counted") + 1, last_used_at=now):
            return None
        return begun + WINDOW - now
    SensorLink.objects.filter(pk=link.pk).update(
        counted_from=now, counted=1, last_used_at=now
    )
    return None


def note_trouble(link: SensorLink, text: str, now: datetime) -> None:
    """Remember what a sensor sent that could not be kept, for Now to say."""
    SensorLink.objects.filter(pk=link.pk).update(trouble=text[:200], trouble_at=now)


@transaction.atomic(durable=True)
def keep_sent(*, link: SensorLink, sent: Sent, now: datetime) -> Kept:
    """Keep a sensor's reading; of several in a quarter of an hour the latest.

    A ValidationError names a value that cannot be an air, or a moment that is still to
    come or too long ago to count. The same moment twice changes nothing.
    """
    _check(sent, now)
    job = Job.objects.select_for_update().get(pk=link.job_id)
    SensorLink.objects.filter(pk=link.pk).exclude(trouble="").update(
        trouble="", trouble_at=None
    )
    mine = Reading.objects.filter(room_id=link.room_id, via=Reading.Via.SENSOR)
    begin = _quarter(sent.at)
    before = mine.filter(at__gte=begin, at__lt=begin + APART).order_by("-at").first()
    if before is not None and before.at >= sent.at:
        return "there already" if before.at == sent.at else "older than what is kept"
    matters = _matters(job, link.room_id, sent)
    row = before or Reading(
        job=job,
        room_id=link.room_id,
        via=Reading.Via.SENSOR,
        position=_after_last(job),
    )
    row.at = sent.at
    row.temperature_c, row.humidity_pct = sent.temperature_c, sent.humidity_pct
    row.save()
    if before is None:
        _thin(mine, now)
    if matters:
        Job.objects.filter(pk=job.pk).update(changed_at=now)
    return "kept"


def readings_of(rows: Iterable[tuple[int, Row]], now: datetime) -> ImportedReadings:
    """What would be kept of a logger's rows, one each quarter of an hour.

    A ValidationError at ``text`` names rows that are no air or still to come.
    """
    by_quarter: dict[datetime, Sent] = {}
    wrong: list[str] = []
    count = old = 0
    for number, row in rows:
        count += 1
        sent = _of_row(row)
        try:
            _check(sent, now, old_too=True)
        except ValidationError as error:
            wrong.append(f"Row {number}: {' '.join(error.messages)}")
            continue
        if sent.at < now - KEPT_FOR:
            old += 1
            continue
        quarter = _quarter(sent.at)
        if quarter not in by_quarter or by_quarter[quarter].at <= sent.at:
            by_quarter[quarter] = sent
    if wrong:
        more = [f"And {len(wrong) - 6} more."] if len(wrong) > 6 else []
        raise ValidationError({"text": [*wrong[:6], *more]})
    if not by_quarter:
        message = f"No row is of the last {KEPT_FOR.days} days: older do not count."
        raise ValidationError({"text": message})
    kept = tuple(by_quarter[quarter] for quarter in sorted(by_quarter))
    notes = []
    if old:
        notes.append(f"{old} rows are over {KEPT_FOR.days} days old and left out.")
    if len(kept) < count - old:
        notes.append(f"Of {count - old} rows, one each quarter of an hour is kept.")
    return ImportedReadings(readings=kept, notes=tuple(notes))


@transaction.atomic(durable=True)
def keep_file(*, room: Room, readings: Iterable[Sent], now: datetime) -> int:
    """Keep a logger's readings of a room; gives how many were not there before."""
    job = Job.objects.select_for_update().get(pk=room.job_id)
    there = set(Reading.objects.filter(room=room).values_list("at", flat=True))
    new = [sent for sent in readings if sent.at not in there]
    first = _after_last(job)
    Reading.objects.bulk_create(
        [
            Reading(
                job=job,
                room=room,
                at=sent.at,
                temperature_c=sent.temperature_c,
                humidity_pct=sent.humidity_pct,
                via=Reading.Via.FILE,
                position=first + number,
            )
            for number, sent in enumerate(new)
        ]
    )
    if new:
        Job.objects.filter(pk=job.pk).update(changed_at=now)
    return len(new)


@transaction.atomic(durable=True)
def take_back_files(*, room: Room, now: datetime) -> int:
    """Remove what loggers' files brought for a room; gives how many readings."""
    Job.objects.select_for_update().get(pk=room.job_id)
    count, _ = Reading.objects.filter(room=room, via=Reading.Via.FILE).delete()
    if count:
        Job.objects.filter(pk=room.job_id).update(changed_at=now)
    return count


def _check(sent: Sent, now: datetime, *, old_too: bool = False) -> None:
    allowed = (
        ("temperature_c", sent.temperature_c, COLDEST_C, HOTTEST_C, "°C"),
        ("humidity_pct", sent.humidity_pct, 0.0, 100.0, "%"),
    )
    for field, value, low, high, unit in allowed:
        if not low <= value <= high:  # written this way round, it refuses NaN too
            between = f"allowed is {low:g} to {high:g} {unit}"
            message = f"{value:g} {unit} cannot be: {between}."
            raise ValidationError({field: message})
    if sent.at > now + AHEAD_MOST:
        message = f"{sent.at.isoformat()} is still to come: give a moment past."
        raise ValidationError({"at": message})
    if not old_too and sent.at < now - KEPT_FOR:
        message = f"{sent.at.isoformat()} is over {KEPT_FOR.days} days ago: too old."
        raise ValidationError({"at": message})


def _of_row(row: Row) -> Sent:
    humidity = row.humidity_pct
    if humidity is None:
        dew = min(row.dew_point_c or 0.0, row.temperature_c)
        humidity = float(humidity_pct_of(row.temperature_c, vapour_pa(dew, 100.0)))
    return Sent(at=row.at, temperature_c=row.temperature_c, humidity_pct=humidity)


def _quarter(at: datetime) -> datetime:
    minute = at.minute // 15 * 15
    return at.replace(minute=minute, second=0, microsecond=0)


def _after_last(job: Job) -> int:
    last = job.readings.aggregate(last=Max("position"))["last"]
    return 0 if last is None else last + 1


def _thin(mine: QuerySet[Reading], now: datetime) -> None:
    """Old readings go; those of over two days ago stay an hour apart."""
    late = Q(at__lt=now - CLOSE_FOR, at__minute__gte=15)
    mine.filter(Q(at__lt=now - KEPT_FOR) | late).delete()


def _matters(job: Job, room_id: int, sent: Sent) -> bool:
    """Whether the air is another than what the last plan could know of."""
    plan = job.plans.order_by("-number").values("made_at").first()
    if plan is None:
        return True
    rows = Reading.objects.filter(room_id=room_id, at__lte=plan["made_at"])
    known = rows.order_by("-at").first()
    if known is None:
        return True
    return (
        abs(known.temperature_c - sent.temperature_c) >= MATTERS_C
        or abs(known.humidity_pct - sent.humidity_pct) >= MATTERS_PCT
    )
