"""The pages of sensors and loggers, and what Now says of them."""

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.factories import RecipeFactory, RoomFactory, SurfaceFactory
from jobs.models import Job, Reading, SensorLink, User
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import words

HERE = "/jobs/job/sensors/"


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def page(client: Client, lead: User, job: Job) -> Client:
    client.force_login(lead)
    return client


def test_an_address_is_shown_once_works_and_can_be_switched_off(page: Client) -> None:
    made = page.post(f"{HERE}room/make/")
    address = made.context["made"]["address"]
    assert address in made.content.decode()
    assert made.headers["Cache-Control"].count("no-store") == 1
    assert address not in page.get(HERE).content.decode()
    path = address.removeprefix("http://localhost:8000")
    air = {"temperature_c": "18", "humidity_pct": "60"}
    assert Client().post(path, air).status_code == 200
    assert "last heard Mon 07:30" in words(page.get(HERE).content.decode())
    page.post(f"{HERE}room/off/")
    assert Client().post(path, air).status_code == 410
    assert "No sensor" in words(page.get(HERE).content.decode())


def test_now_says_what_a_sensor_sent_amiss(page: Client) -> None:
    address = page.post(f"{HERE}room/make/").context["made"]["address"]
    path = address.removeprefix("http://localhost:8000")
    Client().post(path, {"temperature_c": "18", "humidity_pct": "140"})
    seen = words(page.get("/jobs/job/").content.decode())
    assert "The sensor in room sent what cannot be, Mon 07:30" in seen
    assert "humidity: 140 % cannot be" in seen


def csv(first: int = 0, count: int = 8) -> str:
    lines = [
        f"2026-10-12T0{1 + n // 4}:{n % 4 * 15:02}:00Z,{18 + n / 10:g},60"
        for n in range(first, first + count)
    ]
    return "\n".join(["Time,Temp C,RH", *lines])


def test_a_loggers_file_is_looked_at_and_then_kept(page: Client) -> None:
    file = SimpleUploadedFile("hall.csv", csv().encode())
    shown = page.post(f"{HERE}file/", {"room": "room", "file": file})
    assert shown.status_code == 200
    seen = words(shown.content.decode())
    assert "room: 8 readings" in seen
    assert "18.0 to 18.7 °C" in seen
    assert not Reading.objects.exists()
    # The file is in the text now: a browser does not send it twice.
    text = shown.context["form"]["text"].value()
    again = {"room": "room", "text": text, "keep": "yes"}
    assert page.post(f"{HERE}file/", again).url == HERE
    assert Reading.objects.filter(via="file").count() == 8
    assert "8 readings from files" in words(page.get(HERE).content.decode())
    more = {"room": "room", "text": csv(count=10), "keep": "yes"}
    answer = page.post(f"{HERE}file/", more, follow=True)
    assert "Kept: 2 readings of room. 8 were there already." in words(
        answer.content.decode()
    )
    page.post(f"{HERE}room/take-back/")
    assert not Reading.objects.exists()


def test_a_hand_brings_files_in_and_makes_no_addresses(
    client: Client, hand: User, job: Job
) -> None:
    client.force_login(hand)
    given = {"room": "room", "text": csv(), "keep": "yes"}
    assert client.post(f"{HERE}file/", given).status_code == 302
    assert client.post(f"{HERE}room/make/").status_code == 403
    assert not SensorLink.objects.exists()


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"room": "attic"}, "room"),
        ({"text": "Time,Temp C,RH\n2026-10-12T19:00Z,18,60"}, "text"),
        ({"text": "Time,Temp C,RH\n2026-10-12T05:00Z,180,60"}, "text"),
        ({"text": "Time,Temp C,RH\n2026-10-12 05:00,18,60"}, "clock"),
        ({"text": ""}, "file"),
    ],
)
def test_a_file_that_cannot_be_is_refused_and_its_text_is_kept(
    page: Client, given: dict[str, str], field: str
) -> None:
    posted = {"room": "room", "text": csv(), "keep": "yes"} | given
    answer = page.post(f"{HERE}file/", posted)
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert answer.context["form"]["text"].value() == posted["text"]
    assert not Reading.objects.exists()


def test_now_and_the_list_ask_as_often_for_many_rooms_as_for_few(
    page: Client, stored: Any
) -> None:
    def asked(key: str) -> list[int]:
        counts = []
        for path in (f"/jobs/{key}/", f"/jobs/{key}/sensors/"):
            with CaptureQueriesContext(connection) as queries:
                assert page.get(path).status_code == 200
            counts.append(len(queries))
        return counts

    for key, count in (("few", 2), ("many", 30)):
        names = [f"r{n}" for n in range(count)]
        row = stored(
            id=key,
            rooms=tuple(RoomFactory(id=name) for name in names),
            recipes=(RecipeFactory(id="recipe"),),
            surfaces=tuple(
                SurfaceFactory(id=name, room=name, recipe="recipe") for name in names
            ),
        )
        for room in row.rooms.all():
            page.post(f"/jobs/{key}/sensors/{room.key}/make/")
            Reading.objects.create(
                job=row, room=room, at=NOW - timedelta(hours=1), temperature_c=18,
                humidity_pct=60, via="sensor",
            )  # fmt: skip
    page.get("/jobs/few/")
    assert asked("many") == asked("few")
