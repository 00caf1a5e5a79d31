"""The queue's side: thin tasks that may come twice."""

from datetime import timedelta

from celery import current_app
from django.utils import timezone

from jobs import tasks
from jobs.models import Job, PlanRun
from jobs.queries import worker_is_alive
from tests.jobs.conftest import NOW


def test_both_tasks_go_by_the_names_the_schedule_uses() -> None:
    assert {"jobs.tasks.replan", "jobs.tasks.sweep"} <= set(current_app.tasks)
    scheduled = {entry["task"] for entry in current_app.conf.beat_schedule.values()}
    current_app.loader.import_default_modules()  # as a worker does when it starts
    assert scheduled <= set(current_app.tasks)


def test_replan_plans_and_sends_the_run_that_waits_behind(
    job: Job, sent: list[int]
) -> None:
    run = PlanRun.objects.create(job=job, at=NOW)
    tasks.replan(run.pk)
    assert PlanRun.objects.get().state == "done"
    waiting = PlanRun.objects.create(job=job, at=NOW)
    tasks.replan(run.pk)  # comes twice, and finds another to do
    assert sent == [waiting.pk]


def test_replan_of_a_run_that_is_gone_does_nothing(db: None, sent: list[int]) -> None:
    tasks.replan(4711)
    assert sent == []


def test_sweep_shows_life_and_sends_what_was_lost(job: Job, sent: list[int]) -> None:
    old = timezone.now() - timedelta(minutes=5)
    run = PlanRun.objects.create(
        job=job, at=NOW, state="running", attempts=1, heartbeat_at=old
    )
    tasks.sweep()
    assert sent == [run.pk]
    assert worker_is_alive(timezone.now())
