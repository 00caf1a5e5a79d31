"""A sensor's address takes readings of its room, whatever else is thrown at it."""

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import OperationalError
from django.test import Client

from jobs.feed_links import make_link
from jobs.models import Job, Reading, SensorLink
from jobs.sensors import MOST_IN_WINDOW, make_sensor_link, revoke_sensor_link
from tests.jobs.conftest import NOW

AIR = {"temperature_c": 18.5, "humidity_pct": 61}
FORM = "application/x-www-form-urlencoded"


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def token(job: Job) -> str:
    return make_sensor_link(room=job.rooms.get(), at=NOW)[1]


@pytest.fixture
def send(token: str) -> Callable[..., Any]:
    """Posts to the sensor's address as a sensor would: no cookie, no CSRF token."""
    sensor = Client(enforce_csrf_checks=True, raise_request_exception=True)

    def post(body: Any = AIR, kind: str = "application/json", **more: Any) -> Any:
        data = json.dumps(body) if isinstance(body, dict) else body
        return sensor.generic("POST", f"/readings/{token}", data, kind, **more)

    return post


def test_json_and_a_form_are_kept_alike(send: Callable[..., Any]) -> None:
    answer = send()
    assert (answer.status_code, answer.json()) == (200, {"status": "kept"})
    assert Reading.objects.get().at == NOW
    at = (NOW - timedelta(hours=1)).isoformat().replace("+", "%2B")
    form = f"temperature_c=17.5&humidity_pct=70&at={at}"
    assert send(form, FORM).json() == {"status": "kept"}
    assert Reading.objects.order_by("at").first().temperature_c == 17.5


def test_sent_again_it_is_there_already(send: Callable[..., Any]) -> None:
    body = AIR | {"at": "2026-10-12T06:30:00Z"}
    assert send(body).json() == {"status": "kept"}
    assert send(body).json() == {"status": "there already"}
    assert Reading.objects.count() == 1


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ({}, "temperature_c: Missing"),
        (AIR | {"temperature_c": "warm"}, 'temperature_c: "warm": give a number'),
        (AIR | {"temperature_c": True}, "temperature_c: true: give a number"),
        (AIR | {"temperature_c": [1]}, "temperature_c: [1]: give a number"),
        (AIR | {"temperature_c": "nan"}, "temperature_c: nan °C cannot be"),
        (AIR | {"temperature_c": 10**400}, "give a number"),
        (AIR | {"humidity_pct": 140}, "humidity_pct: 140 % cannot be"),
        (AIR | {"at": "2026-10-12T06:30"}, "give a moment with its offset"),
        (AIR | {"at": 7}, "give a moment with its offset"),
        (AIR | {"at": "9999-12-31T23:59Z"}, "give a moment with its offset"),
        (AIR | {"at": "2026-10-12T09:30Z"}, "still to come"),
        (AIR | {"at": "2026-08-12T09:30Z"}, "too old"),
        ("[]", "give an object"),
        ("{", "body: "),
        ("", "body: "),
        ('{"temperature_c": NaN}', "body: "),
        (b"\xff\xfe\x00", "body: "),
        ("[" * 3000, "body: "),
        ("x" * 5000, "give at most 4000"),
    ],
)
def test_what_is_no_reading_is_refused_in_words(
    send: Callable[..., Any], body: Any, says: str
) -> None:
    answer = send(body)
    assert answer.status_code == 422
    assert says in answer.json()["status"]
    assert not Reading.objects.exists()
    assert SensorLink.objects.get().trouble != ""
    send()
    assert SensorLink.objects.get().trouble == ""  # it sends sense again


@pytest.mark.parametrize(
    "kind", ["", "text/plain", "multipart/form-data", "multipart/form-data; boundary=x",
             f"{FORM}; charset=nonsense", f"{FORM}; charset=utf-16", "nonsense"],
)  # fmt: skip
def test_no_kind_of_body_breaks_it(send: Callable[..., Any], kind: str) -> None:
    for body in ("", "a=b", "--x\r\n\r\n", "\x00", "&" * 3000, "=&" * 1500):
        assert send(body, kind).status_code in (422, 429)


def test_a_flood_is_refused_and_keeps_nothing_more(send: Callable[..., Any]) -> None:
    for number in range(MOST_IN_WINDOW):
        send(AIR | {"at": (NOW - number * timedelta(minutes=15)).isoformat()})
    assert Reading.objects.count() == MOST_IN_WINDOW
    answer = send(AIR | {"at": (NOW - timedelta(days=3)).isoformat()})
    assert answer.status_code == 429
    assert answer.headers["Retry-After"] == "600"
    assert Reading.objects.count() == MOST_IN_WINDOW
    with time_machine.travel(NOW + timedelta(minutes=10), tick=False):
        assert send().status_code == 200


def test_an_address_that_is_off_or_another_links_keeps_nothing(
    send: Callable[..., Any], job: Job, client: Client
) -> None:
    revoke_sensor_link(link=SensorLink.objects.get(), at=NOW)
    assert send().status_code == 410
    _, feed = make_link(job=job, at=NOW)
    for other in (feed, "a" * 43):
        assert client.post(f"/readings/{other}", AIR).status_code == 404
    assert not Reading.objects.exists()


def test_a_sensors_token_opens_nothing_else(client: Client, token: str) -> None:
    assert client.get(f"/feeds/{token}.ics").status_code == 404
    assert client.get(f"/readings/{token}").status_code == 405


def test_a_database_that_cannot_be_written_asks_for_patience(
    send: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    def busy(**_: Any) -> None:
        raise OperationalError("database is locked")

    monkeypatch.setattr("jobs.views.sensor_posts.keep_sent", busy)
    answer = send()
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "60")
