"""Open-Meteo: the whole world by the hour, where whoever runs this service allows it.

Its terms: free of charge for non-commercial use only, else with a key that is paid for,
at another address; CC BY 4.0 with a link beside the data.
"""

from datetime import datetime
from itertools import zip_longest
from typing import Any
from urllib.parse import urlencode

from jobs.weather.hours import Place, Row
from jobs.weather.json_shapes import at_path, listed, moment, number, unit
from scheduling.errors import bad

QUANTITIES = ("temperature_2m", "relative_humidity_2m", "wind_speed_10m")
DAYS = 10


def address(base: str, place: Place, key: str = "") -> str:
    """Where the forecast for a place is; with the key that was paid for."""
    latitude, longitude = place.rounded
    query = {
        "latitude": latitude,
        "longitude": longitude,
        "hourly": ",".join(QUANTITIES),
        "wind_speed_unit": "ms",
        "timezone": "UTC",
        "forecast_days": str(DAYS),
    }
    if place.altitude_m is not None:
        query["elevation"] = f"{place.altitude_m:g}"
    if key:
        query["apikey"] = key
    return f"{base}/v1/forecast?{urlencode(query)}"


def read(body: Any, fetched_at: datetime) -> tuple[list[Row], datetime]:
    """The rows of a reply; it does not say when it was made, so when it was fetched.

    An hour that lacks its temperature or humidity is no row. BadInput names a fault.
    """
    if at_path(body, "utc_offset_seconds") != 0:
        raise bad("utc_offset_seconds", body["utc_offset_seconds"], "0: hours in UTC")
    units, hourly = at_path(body, "hourly_units"), at_path(body, "hourly")
    for name, known in zip(QUANTITIES, ("°C", "%", "m/s"), strict=True):
        unit(at_path(units, name), f"hourly_units.{name}", known)
    columns = [
        listed(at_path(hourly, name), f"hourly.{name}")
        for name in ("time", *QUANTITIES)
    ]
    if len({len(column) for column in columns}) != 1:
        lengths = [len(column) for column in columns]
        raise bad("hourly", lengths, "lists of one length")
    rows = []
    for place, (at, *values) in enumerate(zip_longest(*columns)):
        temperature, humidity, wind = (
            None if value is None else number(value, f"hourly.{name}[{place}]")
            for name, value in zip(QUANTITIES, values, strict=True)
        )
        if temperature is None or humidity is None:
            continue
        rows.append(
            Row(
                at=moment(at, f"hourly.time[{place}]", utc=True),
                temperature_c=temperature,
                humidity_pct=humidity,
                wind_m_s=wind,
            )
        )
    return rows, fetched_at
