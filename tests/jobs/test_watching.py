"""The watch: once a day a job, a draft only where the new air breaks the plan."""

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.management import call_command

from jobs import watch_tasks, watching
from jobs.models import Job, Plan, PlanRun
from jobs.translation import job_value, store_plan
from scheduling.judging import Judgement, Slip
from scheduling.planning import plan_job
from tests.jobs.conftest import NOW

BROKEN = Slip(
    rule="wait", stint="s", surface="wall", step="coat", start=NOW,
    holds_from=NOW + timedelta(hours=2), text="",
)  # fmt: skip


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def issued(two_walls: Job) -> Job:
    value = job_value(two_walls)
    plan = store_plan(
        two_walls, plan_job(value, at=NOW, budget=0.1), planned=value, planned_at=NOW
    )
    Plan.objects.filter(pk=plan.pk).update(state="issued", issued_at=NOW)
    return two_walls


@pytest.fixture
def breaking(monkeypatch: pytest.MonkeyPatch) -> None:
    judged = Judgement(slips=(BROKEN,), better=(), dates=())
    monkeypatch.setattr(watching, "judge", lambda *_, **__: judged)


def test_air_that_breaks_nothing_says_and_plans_nothing(issued: Job) -> None:
    assert watching.watch_job(issued.pk, NOW) == ""
    assert not PlanRun.objects.exists()
    issued.refresh_from_db()
    assert issued.watched_for == NOW.astimezone(issued.tz).date()


def test_air_that_breaks_the_plan_asks_for_a_draft_and_says_so(
    issued: Job, breaking: None, sent: list[int], client: Any, lead: Any
) -> None:
    said = watching.watch_job(issued.pk, NOW)
    assert "1 stint slips of Plan 1. A draft is planned." in said
    assert PlanRun.objects.get().state == "queued"
    assert Plan.objects.get(state="issued").number == 1
    client.force_login(lead)
    for page in ("", "week/", "turn/"):
        assert said in client.get(f"/jobs/job/{page}").content.decode()


def test_a_message_that_comes_twice_watches_once(
    issued: Job, breaking: None, sent: list[int]
) -> None:
    watch_tasks.watch_one(issued.pk)
    PlanRun.objects.all().delete()
    watch_tasks.watch_one(issued.pk)
    assert not PlanRun.objects.exists()
    tomorrow = NOW + timedelta(days=1)
    assert watching.watch_job(issued.pk, tomorrow)


def test_newer_air_takes_the_place_of_a_request_that_waits(
    issued: Job, breaking: None, sent: list[int]
) -> None:
    watching.watch_job(issued.pk, NOW)
    later = NOW + timedelta(hours=1)
    watching.watch_job(issued.pk, later, again=True)
    assert PlanRun.objects.get().at == later


def test_a_job_is_due_once_from_its_minute_before_the_crew_starts(issued: Job) -> None:
    day = NOW.astimezone(issued.tz).date()
    minute = watching._minute(issued, day)
    opens = minute.replace(hour=8, minute=0)
    assert timedelta(minutes=90) <= opens - minute < timedelta(minutes=135)
    assert watching.due_jobs(minute - timedelta(minutes=1)) == []
    assert watching.due_jobs(minute) == [issued.pk]
    Job.objects.update(watched_for=day)
    assert watching.due_jobs(minute) == []
    Plan.objects.update(finish=minute - timedelta(days=1))
    Job.objects.update(watched_for=None)
    assert watching.due_jobs(minute) == []  # over: nobody is there any more


def test_beats_message_becomes_one_for_each_job_that_is_due(
    issued: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys: list[int] = []
    monkeypatch.setattr(watch_tasks.watch_one, "delay", keys.append)
    watch_tasks.watch()
    assert keys == [issued.pk]


def test_the_command_watches_and_counts(
    issued: Job, breaking: None, sent: list[int], capsys: Any
) -> None:
    call_command("watch")
    assert "1 stint slips" in capsys.readouterr().out
    call_command("watch")
    assert capsys.readouterr().out == "0 watched.\n"
    call_command("watch", "--all")
    assert "1 watched." in capsys.readouterr().out
