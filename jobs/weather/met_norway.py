"""MET Norway, locationforecast 2.0 compact: the whole world, hours and then six hours.

Its terms: who asks is named with a contact, coordinates have four decimals at most,
Expires is kept to, If-Modified-Since repeats the last Last-Modified, and the source is
named wherever the data is shown (CC BY 4.0).
"""

from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from jobs.weather.hours import Place, Row
from jobs.weather.json_shapes import at_path, listed, moment, number, unit


def address(base: str, place: Place) -> str:
    """Where the forecast for a place is."""
    latitude, longitude = place.rounded
    query = {"lat": latitude, "lon": longitude}
    if place.altitude_m is not None:
        query["altitude"] = str(round(place.altitude_m))
    return f"{base}/weatherapi/locationforecast/2.0/compact?{urlencode(query)}"


def read(body: Any) -> tuple[list[Row], datetime]:
    """The rows of a reply and when the forecast was made; BadInput names a fault."""
    meta = at_path(body, "properties", "meta")
    units = at_path(meta, "units")
    unit(at_path(units, "air_temperature"), "units.air_temperature", "celsius")
    unit(at_path(units, "relative_humidity"), "units.relative_humidity", "%")
    if "wind_speed" in units:
        unit(units["wind_speed"], "units.wind_speed", "m/s")
    rows = []
    steps = listed(at_path(body, "properties", "timeseries"), "timeseries")
    for place, step in enumerate(steps):
        path = f"timeseries[{place}]"
        details = at_path(step, "data", "instant", "details")
        wind = details.get("wind_speed") if isinstance(details, dict) else None
        rows.append(
            Row(
                at=moment(at_path(step, "time"), f"{path}.time"),
                temperature_c=number(
                    at_path(details, "air_temperature"), f"{path}.air_temperature"
                ),
                humidity_pct=number(
                    at_path(details, "relative_humidity"), f"{path}.relative_humidity"
                ),
                wind_m_s=None if wind is None else number(wind, f"{path}.wind_speed"),
            )
        )
    return rows, moment(at_path(meta, "updated_at"), "meta.updated_at")
