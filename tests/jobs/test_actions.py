"""What people do to the records, and what they are told when it cannot be."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from jobs import actions
from jobs.factories import MONDAY, SurfaceFactory, small_job
from jobs.models import (
    CalendarEntry,
    Coat,
    Company,
    Job,
    Plan,
    PlanRun,
    Reading,
    Surface,
    User,
)
from jobs.replanning import replan
from jobs.translation import job_json, job_value
from scheduling.errors import BadInput
from scheduling.job_file import write_job
from tests.jobs.conftest import NOW

EIGHT = MONDAY + timedelta(hours=8)
NINE = MONDAY + timedelta(hours=9)
LATER = MONDAY + timedelta(hours=10)


def mistakes(caught: pytest.ExceptionInfo[ValidationError]) -> dict[str, list[str]]:
    return dict(caught.value.message_dict)


def test_a_company_starts_with_a_lead_who_can_sign_in(db: None) -> None:
    lead = actions.start_company(
        name=" Harbour ", email=" Ann@Example.com", password="paper and pigment"
    )
    assert (lead.company.name, lead.email, lead.is_lead) == (
        "Harbour",
        "ann@example.com",
        True,
    )
    assert lead.check_password("paper and pigment")
    assert User.objects.get().company == Company.objects.get()


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"name": "  "}, "name"),
        ({"name": "x" * 201}, "name"),
        ({"email": "ann"}, "email"),
        ({"email": "lead@example.com"}, "email"),  # taken
        ({"password": "12345"}, "password"),
        ({"password": ""}, "password"),
    ],
)
def test_a_company_that_cannot_start_leaves_nothing_behind(
    lead: User, changes: dict[str, str], field: str
) -> None:
    values = {
        "name": "New",
        "email": "new@example.com",
        "password": "paper and pigment",
    }
    with pytest.raises(ValidationError) as caught:
        actions.start_company(**{**values, **changes})
    assert list(mistakes(caught)) == [field]
    assert Company.objects.count() == User.objects.count() == 1


def test_a_broken_file_is_refused_with_every_fault(company: Company) -> None:
    written = write_job(small_job())
    written["surfaces"][0]["width_m"] = -1
    written["hands"][0]["skills"] = "all"
    with pytest.raises(BadInput) as caught:
        actions.import_job(company=company, written=written)
    assert [fault.path for fault in caught.value.faults] == [
        "hands[0].skills",
        "surfaces[0].width_m",
    ]
    assert not Job.objects.exists()


def test_an_import_takes_the_place_of_a_job_only_when_told(company: Company) -> None:
    first = actions.import_job(company=company, written=write_job(small_job()))
    other = write_job(small_job(title="Two walls"))
    with pytest.raises(BadInput, match="the job One wall has it"):
        actions.import_job(company=company, written=other)
    again = actions.import_job(company=company, written=other, replace=True)
    assert (again.pk, again.title) == (first.pk, "Two walls")


@pytest.fixture
def wall(job: Job) -> Surface:
    return job.surfaces.get()


def log(wall: Surface, **changes: Any) -> Coat:
    values = {
        "job": wall.job,
        "surface": wall,
        "step": wall.recipe.steps.get(key="coat-1"),
        "start": EIGHT,
        "end": NINE,
        "by": None,
        "now": LATER,
    }
    return actions.log_coat(**{**values, **changes})


def test_a_logged_coat_is_in_the_job_the_planner_sees(
    wall: Surface, hand: User
) -> None:
    log(wall, by=hand)
    (coat,) = job_value(wall.job).coats
    assert (coat.surface, coat.step, coat.section) == ("wall", "coat-1", None)
    assert (coat.start, coat.end) == (EIGHT, NINE)
    assert Coat.objects.get().logged_by == hand
    wall.job.refresh_from_db()
    assert wall.job.changed_at == LATER


def test_coats_stay_in_the_order_they_were_logged(wall: Surface) -> None:
    log(wall)
    log(wall, step=wall.recipe.steps.get(key="coat-2"), start=NINE, end=NINE)
    assert [coat["step"] for coat in job_json(wall.job)["coats"]] == [
        "coat-1",
        "coat-2",
    ]


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"end": EIGHT - timedelta(minutes=1)}, "__all__", "no earlier than the start"),
        ({"end": LATER + timedelta(minutes=1)}, "end", "still to come"),
        ({"section": "2"}, "section", "Choose one of"),
    ],
)
def test_a_coat_that_cannot_be_is_refused(
    wall: Surface, changes: dict[str, Any], field: str, words: str
) -> None:
    with pytest.raises(ValidationError) as caught:
        log(wall, **changes)
    assert words in mistakes(caught)[field][0]
    assert not Coat.objects.exists()


def test_the_same_coat_is_not_logged_twice(wall: Surface) -> None:
    log(wall)
    with pytest.raises(ValidationError, match=r"logged already, ended 12 Oct 09:00"):
        log(wall)
    assert Coat.objects.count() == 1


def test_each_section_is_logged_for_itself(stored: Callable[..., Job]) -> None:
    split = SurfaceFactory(id="wall", stop_lines_m=(2.5,))
    wall = stored(surfaces=(split,)).surfaces.get()
    log(wall, section="1")
    log(wall, section="2")
    with pytest.raises(ValidationError, match="logged already"):
        log(wall, section="2")
    with pytest.raises(ValidationError, match="logged already"):
        log(wall)  # the whole wall includes them


def test_an_undone_coat_is_gone(wall: Surface) -> None:
    coat = log(wall)
    actions.undo_coat(coat=coat, now=LATER)
    assert job_value(wall.job).coats == ()
    log(wall)


def test_another_jobs_wall_is_refused(
    stored: Callable[..., Job], wall: Surface
) -> None:
    other = stored(id="other")
    with pytest.raises(ValidationError, match="surface of this job"):
        log(wall, job=other)
    with pytest.raises(ValidationError, match="room of this job"):
        read_air(wall.job, room=other.rooms.get())


def test_a_test_is_kept_with_who_made_it(wall: Surface, hand: User) -> None:
    step = wall.recipe.steps.get(key="coat-2")
    values = {"job": wall.job, "surface": wall, "step": step, "by": hand}
    test = actions.log_test(**values, result="not-yet", at=NINE, now=LATER)
    assert str(test) == "Not yet: coat-2 on wall"
    assert test.logged_by == hand
    with pytest.raises(ValidationError, match="not a valid choice"):
        actions.log_test(**values, result="maybe", at=NINE, now=LATER)
    with pytest.raises(ValidationError, match="still to come"):
        actions.log_test(**values, result="ready", at=LATER, now=NINE)


def read_air(job: Job, **changes: Any) -> Reading:
    values = {
        "job": job,
        "room": job.rooms.first(),
        "at": NINE,
        "temperature_c": 17.5,
        "humidity_pct": 81.0,
        "by": None,
        "now": LATER,
    }
    return actions.add_reading(**{**values, **changes})


def test_a_reading_is_in_the_job_the_planner_sees(job: Job) -> None:
    read_air(job, surface_c=14.0)
    (reading,) = job_value(job).readings
    assert (reading.room, reading.temperature_c, reading.humidity_pct) == (
        "room",
        17.5,
        81,
    )
    assert (reading.at, reading.surface_c) == (NINE, 14)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("temperature_c", -60.1),
        ("temperature_c", 70.1),
        ("temperature_c", float("nan")),
        ("humidity_pct", -0.1),
        ("humidity_pct", 100.1),
        ("surface_c", float("inf")),
    ],
)
def test_an_air_no_room_has_is_refused_with_what_is_allowed(
    job: Job, field: str, value: float
) -> None:
    with pytest.raises(ValidationError) as caught:
        read_air(job, **{field: value})
    assert "allowed is" in mistakes(caught)[field][0]
    assert not Reading.objects.exists()


@pytest.mark.parametrize(
    ("temperature_c", "humidity_pct"), [(-60, 0), (70, 100), (0, 50)]
)
def test_the_ends_of_what_is_allowed_are_allowed(
    job: Job, temperature_c: float, humidity_pct: float
) -> None:
    read_air(job, temperature_c=temperature_c, humidity_pct=humidity_pct)
    assert Reading.objects.count() == 1


def test_asking_for_a_plan_queues_a_run_and_sends_its_key(
    job: Job, lead: User, sent: list[int], django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        run = actions.request_plan(job=job, by=lead, now=NOW)
    assert (run.state, run.at, run.requested_by) == ("queued", NOW, lead)
    assert sent == [run.pk]


def test_nothing_is_sent_before_the_row_is_there_for_all(
    job: Job, sent: list[int], django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=False):
        actions.request_plan(job=job, by=None, now=NOW)
        assert sent == []


def test_asking_twice_moves_the_waiting_run_to_the_later_moment(
    job: Job, sent: list[int]
) -> None:
    first = actions.request_plan(job=job, by=None, now=NOW)
    second = actions.request_plan(job=job, by=None, now=LATER)
    assert (second.pk, second.at) == (first.pk, LATER)
    assert PlanRun.objects.count() == 1


def test_asking_while_one_runs_waits_behind_it(job: Job, sent: list[int]) -> None:
    running = PlanRun.objects.create(job=job, at=NOW, state="running")
    second = actions.request_plan(job=job, by=None, now=LATER)
    assert second.pk != running.pk
    assert second.state == "queued"


def test_a_broker_that_is_away_does_not_lose_the_run(
    job: Job, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    def away(*_: Any) -> None:
        raise OSError("no broker")

    monkeypatch.setattr("jobs.tasks.replan.delay", away)
    with django_capture_on_commit_callbacks(execute=True):
        run = actions.request_plan(job=job, by=None, now=NOW)
    run.refresh_from_db()
    assert run.state == "queued"


def test_a_waiting_run_stops_at_once_and_a_running_one_is_told(job: Job) -> None:
    waiting = PlanRun.objects.create(job=job, at=NOW)
    running = PlanRun.objects.create(job=job, at=NOW, state="running")
    done = PlanRun.objects.create(job=job, at=NOW, state="done")
    for run in (waiting, running, done):
        actions.stop_run(run=run, now=LATER)
        run.refresh_from_db()
    assert (waiting.state, waiting.finished_at) == ("stopped", LATER)
    assert (running.state, running.stop_requested) == ("running", True)
    assert (done.state, done.stop_requested) == ("done", False)


@pytest.fixture
def planned(job: Job) -> Callable[[], Plan]:
    """Plans the job for real, an hour later each time."""

    def plan() -> Plan:
        at = NOW + timedelta(hours=job.plan_runs.count())
        run = PlanRun.objects.create(job=job, at=at)
        replan(run.pk, budget=0.2)
        run.refresh_from_db()
        assert run.state == "done", run.error
        return run.plan

    return plan


def test_issuing_a_plan_supersedes_the_one_before(
    planned: Callable[[], Plan], lead: User
) -> None:
    first = actions.issue_plan(plan=planned(), by=lead, now=NOW)
    second = actions.issue_plan(plan=planned(), by=lead, now=LATER)
    first.refresh_from_db()
    assert (first.state, second.state) == ("superseded", "issued")
    assert (second.issued_by, second.issued_at) == (lead, LATER)


def test_issuing_a_plan_fills_the_calendar(planned: Callable[[], Plan]) -> None:
    plan = actions.issue_plan(plan=planned(), by=None, now=NOW)
    entries = CalendarEntry.objects.filter(job=plan.job)
    assert set(plan.stints.values_list("key", flat=True)) <= set(
        entries.values_list("stint_key", flat=True)
    )


def test_an_older_draft_is_not_issued_over_a_newer_plan(
    planned: Callable[[], Plan],
) -> None:
    old, new = planned(), planned()
    actions.issue_plan(plan=new, by=None, now=NOW)
    with pytest.raises(ValidationError, match="Plan 2 is newer and already issued"):
        actions.issue_plan(plan=old, by=None, now=LATER)
    new.refresh_from_db()
    assert new.state == "issued"


def test_a_plan_is_issued_once(planned: Callable[[], Plan]) -> None:
    plan = planned()
    actions.issue_plan(plan=plan, by=None, now=NOW)
    with pytest.raises(ValidationError, match="no draft any more"):
        actions.issue_plan(plan=plan, by=None, now=LATER)


def test_no_plan_cannot_be_issued(job: Job) -> None:
    plan = Plan.objects.create(
        job=job, number=1, outcome="no-plan", content={}, planned_at=NOW
    )
    with pytest.raises(ValidationError, match="there is no plan"):
        actions.issue_plan(plan=plan, by=None, now=LATER)
