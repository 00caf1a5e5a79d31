"""Closing up: what is left, ticked by name for the day, and the morning's tests."""

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.actions import issue_plan, log_coat, log_test
from jobs.factories import (
    CoatFactory,
    MaterialFactory,
    RecipeFactory,
    StepFactory,
    SurfaceFactory,
    small_job,
)
from jobs.models import ClosingTick, Company, Job, User
from jobs.translation import job_value, store_job, store_plan
from scheduling.problem import Rescue
from tests.jobs import page_cast
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import at, plan_value

EVENING = at(0, 16.25)


def words(html: str) -> str:
    """What a page says; a bold figure's sentence goes on as it is written."""
    return re.sub(r" ([.,:;])", r"\1", page_cast.words(html))


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(EVENING, tick=False):
        yield


@pytest.fixture
def oil_job(company: Company) -> Job:
    """An oil glaze laid at three, with a window that shuts at ten at night."""
    oil = MaterialFactory(
        id="material",
        name="Oil glaze",
        family="oil",
        labels={"open": 40.0, "touch": 120.0, "recoat": 300.0, "window": 420.0},
        oily=True,
        solvent=True,
    )
    steps = (
        StepFactory(id="coat-1", name="Glaze"),
        StepFactory(id="coat-2", name="Varnish", rescue=Rescue(min_m2=1.0)),
    )
    coat = CoatFactory(start=at(0, 14), end=at(0, 15))
    return store_job(
        company,
        small_job(
            materials=(oil,),
            recipes=(RecipeFactory(id="recipe", steps=steps),),
            coats=(coat,),
        ),
    )


@pytest.fixture
def page(client: Client, hand: User) -> Callable[..., str]:
    """The page as a hand sees it."""
    client.force_login(hand)

    def get(status: int = 200, **query: str) -> str:
        answer = client.get("/jobs/job/closing-up/", query)
        assert answer.status_code == status
        return answer.content.decode()

    return get


@pytest.fixture
def post(client: Client, page: Callable[..., str]) -> Callable[..., str]:
    def send(verb: str, item: str) -> str:
        answer = client.post(
            f"/jobs/job/closing-up/{verb}/", {"item": item}, follow=True
        )
        assert answer.status_code == 200
        return words(answer.content.decode())

    return send


def test_a_wet_edge_says_until_when_and_whose_door_stays_shut(oil_job, page) -> None:
    said = words(page())
    assert "room, wall: wet until 17:00 Glaze." in said
    assert "room: door shut, a sign on it, no one through until then." in said


def test_a_window_that_shuts_overnight_names_the_hour_and_the_rescue(
    oil_job, page
) -> None:
    said = words(page())
    assert "room, wall: Varnish by 22:00" in said
    assert "Do it from 20:00, about 50 min, or plan the rescue." in said
    assert "Its rescue takes about 12 min first; plan again for it." in said


def test_rags_are_asked_for_only_where_oil_was_used_today(oil_job, page, client):
    assert "Oily rags out" in words(page())
    assert "Oily rags heat themselves and burn" in words(page())
    assert "29 CFR 1926.252(e); local codes and licensed" in words(page())
    with time_machine.travel(EVENING + timedelta(days=1), tick=False):
        said = words(page())
    assert "Oily rags" not in said
    assert "Solvents" not in said
    assert "Smoke detectors uncovered, back on and tried" in said


def test_a_room_is_told_how_it_is_left_and_what_a_timer_may_do(oil_job, page) -> None:
    said = words(page())
    assert "room: fans off, windows shut" not in said  # set by half past three
    assert "room: fans off, windows ajar" in said
    assert "Ajar only where no rain and nobody comes in; else shut." in said


def test_a_job_with_nothing_on_it_still_has_lids_and_detectors(job, page) -> None:
    said = words(page())
    assert "0 of 3 ticked off." in said
    assert "Still wet" not in said


def test_the_day_is_ticked_off_by_name_and_taken_back(oil_job, post, hand) -> None:
    said = post("tick", "lids")
    assert f"Ticked off 16:15 by {hand}." in said
    row = ClosingTick.objects.get()
    assert (row.item, row.ticked_by, row.day) == ("lids", hand, EVENING.date())
    assert "Ticked off 16:15" not in post("untick", "lids")
    assert not ClosingTick.objects.exists()


def test_whoever_was_first_stays_the_one(oil_job, client, lead, post, hand) -> None:
    post("tick", "lids")
    client.force_login(lead)
    with time_machine.travel(EVENING + timedelta(minutes=5), tick=False):
        answer = client.post(
            "/jobs/job/closing-up/tick/", {"item": "lids"}, follow=True
        )
    assert f"Ticked off already by {hand}, 16:15" in words(answer.content.decode())
    assert ClosingTick.objects.get().ticked_by == hand


def test_a_new_day_starts_fresh_and_the_old_one_is_kept(oil_job, page, post) -> None:
    post("tick", "lids")
    with time_machine.travel(EVENING + timedelta(days=1), tick=False):
        assert "Ticked off" not in words(page())
        assert "?day=2026-10-12" in page()
        said = words(page(day="2026-10-12"))
    assert "Lids on tight, every tin and mix labelled 16:15, hand@example.com" in said


@pytest.mark.parametrize("day", ["", "x", "2026-02-30", "2026-10", "\x00", "9" * 99])
def test_a_day_that_is_none_is_not_found(oil_job, page, day) -> None:
    page(status=404, day=day)


def test_a_day_without_ticks_says_so(oil_job, page) -> None:
    assert "Nothing was ticked off on this day." in words(page(day="1999-01-01"))


@pytest.mark.parametrize("item", ["", "nothing", "lids\x00", "9" * 500, "wet-wall"])
def test_what_is_not_on_the_list_cannot_be_ticked(oil_job, post, item) -> None:
    assert "Nothing was ticked: the list has changed since." in post("tick", item)
    assert "That was not ticked off any more." in post("untick", item)
    assert not ClosingTick.objects.exists()


def test_lids_are_asked_for_again_after_another_coat(oil_job, post, page, lead) -> None:
    post("tick", "lids")
    later = EVENING + timedelta(hours=6)
    with time_machine.travel(later, tick=False):
        surface = oil_job.surfaces.get()
        log_coat(
            job=oil_job, surface=surface, step=surface.recipe.steps.get(key="coat-2"),
            start=later - timedelta(hours=1), end=later, by=lead, now=later,
        )  # fmt: skip
        said = words(page())
        assert "Ticked off 16:15 by hand@example.com, before the last coat" in said
        assert "Ticked off 22:15 by" in post("tick", "lids")
    assert ClosingTick.objects.get().ticked_at == later


def test_a_tick_whose_thing_is_gone_is_still_shown(oil_job, post, page) -> None:
    post("tick", "wet-wall-coat-1-")
    with time_machine.travel(EVENING + timedelta(hours=2), tick=False):
        said = words(page())
    assert "Ticked off today, not on the list any more" in said
    assert "wet until 17:00: 16:15, hand@example.com." in said


def test_work_of_the_plan_that_is_not_logged_is_named_first(job, page, lead) -> None:
    value = job_value(job)
    plan = store_plan(job, plan_value(value), planned=value, planned_at=NOW)
    assert "not logged" not in words(page())
    issue_plan(plan=plan, by=lead, now=NOW)
    said = words(page())
    assert "One step of today’s plan is not logged." in said
    assert "coat-1 on room, wall, planned 09:00 to 10:00." in said


def test_tomorrows_tests_say_when_where_what_and_what_they_free(oil_job, page):
    slow = oil_job.materials.get()
    slow.labels = {"touch": 120.0, "recoat": 1080.0}
    slow.save()
    html = page()
    said = words(html)
    assert "Likely ready Tue 09:00" in said
    assert "Tomorrow’s tests" in said
    assert "09:00 room, wall" in said
    assert "No tack, no smell, thumb twist leaves no mark." in said
    assert "Frees varnish." in said
    assert "Mind then: solvent, oily rags, ladder or tower." in said
    assert "One test given out for the morning, the first at 09:00" in said
    assert "/jobs/job/test/?surface=wall&amp;step=coat-2&amp;section=" in html


def test_a_logged_test_ticks_its_line_off(oil_job, page, hand) -> None:
    slow = oil_job.materials.get()
    slow.labels = {"touch": 120.0, "recoat": 1080.0}
    slow.save()
    surface = oil_job.surfaces.get()
    morning = at(1, 9.1)
    with time_machine.travel(morning, tick=False):
        log_test(
            job=oil_job, surface=surface, result="ready", by=hand, now=morning,
            step=surface.recipe.steps.get(key="coat-2"), at=morning,
        )  # fmt: skip
        said = words(page())
    assert "Today’s tests" in said
    assert "Tested: Ready, 09:06, hand@example.com." in said


def test_the_page_asks_no_more_for_two_hundred_walls_than_for_two(
    company, client, hand
) -> None:
    counts = []
    for many in (2, 200):
        walls = tuple(SurfaceFactory(id=f"w{number}") for number in range(many))
        coats = tuple(
            CoatFactory(surface=wall.id, start=at(0, 14), end=at(0, 15))
            for wall in walls
        )
        job = store_job(
            company, small_job(id=f"job-{many}", surfaces=walls, coats=coats)
        )
        client.force_login(hand)
        address = f"/jobs/{job.key}/closing-up/"
        client.get(address)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert client.get(address).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]
