"""The forms of the wall: coats, tests and readings, and what they refuse."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from jobs.factories import SurfaceFactory
from jobs.models import CoatTest, Job, User
from tests.jobs.conftest import NOW


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW + timedelta(seconds=20), tick=False):
        yield


@pytest.fixture
def send(client: Client, hand: User, job: Job) -> Callable[..., Any]:
    """Posts a form of the small job as a hand."""
    client.force_login(hand)

    def post(path: str, **values: str) -> Any:
        return client.post(f"/jobs/job/{path}", values)

    return post


def test_a_coat_begins_as_if_it_ended_now_and_took_what_was_reckoned(
    job: Job, hand: User, client: Client
) -> None:
    client.force_login(hand)
    form = client.get("/jobs/job/coat/?surface=wall").context["form"]
    assert form["step"].value() == "coat-1"
    # 12.5 m2 at 4 minutes by one hand.
    assert form["start"].value() == "2026-10-12T06:40"
    assert form["end"].value() == "2026-10-12T07:30"


def test_a_coat_is_logged_by_the_sites_clock(
    job: Job, hand: User, send: Callable[..., Any]
) -> None:
    answer = send(
        "coat/?surface=wall",
        step="coat-1",
        start="2026-10-12T06:40",
        end="2026-10-12T07:30",
    )
    assert answer.url == "/jobs/job/"
    coat = job.coats.get()
    assert (coat.end, coat.logged_by) == (NOW, hand)


def test_the_next_step_is_offered_after_the_first(
    job: Job, send: Callable[..., Any], client: Client
) -> None:
    send("coat/?surface=wall", step="coat-1", start="2026-10-12T05:00",
         end="2026-10-12T06:00")  # fmt: skip
    form = client.get("/jobs/job/coat/?surface=wall").context["form"]
    assert form["step"].value() == "coat-2"


@pytest.mark.parametrize(
    ("changes", "field", "said"),
    [
        ({"end": "2026-10-12T09:00"}, "end", "still to come"),
        ({"start": "2026-10-13T06:00"}, "start", "Tue 13 Oct 06:00 is still to come"),
        (
            {"end": "2026-10-12T05:00"},
            "end",
            "Mon 12 Oct 05:00 is before the start: give Mon 12 Oct 06:40 or later",
        ),
        ({"start": ""}, "start", "Empty"),
        ({"start": "yesterday"}, "start", '"yesterday"'),
        ({"start": "0001-01-01T00:00"}, "start", "a year from 2001 to 2198"),
        ({"start": "9999-12-31T23:59"}, "start", "a year from 2001 to 2198"),
        ({"start": "2026-03-29T01:30"}, "start", "clocks go forward"),
        ({"step": "coat-9"}, "step", "coat-9 is not here: give one of coat-1, coat-2"),
        ({"step": "\x00"}, "step", "is not here"),
        ({"step": "x" * 9000}, "step", "is not here"),
    ],
)
def test_a_coat_that_cannot_be_is_refused_beside_its_field(
    changes: dict[str, str],
    field: str,
    said: str,
    job: Job,
    send: Callable[..., Any],
) -> None:
    values = {"step": "coat-1", "start": "2026-10-12T06:40", "end": "2026-10-12T07:30"}
    answer = send("coat/?surface=wall", **(values | changes))
    assert answer.status_code == 422
    form = answer.context["form"]
    assert said in " ".join(form.errors[field])
    assert form["start"].value() == (values | changes)["start"]  # nothing typed is lost
    assert not job.coats.exists()


def test_a_coat_logged_twice_says_to_undo_the_first(
    job: Job, send: Callable[..., Any]
) -> None:
    values = {"step": "coat-1", "start": "2026-10-12T06:40", "end": "2026-10-12T07:30"}
    send("coat/?surface=wall", **values)
    answer = send("coat/?surface=wall", **values)
    assert answer.status_code == 422
    assert "logged already" in str(answer.context["form"].errors["step"])


def test_a_part_between_stop_lines_can_be_logged_alone(
    stored: Callable[..., Job], hand: User, client: Client
) -> None:
    client.force_login(hand)
    job = stored(surfaces=(SurfaceFactory(id="wall", stop_lines_m=(2.0,)),))
    client.post(
        "/jobs/job/coat/?surface=wall",
        {"step": "coat-1", "section": "2", "start": "2026-10-12T06:40",
         "end": "2026-10-12T07:30"},
    )  # fmt: skip
    assert job.coats.get().section == "2"


@pytest.mark.parametrize("surface", ["nowhere", "x" * 3000, "é", "' OR 1=1"])
@pytest.mark.parametrize("page", ["coat", "test"])
def test_a_surface_that_is_not_there_is_not_found(
    page: str, surface: str, job: Job, hand: User, client: Client
) -> None:
    client.force_login(hand)
    answer = client.get(f"/jobs/job/{page}/", {"surface": surface})
    assert answer.status_code == 404


def test_a_null_in_an_address_is_not_found(
    job: Job, hand: User, client: Client
) -> None:
    client.force_login(hand)
    assert client.get("/jobs/job/coat/", {"surface": "\x00"}).status_code == 404


@pytest.mark.parametrize("result", CoatTest.Result.values)
def test_a_test_is_logged_and_stands_on_now(
    result: str, job: Job, send: Callable[..., Any], client: Client
) -> None:
    send("test/?surface=wall", step="coat-1", result=result, at="2026-10-12T07:30")
    assert job.coat_tests.get().result == result
    assert "Tested Mon 07:30:" in client.get("/jobs/job/").content.decode()


def test_a_test_without_a_result_says_what_may_be_chosen(
    job: Job, send: Callable[..., Any]
) -> None:
    answer = send("test/?surface=wall", step="coat-1", at="2026-10-12T07:30")
    assert answer.status_code == 422
    assert "give one of ready, not yet" in str(answer.context["form"].errors["result"])


def test_a_reading_in_fahrenheit_is_kept_in_celsius(
    job: Job, hand: User, send: Callable[..., Any]
) -> None:
    hand.units = User.Units.US
    hand.save()
    send("reading/", room="room", temperature_c="68", humidity_pct="78,5",
         surface_c="59", at="2026-10-12T07:30")  # fmt: skip
    reading = job.readings.get()
    assert reading.temperature_c == pytest.approx(20)
    assert reading.surface_c == pytest.approx(15)
    assert reading.humidity_pct == 78.5


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("temperature_c", "700", "700 °C cannot be: give a number from -60 to 70 °C."),
        ("temperature_c", "1e5", '"1e5": give a number from -60 to 70 °C.'),
        ("temperature_c", "", "Empty: give a value."),
        ("temperature_c", "NaN", '"NaN": give a number'),
        ("humidity_pct", "-1", "-1 % cannot be: give a number from 0 to 100 %."),
        ("humidity_pct", "9" * 4000, "at most 60 characters"),
        ("surface_c", "🧱", "give a number"),
        ("room", "attic", "attic is not here: give one of room."),
        ("at", "2026-10-13T07:30", "still to come"),
        ("at", "2026-02-30T07:30", "give a day and a time"),
        ("temperature_c", "2\x000", "Null characters"),
    ],
)
def test_a_reading_that_cannot_be_is_refused_and_kept(
    field: str, typed: str, said: str, job: Job, send: Callable[..., Any]
) -> None:
    values = {"room": "room", "temperature_c": "20", "humidity_pct": "78",
              "surface_c": "", "at": "2026-10-12T07:30"}  # fmt: skip
    answer = send("reading/", **(values | {field: typed}))
    assert answer.status_code == 422
    form = answer.context["form"]
    assert said in " ".join(form.errors[field])
    assert form[field].value() == typed
    assert not job.readings.exists()


def test_a_form_with_nothing_in_it_is_refused_field_by_field(
    job: Job, send: Callable[..., Any]
) -> None:
    for path in ("coat/?surface=wall", "test/?surface=wall", "reading/"):
        answer = send(path)
        assert answer.status_code == 422
        assert len(answer.context["form"].errors) >= 3


@pytest.mark.parametrize("surface", ["\x00", "wall\x00", "nowhere", "x" * 9000])
@pytest.mark.parametrize("page", ["coat", "test"])
def test_a_surface_that_cannot_be_is_not_found(
    page: str, surface: str, job: Job, hand: User, client: Client
) -> None:
    client.force_login(hand)
    answer = client.get(f"/jobs/job/{page}/", {"surface": surface})
    assert answer.status_code == 404
