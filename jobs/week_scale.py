"""Hours across: a clock on paper on which nights and closed days are folded.

Pure: a job's site hours and two dates in, positions out. Shares no state with a page.
"""

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from math import ceil, floor

from scheduling.problem import Job, Site
from scheduling.working_time import wall_clock

FOLD = 5  # a folded hour is drawn a fifth as wide as a working one
_MARGIN_H = 1.0  # Assumed: an hour before opening and after closing is still day
_LONGEST_TAIL_DAYS = 2  # Assumed: a week may run on into Monday and Tuesday


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """From one position across to another."""

    x: float
    width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DayHead:
    """A day's name over its working hours; ``x`` is the middle."""

    x: float
    name: str
    today: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HourMark:
    """A thin upright at a full hour of the day."""

    x: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """The days that one drawing shows, both ends included."""

    first: date
    last: date

    @property
    def days(self) -> tuple[date, ...]:
        """Every day of the page in order."""
        count = (self.last - self.first).days + 1
        return tuple(self.first + timedelta(days=number) for number in range(count))

    def holds(self, moment: datetime) -> bool:
        """Whether a moment, in the site's zone, lies on one of the days."""
        return self.first <= moment.date() <= self.last


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Moments to positions, straight between knots; outside, the nearer end."""

    knots: tuple[datetime, ...]
    places: tuple[float, ...]
    folds: tuple[Span, ...]
    heads: tuple[DayHead, ...]
    marks: tuple[HourMark, ...]

    def x(self, moment: datetime) -> float:
        """Where ``moment`` is drawn."""
        at = bisect_right(self.knots, moment)
        if at == 0:
            return self.places[0]
        if at == len(self.knots):
            return self.places[-1]
        before, after = self.knots[at - 1], self.knots[at]
        share = (moment - before) / (after - before)
        return self.places[at - 1] + share * (self.places[at] - self.places[at - 1])

    @property
    def start(self) -> datetime:
        """The first moment drawn."""
        return self.knots[0]

    @property
    def end(self) -> datetime:
        """The last moment drawn."""
        return self.knots[-1]


def pages(moments: Iterable[datetime], job: Job) -> tuple[Page, ...]:
    """Weeks from Monday on that hold a moment of work, in order.

    A last week of at most two days is drawn with the week before it.
    """
    zone = job.site.tz
    days = sorted({moment.astimezone(zone).date() for moment in moments})
    weeks: list[Page] = []
    for day in days:
        monday = day - timedelta(days=day.weekday())
        if weeks and weeks[-1].first == monday:
            weeks[-1] = Page(first=monday, last=max(weeks[-1].last, day))
        else:
            weeks.append(Page(first=monday, last=day))
    if len(weeks) > 1:
        before, tail = weeks[-2], weeks[-1]
        short = tail.last - tail.first < timedelta(days=_LONGEST_TAIL_DAYS)
        if short and tail.first - before.first == timedelta(days=7):
            weeks[-2:] = [Page(first=before.first, last=tail.last)]
    return tuple(
        Page(
            first=week.first, last=max(week.last, _last_open_day(week.first, job.site))
        )
        for week in weeks
    )


def scale(job: Job, page: Page, *, left: float, right: float, now: datetime) -> Scale:
    """The page's hours between two positions, nights and closed days folded."""
    zone = job.site.tz
    wide = _wide_hours(job, page)
    knots = [wide[0][0]]
    weights = []
    for number, (start, end) in enumerate(wide):
        if number:
            weights.append(_hours(knots[-1], start) / FOLD)
            knots.append(start)
        weights.append(_hours(start, end))
        knots.append(end)
    unit = (right - left) / sum(weights)
    places = [left]
    for weight in weights:
        places.append(places[-1] + weight * unit)
    folds = tuple(
        Span(x=places[at], width=places[at + 1] - places[at])
        for at in range(1, len(knots) - 1, 2)
    )
    today = now.astimezone(zone).date()
    drawn = Scale(
        # In UTC, since two moments of one zone are compared by their wall clocks.
        knots=tuple(knot.astimezone(UTC) for knot in knots),
        places=tuple(places),
        folds=folds,
        heads=(),
        marks=(),
    )
    heads = tuple(
        DayHead(
            x=(drawn.x(start) + drawn.x(end)) / 2,
            name=f"{start:%a} {start.day}",
            today=start.date() == today,
        )
        for start, end in wide
    )
    marks = tuple(
        HourMark(x=drawn.x(moment), text=str(moment.hour))
        for start, end in wide
        for hour in range(4, 24, 4)
        if start <= (moment := _at_hour(start.date(), hour, job)) <= end
        and _clear(drawn.x(moment), drawn.x(start), drawn.x(end))
    )
    return Scale(
        knots=drawn.knots, places=drawn.places, folds=folds, heads=heads, marks=marks
    )


def _clear(x: float, left: float, right: float) -> bool:
    return x - left > 6 and right - x > 6  # a figure on a night's edge is not read


def _wide_hours(job: Job, page: Page) -> list[tuple[datetime, datetime]]:
    """Each open day's hours, the same clock times on every day of the page."""
    hours = job.site.hours
    first = min((_clock_h(row.start) for row in hours), default=8.0) - _MARGIN_H
    last = max((_clock_h(row.end) for row in hours), default=17.0) + _MARGIN_H
    begin, end = max(0, floor(first)), min(24, ceil(last))
    open_days = [day for day in page.days if is_open(job.site, day)] or [page.first]
    return [(_at_hour(day, begin, job), _at_hour(day, end, job)) for day in open_days]


def is_open(site: Site, day: date) -> bool:
    """Whether anybody may work on that day."""
    return day not in site.closed and any(
        day.weekday() in row.weekdays for row in site.hours
    )


def _last_open_day(monday: date, site: Site) -> date:
    """The last day of the week on which the site is open; Friday where it never is."""
    week = [monday + timedelta(days=number) for number in range(7)]
    return max((day for day in week if is_open(site, day)), default=week[4])


def _at_hour(day: date, hour: int, job: Job) -> datetime:
    return wall_clock(day, f"{hour:02}:00", job)


def _clock_h(clock: str) -> float:
    hour, minute = clock.split(":")
    return int(hour) + int(minute) / 60


def _hours(start: datetime, end: datetime) -> float:
    """Real hours between; a day with a clock change is an hour longer or shorter."""
    return (end.timestamp() - start.timestamp()) / 3600
