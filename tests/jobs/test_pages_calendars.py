"""Calendar addresses: made, shown once, switched off."""

import re
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.test import Client

from jobs.models import Job, User
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import words


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def page(client: Client, lead: User) -> Callable[..., str]:
    """Gets a page of the small job as the lead."""
    client.force_login(lead)

    def get(path: str = "", status: int = 200, **query: str) -> str:
        answer = client.get(f"/jobs/job/{path}", query)
        assert answer.status_code == status
        return answer.content.decode()

    return get


def test_an_address_is_shown_once_with_its_square(
    job: Job, client: Client, lead: User
) -> None:
    client.force_login(lead)
    made = client.post("/jobs/job/calendars/make/", {"hand": "hand"})
    assert re.search(r"/feeds/[\w-]{43}\.ics", made.content.decode())
    assert "<path" in made.content.decode()
    assert "no-store" in made.headers["Cache-Control"]
    later = client.get("/jobs/job/calendars/").content.decode()
    assert "/feeds/" not in later
    assert "Address made Mon 07:30, not used yet" in words(later)


def test_an_address_on_this_machine_alone_is_warned_about(
    job: Job, page: Callable[..., str], settings: Any
) -> None:
    assert "Other machines cannot reach these addresses" in page("calendars/")
    settings.SITE_URL = "https://finish.example"
    assert "Other machines cannot reach" not in page("calendars/")


def test_an_address_switched_off_stays_off(
    job: Job, client: Client, lead: User
) -> None:
    client.force_login(lead)
    client.post("/jobs/job/calendars/make/", {"room": "room"})
    link = job.feed_links.get()
    client.post(f"/jobs/job/calendars/{link.pk}/off/")
    link.refresh_from_db()
    assert not link.is_live


def test_a_hands_walls_are_shown_once_with_their_square(
    job: Job, client: Client, lead: User
) -> None:
    client.force_login(lead)
    wanted = {"purpose": "walls", "hand": "hand"}
    made = client.post("/jobs/job/calendars/make/", wanted).content.decode()
    address = re.search(r"http://localhost:8000(/walls/[\w-]{43}/)", made)
    assert address
    assert "<path" in made
    assert "Open in a calendar" not in made
    assert client.get(address[1]).status_code == 200
    assert "/walls/" not in client.get("/jobs/job/calendars/").content.decode()


@pytest.mark.parametrize(
    "wanted",
    [{"purpose": "walls"}, {"purpose": "x"}, {"purpose": "walls", "room": "room"}],
)
def test_a_link_of_a_kind_for_nobody_is_refused(
    wanted: dict[str, str], job: Job, client: Client, lead: User
) -> None:
    client.force_login(lead)
    answer = client.post("/jobs/job/calendars/make/", wanted, follow=True)
    assert answer.status_code == 200
    assert not job.feed_links.exists()


@pytest.mark.parametrize("hand", ["nobody", "x" * 5000, "\x00", "é"])
def test_an_address_for_nobody_is_refused(
    hand: str, job: Job, client: Client, lead: User
) -> None:
    client.force_login(lead)
    answer = client.post("/jobs/job/calendars/make/", {"hand": hand}, follow=True)
    assert answer.status_code == 200
    assert not job.feed_links.exists()
