"""Days typed by hand: a lowest and a highest temperature each, made into hours.

What is made of them is a guess and is called one: the lowest falls at six, the highest
at three in the afternoon by the site's clock, with a smooth curve between. Without a
humidity the dew point is the day's lowest temperature, as FAO Irrigation and Drainage
Paper 56 takes it where nothing was measured (from memory): too damp in dry country.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from itertools import pairwise
from math import cos, pi

from jobs.weather.hours import HOUR, Row
from scheduling.psychrometrics import dew_point_c, vapour_pa

# Assumed, common practice: coldest about sunrise, warmest in the middle afternoon.
LOWEST_AT, NOON, HIGHEST_AT = time(6), time(12), time(15)


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedDay:
    """A day's lowest and highest temperature; its humidity is that of warm hours."""

    day: date
    low_c: float
    high_c: float
    humidity_pct: float | None = None

    @property
    def dew_c(self) -> float:
        """The dew point all through the day."""
        if not self.humidity_pct:
            return self.low_c
        return float(dew_point_c(vapour_pa(self.high_c, self.humidity_pct)))


def rows_of_days(days: Sequence[TypedDay], zone: tzinfo) -> list[Row]:
    """Hours from the first day's midnight to the last day's; days must be in order."""
    warmth: list[tuple[datetime, float]] = []
    dew: list[tuple[datetime, float]] = []
    for day in days:
        warmth.append((_moment(day.day, LOWEST_AT, zone), day.low_c))
        warmth.append((_moment(day.day, HIGHEST_AT, zone), day.high_c))
        dew.append((_moment(day.day, NOON, zone), day.dew_c))
    at = _moment(days[0].day, time(0), zone)
    end = _moment(days[-1].day + timedelta(days=1), time(0), zone)
    rows = []
    while at < end:
        rows.append(
            Row(
                at=at,
                temperature_c=_between(warmth, at, smooth=True),
                dew_point_c=_between(dew, at, smooth=False),
            )
        )
        at += HOUR
    return rows


def _moment(day: date, clock: time, zone: tzinfo) -> datetime:
    return datetime.combine(day, clock, zone).astimezone(UTC)


def _between(
    points: Sequence[tuple[datetime, float]], at: datetime, *, smooth: bool
) -> float:
    """The value at a moment; before the first and after the last it stays."""
    if at <= points[0][0]:
        return points[0][1]
    for (begin, one), (end, other) in pairwise(points):
        if at <= end:
            part = (at - begin) / (end - begin)
            part = (1 - cos(pi * part)) / 2 if smooth else part
            return one + part * (other - one)
    return points[-1][1]
