"""The week: the plan in words and in every state, planned again and issued."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from jobs.actions import add_reading, issue_plan, log_coat, request_plan
from jobs.factories import (
    DateWishFactory,
)
from jobs.models import Job, Plan, PlanRun, User
from jobs.translation import job_value, store_plan
from scheduling.plan import Change, Late, Reason
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import at, plan_value, words


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


@pytest.fixture
def planned(job: Job) -> Callable[..., Plan]:
    def store(**changes: Any) -> Plan:
        value = job_value(job)
        return store_plan(
            job, plan_value(value, **changes), planned=value, planned_at=NOW
        )

    return store


def test_an_unplanned_job_offers_one_thing(job: Job, page: Callable[..., str]) -> None:
    assert "This job is not planned yet" in page("week/")


def test_the_table_tells_what_the_drawing_shows(
    job: Job, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    planned()
    said = words(page("week/"))
    assert "09:00 to 10:00" in said
    assert "next coat 13:00, safe 15:00" in said
    assert "As early as the plan begins." in said
    assert (
        "No plan as good on dates ends before Mon 09:30; this one ends Mon 10:00"
        in (said)
    )


def test_lateness_changes_and_notes_are_said(
    stored: Callable[..., Job], client: Client, lead: User
) -> None:
    client.force_login(lead)
    job = stored(dates=(DateWishFactory(by=at(0, 9)),))
    value = job_value(job)
    change = Change(
        stint="wall-coat-1", surface="wall", step="coat-1", kind="moved", text="Moved."
    )
    plan = plan_value(
        value,
        late=(Late(date=0, by_min=60.0),),
        changes=(change,),
        notes=("Quiet hours are not planned for.",),
    )
    store_plan(job, plan, planned=value, planned_at=NOW)
    said = words(client.get("/jobs/job/week/").content.decode())
    assert "One wished date is late, by 60 min." in said
    assert "The whole job: dry to touch wished by Mon 12 Oct 09:00: 60 min late" in said
    assert "Moved." in said
    assert "Quiet hours are not planned for." in said


def test_no_plan_says_why_and_shows_the_last_one(
    job: Job, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    planned()
    reasons = (Reason(code="hands", text="The wall needs three hands; two are there."),)
    planned(outcome="no-plan", finish=None, stints=(), reasons=reasons)
    html = page("week/")
    assert "The wall needs three hands; two are there." in html
    assert "Below stands plan 1" in html
    assert "Issue this plan" not in html


def test_a_plan_older_than_the_log_says_so(
    job: Job, lead: User, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    planned()
    assert "Plan again." not in page("week/")
    with time_machine.travel(NOW + timedelta(minutes=5), tick=False):
        surface = job.surfaces.get()
        log_coat(
            job=job, surface=surface, step=surface.recipe.steps.get(key="coat-1"),
            start=NOW, end=NOW + timedelta(minutes=4), by=lead,
            now=NOW + timedelta(minutes=5),
        )  # fmt: skip
        assert "Plan again." in page("week/")


def test_issuing_makes_the_plan_the_one_people_work_by(
    job: Job, planned: Callable[..., Plan], client: Client, lead: User
) -> None:
    client.force_login(lead)
    plan = planned()
    client.post(f"/jobs/job/week/{plan.number}/issue/")
    plan.refresh_from_db()
    assert (plan.state, plan.issued_by) == ("issued", lead)


def test_a_stint_of_a_surface_that_is_gone_does_not_break_the_page(
    job: Job, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    plan = planned()
    plan.content["stints"][0]["surface"] = "gone"
    plan.save()
    assert "This plan is about surfaces that the job no longer has" in page("week/")


@pytest.mark.parametrize("asked", ["0", "99", "9" * 200, "-1", "١", "x"])
def test_an_odd_plan_number_is_a_plain_answer(
    asked: str, job: Job, planned: Callable[..., Plan], client: Client, lead: User
) -> None:
    planned()
    client.force_login(lead)
    assert client.get("/jobs/job/week/", {"plan": asked}).status_code in {200, 404}


@pytest.mark.parametrize("asked", ["", "2026-13-45", "\x00", "9" * 300])
def test_an_odd_week_shows_the_usual_one(
    asked: str, job: Job, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    planned()
    assert "Mon 12" in page("week/", **{"from": asked})


def test_planning_goes_on_is_polled_and_can_be_stopped(
    job: Job, lead: User, sent: list[int], client: Client
) -> None:
    client.force_login(lead)
    client.post("/jobs/job/week/plan/")
    html = client.get("/jobs/job/week/").content.decode()
    assert 'hx-trigger="every 2s"' in html
    assert "No planning worker has shown itself lately" in html
    client.post("/jobs/job/week/stop/")
    assert PlanRun.objects.get().state == "stopped"
    assert "stopped by hand" in client.get("/jobs/job/week/").content.decode()


def test_a_failed_run_says_why_and_is_not_polled_on(
    job: Job, lead: User, sent: list[int], page: Callable[..., str]
) -> None:
    run = request_plan(job=job, by=lead, now=NOW)
    PlanRun.objects.filter(pk=run.pk).update(
        state="failed", finished_at=NOW, error="The planner <broke> down."
    )
    html = page("week/")
    assert "The planner &lt;broke&gt; down." in html
    assert "every 2s" not in html


def test_a_run_that_ended_brings_the_whole_page_again(
    job: Job, lead: User, sent: list[int], client: Client
) -> None:
    client.force_login(lead)
    run = request_plan(job=job, by=lead, now=NOW)
    PlanRun.objects.filter(pk=run.pk).update(state="done", finished_at=NOW)
    answer = client.get("/jobs/job/week/run/", headers={"HX-Request": "true"})
    assert answer.headers["HX-Redirect"] == "/jobs/job/week/"


def log_as_planned(job: Job, lead: User, end: Any, by_min: float = 0) -> None:
    surface = job.surfaces.get()
    log_coat(
        job=job, surface=surface, step=surface.recipe.steps.get(key="coat-1"),
        start=end - timedelta(hours=1), end=end + timedelta(minutes=by_min), by=lead,
        now=end + timedelta(hours=1),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("by_min", "said", "not_said"),
    [
        (20, "What was logged since keeps to this plan.", "Plan again."),
        (45, "Plan again.", "What was logged since keeps to this plan."),
    ],
)
def test_a_coat_about_when_the_plan_has_it_asks_for_no_new_plan(
    by_min: float,
    said: str,
    not_said: str,
    job: Job,
    lead: User,
    planned: Callable[..., Plan],
    page: Callable[..., str],
) -> None:
    planned()
    with time_machine.travel(at(0, 11), tick=False):
        log_as_planned(job, lead, at(0, 10), by_min)
        html = page("week/")
    assert said in html
    assert not_said not in html


def test_a_reading_asks_for_a_new_plan_though_the_coats_keep_to_it(
    job: Job, lead: User, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    planned()
    with time_machine.travel(at(0, 11), tick=False):
        log_as_planned(job, lead, at(0, 10))
        add_reading(
            job=job, room=job.rooms.get(), at=at(0, 11), temperature_c=17,
            humidity_pct=85, by=lead, now=at(0, 11),
        )  # fmt: skip
        assert "Plan again." in page("week/")


def test_work_that_should_be_done_and_is_not_logged_is_said(
    job: Job, lead: User, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    planned()
    missing = "One step of this plan should be done by now and is not logged."
    assert missing not in page("week/")
    with time_machine.travel(at(0, 10.6), tick=False):
        assert missing in page("week/")
        log_as_planned(job, lead, at(0, 10))
        assert missing not in page("week/")


def test_a_phone_begins_with_today_and_can_ask_for_the_days_before(
    stored: Callable[..., Job], client: Client, lead: User
) -> None:
    client.force_login(lead)
    job = stored()
    value = job_value(job)
    first = plan_value(value).stints[0]
    next_day = replace(
        first, id="wall-coat-2", step="coat-2", start=at(1, 9), end=at(1, 10)
    )
    plan = plan_value(value, stints=(first, next_day), finish=at(1, 10))
    store_plan(job, plan, planned=value, planned_at=NOW)
    with time_machine.travel(at(1, 8), tick=False):
        html = client.get("/jobs/job/week/").content.decode()
        assert html.count('<tbody class="past">') == 1
        assert "Show the day before today" in words(html)
        asked = re.search(r'href="(\?[^"]*past=all)"', html)
        assert asked is not None
        shown = client.get("/jobs/job/week/" + asked[1].replace("&amp;", "&"))
        assert 'class="past"' not in shown.content.decode()
    with time_machine.travel(at(6, 8), tick=False):  # all past: nothing to hide
        assert 'class="past"' not in client.get("/jobs/job/week/").content.decode()


def test_the_legend_explains_what_is_drawn_and_no_more(
    job: Job, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    planned()
    said = words(page("week/"))
    assert "a coat going on" in said
    assert "its wait" in said
    assert "window, and its end" not in said
    assert "still open" not in said


def test_a_draft_that_moves_nothing_says_so(
    job: Job, lead: User, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    issue_plan(plan=planned(), by=lead, now=NOW)
    assert "What moved" not in page("week/")
    planned()
    text = words(page("week/"))
    assert "What moved against plan 1" in text
    assert "Nothing: every stint stands where it did, with the same hands." in text


def test_each_stint_names_what_to_mind_and_the_page_says_it_once(
    job: Job, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    second = replace(
        plan_value(job_value(job)).stints[0],
        id="wall-coat-2", step="coat-2", start=at(1, 9), end=at(1, 10),
    )  # fmt: skip
    first = replace(second, id="wall-coat-1", step="coat-1", start=at(0, 9))
    tested = replace(second, id="wall-coat-2-test", kind="test")
    planned(stints=(first, tested, second))
    html = page("week/")
    assert html.count("Mind: ladder or tower") == 2  # a test calls for none
    assert words(html).count("Above 2.0 m: a sound ladder on firm ground") == 1


def test_work_that_calls_for_nothing_says_nothing(
    job: Job, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    job.surfaces.update(height_m=1.5)
    planned()
    assert "Mind" not in words(page("week/"))
