"""The pages that copy: what they offer, what they keep of what was typed."""

from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.template.loader import render_to_string
from django.test import Client

from jobs.models import Company, Job, User
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import words

ROOM, RECIPE = "/jobs/job/rooms/room/copy/", "/jobs/job/recipes/recipe/copy/"
JOB = "/jobs/job/copy/"


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def leads(client: Client, lead: User, job: Job) -> Client:
    client.force_login(lead)
    return client


def test_a_room_is_copied_by_a_name_and_a_press(leads: Client, job: Job) -> None:
    page = leads.get(ROOM).content.decode()
    assert 'value="room 2"' in page
    answer = leads.post(ROOM, {"name": "  Snug "}, follow=True)
    assert "Snug is in with 1 surface." in words(answer.content.decode())
    assert job.rooms.get(key="snug").name == "Snug"


def test_a_second_press_says_that_it_is_in_already(leads: Client, job: Job) -> None:
    leads.post(ROOM, {"name": "Snug"})
    answer = leads.post(ROOM, {"name": "Snug"})
    assert answer.status_code == 422
    said = answer.content.decode()
    assert "&quot;Snug&quot;: a room is called so already; give another name." in said
    assert 'value="Snug"' in said
    assert job.rooms.count() == 2


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("", "Empty: give a value."),
        ("two\nlines", "give text of 1 to 200 characters on a line."),
        ("x" * 201, "at most 200 characters"),
    ],
)
def test_a_name_that_cannot_be_is_refused_in_words(
    leads: Client, job: Job, name: str, why: str
) -> None:
    answer = leads.post(ROOM, {"name": name})
    assert answer.status_code == 422
    assert why in words(answer.content.decode())
    assert job.rooms.count() == 1


def test_a_recipe_is_copied_and_shown(leads: Client, job: Job) -> None:
    answer = leads.post(RECIPE, {"name": "With a seal"}, follow=True)
    assert answer.redirect_chain[-1][0] == "/jobs/job/recipes/with-a-seal/"
    assert "With a seal is in. It is on no surface yet." in words(
        answer.content.decode()
    )


def test_a_job_is_copied_from_a_day_on(
    leads: Client, job: Job, company: Company
) -> None:
    page = leads.get(JOB).content.decode()
    assert 'value="2026-10-12"' in page
    given = {"title": "Two walls", "first_day": "2026-10-12", "start": "2027-03-01"}
    answer = leads.post(JOB, given)
    assert answer["Location"] == "/jobs/two-walls/week/"
    assert company.jobs.get(key="two-walls").title == "Two walls"


@pytest.mark.parametrize("day", ["", "soon", "2026-02-30", "0001-01-01", "9999-12-31"])
def test_a_day_that_cannot_be_is_refused_and_kept(
    leads: Client, job: Job, company: Company, day: str
) -> None:
    given = {"title": "Two walls", "first_day": "2026-10-12", "start": day}
    answer = leads.post(JOB, given)
    assert answer.status_code == 422
    assert f'value="{day}"' in answer.content.decode() or not day
    assert company.jobs.count() == 1


def test_copying_is_found_from_the_lists_by_leads_alone(
    leads: Client, hand: User
) -> None:
    places = (("/", JOB), ("/jobs/job/recipes/", RECIPE))
    for page, copy in places:
        assert f'href="{copy}"' in leads.get(page).content.decode()
    leads.force_login(hand)
    for page, copy in places:
        assert f'href="{copy}"' not in leads.get(page).content.decode()


def test_the_button_of_a_room_leads_to_its_copy(job: Job) -> None:
    room = job.rooms.get()
    button = render_to_string("copying/room_button.html", {"job": job, "room": room})
    assert f'href="{ROOM}"' in button


def test_a_room_of_another_job_is_not_found(
    leads: Client, stored: Callable[..., Job]
) -> None:
    stored(id="other")
    assert leads.get("/jobs/job/rooms/nowhere/copy/").status_code == 404
