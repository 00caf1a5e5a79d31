"""The week: the plan in words and in every state, planned again and issued."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.actions import add_reading, issue_plan, log_coat, request_plan
from jobs.factories import DateWishFactory, small_job
from jobs.models import Job, Plan, PlanRun, User
from jobs.translation import job_value, store_plan
from scheduling.plan import Late, Range, Reason
from scheduling.plan import Plan as PlanValue
from scheduling.problem import Job as JobValue
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


def test_lateness_and_notes_are_said(
    stored: Callable[..., Job], client: Client, lead: User
) -> None:
    client.force_login(lead)
    job = stored(dates=(DateWishFactory(by=at(0, 9)),))
    value = job_value(job)
    plan = plan_value(
        value,
        late=(Late(date=0, by_min=60.0),),
        notes=("Quiet hours are not planned for.",),
    )
    store_plan(job, plan, planned=value, planned_at=NOW)
    said = words(client.get("/jobs/job/week/").content.decode())
    assert "One wished date is late, by 60 min." in said
    assert "The whole job: dry to touch wished by Mon 12 Oct 09:00: 60 min late" in said
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


def test_a_draft_stands_beside_the_issued_plan_with_what_moved_and_for_whom(
    job: Job, lead: User, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    issue_plan(plan=planned(), by=lead, now=NOW)
    first = plan_value(job_value(job)).stints[0]
    reason = Reason(code="air", text="Too damp on Monday.")
    moved = replace(first, start=at(1, 9), end=at(1, 10), reason=reason)
    planned(stints=(moved,), finish=at(1, 10))
    html = page("week/")
    said = words(html)
    assert "people work by plan 1 until it is issued" in said
    assert "Mon 12 Oct 09:00 → Tue 13 Oct 09:00" in said
    assert "Too damp on Monday." in said
    assert "where plan 1 has it" in said
    assert "Change day or hands of as few stints as possible 1 of 1 none" in said
    said = words(page("week/2/issue/"))
    assert "People work by plan 1" in said
    assert "Mon 12 Oct 09:00 → Tue 13 Oct 09:00" in said
    assert "Each comes out as it did." in said
    assert "where plan 1 has it" not in words(page("week/", plan="1"))


def test_a_plan_that_is_issued_has_nothing_to_press(
    job: Job, lead: User, planned: Callable[..., Plan], client: Client
) -> None:
    client.force_login(lead)
    issue_plan(plan=planned(), by=lead, now=NOW)
    answer = client.get("/jobs/job/week/1/issue/")
    assert (answer.status_code, answer.headers["Location"]) == (302, "/jobs/job/week/")


def test_a_draft_that_moves_nothing_says_so(
    job: Job, lead: User, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    issue_plan(plan=planned(), by=lead, now=NOW)
    assert "What moved" not in page("week/")
    planned()
    text = words(page("week/"))
    assert "What moved against plan 1" in text
    assert "Nothing: every stint stands where it did, with the same hands." in text


def many(surfaces: int) -> JobValue:
    """The small job with so many walls, four to a room."""
    value = small_job()
    rooms = [
        replace(value.rooms[0], id=f"room-{n}", name=f"Room {n}")
        for n in range(-(-surfaces // 4))
    ]
    walls = tuple(
        replace(value.surfaces[0], id=f"wall-{n}", name=None, room=rooms[n // 4].id)
        for n in range(surfaces)
    )
    return replace(value, rooms=tuple(rooms), surfaces=walls)


def plan_of_many(value: JobValue) -> PlanValue:
    """A stint a wall, five walls a day."""
    (first,) = plan_value(value).stints
    stints = tuple(
        replace(
            first, id=f"{wall.id}-coat-1", surface=wall.id,
            start=at(n // 40, 8 + n % 8), end=at(n // 40, 9 + n % 8),
            ready={
                "recoat": Range(
                    early=at(n // 40, 10 + n % 8), likely=at(n // 40, 12 + n % 8),
                    safe=at(n // 40, 13 + n % 8),
                )
            },
        )
        for n, wall in enumerate(value.surfaces)
    )  # fmt: skip
    return plan_value(value, stints=stints)


def test_two_hundred_surfaces_ask_no_more_queries_and_stay_a_small_page(
    stored: Callable[..., Job], client: Client, lead: User
) -> None:
    client.force_login(lead)
    counts, sizes, html = [], [], b""
    for surfaces in (2, 200):
        row = stored(replace(many(surfaces), id=f"job-{surfaces}"))
        value = job_value(row)
        for _ in range(2):
            plan = store_plan(row, plan_of_many(value), planned=value, planned_at=NOW)
        issue_plan(plan=plan, by=lead, now=NOW)
        store_plan(row, plan_of_many(value), planned=value, planned_at=NOW)
        with CaptureQueriesContext(connection) as asked:
            html = client.get(f"/jobs/{row.key}/week/").content
        counts.append(len(asked))
        sizes.append(len(html))
        path = f"/jobs/{row.key}/week/stint/wall-1-coat-1/"
        with CaptureQueriesContext(connection) as asked:
            assert client.get(path).status_code == 200
        counts.append(len(asked))
    assert counts[:2] == counts[2:]
    assert sizes[1] < 150_000
    said = words(html.decode())
    assert "Day by day: Room 0 to Room 5" in said
    other = words(client.get("/jobs/job-200/week/?rooms=room-6").content.decode())
    assert "Day by day: Room 6 to Room 11" in other
    assert "Room 7, wall-28" in other
    assert "Room 7, wall-28" not in said


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
