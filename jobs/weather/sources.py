"""The weather services that can be asked, their terms, and how each is fetched."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings

from jobs.weather import met_norway, open_meteo, us_weather_service
from jobs.weather.client import Answer, ask
from jobs.weather.hours import HOUR, Place, weather_hours
from jobs.weather.outcomes import Got, NotFetched, Outcome, Unchanged
from scheduling.errors import BadInput

PROGRAM = "CoatByCoat/0.1"
# Clocks nearer than this agree: an answer has its way to go and caches keep it a while.
CLOCKS_AGREE = timedelta(minutes=10)
MADE_AHEAD_MOST = timedelta(hours=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where outdoor hours come from: its name, and what must stand beside its data."""

    key: str
    name: str
    covers: str
    credit: str
    link: str
    terms: str


MET_NORWAY = Source(
    key="met-norway",
    name="MET Norway",
    covers="the whole world",
    credit="Weather data from MET Norway, CC BY 4.0",
    link="https://api.met.no/",
    terms="Free for any use, with its name beside the data.",
)
US_WEATHER_SERVICE = Source(
    key="us-weather-service",
    name="US National Weather Service",
    covers="the United States only",
    credit="Weather data from the US National Weather Service, public domain",
    link="https://www.weather.gov/",
    terms="Free for any use.",
)
OPEN_METEO = Source(
    key="open-meteo",
    name="Open-Meteo",
    covers="the whole world",
    credit="Weather data by Open-Meteo.com, CC BY 4.0",
    link="https://open-meteo.com/",
    terms="Free for non-commercial use only; else it takes a key that is paid for.",
)
SOURCES = {row.key: row for row in (MET_NORWAY, US_WEATHER_SERVICE, OPEN_METEO)}
BY_NAME = {row.name: row for row in SOURCES.values()}


def offered() -> tuple[Source, ...]:
    """The services that this installation may ask; none without a contact."""
    if not settings.WEATHER_CONTACT:
        return ()
    on = settings.OPEN_METEO_USE != "off"
    return tuple(row for row in SOURCES.values() if row is not OPEN_METEO or on)


def fetch(
    source: Source,
    place: Place,
    *,
    now: datetime,
    etag: str = "",
    last_modified: str = "",
) -> Outcome:
    """The newest forecast of a service for a place, or what became of asking.

    ``etag`` and ``last_modified`` belong to the forecast of that very place that is
    kept; with them the service may say that it has nothing newer.
    """
    try:
        return _fetch(source, place, now, etag, last_modified)
    except BadInput as error:
        text = f"{source.name} sent what cannot be read. {error.faults[0]}"
        return NotFetched(why="nonsense", text=text)


def _fetch(
    source: Source, place: Place, now: datetime, etag: str, last_modified: str
) -> Outcome:
    agent = f"{PROGRAM} {settings.WEATHER_CONTACT}"
    base = settings.WEATHER_ADDRESSES[source.key]
    if source is MET_NORWAY:
        address = met_norway.address(base, place)
    elif source is OPEN_METEO:
        if settings.OPEN_METEO_USE == "paid":
            base = settings.WEATHER_ADDRESSES["open-meteo-paid"]
        address = open_meteo.address(base, place, settings.OPEN_METEO_KEY)
    else:
        point = ask(
            us_weather_service.points_address(base, place), user_agent=agent, now=now
        )
        if isinstance(point, NotFetched):
            return point
        address = us_weather_service.grid_address(base, point.body)
    answer = ask(
        address, user_agent=agent, now=now, etag=etag, last_modified=last_modified
    )
    if isinstance(answer, NotFetched):
        return answer
    if answer.status == 304:
        return Unchanged(expires_at=answer.expires_at)
    return _got(source, place, answer, now)


def _got(source: Source, place: Place, answer: Answer, now: datetime) -> Outcome:
    if source is MET_NORWAY:
        rows, made_at = met_norway.read(answer.body)
    elif source is OPEN_METEO:
        rows, made_at = open_meteo.read(answer.body, now)
    else:
        rows, made_at = us_weather_service.read(answer.body)
    cautions = []
    if answer.clock is not None and abs(answer.clock - now) > CLOCKS_AGREE:
        apart = round(abs(answer.clock - now) / timedelta(minutes=1))
        cautions.append(
            f"Our clock and that of {source.name} are {apart} minutes apart: one of "
            "them is wrong."
        )
    if made_at - now > MADE_AHEAD_MOST:
        text = (
            f"The forecast says it was made {made_at:%Y-%m-%d %H:%M} UTC, which is "
            "still to come. Look whether this machine's clock is right."
        )
        return NotFetched(why="clock", text=text)
    made_at = min(made_at, now)
    if source is OPEN_METEO:
        cautions.append(
            f"{source.name} does not say when its forecast was made: its age counts "
            "from when it was fetched."
        )
    hours = weather_hours(
        rows,
        source=source.name,
        made_at=made_at,
        fetched_at=now,
        altitude_m=place.altitude_m,
    )
    ends = hours[-1].at + HOUR
    if max(row.at for row in rows) >= ends:
        cautions.append(
            f"The forecast has a gap after {ends:%Y-%m-%d %H:%M} UTC; nothing after it "
            "is used."
        )
    if ends <= now:
        text = f"The forecast that {source.name} sent ended {ends:%Y-%m-%d %H:%M} UTC."
        return NotFetched(why="past", text=text)
    return Got(
        hours=hours,
        made_at=made_at,
        expires_at=answer.expires_at,
        etag=answer.headers.get("ETag", "")[:200],
        last_modified=answer.headers.get("Last-Modified", "")[:100],
        cautions=tuple(cautions),
    )
