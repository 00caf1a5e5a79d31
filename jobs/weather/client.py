"""Asks a weather service over HTTP: patient once, never for long, never too much.

Knows status, headers and JSON, and nothing of weather.
"""

import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import Any

import urllib3
from urllib3.exceptions import HTTPError

from jobs.job_input import json_of
from jobs.weather.outcomes import NotFetched

CONNECT_S, READ_S = 3.0, 6.0  # a page waits for the answer
WHOLE_S = 12.0  # an answer that trickles in is cut here
MOST_BYTES = 4_000_000  # the largest of the replies is a twentieth of this
# Assumed: how long a service is left alone that does not say how long.
PAUSE_BUSY, PAUSE_BROKEN = timedelta(minutes=10), timedelta(minutes=2)
PAUSE_FORBIDDEN = timedelta(hours=1)
LONGEST_PAUSE = timedelta(days=1)
KEPT_AT_LEAST, KEPT_AT_MOST = timedelta(minutes=10), timedelta(hours=6)

# One more try for a connection or an error of the service's own, at once or nearly so.
# Not for one that took too long, since a page waits, nor for 503, which asks for time.
_RETRIES = urllib3.Retry(
    total=3,
    connect=1,
    read=0,
    redirect=2,
    status=1,
    other=0,
    status_forcelist=(500, 502, 504),
    allowed_methods=("GET",),
    backoff_factor=0.2,
    respect_retry_after_header=False,
    raise_on_status=False,
)
_POOL = urllib3.PoolManager(
    timeout=urllib3.Timeout(connect=CONNECT_S, read=READ_S), retries=_RETRIES
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A reply of status 200 or 304, with its own idea of the time."""

    status: int
    body: Any = None
    headers: Mapping[str, str] = field(default_factory=dict)
    asked_at: datetime

    @property
    def clock(self) -> datetime | None:
        """The service's clock when it answered."""
        return _http_moment(self.headers.get("Date"))

    @property
    def expires_at(self) -> datetime:
        """When to ask again, by our clock: from ten minutes to six hours ahead.

        The time between the service's own Date and Expires, so that a clock that is
        wrong on either side does not count.
        """
        kept = KEPT_AT_LEAST
        expires = _http_moment(self.headers.get("Expires"))
        if expires is not None:
            kept = expires - (self.clock or self.asked_at)
        for part in self.headers.get("Cache-Control", "").lower().split(","):
            name, _, seconds = part.strip().partition("=")
            if name == "max-age" and seconds.isdecimal() and len(seconds) < 8:
                kept = timedelta(seconds=int(seconds))
        return self.asked_at + min(max(kept, KEPT_AT_LEAST), KEPT_AT_MOST)


def ask(
    address: str,
    *,
    user_agent: str,
    now: datetime,
    etag: str = "",
    last_modified: str = "",
) -> Answer | NotFetched:
    """The JSON at an address, or why there is none.

    ``etag`` and ``last_modified`` are those of the reply that is kept; with either a
    304 may come back.
    """
    headers = {"User-Agent": user_agent, "Accept": "application/json"}
    headers["Accept-Encoding"] = "gzip"
    if etag:
        headers["If-None-Match"] = etag
    if last_modified:
        headers["If-Modified-Since"] = last_modified
    until = time.monotonic() + WHOLE_S
    try:
        reply = _POOL.request("GET", address, headers=headers, preload_content=False)
        try:
            content = _read(reply, until) if reply.status == 200 else b""
        finally:
            reply.close()
    except (HTTPError, OSError, ValueError):
        text = "The weather service did not answer in time. Try again in a minute."
        return NotFetched(why="away", text=text)
    refusal = _refusal(reply.status, reply.headers, now)
    if refusal is not None:
        return refusal
    if reply.status == 304 and not (etag or last_modified):
        text = "The weather service says that nothing changed, but nothing is kept."
        return NotFetched(why="nonsense", text=text)
    if len(content) > MOST_BYTES:
        text = f"The weather service sent more than {MOST_BYTES // 1_000_000} MB."
        return NotFetched(why="nonsense", text=text)
    body = json_of(content, "the reply") if reply.status == 200 else None
    return Answer(status=reply.status, body=body, headers=reply.headers, asked_at=now)


def _read(reply: urllib3.BaseHTTPResponse, until: float) -> bytes:
    content = b""
    while len(content) <= MOST_BYTES:
        part = reply.read(65_536, decode_content=True)
        if not part:
            break
        content += part
        if time.monotonic() > until:
            raise TimeoutError
    return content


def _refusal(
    status: int, headers: Mapping[str, str], now: datetime
) -> NotFetched | None:
    """Why an answer of that status is none; None for 200, 203 and 304."""
    if status in (200, 203, 304):
        return None
    if status == 404:
        text = "The weather service knows no forecast for this place."
        return NotFetched(why="outside", text=text)
    if status in (401, 403):
        text = (
            f"The weather service refuses us (status {status}). Whoever runs this "
            "service looks at WEATHER_CONTACT and at the service's terms."
        )
        return NotFetched(why="forbidden", text=text, retry_at=now + PAUSE_FORBIDDEN)
    asked = _retry_after(headers.get("Retry-After"), now)
    if status == 429:
        text = "The weather service has been asked too often."
        retry_at = now + min(asked or PAUSE_BUSY, LONGEST_PAUSE)
        return NotFetched(why="busy", text=text, retry_at=retry_at)
    text = f"The weather service has a fault of its own (status {status})."
    retry_at = now + min(asked or PAUSE_BROKEN, LONGEST_PAUSE)
    return NotFetched(why="broken", text=text, retry_at=retry_at)


def _retry_after(text: str | None, now: datetime) -> timedelta | None:
    """How long to wait: seconds or a moment, RFC 9110 section 10.2.3."""
    if text is None:
        return None
    if text.strip().isdecimal() and len(text.strip()) < 8:
        return timedelta(seconds=max(int(text), 1))
    moment = _http_moment(text)
    return None if moment is None else max(moment - now, timedelta(seconds=1))


def _http_moment(text: str | None) -> datetime | None:
    try:
        moment = parsedate_to_datetime(text or "")
    except ValueError:
        return None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment
