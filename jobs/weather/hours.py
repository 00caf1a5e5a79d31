"""The one shape of weather: outdoor hours in UTC, whatever service they came from.

An adapter gives rows as they stand in a reply; ``weather_hours`` checks them, fills
steps of several hours and works out the vapour.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import isfinite
from statistics import fmean

from scheduling.errors import bad
from scheduling.problem import AirHour
from scheduling.psychrometrics import (
    SEA_LEVEL_PA,
    dew_point_c,
    humidity_pct_of,
    humidity_ratio_g_kg,
    pressure_pa,
    vapour_from_ratio,
    vapour_pa,
)

HOUR = timedelta(hours=1)
# Services go over from steps of 1 h to steps of 6 h; a longer silence is a gap.
LONGEST_STEP = timedelta(hours=6)
COLDEST_C, HOTTEST_C = -60.0, 70.0  # what the job format allows for any air
WINDIEST_M_S = 120.0  # the same
# Instruments near saturation say a little more than 100 %.
WETTEST_PCT = 105.0
MOST_HOURS = 24 * 40  # Assumed: no forecast and no logger file is asked for longer


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a forecast is for; ``altitude_m`` where it is known."""

    latitude: float
    longitude: float
    altitude_m: float | None = None

    @property
    def rounded(self) -> tuple[str, str]:
        """Latitude and longitude with four decimals at most, as services ask."""
        return _decimals(self.latitude), _decimals(self.longitude)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """The air outdoors at one moment as a reply has it; humidity or dew point."""

    at: datetime
    temperature_c: float
    humidity_pct: float | None = None
    dew_point_c: float | None = None
    wind_m_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherHour:
    """The air outdoors from ``at`` (UTC) on for an hour, and who said so when.

    ``vapour_g_kg`` is grams of water to a kilogram of dry air at the place's height.
    """

    at: datetime
    temperature_c: float
    vapour_g_kg: float
    humidity_pct: float
    wind_m_s: float | None
    source: str
    made_at: datetime
    fetched_at: datetime

    @property
    def air(self) -> AirHour:
        """The same as the planner takes it."""
        return AirHour(
            at=self.at,
            temperature_c=round(self.temperature_c, 2),
            humidity_pct=round(self.humidity_pct, 2),
            wind_m_s=None if self.wind_m_s is None else round(self.wind_m_s, 2),
        )


def hourly_means(rows: Iterable[tuple[int, Row]]) -> list[Row]:
    """A logger's rows as one each full hour: the mean warmth and the mean vapour.

    Each comes with its line in the file, by which BadInput names one that is no air.
    """
    by_hour: dict[datetime, list[Row]] = {}
    for number, row in rows:
        hour = row.at.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
        by_hour.setdefault(hour, []).append(_checked(row, f"Row {number}"))
    return [
        Row(
            at=hour,
            temperature_c=fmean(row.temperature_c for row in same),
            dew_point_c=float(dew_point_c(fmean(_vapour_pa(row) for row in same))),
        )
        for hour, same in sorted(by_hour.items())
    ]


def weather_hours(
    rows: Iterable[Row],
    *,
    source: str,
    made_at: datetime,
    fetched_at: datetime,
    altitude_m: float | None = None,
    over_gaps: bool = False,
    path: str = "hours",
) -> tuple[WeatherHour, ...]:
    """Those rows as hours in order, without gaps; of two at one moment the last.

    Between two rows up to six hours apart temperature, vapour and wind go in a straight
    line. After a longer gap nothing counts, unless ``over_gaps`` lets the last hour
    before it stand for it. BadInput names a row that is no air, or that there are none.
    """
    by_moment = {
        row.at.astimezone(UTC): _checked(row, f"{path}[{number}]")
        for number, row in enumerate(rows)
    }
    if not by_moment:
        raise bad(path, [], "at least one hour with a temperature and a humidity")
    pressure = SEA_LEVEL_PA if altitude_m is None else pressure_pa(altitude_m)
    known = [
        (at, row, float(humidity_ratio_g_kg(_vapour_pa(row), pressure)))
        for at, row in sorted(by_moment.items())
    ]
    return tuple(
        WeatherHour(
            at=at,
            temperature_c=temperature,
            vapour_g_kg=ratio,
            humidity_pct=min(
                float(humidity_pct_of(temperature, vapour_from_ratio(ratio, pressure))),
                100.0,
            ),
            wind_m_s=wind,
            source=source,
            made_at=made_at.astimezone(UTC),
            fetched_at=fetched_at.astimezone(UTC),
        )
        for at, temperature, ratio, wind in _filled(known, over_gaps)
    )[:MOST_HOURS]


def _filled(
    known: list[tuple[datetime, Row, float]],
    over_gaps: bool,
) -> Iterator[tuple[datetime, float, float, float | None]]:
    """Each row, and each full hour between it and the next."""
    for place, (at, row, ratio) in enumerate(known):
        yield at, row.temperature_c, ratio, row.wind_m_s
        if place + 1 == len(known):
            return
        following, later, next_ratio = known[place + 1]
        if following - at > LONGEST_STEP:
            if over_gaps:
                continue
            return
        between = at + HOUR
        while between < following:
            part = (between - at) / (following - at)
            wind = _between(row.wind_m_s, later.wind_m_s, part)
            warmth = _line(row.temperature_c, later.temperature_c, part)
            yield between, warmth, _line(ratio, next_ratio, part), wind
            between += HOUR


def _between(one: float | None, other: float | None, part: float) -> float | None:
    return None if one is None or other is None else _line(one, other, part)


def _line(one: float, other: float, part: float) -> float:
    return one + part * (other - one)


def _vapour_pa(row: Row) -> float:
    """Over water, as weather services state both of them."""
    if row.dew_point_c is not None:
        dew = min(row.dew_point_c, row.temperature_c)
        return vapour_pa(dew, 100.0)
    assert row.humidity_pct is not None  # noqa: S101 - checked
    return vapour_pa(row.temperature_c, min(row.humidity_pct, 100.0))


def _checked(row: Row, path: str) -> Row:
    _within(f"{path}.temperature_c", row.temperature_c, COLDEST_C, HOTTEST_C)
    if row.humidity_pct is None and row.dew_point_c is None:
        raise bad(f"{path}.humidity_pct", None, "a humidity or a dew point")
    if row.humidity_pct is not None:
        _within(f"{path}.humidity_pct", row.humidity_pct, 0.0, WETTEST_PCT)
    if row.dew_point_c is not None:
        _within(f"{path}.dew_point_c", row.dew_point_c, -100.0, HOTTEST_C)
    if row.wind_m_s is not None:
        _within(f"{path}.wind_m_s", row.wind_m_s, 0.0, WINDIEST_M_S)
    return row


def _within(path: str, value: float, low: float, high: float) -> None:
    if not (isfinite(value) and low <= value <= high):
        raise bad(path, value, f"a number from {low:g} to {high:g}")


def _decimals(degrees: float) -> str:
    text = f"{degrees:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
