"""A weather service of our own: a local server that speaks the documented shapes.

Every number in its replies is invented. It answers what a test puts in, in turn, and
remembers what it was asked.
"""

import json
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any


@dataclass
class Reply:
    """What the service answers once; the last of several is repeated."""

    status: int = 200
    body: Any = None
    headers: dict[str, str] = field(default_factory=dict)
    wait_s: float = 0.0
    raw: bytes | None = None

    @property
    def content(self) -> bytes:
        return json.dumps(self.body).encode() if self.raw is None else self.raw


@dataclass
class Asked:
    path: str
    headers: dict[str, str]


class Service:
    """The server: its address, the replies to come, and what was asked of it."""

    def __init__(self) -> None:
        self.replies: list[Reply] = []
        self.asked: list[Asked] = []
        service = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                service.asked.append(Asked(self.path, dict(self.headers)))
                more = len(service.replies) > 1
                reply = service.replies.pop(0) if more else service.replies[0]
                time.sleep(reply.wait_s)
                self.send_response_only(reply.status)
                for name, value in reply.headers.items():
                    self.send_header(name, value)
                self.send_header("Content-Length", str(len(reply.content)))
                self.end_headers()
                self.wfile.write(reply.content)

            def log_message(self, *_: Any) -> None:
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.address = f"http://127.0.0.1:{self.server.server_port}"

    def answers(self, *replies: Reply) -> None:
        self.replies = list(replies)


@contextmanager
def running() -> Iterator[Service]:
    service = Service()
    thread = threading.Thread(target=service.server.serve_forever, args=(0.02,))
    thread.start()
    try:
        yield service
    finally:
        service.server.shutdown()
        service.server.server_close()
        thread.join()


def http(moment: datetime) -> str:
    return format_datetime(moment.astimezone(UTC), usegmt=True)


def z(moment: datetime) -> str:
    return f"{moment:%Y-%m-%dT%H:%M:%S}Z"


def met_norway(first: datetime, made: datetime, steps_h: list[int]) -> dict[str, Any]:
    """A locationforecast reply whose steps are so many hours long."""
    steps, at = [], first
    for number, step in enumerate([*steps_h, 0]):
        details = {
            "air_temperature": 8.0 + number,
            "relative_humidity": 90.0 - number,
            "wind_speed": 2.5,
            "cloud_area_fraction": 12.0,
        }
        steps.append({"time": z(at), "data": {"instant": {"details": details}}})
        at += timedelta(hours=step)
    units = {
        "air_temperature": "celsius",
        "relative_humidity": "%",
        "wind_speed": "m/s",
    }
    meta = {"updated_at": z(made), "units": units}
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [-9.4, 38.7, 20]},
        "properties": {"meta": meta, "timeseries": steps},
    }


def points() -> dict[str, Any]:
    elsewhere = "http://elsewhere.example/gridpoints/ABC/1,2"
    grid = {"gridId": "ABC", "gridX": 31, "gridY": 80, "forecastGridData": elsewhere}
    return {"type": "Feature", "properties": grid}


def grid(first: datetime, made: datetime) -> dict[str, Any]:
    """A gridpoint reply: quantities cut into spells of different lengths."""

    def series(unit: str, *spells: tuple[int, str, float | None]) -> dict[str, Any]:
        values = [
            {
                "validTime": f"{(first + timedelta(hours=after)).isoformat()}/{spell}",
                "value": value,
            }
            for after, spell, value in spells
        ]
        return {"uom": unit, "values": values}

    return {
        "properties": {
            "updateTime": made.isoformat(),
            "temperature": series(
                "wmoUnit:degC", (0, "PT1H", 12), (1, "PT5H", 14.5), (6, "P1DT2H", 9)
            ),
            "dewpoint": series("wmoUnit:degC", (0, "PT8H", 8), (8, "PT1H", None)),
            "relativeHumidity": series("wmoUnit:percent", (6, "PT24H", 70)),
            "windSpeed": series("wmoUnit:km_h-1", (0, "PT3H", 18)),
        }
    }


def open_meteo(first: datetime, hours: int) -> dict[str, Any]:
    return {
        "utc_offset_seconds": 0,
        "hourly_units": {
            "time": "iso8601",
            "temperature_2m": "°C",
            "relative_humidity_2m": "%",
            "wind_speed_10m": "m/s",
        },
        "hourly": {
            "time": [
                f"{first + timedelta(hours=hour):%Y-%m-%dT%H:%M}"
                for hour in range(hours)
            ],
            "temperature_2m": [10.0 + hour for hour in range(hours)],
            "relative_humidity_2m": [80] * hours,
            "wind_speed_10m": [3.0] * hours,
        },
    }
