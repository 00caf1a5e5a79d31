"""What a calendar address shows on a day: its entries, as the bytes of a file.

Only entries of issued plans exist, so nothing here could show a draft. Every limit of
time falls on a midnight (UTC): within a day the bytes change only with the entries.
"""

import hashlib
from datetime import UTC, datetime, timedelta
from uuid import uuid5

from django.core.cache import cache
from django.db.models import Count, Max, Q, Sum

from jobs.calendar_file import Entry, calendar_bytes
from jobs.calendar_words import in_units
from jobs.models import CalendarEntry, FeedLink
from jobs.models.feed import CANCELLED_KEPT, EntryQuerySet

BACK, AHEAD = timedelta(days=14), timedelta(days=120)
MOST = 1000  # about 0.9 MB; Google's limit is reported as 1 MB
OFF_SHOWN = timedelta(days=30)  # how long a switched-off address says that it is
CACHED_S = 24 * 3600  # the key changes with the day
BUSY = (CalendarEntry.Kind.WORK, CalendarEntry.Kind.TEST)


def feed_bytes(link: FeedLink, now: datetime) -> bytes:
    """The calendar of a working address."""
    day = _day(now)
    rows = _rows(link, day)
    facts = rows.aggregate(
        Count("pk"), Max("pk"), Max("last_modified"), Max("left_at"), Sum("sequence")
    )
    name, zone = _name(link), link.job.zone
    told = repr((link.pk, link.units, day, name, zone, sorted(facts.items())))
    key = f"feed:{hashlib.sha256(told.encode()).hexdigest()}"
    content: bytes | None = cache.get(key)
    if content is None:
        content = _written(link, rows, name)
        cache.set(key, content, CACHED_S)
    return content


def off_bytes(link: FeedLink, now: datetime) -> bytes | None:
    """What a switched-off address answers for 30 days; None when that is over.

    A program that gets an error or an empty calendar keeps showing what it had; one
    entry, and it drops the rest.
    """
    off_at = link.revoked_at
    if off_at is None or now >= off_at + OFF_SHOWN:
        return None
    notice = Entry(
        uid=link.uid,
        sequence=0,
        changed_at=off_at,
        status="CONFIRMED",
        starts=off_at.astimezone(link.job.tz).date(),
        ends=None,
        summary="This calendar address was switched off",
        description="Ask for a new one, and take this calendar off your list.",
    )
    return calendar_bytes("Switched off", [notice])


def _written(link: FeedLink, rows: EntryQuerySet, name: str) -> bytes:
    shown = [_entry(row, link) for row in rows[: MOST + 1]]
    about = f"From {BACK.days} days back to {AHEAD.days} days ahead."
    if len(shown) > MOST:
        about += f" Only the first {MOST} entries."
    entries = shown[:MOST] or [_nothing(link)]
    return calendar_bytes(name, entries, about=about, zone=link.job.zone)


def _rows(link: FeedLink, day: datetime) -> EntryQuerySet:
    cut = day - CANCELLED_KEPT
    rows = CalendarEntry.objects.filter(
        Q(cancelled_at=None) | Q(cancelled_at__gte=cut),
        job=link.job_id,
        ends__gte=day - BACK,
        starts__lt=day + AHEAD,
    )
    if link.room_key:
        return rows.filter(room_key=link.room_key)
    return rows.of_hand(link.hand_key, left_since=cut) if link.hand_key else rows


def _entry(row: CalendarEntry, link: FeedLink) -> Entry:
    off = bool(link.hand_key) and link.hand_key not in row.hands
    return Entry(
        uid=row.uid,
        sequence=row.sequence,
        changed_at=row.last_modified,
        status="CANCELLED" if off else row.status,
        starts=row.starts,
        ends=row.ends,
        summary=row.summary,
        description=in_units(row.description, link.units),
        location=row.location,
        categories=tuple(row.categories),
        busy=row.kind in BUSY,
        latitude=row.latitude,
        longitude=row.longitude,
    )


def _nothing(link: FeedLink) -> Entry:
    """RFC 5545 3.6: a calendar holds at least one entry."""
    return Entry(
        uid=uuid5(link.uid, "nothing"),
        sequence=0,
        changed_at=link.created_at,
        status="CONFIRMED",
        starts=link.created_at.astimezone(link.job.tz).date(),
        ends=None,
        summary=f"Nothing planned yet: {_name(link)}",
    )


def _name(link: FeedLink) -> str:
    job = link.job
    rows = job.hands if link.hand_key else job.rooms
    key = link.hand_key or link.room_key
    if not key:
        return job.title
    row = rows.filter(key=key).first()
    return f"{row.label if row else key} · {job.title}"


def _day(now: datetime) -> datetime:
    return now.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
