"""Sensors that are out of range, stuck or silent are named in a sentence."""

from datetime import timedelta
from typing import Any

from jobs.sensor_words import SensorState, sensor_words
from tests.jobs.conftest import NOW

QUARTER = timedelta(minutes=15)


def said(*airs: tuple[float, float], ago: timedelta = QUARTER, **changes: Any) -> str:
    last = NOW - ago
    readings = [
        (last - number * QUARTER, *air) for number, air in enumerate(reversed(airs))
    ][::-1]
    values: dict[str, Any] = {
        "room": "Lobby", "readings": readings, "last_used_at": last,
        "trouble": "", "trouble_at": None,
    }  # fmt: skip
    state = SensorState(**(values | changes))
    return " ".join(sensor_words([state], now=NOW, zone=NOW.tzinfo, units="metric"))


def test_a_sensor_that_moves_is_not_spoken_of() -> None:
    moving = [(20.0 + n % 2 / 10, 55.0) for n in range(60)]
    assert said(*moving) == ""


def test_the_same_air_to_the_last_digit_for_six_hours_may_be_a_stuck_sensor() -> None:
    assert said(*[(20.1, 55.0)] * 24) == ""  # five hours and three quarters
    text = said((20.0, 55.0), *[(20.1, 55.0)] * 25)
    assert text == (
        "The sensor in Lobby has said 20.1 °C, 55 % to the last digit since Mon 01:15. "
        "It may be stuck: read by hand and compare."
    )


def test_a_silent_sensor_is_missed() -> None:
    assert said((20.0, 55.0), ago=timedelta(hours=3)) == ""
    text = said((20.0, 55.0), ago=timedelta(hours=3, minutes=5))
    assert "was last heard Mon 04:25. Look at its battery." in text
    assert "was last heard" in said(ago=timedelta(days=2))
    assert said(last_used_at=None) == ""  # not set up yet


def test_what_no_room_is_and_what_cannot_be_are_told() -> None:
    assert "says 61.0 °C, 55 %, which no room is" in said((61.0, 55.0))
    assert "says 20.0 °C, 100 %, which no room is" in said((20.0, 100.0))
    text = said(trouble="humidity_pct: 140 % cannot be.", trouble_at=NOW)
    assert text == (
        "The sensor in Lobby sent what cannot be, Mon 07:30, and it was not kept: "
        "humidity_pct: 140 % cannot be."
    )
