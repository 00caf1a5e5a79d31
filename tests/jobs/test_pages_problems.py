"""A problem at a wall: said once, shown on Now, gone when somebody has seen to it."""

from uuid import uuid4

import pytest
from django.test import Client

from jobs.models import Job, Tap, User
from jobs.problems import see_to
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import words

PAGE = "/jobs/job/problem/?surface=wall"


def say(client: Client, problem: str = "runs", key: object = None) -> int:
    posted = {"problem": problem, "key": str(key or uuid4())}
    return client.post(PAGE, posted).status_code


def now_says(client: Client) -> str:
    return words(client.get("/jobs/job/").content.decode())


@pytest.fixture
def at_wall(job: Job, hand: User, client: Client) -> Client:
    client.force_login(hand)
    return client


def test_a_problem_stands_on_now_with_who_said_it(at_wall: Client, hand: User) -> None:
    assert 'href="/jobs/job/problem/?surface=wall"' in (
        at_wall.get("/jobs/job/").content.decode()
    )
    assert say(at_wall) == 302
    tap = Tap.objects.get()
    assert (tap.by, tap.problem, tap.surface_key) == (hand, "runs", "wall")
    said = now_says(at_wall)
    assert tap.said in said
    assert (hand.name or hand.email) in said


def test_pressed_twice_it_is_said_once(at_wall: Client) -> None:
    key = uuid4()
    assert (say(at_wall, key=key), say(at_wall, key=key)) == (302, 302)
    assert Tap.objects.count() == 1
    assert say(at_wall) == 302  # another time it is another problem
    assert Tap.objects.count() == 2


def test_seen_to_it_leaves_the_page_and_stays_in_the_records(at_wall: Client) -> None:
    say(at_wall)
    tap = Tap.objects.get()
    answer = at_wall.post(f"/jobs/job/problem/{tap.pk}/seen-to/", follow=True)
    assert f"Seen to: {tap.said}" in words(answer.content.decode())
    assert "Said at the walls" not in now_says(at_wall)
    tap.refresh_from_db()
    assert tap.seen_to_at is not None
    again = at_wall.post(f"/jobs/job/problem/{tap.pk}/seen-to/", follow=True)
    assert "Somebody had seen to it already" in words(again.content.decode())
    assert not see_to(tap=tap, now=NOW)


@pytest.mark.parametrize(
    ("problem", "key"), [("", uuid4()), ("flood", uuid4()), ("runs", "no-key")]
)
def test_what_is_none_of_the_problems_is_refused_and_nothing_kept(
    at_wall: Client, problem: str, key: object
) -> None:
    answer = at_wall.post(PAGE, {"problem": problem, "key": str(key)})
    assert answer.status_code == 422
    assert "Nothing was kept" in words(answer.content.decode())
    assert not Tap.objects.exists()


def test_without_a_surface_it_asks_for_one(at_wall: Client) -> None:
    html = at_wall.get("/jobs/job/problem/").content.decode()
    assert 'href="/jobs/job/problem/?surface=wall"' in html


def test_who_leaves_the_company_leaves_what_was_said(
    at_wall: Client, hand: User
) -> None:
    say(at_wall)
    hand.delete()
    assert Tap.objects.get().by is None
