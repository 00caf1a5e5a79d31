"""What pages say of the outdoor air: whose, how old, how far, and what that means."""

from datetime import timedelta
from typing import Any

import pytest

from jobs.factories import AirControlFactory, AirHourFactory, RoomFactory, small_job
from jobs.outdoor_words import OutdoorWords, days_of, outdoor_words
from scheduling.problem import OutdoorsFrom
from tests.jobs.conftest import NOW

ZONE = NOW.tzinfo
ROOM = RoomFactory(id="room", air=AirControlFactory())
HOURS = tuple(
    AirHourFactory(at=NOW + timedelta(hours=n), temperature_c=8.0 + n, humidity_pct=80)
    for n in range(-2, 10)
)


def said(after: timedelta = timedelta(0), **changes: Any) -> OutdoorWords:
    job = small_job(**{"rooms": (ROOM,), "outdoors": HOURS, **changes})
    words = outdoor_words(job, NOW + after, ZONE)
    assert words is not None
    return words


def made(age_h: float, source: str = "MET Norway") -> OutdoorsFrom:
    return OutdoorsFrom(source=source, made=NOW - timedelta(hours=age_h))


def test_source_age_and_reach_are_told_with_the_credit_that_is_asked_for() -> None:
    words = said(outdoors_from=made(3))
    assert words.text == "Outdoors: MET Norway, 3 h old, until Mon 17:30."
    assert words.credit == "Weather data from MET Norway, CC BY 4.0"
    assert words.link == "https://api.met.no/"
    assert words.warning == ""


@pytest.mark.parametrize(("age_h", "warned"), [(12, False), (12.1, True)])
def test_an_old_forecast_is_called_old(age_h: float, warned: bool) -> None:
    assert bool(said(outdoors_from=made(age_h)).warning) is warned


def test_a_forecast_that_ended_says_what_stands_in_for_it() -> None:
    words = said(timedelta(hours=10), outdoors_from=made(1))
    assert words.warning.startswith("The outdoor air is known only until Mon 17:30.")
    assert "its last two days stand in its place" in words.warning


def test_hours_of_nobody_are_those_of_the_job() -> None:
    assert said().text == "Outdoors: hours that came with the job, until Mon 17:30."
    assert said().credit == ""
    assert said(outdoors_from=made(1, "A logger on the roof")).credit == ""


def test_nothing_is_said_where_every_rooms_air_is_given() -> None:
    assert outdoor_words(small_job(outdoors=HOURS), NOW, ZONE) is None


def test_days_have_their_ends() -> None:
    (day,) = days_of(HOURS, ZONE)
    assert (day.low_c, day.high_c, day.dry_pct, day.damp_pct) == (6, 17, 80, 80)
    assert day.dew_low_c < day.low_c
    assert day.name == "Mon 12 Oct"
