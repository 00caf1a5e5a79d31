"""Who chose US reads and types US on every page; nothing stored is moved by it."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import time_machine
from django.test import Client

from jobs.factories import GivenAirFactory, small_job
from jobs.feed_links import make_link
from jobs.models import CalendarEntry, Job, User
from jobs.translation import job_value, store_plan
from scheduling.problem import AirHour
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import at, plan_value, words

US = {"units": "us"}


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def signed_in(client: Client, lead: User) -> Client:
    client.force_login(lead)
    return client


@pytest.fixture
def damp(stored: Callable[..., Job]) -> Job:
    """The small job in air 0.8 K over its dew point, in a room named "Flat 3 C"."""
    hours = tuple(
        AirHour(at=at(day, 0), temperature_c=20.0, humidity_pct=95.0)
        for day in range(30)
    )
    value = small_job()
    room = replace(value.rooms[0], name="Flat 3 C", air=GivenAirFactory(given=hours))
    return stored(replace(value, rooms=(room,)))


def test_the_switch_at_the_foot_is_kept_with_the_person(
    signed_in: Client, job: Job, lead: User
) -> None:
    assert "Show °F and feet" in signed_in.get("/jobs/job/").content.decode()
    back = "/jobs/job/recipes/?a=1"
    answer = signed_in.post("/units/", {**US, "back": back})
    assert (answer.status_code, answer.url) == (302, back)
    lead.refresh_from_db()
    assert lead.units == User.Units.US
    again = Client()  # another day, another phone
    again.force_login(lead)
    assert "Show metric" in again.get("/jobs/job/").content.decode()
    assert "73.4 °F" in words(again.get("/jobs/job/").content.decode())  # 23 C


@pytest.mark.parametrize("back", ["https://a.example/", "//elsewhere", "-1", ""])
def test_the_switch_leads_nowhere_else(signed_in: Client, back: str) -> None:
    answer = signed_in.post("/units/", {**US, "back": back})
    assert answer.url == "/account/"


def test_units_that_are_none_are_refused_by_name(signed_in: Client, lead: User) -> None:
    answer = signed_in.post("/units/", {"units": "cubits"}, follow=True)
    said = words(answer.content.decode())
    assert "units: &quot;cubits&quot;: one of metric, us." in said
    lead.refresh_from_db()
    assert lead.units == User.Units.METRIC


def test_now_tells_what_holds_a_wall_in_the_readers_degrees(
    signed_in: Client, damp: Job
) -> None:
    # 5 F over the dew point is what UFC 3-190-06, 9.6.6 asks; 3.0 K are 5.4 F.
    assert "at least 3.0 °C needed" in words(
        signed_in.get("/jobs/job/").content.decode()
    )
    signed_in.post("/units/", US)
    said = words(signed_in.get("/jobs/job/").content.decode())
    assert "at least 5.4 °F needed" in said
    assert "Flat 3 C" in said  # a name, not a temperature
    assert " K " not in said


def test_a_reading_typed_in_fahrenheit_is_logged_as_such(
    signed_in: Client, job: Job
) -> None:
    signed_in.post("/units/", US)
    page = signed_in.get("/jobs/job/reading/?room=room").content.decode()
    assert "Temperature, °F" in page
    assert '<input type="hidden" name="units" value="us"' in page
    typed = {"room": "room", "temperature_c": "66.4", "humidity_pct": "62,5",
             "surface_c": "17 C", "at": "2026-10-12T07:20"}  # fmt: skip
    answer = signed_in.post("/jobs/job/reading/", {**typed, **US}, follow=True)
    assert "66.4 °F, 62.5 %" in words(answer.content.decode())
    reading = job.readings.get()
    assert reading.temperature_c == pytest.approx((66.4 - 32) / 1.8, rel=1e-12)
    assert reading.surface_c == 17.0


def test_a_form_opened_before_the_switch_is_read_as_it_was_shown(
    signed_in: Client, job: Job
) -> None:
    signed_in.post("/units/", US)  # in another tab
    typed = {"room": "room", "temperature_c": "20", "humidity_pct": "60",
             "surface_c": "", "at": "2026-10-12T07:20", "units": "metric"}  # fmt: skip
    signed_in.post("/jobs/job/reading/", typed)
    assert job.readings.get().temperature_c == 20.0


def test_the_week_names_areas_in_square_feet(signed_in: Client, job: Job) -> None:
    value = job_value(job)
    notes = ("Wall: planned as up to 8 K warmer while the sun is on it",)
    plan = plan_value(value, notes=notes)
    store_plan(job, plan, planned=value, planned_at=NOW)
    signed_in.post("/units/", US)
    page = signed_in.get("/jobs/job/week/").content.decode()
    assert "135 ft²" in page  # 12.5 m2
    assert "up to 14 °F warmer" in words(page)


def test_a_calendar_speaks_the_units_of_who_made_its_address(
    signed_in: Client, job: Job
) -> None:
    CalendarEntry.objects.create(
        job=job, stint_key="one", kind="work", room_key="room", surface_key="wall",
        step_key="coat-1", hands=("hand",), status="CONFIRMED", starts=at(0, 9),
        ends=at(0, 10), last_modified=NOW, summary="coat-1",
        description="Hands: Ann\nMix: glaze 3 l m², about 1.2 l for 12.5 m²\nThen",
    )  # fmt: skip
    told = {}
    for units in ("metric", "us"):
        _, token = make_link(job=job, at=NOW, units=units)
        answer = Client().get(f"/feeds/{token}.ics")
        told[units] = answer.content.decode().replace("\r\n ", "")
    assert "about 1.2 l for 12.5 m²" in told["metric"]
    assert "glaze 3 l m²\\, about 1.3 qt for 135 ft²\\nThen" in told["us"]
    signed_in.post("/units/", US)
    signed_in.post("/jobs/job/calendars/make/", {"hand": "hand"})
    assert job.feed_links.get(hand_key="hand").units == "us"
    assert "in US units" in signed_in.get("/jobs/job/calendars/").content.decode()
