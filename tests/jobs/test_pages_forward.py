"""The page on bringing a surface forward, in every state."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from jobs.forward_words import Helps
from jobs.models import ForwardRun, Job, User
from jobs.translation import job_value, store_plan
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import plan_value, words

PATH = "/jobs/job/forward/second/"


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def page(two_walls: Job, client: Client, lead: User) -> Callable[..., str]:
    client.force_login(lead)

    def get(path: str = PATH, status: int = 200, **headers: str) -> str:
        answer = client.get(path, headers=headers)
        assert answer.status_code == status
        return answer.content.decode()

    return get


def a_help(**changes: Any) -> dict[str, Any]:
    values: dict[str, Any] = {
        "code": "heat",
        "text": "room: heated to 23 C day and night",
        "ends": NOW + timedelta(hours=9),
        "sooner_min": 1440.0,
        "job_sooner_min": -30.0,
        "late_min": -10.0,
        "hands": 0,
        "hours": 0.0,
        "cost": "no hands; the heating for 2 days",
    }
    return Helps(**(values | changes)).kept()


def a_run(job: Job, **changes: Any) -> ForwardRun:
    values: dict[str, Any] = {
        "job": job,
        "surface_key": "second",
        "at": NOW,
        "requested_at": NOW,
        "outcome": "plan",
        "ends_at": NOW + timedelta(hours=33),
        "ways": 7,
        "tried": 7,
    }
    return ForwardRun.objects.create(**(values | changes))


def test_a_surface_nobody_asked_about_offers_the_question(page) -> None:
    html = page()
    assert "Nobody has asked yet" in words(html)
    assert html.count("<button") >= 1
    assert "hx-get" not in html


def test_a_hand_reads_and_does_not_ask(
    two_walls: Job, client: Client, hand: User
) -> None:
    client.force_login(hand)
    said = words(client.get(PATH).content.decode())
    assert "Ask the lead" in said
    assert client.post(PATH).status_code == 403
    assert not ForwardRun.objects.exists()


def test_asking_leads_back_to_the_page_that_says_it_waits(
    page, client: Client, asked: list[int]
) -> None:
    answer = client.post(PATH)
    assert (answer.status_code, answer["Location"]) == (302, PATH)
    html = page()
    assert "Waiting to be worked out since 07:30" in words(html)
    assert "No planning worker has shown itself lately" in words(html)
    assert f'hx-get="{PATH}part/"' in html
    assert "Look again" in html  # without script
    assert "Ask again" not in html


def test_what_is_found_shows_while_the_rest_is_tried(page, two_walls: Job) -> None:
    run = a_run(two_walls, state="running", tried=0, outcome="", ends_at=None)
    assert "planned as it is, to compare with" in words(page())
    ForwardRun.objects.filter(pk=run.pk).update(
        outcome="plan", ends_at=NOW + timedelta(hours=33), tried=2, helps=[a_help()]
    )
    said = words(page(f"{PATH}part/", **{"HX-Request": "true"}))
    assert "2 of 7 ways tried. As it is, the surface ends Tue 16:30." in said
    assert "24 h sooner room: heated to 23 °C day and night" in said
    assert "Bring forward" not in said  # a part, not the page


def test_an_answer_says_what_each_way_gains_and_costs(page, two_walls: Job) -> None:
    hand = a_help(
        text="One more hand", sooner_min=90.0, job_sooner_min=0.0, late_min=0.0,
        hands=1, hours=5.5, cost="1 hand for 5.5 h",
    )  # fmt: skip
    a_run(two_walls, state="done", helps=[a_help(), hand])
    html = page()
    said = words(html)
    assert "7 ways tried, 2 bring it forward, the most first" in said
    assert said.index("24 h sooner") < said.index("1 h 30 min sooner One more hand")
    assert (
        "Ends Mon 16:30. Costs no hands; the heating for 2 days. Besides, the whole "
        "job ends 30 min later, dates are kept worse."
    ) in said
    assert said.count("Besides") == 1
    assert "Ask again" in said
    assert "hx-get" not in html


def test_us_readers_see_degrees_fahrenheit(page, two_walls: Job, lead: User) -> None:
    lead.units = "us"
    lead.save()
    a_run(two_walls, state="done", helps=[a_help()])
    assert "heated to 73 °F" in words(page())


def test_no_lever_that_helps_nothing_left_and_no_plan_are_told_apart(
    page, two_walls: Job
) -> None:
    a_run(two_walls, state="done")
    assert "nothing that was tried brings it forward: 7 ways tried" in words(page())
    a_run(two_walls, state="done", ends_at=None, ways=0, tried=0)
    assert "Nothing was left to do here" in words(page())
    a_run(two_walls, state="done", outcome="no-plan", ends_at=None, ways=0, tried=0)
    assert "There is no plan of this job" in words(page())


def test_a_failure_says_why_and_keeps_the_answer_before(page, two_walls: Job) -> None:
    a_run(two_walls, state="done", helps=[a_help()])
    a_run(two_walls, state="failed", finished_at=NOW, error="It broke.\nNo plan moved.")
    said = words(page())
    assert "This could not be worked out , Mon 07:30. It broke. No plan moved." in said
    assert "The answer before" in said
    assert "24 h sooner" in said
    assert "Ask again" in said


def test_an_answer_older_than_the_log_says_so(page, two_walls: Job) -> None:
    a_run(two_walls, state="done", helps=[a_help()])
    assert "Something was logged" not in words(page())
    Job.objects.update(changed_at=NOW + timedelta(minutes=1))
    assert "Something was logged or changed since. Ask again." in words(page())


def test_a_surface_that_is_not_there_is_not_found(page, client: Client) -> None:
    page("/jobs/job/forward/cellar/", status=404)
    assert client.post("/jobs/job/forward/cellar/").status_code == 404


def test_the_part_alone_leads_to_the_page_without_script(page, client: Client) -> None:
    answer = client.get(f"{PATH}part/")
    assert (answer.status_code, answer["Location"]) == (302, PATH)


def test_this_wall_and_the_weeks_stints_lead_to_it(
    job: Job, client: Client, lead: User
) -> None:
    client.force_login(lead)
    value = job_value(job)
    store_plan(job, plan_value(value), planned=value, planned_at=NOW)
    link = 'href="/jobs/job/forward/wall/"'
    assert link in client.get("/jobs/job/wall/wall/").content.decode()
    assert client.get("/jobs/job/week/").content.decode().count(link) == 1
