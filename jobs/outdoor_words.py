"""What pages say of the outdoor air: whose word it is, how old, and how far it reaches.

Pure: rows' values in, sentences and days out.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Any

from jobs.templatetags.plan_format import say_age, say_day, say_moment
from jobs.weather.hours import HOUR
from jobs.weather.sources import BY_NAME
from scheduling.problem import AirControl, AirHour, Job
from scheduling.psychrometrics import dew_point_c, vapour_pa

# Assumed: services bring a new forecast every six hours or sooner; twice that is old.
OLD = timedelta(hours=12)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutdoorWords:
    """A sentence on the outdoor air, the credit its source wants, what to mind."""

    text: str
    warning: str
    credit: str
    link: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DayAir:
    """The outdoor air of one day: its ends."""

    name: str
    low_c: float
    high_c: float
    dry_pct: float
    damp_pct: float
    dew_low_c: float
    dew_high_c: float

    @property
    def steady(self) -> bool:
        """Whether its humidity is told in one number."""
        return round(self.dry_pct) == round(self.damp_pct)


def outdoor_words(job: Job, now: datetime, zone: tzinfo) -> OutdoorWords | None:
    """What to say; None where every room's air is given and nothing outdoors counts."""
    modelled = any(isinstance(room.air, AirControl) for room in job.rooms)
    if not modelled:
        return None
    if not job.outdoors:
        text = "Outdoors: the site’s typical air; no forecast."
        return OutdoorWords(text=text, warning="", credit="", link="")
    ends = max(hour.at for hour in job.outdoors) + HOUR
    until = say_moment(ends, zone, now)
    said = job.outdoors_from
    source = BY_NAME.get(said.source) if said else None
    text = f"Outdoors: hours that came with the job, until {until}."
    old = False
    if said is not None:
        age = now - said.made
        old = age > OLD
        made = say_age(max(age, timedelta(0)) / timedelta(minutes=1))
        text = f"Outdoors: {said.source}, {made}, until {until}."
    warning = ""
    if ends <= now:
        after = (
            "the site’s typical air stands"
            if job.site.typical_air
            else "its last two days stand"
        )
        warning = (
            f"The outdoor air is known only until {until}. After that {after} "
            "in its place, and every range is at its widest."
        )
    elif old:
        warning = "The outdoor air is old, so the ranges are wider. Get a newer one."
    return OutdoorWords(
        text=text,
        warning=warning,
        credit=source.credit if source else "",
        link=source.link if source else "",
    )


def hours_of(written: Iterable[Mapping[str, Any]]) -> list[AirHour]:
    """A kept forecast's hours as values."""
    return [
        AirHour(
            at=datetime.fromisoformat(hour["at"]),
            temperature_c=hour["temperature_c"],
            humidity_pct=hour["humidity_pct"],
            wind_m_s=hour.get("wind_m_s"),
        )
        for hour in written
    ]


def days_of(hours: Iterable[AirHour], zone: tzinfo) -> list[DayAir]:
    """Those hours day by day by the site's clock."""
    by_day: dict[date, list[AirHour]] = {}
    for hour in hours:
        by_day.setdefault(hour.at.astimezone(zone).date(), []).append(hour)
    return [_day(same, zone) for _, same in sorted(by_day.items())]


def _day(hours: list[AirHour], zone: tzinfo) -> DayAir:
    warmth = [hour.temperature_c for hour in hours]
    damp = [hour.humidity_pct for hour in hours]
    dew = [
        float(dew_point_c(vapour_pa(hour.temperature_c, max(hour.humidity_pct, 1.0))))
        for hour in hours
    ]
    return DayAir(
        name=say_day(hours[0].at.astimezone(zone), zone),
        low_c=min(warmth),
        high_c=max(warmth),
        dry_pct=min(damp),
        damp_pct=max(damp),
        dew_low_c=min(dew),
        dew_high_c=max(dew),
    )
