"""The working axis: every five minutes in which the site is open, and nothing else.

Nights, breaks and closed days take no slot, so overnight drying costs none and attended
work is a run of neighbouring slots. Wall-clock minutes count from ``origin`` and live
only here and in the clock tables.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray

from scheduling.problem import Hand, Hours, Job, Room, clock_min

SLOT_MIN = 5  # Assumed: nobody on site keeps time more finely.
FIRST_DAYS = 21  # how far ahead the first axis of a plan looks, and the list of now

Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]
Span = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """Working slots in order; slot i runs from ``minute[i]`` for SLOT_MIN minutes.

    ``stretch_end[i]`` is the slot after the unbroken stretch of a day that holds i,
    ``day_end[i]`` the slot after its day; ``day[i]`` the day's ordinal.
    """

    origin: datetime
    job: Job
    minute: Ints
    stretch_end: Ints
    day_end: Ints
    day: Ints

    def __len__(self) -> int:
        return int(self.minute.shape[0])

    def slot_from(self, minute: float) -> int:
        """The first slot that starts at or after ``minute``; len(self) if none."""
        return int(np.searchsorted(self.minute, minute - 1e-6, side="left"))

    def slots_from(self, minutes: NDArray[np.float64]) -> Ints:
        """``slot_from`` for an array; infinity gives len(self)."""
        return np.searchsorted(self.minute, minutes - 1e-6, side="left").astype(
            np.int64
        )

    def slots_until(self, minutes: NDArray[np.float64]) -> Ints:
        """The last slot that starts no later than each minute; -1 if none."""
        found = np.searchsorted(self.minute, minutes + 1e-6, side="right") - 1
        return found.astype(np.int64)

    def start_of(self, slot: int) -> datetime:
        """The moment a slot begins, in the site's zone."""
        return self.moment(float(self.minute[slot]))

    def end_of(self, slot: int) -> datetime:
        """The moment a slot ends, in the site's zone."""
        return self.moment(float(self.minute[slot]) + SLOT_MIN)

    def moment(self, minute: float) -> datetime:
        """``minute`` minutes after the origin, in the site's zone."""
        moment = self.origin + timedelta(minutes=minute)
        return moment.astimezone(self.job.site.tz)

    def minute_of(self, moment: datetime) -> float:
        """Minutes from the origin to ``moment``."""
        return (moment - self.origin).total_seconds() / 60


def floor_to_slot(moment: datetime) -> datetime:
    """The last whole slot boundary at or before ``moment``, in UTC."""
    moment = moment.astimezone(UTC)
    epoch = datetime(2000, 1, 1, tzinfo=UTC)
    slots = (moment - epoch) // timedelta(minutes=SLOT_MIN)
    return epoch + slots * timedelta(minutes=SLOT_MIN)


def make_axis(job: Job, origin: datetime, at: datetime, days: int) -> Axis:
    """The slots of ``days`` days from ``at`` in the hours of the site and a hand."""
    minute = _slots_in(site_spans(job, origin, at, days), _minutes(origin, at))
    if len(minute):
        staffed = np.zeros(len(minute), dtype=bool)
        for hand in job.hands:
            own = _own_spans(job, hand, origin, at, days)  # no break: an absence
            staffed |= in_spans(minute, own)
        minute = minute[staffed]
    return _axis_of(job, origin, minute)


def any_hour_axis(job: Job, origin: datetime, at: datetime, days: int) -> Axis:
    """The slots of ``days`` days from ``at`` at any hour, whoever is there.

    Only the site's breaks take none, as work may pause in them; one that ``at`` lies in
    does, since whoever asks is there.
    """
    hours = (Hours(days="mon-sun", start="00:00", end="24:00"), *job.site.hours)
    turn = None if job.in_relay else 0
    spans = _spans(job, hours, origin, at, days, turn=turn)
    first = _minutes(origin, at)
    last = first + days * 24 * 60
    worked = next((start for start, end in spans if end > first), last)
    spans = _merged([(first, worked), *spans])
    return _axis_of(job, origin, _slots_in(spans, first))


def _slots_in(spans: Sequence[Span], first: float) -> Ints:
    """The whole slots in spans, from minute ``first`` on."""
    minutes = [
        minute
        for start, end in spans
        for minute in range(int(-(-start // SLOT_MIN)) * SLOT_MIN, int(end), SLOT_MIN)
        if minute >= first and minute + SLOT_MIN <= end
    ]
    return np.array(minutes, dtype=np.int64)


def _axis_of(job: Job, origin: datetime, minute: Ints) -> Axis:
    zone = job.site.tz
    day = np.array(
        [
            (origin + timedelta(minutes=int(m))).astimezone(zone).toordinal()
            for m in minute
        ],
        dtype=np.int64,
    )
    return Axis(
        origin=origin,
        job=job,
        minute=minute,
        stretch_end=_run_ends(
            len(minute), (np.diff(minute) != SLOT_MIN) | (np.diff(day) != 0)
        ),
        day_end=_run_ends(len(minute), np.diff(day) != 0),
        day=day,
    )


def _run_ends(n: int, cut: Mask) -> Ints:
    """For each of n slots, the slot after its run; ``cut[i]`` parts i from i + 1."""
    ends = np.concatenate([np.flatnonzero(cut) + 1, [n]])
    return ends[np.searchsorted(ends, np.arange(n), side="right")].astype(np.int64)


def in_spans(minute: Ints, spans: Sequence[Span]) -> Mask:
    """Which slots lie wholly inside one of the spans (sorted, not overlapping)."""
    if not spans:
        return np.zeros(len(minute), dtype=bool)
    starts = np.array([start for start, _ in spans])
    ends = np.array([end for _, end in spans])
    place = np.searchsorted(starts, minute + 1e-6, side="right") - 1
    inside: Mask = (place >= 0) & (minute + SLOT_MIN <= ends[place] + 1e-6)
    return inside


def site_spans(job: Job, origin: datetime, at: datetime, days: int) -> list[Span]:
    """When the site is open, as minutes from the origin.

    Breaks are taken out, but not one that the hands take in turn.
    """
    site, turn = job.site, None if job.in_relay else 0
    return _spans(job, site.hours, origin, at, days, closed=site.closed, turn=turn)


def room_spans(
    job: Job, room: Room, origin: datetime, at: datetime, days: int
) -> list[Span]:
    """When a room may be entered; all day where it states no access."""
    if room.access is None:
        return [(-1e9, 1e9)]
    return _spans(job, room.access, origin, at, days)


def hours_spans(
    job: Job, hours: Iterable[Hours], origin: datetime, at: datetime, days: int
) -> list[Span]:
    """Any hours of the job as minutes from the origin, from the day of ``at`` on."""
    return _spans(job, hours, origin, at, days)


def hand_spans(
    job: Job, hand: Hand, origin: datetime, at: datetime, days: int
) -> list[Span]:
    """When a hand is there: own hours or the site's, less absences."""
    spans = _own_spans(job, hand, origin, at, days)
    for start, end in hand.away:
        spans = _without(spans, _minutes(origin, start), _minutes(origin, end))
    return spans


def _own_spans(
    job: Job, hand: Hand, origin: datetime, at: datetime, days: int
) -> list[Span]:
    """A hand's own hours or the site's, absences not looked at."""
    if hand.hours is not None:
        return _spans(job, hand.hours, origin, at, days)
    site, turn = job.site, job.turn_of(hand.id)
    return _spans(job, site.hours, origin, at, days, closed=site.closed, turn=turn)


def _minutes(origin: datetime, moment: datetime) -> float:
    return (moment - origin).total_seconds() / 60


def _spans(
    job: Job,
    hours: Iterable[Hours],
    origin: datetime,
    at: datetime,
    days: int,
    closed: Sequence[date] = (),
    turn: int | None = 0,
) -> list[Span]:
    """Hours less their breaks; without a ``turn`` breaks in relay stay open."""
    zone = job.site.tz
    first = at.astimezone(zone).date()
    found: list[Span] = []
    rules = [(rule.weekdays, rule) for rule in hours]
    for number in range(days + 1):
        day = first + timedelta(days=number)
        if day in closed:
            continue
        opens: list[Span] = []
        pauses: list[Span] = []
        for weekdays, rule in rules:
            if day.weekday() not in weekdays:
                continue
            ends = clock_min(rule.start), clock_min(rule.end)
            opens.append(_clock_span(day, ends, job, origin))
            pauses += [
                _clock_span(day, pause.span_min(turn or 0), job, origin)
                for pause in rule.breaks
                if turn is not None or not pause.relay
            ]
        spans = _merged(opens)
        for start, end in pauses:
            spans = _without(spans, start, end)
        found += spans
    return _merged(found)


def _clock_span(day: date, ends: tuple[int, int], job: Job, origin: datetime) -> Span:
    start, end = (_minutes(origin, _wall_minute(day, minute, job)) for minute in ends)
    return start, end


def wall_clock(day: date, clock: str, job: Job) -> datetime:
    """A time of day ("24:00" is the next midnight) on a day in the site's zone."""
    return _wall_minute(day, clock_min(clock), job)


def open_hours(job: Job, day: date) -> tuple[datetime, datetime] | None:
    """When the site first opens and last shuts on a day; None on a closed one."""
    rules = [rule for rule in job.site.hours if day.weekday() in rule.weekdays]
    if not rules or day in job.site.closed:
        return None
    return (
        min(wall_clock(day, rule.start, job) for rule in rules),
        max(wall_clock(day, rule.end, job) for rule in rules),
    )


def next_opening(job: Job, at: datetime) -> datetime | None:
    """When the site next opens on a later day; None within two weeks."""
    return next((start for start, _ in _open_days(job, at, 1)), None)


def last_shutting(job: Job, at: datetime) -> datetime | None:
    """When the site shut on the last open day before; None within two weeks."""
    return next((end for _, end in _open_days(job, at, -1)), None)


def _open_days(
    job: Job, at: datetime, step: int
) -> Iterable[tuple[datetime, datetime]]:
    today = at.astimezone(job.site.tz).date()
    days = (today + timedelta(days=step * ahead) for ahead in range(1, 15))
    return filter(None, (open_hours(job, day) for day in days))


def _wall_minute(day: date, minutes: int, job: Job) -> datetime:
    hour, minute = divmod(minutes, 60)
    if hour == 24:
        day, hour = day + timedelta(days=1), 0
    return datetime.combine(day, time(hour, minute), tzinfo=job.site.tz)


def _merged(spans: Iterable[Span]) -> list[Span]:
    merged: list[Span] = []
    for start, end in sorted(spans):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        elif start < end:
            merged.append((start, end))
    return merged


def _without(spans: Iterable[Span], start: float, end: float) -> list[Span]:
    left = [(low, min(high, start)) for low, high in spans if low < start]
    right = [(max(low, end), high) for low, high in spans if high > end]
    return sorted(span for span in left + right if span[0] < span[1])
