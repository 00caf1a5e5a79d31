"""The air outside over the days of a plan, and the site's clock over the same steps."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from scheduling.errors import bad
from scheduling.problem import Hours, Job, Site, clock_min
from scheduling.room_air import STILL_AIR_M_S, Floats, RoomAir

HOUR_MIN, DAY_MIN = 60, 24 * 60
REPEATED_DAYS = 2  # after the last hour, where the job states no typical air

# Half-widths in natural log that outdoor air adds to a clock's range, all assumed: a
# forecast loses a twentieth of a percent an hour, and past it nothing is known.
FORECAST_SPREAD_H, FORECAST_SPREAD_MOST = 0.0005, 0.03
UNKNOWN_SPREAD = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """Equal steps of time from ``start`` (UTC, so that hours stay hours) on."""

    start: datetime
    step_min: float
    count: int

    @classmethod
    def over(cls, start: datetime, days: float, step_min: float) -> "Steps":
        """As many steps as it takes to cover ``days``; ``start`` must be aware."""
        count = int(np.ceil(days * DAY_MIN / step_min))
        if start.tzinfo is None or count < 1:
            raise ValueError("steps need an aware start and at least one step")
        return cls(start=start.astimezone(UTC), step_min=step_min, count=count)

    @property
    def minutes(self) -> Floats:
        """Minutes from ``start`` to the beginning of each step."""
        return np.arange(self.count, dtype=np.float64) * self.step_min

    def minute(self, moment: datetime) -> float:
        """Minutes from ``start`` to ``moment``."""
        return (moment - self.start).total_seconds() / 60


def outdoor_air(
    job: Job, start: datetime, days: float, step_min: float = 5.0
) -> RoomAir:
    """The outdoor air from ``start`` on, each hour held until the next one stated.

    Before the first hour the first is held. After the last (which lasts an hour) comes
    the site's typical air, else the last two days over and over, or one, or what there
    is; from there on ``spread`` is at its widest. ``moving_air_m_s`` is the wind.
    """
    steps = Steps.over(start, days, step_min)
    hours = sorted(job.outdoors, key=lambda hour: hour.at)
    typical = sorted(job.site.typical_air, key=lambda entry: entry.start)
    if not hours and not typical:
        raise bad("outdoors", [], "at least one hour, unless the site has typical_air")
    minutes = steps.minutes
    ends = steps.minute(hours[-1].at) + HOUR_MIN if hours else -np.inf
    beyond: NDArray[np.bool_] = minutes >= ends
    temperature, humidity, wind = (np.zeros(steps.count) for _ in range(3))
    if hours:
        known = np.array([steps.minute(hour.at) for hour in hours])
        period = _period_min(ends - known[0])
        repeated = ends - period + np.mod(minutes - ends, period)
        row = _latest(known, np.where(beyond, repeated, minutes))
        temperature = np.array([hour.temperature_c for hour in hours], float)[row]
        humidity = np.array([hour.humidity_pct for hour in hours], float)[row]
        speeds = [hour.wind_m_s for hour in hours]
        wind = np.array([STILL_AIR_M_S if v is None else v for v in speeds])[row]
    if typical:
        known = np.array([clock_min(entry.start) for entry in typical], float)
        row = np.searchsorted(known, day_minutes(job.site, steps)[1], "right") - 1
        usual_c = np.array([entry.temperature_c for entry in typical], float)[row]
        usual_pct = np.array([entry.humidity_pct for entry in typical], float)[row]
        temperature = np.where(beyond, usual_c, temperature)
        humidity = np.where(beyond, usual_pct, humidity)
        wind = np.where(beyond, STILL_AIR_M_S, wind)
    return RoomAir(
        start=steps.start,
        step_min=steps.step_min,
        temperature_c=temperature,
        humidity_pct=humidity,
        surface_c=temperature,
        moving_air_m_s=wind,
        spread=np.where(beyond, UNKNOWN_SPREAD, _forecast_spread(job, steps)),
    )


def working(site: Site, steps: Steps) -> NDArray[np.bool_]:
    """Whether each step begins in the site's working hours, breaks included."""
    open_now = within(site, site.hours, steps)
    days = day_minutes(site, steps)[0]
    closed = [day.toordinal() for day in site.closed]
    return open_now & ~np.isin(days, closed)


def within(site: Site, rules: Iterable[Hours], steps: Steps) -> NDArray[np.bool_]:
    """Whether each step begins in any of those hours of the site's clock."""
    days, minutes = day_minutes(site, steps)
    inside = np.zeros(steps.count, dtype=np.bool_)
    for hours in rules:
        inside |= _within(hours, days, minutes)
    return inside


def day_minutes(site: Site, steps: Steps) -> tuple[NDArray[np.int64], Floats]:
    """The local day (its ordinal) and minutes after midnight at each step's start."""
    offsets = np.empty(steps.count)
    block = max(1, int(DAY_MIN / steps.step_min))
    for first in range(0, steps.count, block):
        last = min(first + block, steps.count) - 1
        before, after = (_offset_min(site, steps, i) for i in (first, last))
        offsets[first : last + 1] = (
            before
            if before == after
            else [_offset_min(site, steps, i) for i in range(first, last + 1)]
        )
    begin = steps.start
    seconds = begin.hour * 3600 + begin.minute * 60 + begin.second
    local = seconds / 60 + begin.microsecond / 6e7 + steps.minutes + offsets
    days = np.floor(local / DAY_MIN)
    ordinals: NDArray[np.int64] = days.astype(np.int64) + begin.toordinal()
    return ordinals, local - days * DAY_MIN


def _within(
    hours: Hours, days: NDArray[np.int64], minutes: Floats
) -> NDArray[np.bool_]:
    weekday = (days - 1) % 7  # day 1 of the calendar was a Monday
    begins, ends = clock_min(hours.start), clock_min(hours.end)
    named = _among(weekday, hours.weekdays)
    return named & (minutes >= begins) & (minutes < ends)


def _among(values: NDArray[np.int64], wanted: Iterable[int]) -> NDArray[np.bool_]:
    return np.isin(values, list(wanted))


def _offset_min(site: Site, steps: Steps, i: int) -> float:
    moment = steps.start + timedelta(minutes=i * steps.step_min)
    local = moment.astimezone(site.tz).replace(tzinfo=UTC)
    return (local - moment).total_seconds() / 60


def _latest(known: Floats, minutes: Floats) -> NDArray[np.intp]:
    """The last entry not after each minute, the first where there is none."""
    return np.maximum(np.searchsorted(known, minutes, "right") - 1, 0)


def _period_min(covered_min: float) -> float:
    """How much of what is known is repeated: whole days, so that nights stay nights."""
    whole_days = min(covered_min // DAY_MIN, REPEATED_DAYS)
    return whole_days * DAY_MIN if whole_days >= 1 else covered_min


def _forecast_spread(job: Job, steps: Steps) -> Floats:
    """Wider from hour to hour after the forecast was made; unstated, after ``now``."""
    made = job.outdoors_from.made if job.outdoors_from else job.now
    known = steps.minute(made) if made else 0.0
    ahead_h = np.maximum(steps.minutes - known, 0.0) / HOUR_MIN
    return np.minimum(FORECAST_SPREAD_H * ahead_h, FORECAST_SPREAD_MOST)
