"""What Now says of sensors that cannot be trusted: out of range, stuck, silent.

Pure: links and readings in, sentences out.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from itertools import takewhile

from jobs.templatetags.plan_format import say_moment, say_temperature

# Assumed: rooms move by a tenth of a degree or a percent within hours, even at night;
# and a sensor that sends at all sends by the hour.
STUCK_AFTER, STUCK_LEAST = timedelta(hours=6), 6
SILENT_AFTER = timedelta(hours=3)
# Assumed: what rooms that are painted in can be, and a sensor with a fault is not.
ROOM_COLDEST_C, ROOM_HOTTEST_C = -10.0, 45.0
ROOM_DRIEST_PCT, ROOM_DAMPEST_PCT = 3.0, 99.5


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorState:
    """A room's live sensor: its last readings, oldest first, and what it sent amiss."""

    room: str
    readings: Sequence[tuple[datetime, float, float]]
    last_used_at: datetime | None
    trouble: str
    trouble_at: datetime | None


def sensor_words(
    sensors: Iterable[SensorState], *, now: datetime, zone: tzinfo, units: str
) -> list[str]:
    """A sentence for each sensor that needs looking at."""
    said = []
    for sensor in sensors:
        text = _trouble(sensor, now, zone, units)
        if text:
            said.append(f"The sensor in {sensor.room} {text}")
    return said


def _trouble(sensor: SensorState, now: datetime, zone: tzinfo, units: str) -> str:
    if sensor.trouble and sensor.trouble_at is not None:
        when = say_moment(sensor.trouble_at, zone, now)
        return f"sent what cannot be, {when}, and it was not kept: {sensor.trouble}"
    if not sensor.readings:
        if sensor.last_used_at is None:
            return ""  # nobody has told it the address yet
        when = say_moment(sensor.last_used_at, zone, now)
        return f"was last heard {when}. Look at its battery."
    at, temperature, humidity = sensor.readings[-1]
    air = f"{say_temperature(temperature, units)}, {humidity:g} %"
    if now - at > SILENT_AFTER:
        return f"was last heard {say_moment(at, zone, now)}. Look at its battery."
    if not (
        ROOM_COLDEST_C <= temperature <= ROOM_HOTTEST_C
        and ROOM_DRIEST_PCT <= humidity <= ROOM_DAMPEST_PCT
    ):
        return f"says {air}, which no room is. Read by hand and compare."
    same = list(
        takewhile(
            lambda reading: reading[1:] == (temperature, humidity),
            reversed(sensor.readings),
        )
    )
    if len(same) >= STUCK_LEAST and at - same[-1][0] >= STUCK_AFTER:
        since = say_moment(same[-1][0], zone, now)
        return (
            f"has said {air} to the last digit since {since}. It may be stuck: read by "
            "hand and compare."
        )
    return ""
