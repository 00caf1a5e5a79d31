"""Fetches a job's forecast and keeps the last good one; takes one to plan from.

A service is asked outside any transaction, once a second at most by all jobs together,
and not at all while it asked to be left alone or its last reply is still good.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q

from jobs.models import Forecast, ForecastHour, Job, User, WeatherService
from jobs.weather.hours import HOUR, Place, WeatherHour
from jobs.weather.outcomes import Got, NotFetched, Outcome, Unchanged
from jobs.weather.sources import SOURCES, Source, fetch, offered

# Below every service's limit, the strictest being ten a second for a whole program.
APART = timedelta(seconds=1)
# Coats older than this are counted in the first hour's air: older hours tell nothing.
PAST_KEPT = timedelta(days=30)

NO_CONTACT = (
    "No weather service can be asked yet: whoever runs this service sets "
    "WEATHER_CONTACT, an address that the weather services may write to."
)
NO_SOURCE = "Choose a weather service for this job first."
NO_PLACE = "Give the latitude and longitude of the site first."


def fetch_forecast(*, job: Job, by: User | None, now: datetime) -> Outcome:
    """Ask the job's service, and keep what it says if that is good.

    The outcome tells which: only ``Got`` and ``Unchanged`` change what is kept.
    """
    source = next((row for row in offered() if row.key == job.weather_source), None)
    if source is None:
        return NotFetched(why="not-set-up", text=NO_SOURCE if offered() else NO_CONTACT)
    if job.latitude is None or job.longitude is None:
        return NotFetched(why="not-set-up", text=NO_PLACE)
    place = Place(
        latitude=job.latitude, longitude=job.longitude, altitude_m=job.altitude_m
    )
    kept = job.forecasts.filter(source=source.key).first()
    if kept is not None and not _is_of(kept, place):
        kept = None  # what a service said of another place does not count
    if kept is not None and kept.expires_at and kept.expires_at > now:
        text = f"{source.name} has nothing newer yet."
        job.forecasts.filter(pk=kept.pk).update(thrown_away=False)
        return NotFetched(why="still-good", text=text, retry_at=kept.expires_at)
    refusal = _claim(source, now)
    if refusal is not None:
        return refusal
    outcome = fetch(
        source,
        place,
        now=now,
        etag=kept.etag if kept else "",
        last_modified=kept.last_modified if kept else "",
    )
    _keep(job, source, place, outcome, by, now)
    return outcome


@transaction.atomic(durable=True)
def keep_hours(
    *,
    job: Job,
    source: str,
    name: str,
    hours: Iterable[WeatherHour],
    by: User | None,
    now: datetime,
    cautions: Iterable[str] = (),
) -> Forecast:
    """Hours from a file or typed by hand, kept to be looked at and not planned from."""
    return _write(
        job,
        source,
        name=name,
        made_at=now,
        fetched_at=now,
        checked_at=now,
        expires_at=None,
        hours=[_written(hour) for hour in hours],
        cautions=list(cautions),
        by=by,
    )


@transaction.atomic(durable=True)
def take_forecast(*, job: Job, forecast: Forecast, now: datetime) -> None:
    """Plan from that forecast: its hours take the place of the job's from its first on.

    Hours before that stay, so that coats on the wall keep the air they had. A file that
    has ended mends only the hours it is about; a service's forecast that has ended is
    refused with a ValidationError.
    """
    Job.objects.select_for_update().get(pk=job.pk)
    first, ends = starts_at(forecast), ends_at(forecast)
    if ends <= now and forecast.source in SOURCES:
        raise ValidationError("This forecast has ended. Get a newer one.")
    told = {datetime.fromisoformat(hour["at"]) for hour in forecast.hours}
    replaced = [
        row.pk
        for row in job.outdoors.all()
        if row.at < now - PAST_KEPT
        or (row.at >= first if ends > now else _full_hour(row.at) in told)
    ]
    job.outdoors.filter(pk__in=replaced).delete()
    stays = list(job.outdoors.order_by("at"))
    for position, row in enumerate(stays):
        row.position = position
    ForecastHour.objects.bulk_update(stays, ("position",), batch_size=200)
    ForecastHour.objects.bulk_create(
        [
            ForecastHour(
                job=job,
                position=len(stays) + number,
                at=datetime.fromisoformat(hour["at"]),
                temperature_c=hour["temperature_c"],
                humidity_pct=hour["humidity_pct"],
                wind_m_s=hour.get("wind_m_s"),
            )
            for number, hour in enumerate(forecast.hours)
        ]
    )
    job.changed_at = now
    if ends > now:
        job.outdoors_source, job.outdoors_made = forecast.name, forecast.made_at
        job.forecasts.exclude(pk=forecast.pk).update(taken_at=None)
    job.save(update_fields=("outdoors_source", "outdoors_made", "changed_at"))
    Forecast.objects.filter(pk=forecast.pk).update(taken_at=now)


@transaction.atomic(durable=True)
def drop_forecast(*, forecast: Forecast) -> None:
    """Throw away what was only looked at; what the job plans from stays as it is.

    A service's forecast comes back to be looked at when it is asked before it expires.
    """
    if forecast.source in SOURCES:
        Forecast.objects.filter(pk=forecast.pk).update(thrown_away=True)
    else:
        forecast.delete()


@transaction.atomic(durable=True)
def choose_weather(
    *,
    job: Job,
    source: str,
    latitude: float | None,
    longitude: float | None,
    altitude_m: float | None,
    now: datetime,
) -> None:
    """Which service to ask for the job, and where the site is."""
    if source and source not in SOURCES:
        raise ValidationError({"source": f"{source}: one of {', '.join(SOURCES)}."})
    if (latitude is None) != (longitude is None):
        missing = "latitude" if latitude is None else "longitude"
        raise ValidationError({missing: "Empty: give both of them, or neither."})
    Job.objects.select_for_update().get(pk=job.pk)
    job.weather_source, job.altitude_m = source, altitude_m
    job.latitude, job.longitude = latitude, longitude
    job.changed_at = now
    job.save(
        update_fields=(
            *("weather_source", "latitude", "longitude", "altitude_m", "changed_at"),
        )
    )


def starts_at(forecast: Forecast) -> datetime:
    """When the first hour of a forecast begins."""
    return datetime.fromisoformat(forecast.hours[0]["at"])


def ends_at(forecast: Forecast) -> datetime:
    """When the last hour of a forecast ends."""
    return datetime.fromisoformat(forecast.hours[-1]["at"]) + HOUR


def _full_hour(at: datetime) -> datetime:
    return at.replace(minute=0, second=0, microsecond=0)


def _claim(source: Source, now: datetime) -> NotFetched | None:
    """Take the next turn to ask; the refusal where it is not ours to take."""
    WeatherService.objects.get_or_create(name=source.key)
    free = Q(not_before=None) | Q(not_before__lte=now)
    rested = Q(asked_at=None) | Q(asked_at__lte=now - APART) | Q(asked_at__gt=now)
    this = WeatherService.objects.filter(name=source.key)
    if this.filter(free & rested).update(asked_at=now, not_before=None, said=""):
        return None
    row = this.get()
    if row.not_before is not None and row.not_before > now:
        return NotFetched(why="wait", text=row.said, retry_at=row.not_before)
    text = f"{source.name} was asked this very second. Try again."
    return NotFetched(why="wait", text=text, retry_at=now + APART)


@transaction.atomic(durable=True)
def _keep(
    job: Job,
    source: Source,
    place: Place,
    outcome: Outcome,
    by: User | None,
    now: datetime,
) -> None:
    if isinstance(outcome, NotFetched):
        if outcome.retry_at is not None:
            WeatherService.objects.filter(name=source.key).update(
                not_before=outcome.retry_at, said=outcome.text[:300]
            )
    elif isinstance(outcome, Unchanged):
        job.forecasts.filter(source=source.key).update(
            checked_at=now, expires_at=outcome.expires_at, thrown_away=False
        )
    else:
        _write(job, source.key, **_columns(source, place, outcome), by=by)


def _columns(source: Source, place: Place, got: Got) -> dict[str, Any]:
    fetched_at = got.hours[0].fetched_at
    return {
        "name": source.name,
        "latitude": place.latitude,
        "longitude": place.longitude,
        "altitude_m": place.altitude_m,
        "made_at": got.made_at,
        "fetched_at": fetched_at,
        "checked_at": fetched_at,
        "expires_at": got.expires_at,
        "etag": got.etag,
        "last_modified": got.last_modified,
        "hours": [_written(hour) for hour in got.hours],
        "cautions": list(got.cautions),
    }


def _write(job: Job, source: str, **columns: Any) -> Forecast:
    """The source's one row with new values, waiting to be taken."""
    Job.objects.select_for_update().get(pk=job.pk)
    row, _ = Forecast.objects.update_or_create(
        job=job,
        source=source,
        defaults={**columns, "taken_at": None, "thrown_away": False},
    )
    return row


def _written(hour: WeatherHour) -> dict[str, Any]:
    air = hour.air
    wind = {} if air.wind_m_s is None else {"wind_m_s": air.wind_m_s}
    return {
        "at": air.at.isoformat(),
        "temperature_c": air.temperature_c,
        "humidity_pct": air.humidity_pct,
        **wind,
    }


def _is_of(kept: Forecast, place: Place) -> bool:
    return (kept.latitude, kept.longitude, kept.altitude_m) == (
        place.latitude,
        place.longitude,
        place.altitude_m,
    )
