"""The outdoor air's pages: choose, fetch, look, take; a file and days by hand."""

from collections.abc import Callable
from datetime import UTC, timedelta
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.factories import AirControlFactory, AirHourFactory, RoomFactory
from jobs.models import Job, User
from jobs.translation import job_value
from scheduling.air_of_job import job_air
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import words
from tests.jobs.weather.service import Reply, Service, http, met_norway

HOUR = timedelta(hours=1)
HERE = "/jobs/job/weather/"


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def damp(stored: Callable[..., Job]) -> Job:
    """The small job in a room that breathes, beside mild dry days."""
    return stored(
        rooms=(RoomFactory(id="room", air=AirControlFactory()),),
        outdoors=tuple(
            AirHourFactory(at=NOW + n * HOUR, temperature_c=14, humidity_pct=50)
            for n in range(-12, 60)
        ),
    )


@pytest.fixture
def page(client: Client, lead: User, damp: Job) -> Client:
    client.force_login(lead)
    return client


def choose(page: Client, **changes: str) -> Any:
    given = {"source": "met-norway", "latitude": "38.7", "longitude": "-9.4"}
    return page.post(f"{HERE}place/", given | {"altitude_m": "20"} | changes)


def good(**headers: str) -> Reply:
    made = (NOW - 2 * HOUR).astimezone(UTC)
    body = met_norway(NOW.astimezone(UTC).replace(minute=0), made, [1] * 60)
    for number, step in enumerate(body["properties"]["timeseries"]):
        details = step["data"]["instant"]["details"]
        details["air_temperature"] = 13.0 + number % 3
        details["relative_humidity"] = 95.0
    return Reply(body=body, headers=headers)


def test_a_fetched_forecast_is_looked_at_and_then_planned_from(
    page: Client, damp: Job, service: Service
) -> None:
    assert choose(page).url == HERE
    service.answers(good(Expires=http(NOW + HOUR)))
    assert page.post(f"{HERE}fetch/").url == HERE
    seen = words(page.get(HERE).content.decode())
    assert "To look at: MET Norway" in seen
    assert "2 h old" in seen
    assert "Weather data from MET Norway, CC BY 4.0" in seen
    assert "It has nothing newer until Mon 08:30" in seen
    before = job_value(Job.objects.get())
    assert before.outdoors_from is None
    answer = page.post(f"{HERE}{damp.forecasts.get().pk}/take/")
    assert answer.url == "/jobs/job/week/"
    after = job_value(Job.objects.get())
    assert after.outdoors_from is not None
    rooms = [job_air(job, at=NOW, days=2).rooms["room"] for job in (before, after)]
    tomorrow = rooms[0].index(rooms[0].minute(NOW + 24 * HOUR))
    # The damp that the service tells of is in the room by tomorrow.
    assert rooms[1].humidity_pct[tomorrow] > rooms[0].humidity_pct[tomorrow] + 10


def test_now_and_the_week_name_the_source_and_its_age(
    page: Client, damp: Job, service: Service
) -> None:
    choose(page)
    service.answers(good())
    page.post(f"{HERE}fetch/")
    page.post(f"{HERE}{damp.forecasts.get().pk}/take/")
    now = page.get("/jobs/job/").content.decode()
    assert "Outdoors: MET Norway, 2 h old" in words(now)
    assert 'href="https://api.met.no/"' in now
    with time_machine.travel(NOW + 13 * HOUR, tick=False):
        old = words(page.get("/jobs/job/").content.decode())
    assert "The outdoor air is old, so the ranges are wider." in old


def test_a_refusal_is_told_with_when_to_ask_again_and_changes_nothing(
    page: Client, damp: Job, service: Service
) -> None:
    choose(page)
    service.answers(Reply(status=429, headers={"Retry-After": "1800"}))
    page.post(f"{HERE}fetch/")
    seen = words(page.get(HERE).content.decode())
    assert "asked too often. Ask again Mon 08:00." in seen
    assert not damp.forecasts.exists()


def test_what_was_looked_at_can_be_thrown_away(
    page: Client, damp: Job, service: Service
) -> None:
    choose(page)
    service.answers(good())
    page.post(f"{HERE}fetch/")
    page.post(f"{HERE}{damp.forecasts.get().pk}/drop/")
    assert "To look at" not in words(page.get(HERE).content.decode())
    assert job_value(Job.objects.get()).outdoors_from is None
    # Asked again before it expires, it comes back, and nobody was asked.
    page.post(f"{HERE}fetch/")
    assert "To look at" in words(page.get(HERE).content.decode())
    assert len(service.asked) == 1


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"latitude": "91"}, "latitude", "a number from -90 to 90"),
        ({"longitude": "west"}, "longitude", "a number from -180 to 180"),
        ({"latitude": ""}, "latitude", "give both"),
        ({"source": "the-sky"}, "source", "the-sky is not offered here"),
        ({"altitude_m": "9000"}, "altitude_m", "cannot be"),
    ],
)
def test_a_place_that_cannot_be_is_refused_and_kept_as_typed(
    page: Client, service: Service, changes: dict[str, str], field: str, says: str
) -> None:
    answer = choose(page, **changes)
    assert answer.status_code == 422
    assert says in " ".join(answer.context["form"].errors[field])
    assert answer.context["form"][field].value() == changes[field]
    assert Job.objects.get().weather_source == ""


def test_a_place_is_shown_again_as_it_is_kept(page: Client, service: Service) -> None:
    choose(page, latitude="38.712349", longitude="-9.4000001")
    form = page.get(f"{HERE}place/").context["form"]
    assert form["latitude"].value() == "38.712349"
    assert form["longitude"].value() == "-9.4000001"


def test_a_service_is_not_offered_without_a_contact(
    page: Client, settings: Any
) -> None:
    settings.WEATHER_CONTACT = ""
    seen = words(page.get(f"{HERE}place/").content.decode())
    assert "sets WEATHER_CONTACT" in seen
    assert "MET Norway" not in seen


# -- a file, and days by hand --------------------------------------------------------


def test_a_loggers_rows_become_hours_to_look_at(page: Client, damp: Job) -> None:
    rows = "\n".join(
        f"2026-10-12 {h:02}:{m:02};{10 + h},5;70" for h in range(6, 12) for m in (0, 30)
    )
    file = SimpleUploadedFile("roof.csv", f"Time;Temp C;RH %\n{rows}".encode())
    assert page.post(f"{HERE}file/", {"file": file, "clock": "site"}).url == HERE
    kept = damp.forecasts.get()
    assert kept.name == "Logger file roof.csv"
    assert [hour["temperature_c"] for hour in kept.hours] == [
        16.5, 17.5, 18.5, 19.5, 20.5, 21.5
    ]  # fmt: skip
    assert "Read: humidity from RH %" in words(page.get(HERE).content.decode())


def test_a_file_of_hours_past_mends_only_those(page: Client, damp: Job) -> None:
    text = "Time,Temp C,RH\n2026-10-12T02:10Z,3,60\n2026-10-12T03:10Z,3,60"
    page.post(f"{HERE}file/", {"text": text})
    page.post(f"{HERE}{damp.forecasts.get().pk}/take/")
    value = job_value(Job.objects.get())
    cold = [hour for hour in value.outdoors if hour.temperature_c == 3]
    assert len(cold) == 2
    assert value.outdoors_from is None
    assert max(hour.at for hour in value.outdoors) == NOW + 59 * HOUR


def test_a_file_without_a_clock_is_asked_about_and_its_text_is_kept(
    page: Client, damp: Job
) -> None:
    text = "Time,Temp C,RH\n2026-10-12 02:10,3,60"
    file = SimpleUploadedFile("roof.csv", text.encode())
    answer = page.post(f"{HERE}file/", {"file": file})
    assert answer.status_code == 422
    form = answer.context["form"]
    assert "does not say by which clock" in form.errors["clock"][0]
    assert form["text"].value() == text
    assert not damp.forecasts.exists()


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("", "give one of the two"),
        ("Time,Temp,RH\n2026-10-12T02:10Z,900,60", "Row 2.temperature_c: 900.0: a num"),
        ("Time,Temp,RH\n2026-08-12T02:10Z,9,60", "hours of the last 30 days"),
    ],
)
def test_nonsense_in_a_file_is_told_beside_it(
    page: Client, given: str, says: str
) -> None:
    answer = page.post(f"{HERE}file/", {"text": given})
    assert answer.status_code == 422
    assert says in str(answer.context["form"].errors)


def test_a_gap_in_a_loggers_file_is_held_over_and_an_odd_name_does_no_harm(
    page: Client, damp: Job
) -> None:
    text = "Time,Temp C,RH\n2026-10-11T02:10Z,3,60\n2026-10-12T03:10Z,4,60"
    file = SimpleUploadedFile("ro\x07of\u202e\U0001f58c.csv", text.encode())
    page.post(f"{HERE}file/", {"file": file})
    kept = damp.forecasts.get()
    assert [hour["temperature_c"] for hour in kept.hours] == [3, 4]
    page.post(f"{HERE}{kept.pk}/take/")
    value = job_value(Job.objects.get())
    assert sum(hour.temperature_c == 14 for hour in value.outdoors) == 71


def test_days_by_hand_become_hours_and_say_what_was_made_of_them(
    page: Client, damp: Job
) -> None:
    given = {"low_0": "6", "high_0": "14", "humidity_0": "55"}
    given |= {"low_1": "7", "high_1": "12"}
    assert page.post(f"{HERE}days/", given).url == HERE
    kept = damp.forecasts.get()
    assert len(kept.hours) == 48
    seen = words(page.get(HERE).content.decode())
    assert "Made of the ends you typed" in seen
    assert "they are given up after Wed 00:00" in seen
    assert "6.0 to 14.0 °C" in seen


@pytest.mark.parametrize(
    ("given", "field", "says"),
    [
        ({}, "low_0", "Nothing is typed"),
        ({"low_0": "9", "high_0": "3"}, "low_0", "Higher than the highest"),
        ({"low_0": "9"}, "high_0", "give both ends"),
        ({"low_0": "9", "high_0": "hot"}, "high_0", "give a number from"),
        ({"humidity_0": "50"}, "low_0", "needs both ends"),
        (
            {"low_0": "1", "high_0": "2", "low_2": "1", "high_2": "2"},
            "low_2",
            "A day before this one is empty",
        ),
    ],
)
def test_days_that_cannot_be_are_told_beside_their_field(
    page: Client, damp: Job, given: dict[str, str], field: str, says: str
) -> None:
    answer = page.post(f"{HERE}days/", given)
    assert answer.status_code == 422
    assert says in " ".join(answer.context["form"].errors[field])
    assert not damp.forecasts.exists()


def test_the_page_asks_as_often_for_many_hours_as_for_few(
    page: Client, stored: Callable[..., Job]
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert page.get(HERE).status_code == 200
        return len(asked)

    few = queries()
    text = "Time,Temp C,RH\n" + "\n".join(
        f"2026-10-{12 + n // 24}T{n % 24:02}:00Z,9,60" for n in range(200)
    )
    page.post(f"{HERE}file/", {"text": text})
    page.get(HERE)  # shows and forgets the messages
    assert queries() <= few
