"""Now: what it says of each wall, and taking back what was logged last."""

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.actions import add_reading, log_coat
from jobs.factories import (
    MaterialFactory,
    RecipeFactory,
    StepFactory,
    SurfaceFactory,
)
from jobs.models import Coat, CoatTest, Job, Reading, User
from scheduling.problem import Rescue
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import log_first_coat, words


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


def test_a_bare_wall_can_take_its_first_coat(
    job: Job, page: Callable[..., str]
) -> None:
    said = words(page())
    assert "Can take the next coat" in said
    assert "Nothing has to dry first." in said


def test_a_fresh_coat_holds_its_wall_and_says_until_when_and_why(
    job: Job, lead: User, page: Callable[..., str]
) -> None:
    log_first_coat(job, lead)
    html = page()
    said = words(html)
    # The label, 2 to 4 h at 23 C and 50 %, in that very air: likely 10:30, safe 11:30.
    assert "Likely 10:30 , safe 11:30" in said
    assert "Coat-1 put on 07:30" in said
    assert "% of the wait is left" in html  # the wedge, for those who cannot see it


def test_a_wait_that_is_over_says_since_when(
    job: Job, lead: User, page: Callable[..., str]
) -> None:
    log_first_coat(job, lead, end=NOW - timedelta(days=1))
    said = words(page())
    assert "Can take the next coat" in said
    assert "dry to recoat since Sun 10:30" in said


def test_a_closing_window_comes_first_and_says_what_comes_after(
    stored: Callable[..., Job], lead: User, page: Callable[..., str]
) -> None:
    material = MaterialFactory(
        id="material", labels={"open": 10.0, "recoat": 120.0, "window": 480.0}
    )
    steps = (
        StepFactory(id="coat-1"),
        StepFactory(id="coat-2", rescue=Rescue(min_m2=4.0)),
    )
    job = stored(
        materials=(material,),
        recipes=(RecipeFactory(id="recipe", steps=steps),),
        surfaces=(SurfaceFactory(id="wall"), SurfaceFactory(id="bare")),
    )
    surface = job.surfaces.get(key="wall")
    log_coat(
        job=job,
        surface=surface,
        step=surface.recipe.steps.get(key="coat-1"),
        start=NOW - timedelta(hours=7),
        end=NOW - timedelta(hours=6),
        by=lead,
        now=NOW,
    )
    said = words(page())
    assert said.index("Window closing") < said.index("Can take the next coat")
    assert "Coat-2 by 09:30" in said  # eight hours from 01:30
    assert "needs rescuing first, about 50 min" in said  # 12.5 m2 at 4 min


def test_the_dew_margin_is_a_difference_in_the_readers_degrees(
    job: Job, lead: User, client: Client
) -> None:
    # 23 C and 50 %: dew point 12.02 C by the Magnus form of Alduchov and Eskridge
    # (1996), J. Appl. Meteorology 35, 601-609; so 10.98 K above it.
    client.force_login(lead)
    assert "11.0 °C" in client.get("/jobs/job/").content.decode()
    lead.units = User.Units.US
    lead.save()
    said = words(client.get("/jobs/job/").content.decode())
    assert "73.4 °F" in said
    found = re.search(r"([\d.]+) °F above dew|above dew ([\d.]+) °F", said)
    assert found is not None, said
    margin_f = float(found[1] or found[2])
    assert margin_f == pytest.approx(1.8 * 10.98, abs=0.1)  # a difference: no 32 in it


def test_the_part_that_keeps_itself_fresh_comes_without_its_frame(
    job: Job, client: Client, lead: User
) -> None:
    client.force_login(lead)
    answer = client.get("/jobs/job/", headers={"HX-Request": "true"})
    html = answer.content.decode()
    assert html.strip().startswith('<div id="now"')
    assert "<html" not in html
    assert "HX-Request" in answer.headers["Vary"]


def test_a_job_without_surfaces_says_what_to_do(
    stored: Callable[..., Job], page: Callable[..., str]
) -> None:
    stored(surfaces=())
    assert "This job has no surfaces" in page()


def test_now_takes_as_many_queries_for_twenty_walls_as_for_two(
    stored: Callable[..., Job], client: Client, lead: User
) -> None:
    client.force_login(lead)
    counts = []
    for total in (2, 20):
        walls = tuple(SurfaceFactory(id=f"wall-{n}") for n in range(total))
        stored(id=f"job-{total}", surfaces=walls)
        with CaptureQueriesContext(connection) as queries:
            client.get(f"/jobs/job-{total}/")
        counts.append(len(queries))
    assert counts[0] == counts[1]


@pytest.mark.parametrize("kind", ["coat", "test", "reading"])
def test_what_was_logged_last_can_be_taken_back(
    kind: str, job: Job, lead: User, client: Client
) -> None:
    client.force_login(lead)
    surface, room = job.surfaces.get(), job.rooms.get()
    row: Coat | CoatTest | Reading
    if kind == "coat":
        row = log_first_coat(job, lead)
    elif kind == "test":
        row = CoatTest.objects.create(
            job=job, surface=surface, step=surface.recipe.steps.first(),
            result="ready", at=NOW, logged_by=lead,
        )  # fmt: skip
    else:
        row = add_reading(
            job=job, room=room, at=NOW, temperature_c=20, humidity_pct=60,
            by=lead, now=NOW,
        )  # fmt: skip
    client.post("/jobs/job/undo/", {"kind": kind, "pk": row.pk})
    assert not type(row).objects.filter(pk=row.pk).exists()


@pytest.mark.parametrize("pk", ["", "0", "9" * 40, "é", "1 OR 1"])
def test_only_what_the_page_showed_is_taken_back(
    pk: str, job: Job, lead: User, client: Client
) -> None:
    client.force_login(lead)
    log_first_coat(job, lead)
    answer = client.post("/jobs/job/undo/", {"kind": "coat", "pk": pk}, follow=True)
    assert job.coats.count() == 1
    assert "Nothing was taken back" in words(answer.content.decode())


def test_a_slip_of_the_thumb_is_taken_back_at_the_top_and_later_at_the_foot(
    job: Job, lead: User, page: Callable[..., str]
) -> None:
    log_first_coat(job, lead)
    for later, at_the_top in ((0, True), (20, False)):
        with time_machine.travel(NOW + timedelta(minutes=later), tick=False):
            said = words(page())
        assert said.count("Logged last: coat-1") == 1
        first = said.index("Logged last") < said.index("put on 07:30")
        assert first is at_the_top
