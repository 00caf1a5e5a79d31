"""A stint held, moved or forbidden through its page; kept, listed, taken off."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.test import Client

from jobs.actions import issue_plan
from jobs.factories import HandFactory, small_job
from jobs.holding import keep_ban, keep_pin
from jobs.models import Ban, Job, Pin, User
from jobs.translation import job_value, store_plan
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import at, plan_value, words

PATH = "/jobs/job/week/stint/wall-coat-1/"


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def job(stored: Callable[..., Job]) -> Job:
    """The small job with a second hand, and a plan with one stint."""
    value = small_job()
    hands = (*value.hands, HandFactory(id="second", name="Second"))
    row = stored(replace(value, hands=hands))
    planned = job_value(row)
    store_plan(row, plan_value(planned), planned=planned, planned_at=NOW)
    return row


@pytest.fixture
def post(client: Client, lead: User, job: Job) -> Callable[..., HttpResponse]:
    client.force_login(lead)

    def send(**given: Any) -> HttpResponse:
        return client.post(PATH, given)

    return send


def said(answer: HttpResponse) -> str:
    return words(answer.content.decode())


def test_the_week_leads_to_a_stint_from_the_drawing_and_the_table(
    job: Job, client: Client, lead: User, hand: User
) -> None:
    client.force_login(lead)
    html = client.get("/jobs/job/week/").content.decode()
    assert html.count(f'href="{PATH}"') == 2
    page = said(client.get(PATH))
    assert "Mon 12 Oct, 09:00 to 10:00" in page
    client.force_login(hand)
    assert PATH not in client.get("/jobs/job/week/").content.decode()


def test_a_move_says_what_breaks_and_keeps_nothing_yet(
    post: Callable[..., HttpResponse],
) -> None:
    answer = post(what="move", start="2026-10-12T06:00", hands="hand")
    page = said(answer)
    assert answer.status_code == 422
    assert "is past" in page
    page = said(post(what="move", start="2026-10-17T09:00", hands="hand"))  # Saturday
    assert "No plan could keep this" in page
    assert "across a break it may not cross" in page
    assert "Keep it all the same" in page
    page = said(post(what="move", start="2026-10-13T09:00", hands="hand"))
    assert "Nothing breaks" in page
    assert Pin.objects.count() == 0


def test_a_move_that_is_kept_is_listed_and_comes_off_again(
    job: Job, client: Client, post: Callable[..., HttpResponse]
) -> None:
    with time_machine.travel(NOW + timedelta(minutes=1), tick=False):
        post(what="move", start="2026-10-13T09:00", hands="second", keep="yes")
    (pin,) = job_value(job).pins
    assert (pin.start, pin.hands) == (at(1, 9), ("second",))
    page = said(client.get("/jobs/job/week/"))
    assert "held Tue 13 Oct 09:00 with Second" in page
    assert "Plan again." in page
    client.post(f"/jobs/job/week/pins/{Pin.objects.get().pk}/off/")
    assert job_value(job).pins == ()
    assert "held Tue" not in said(client.get("/jobs/job/week/"))


def test_what_breaks_nothing_is_held_at_once_where_it_is(
    job: Job, post: Callable[..., HttpResponse]
) -> None:
    assert post(what="hold").status_code == 302
    (pin,) = job_value(job).pins
    assert (pin.start, pin.hands) == (at(0, 9), ("hand",))


def test_a_second_pin_takes_the_place_of_the_first(
    job: Job, post: Callable[..., HttpResponse]
) -> None:
    post(what="hold")
    post(what="move", start="2026-10-13T09:00", hands="hand", keep="yes")
    (pin,) = job_value(job).pins
    assert pin.start == at(1, 9)


def test_a_time_and_hands_are_forbidden_and_what_that_moves_is_said(
    job: Job, client: Client, post: Callable[..., HttpResponse]
) -> None:
    span = {"start": "2026-10-12T00:00", "end": "2026-10-13T00:00"}
    page = said(post(what="time", **span))
    assert "it is forbidden then" in page
    assert "the next plan moves it" in page
    post(what="time", keep="yes", **span)
    page = said(post(what="hands", hands=["hand", "second"]))
    assert "too few may do it" in page
    post(what="hands", hands="second", keep="yes")
    bans = job_value(job).bans
    assert [ban.hands for ban in bans] == [(), ("second",)]
    assert (bans[0].start, bans[0].end) == (at(0, 0), at(1, 0))
    page = said(client.get("/jobs/job/week/"))
    assert "not from Mon 12 Oct 00:00 to Tue 13 Oct 00:00" in page
    assert "not by Second" in page
    client.post(f"/jobs/job/week/bans/{Ban.objects.first().pk}/off/")
    assert len(job_value(job).bans) == 1


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"what": "move", "start": "x", "hands": "hand"}, "a day and a time"),
        ({"what": "move", "start": "", "hands": "hand"}, "Empty: give a value"),
        ({"what": "move", "start": "2026-10-13T09:00"}, "Nobody chosen"),
        (
            {"what": "move", "start": "2026-10-13T09:00", "hands": ["hand", "second"]},
            "2 chosen: the step takes 1",
        ),
        ({"what": "hands", "hands": "nobody"}, "nobody is not here"),
        (
            {"what": "time", "start": "2026-10-14T00:00", "end": "2026-10-13T00:00"},
            "is not after the start",
        ),
        (
            {"what": "time", "start": "2026-10-01T00:00", "end": "2026-10-02T00:00"},
            "is past",
        ),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(
    given: dict[str, Any], told: str, post: Callable[..., HttpResponse]
) -> None:
    answer = post(**given)
    assert answer.status_code == 422
    assert told in said(answer)


@pytest.mark.parametrize("what", ["", "x", "\x00", "keep"])
def test_an_odd_wish_changes_nothing(
    what: str, job: Job, post: Callable[..., HttpResponse]
) -> None:
    assert post(what=what, keep="yes").status_code == 200
    assert job_value(job).pins == job_value(job).bans == ()


def test_a_stint_that_the_plan_does_not_have_is_not_found(
    job: Job, client: Client, lead: User
) -> None:
    client.force_login(lead)
    assert client.get("/jobs/job/week/stint/nothing/").status_code == 404


def test_pins_and_bans_of_another_job_are_not_found(
    job: Job, stored: Callable[..., Job], client: Client, lead: User
) -> None:
    other = stored(id="other")
    wall = other.surfaces.get()
    pin = keep_pin(
        job=other, surface=wall, step=wall.recipe.steps.first(), section="",
        start=at(1, 9), hands=(), now=NOW,
    )  # fmt: skip
    client.force_login(lead)
    assert client.post(f"/jobs/job/week/pins/{pin.pk}/off/").status_code == 404


def test_actions_refuse_what_no_form_would_send(job: Job) -> None:
    wall = job.surfaces.get()
    shared = {
        "job": job, "surface": wall, "step": wall.recipe.steps.first(),
        "section": "", "now": NOW,
    }  # fmt: skip
    with pytest.raises(ValidationError, match="to come"):
        keep_pin(start=NOW - timedelta(hours=1), hands=(), **shared)
    with pytest.raises(ValidationError, match="ghost"):
        keep_pin(start=at(1, 9), hands=("ghost",), **shared)
    with pytest.raises(ValidationError, match="either"):
        keep_ban(**shared)
    with pytest.raises(ValidationError, match="either"):
        keep_ban(hands=("hand",), start=at(1, 9), end=at(1, 10), **shared)
    with pytest.raises(ValidationError, match="later"):
        keep_ban(start=at(1, 9), end=at(1, 9), **shared)
    first = keep_ban(hands=("hand",), **shared)
    assert keep_ban(hands=("hand",), **shared) == first


def test_a_hand_whom_another_job_has_then_is_in_the_way(
    job: Job,
    stored: Callable[..., Job],
    lead: User,
    post: Callable[..., HttpResponse],
) -> None:
    other = stored(id="other")
    value = job_value(other)
    (first,) = plan_value(value).stints
    there = replace(first, start=at(1, 9), end=at(1, 10))
    plan = plan_value(value, stints=(there,), finish=at(1, 10))
    row = store_plan(other, plan, planned=value, planned_at=NOW)
    issue_plan(plan=row, by=lead, now=NOW)
    page = said(post(what="move", start="2026-10-13T09:00", hands="hand"))
    assert "not all of its hands are there all that time" in page
    page = said(post(what="move", start="2026-10-13T09:00", hands="second"))
    assert "Nothing breaks" in page
