"""What became of asking a weather service: values, so that no page has to guess."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from jobs.weather.hours import WeatherHour

Why = Literal[
    "not-set-up",  # the service may not be asked yet: a setting or the place is missing
    "still-good",  # the last reply has not expired
    "wait",  # it was asked a moment ago, or asked us to wait
    "outside",  # it does not know the place
    "forbidden",  # it refuses to answer us
    "busy",  # too many requests
    "broken",  # an error on its side
    "away",  # no answer in time
    "nonsense",  # an answer that cannot be read
    "past",  # a forecast that has ended
    "clock",  # made in the future by our clock
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Got:
    """A new forecast, and what to say when asking again."""

    hours: tuple[WeatherHour, ...]
    made_at: datetime
    expires_at: datetime
    etag: str = ""
    last_modified: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Unchanged:
    """The last forecast is still the newest one there is."""

    expires_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class NotFetched:
    """No forecast, and why; ``retry_at`` is when to ask again, where that is known."""

    why: Why
    text: str
    retry_at: datetime | None = None


Outcome = Got | Unchanged | NotFetched
