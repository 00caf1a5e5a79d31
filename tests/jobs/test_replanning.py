"""A run of the planner: claimed once, reported, stored, and never lost."""

import logging
import threading
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from jobs import actions, replanning, runs
from jobs.factories import MONDAY, DateWishFactory, small_job
from jobs.models import Job, Plan, PlanRun, Stint, WorkerBeat
from jobs.queries import previous_plan, worker_is_alive
from jobs.replanning import replan, take_up_lost_runs
from jobs.translation import plan_value
from scheduling.planning import Progress, plan_job
from tests.jobs.conftest import NOW

BUDGET = 0.2


def a_run(job: Job, **changes: Any) -> PlanRun:
    return PlanRun.objects.create(**{"job": job, "at": NOW, **changes})


def planned(run: PlanRun) -> PlanRun:
    replan(run.pk, budget=BUDGET)
    run.refresh_from_db()
    return run


def test_a_run_stores_the_engines_plan_as_a_draft(job: Job) -> None:
    run = planned(a_run(job))
    assert (run.state, run.attempts, run.error) == ("done", 1, "")
    assert (run.plan.number, run.plan.state, run.plan.planned_at) == (1, "draft", NOW)
    value = plan_job(small_job(), at=NOW, budget=BUDGET)
    assert plan_value(run.plan).stints == value.stints
    assert run.best_finish == run.plan.finish == value.finish
    assert Stint.objects.filter(plan=run.plan).count() == len(value.stints)
    assert run.finished_at >= run.started_at


def test_the_jobs_own_now_is_kept_but_does_not_move_the_plan(job: Job) -> None:
    late = NOW + timedelta(days=1)
    run = planned(a_run(job, at=late))
    assert min(stint.start for stint in run.plan.stints.all()) >= late


def test_a_message_that_comes_twice_plans_once(job: Job) -> None:
    run = planned(a_run(job))
    again = planned(run)
    assert (again.attempts, Plan.objects.count()) == (1, 1)


def test_an_unchanged_plan_gets_no_new_number_but_a_new_moment(job: Job) -> None:
    first = planned(a_run(job)).plan
    second = planned(a_run(job, at=NOW + timedelta(minutes=5))).plan
    assert (second.pk, second.number) == (first.pk, 1)
    assert second.planned_at == NOW + timedelta(minutes=5)


def test_an_unchanged_plan_after_an_issued_one_is_a_draft_of_its_own(job: Job) -> None:
    first = planned(a_run(job)).plan
    actions.issue_plan(plan=first, by=None, now=NOW)
    second = planned(a_run(job, at=NOW + timedelta(minutes=5))).plan
    assert (second.number, second.state) == (2, "draft")
    assert second.content["changes"] == []


def test_a_replan_says_what_changed_since_the_issued_plan(job: Job) -> None:
    first = planned(a_run(job)).plan
    actions.issue_plan(plan=first, by=None, now=NOW)
    wall = job.surfaces.get()
    actions.log_coat(
        job=job,
        surface=wall,
        step=wall.recipe.steps.get(key="coat-1"),
        start=MONDAY + timedelta(hours=14),
        end=MONDAY + timedelta(hours=15),
        by=None,
        now=MONDAY + timedelta(hours=15),
    )
    second = planned(a_run(job, at=MONDAY + timedelta(hours=15))).plan
    assert second.number == 2
    assert second.content["changes"]
    assert second.stints.filter(kind="work").count() == 1


def test_the_plan_before_is_the_issued_one_else_the_last(job: Job) -> None:
    assert previous_plan(job) is None
    first = planned(a_run(job)).plan
    second = planned(a_run(job, at=NOW + timedelta(hours=1))).plan
    assert previous_plan(job) == second
    Plan.objects.filter(pk=first.pk).update(state="issued", issued_at=NOW)
    assert previous_plan(job) == first


def test_no_plan_is_stored_with_its_reasons(stored: Callable[..., Job]) -> None:
    early = DateWishFactory(by=NOW + timedelta(minutes=1), must=True)
    run = planned(a_run(stored(dates=(early,))))
    assert (run.state, run.plan.outcome, run.plan.is_plan) == ("done", "no-plan", False)
    assert run.plan.content["reasons"]


def test_rows_that_make_no_job_fail_in_words_and_keep_the_last_plan(job: Job) -> None:
    first = planned(a_run(job)).plan
    job.rooms.update(connected=["cellar"])
    run = planned(a_run(job))
    assert run.state == "failed"
    assert 'rooms[0].connected[0]: "cellar": one of room' in run.error
    assert "last plan stays" in run.error
    assert run.plan is None
    assert Plan.objects.get() == first


def test_a_planner_that_breaks_down_fails_the_run_and_says_so(
    job: Job, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError("inside")

    monkeypatch.setattr(replanning, "plan_job", broken)
    with caplog.at_level(logging.ERROR):
        run = planned(a_run(job))
    assert (run.state, run.plan) == ("failed", None)
    assert "ZeroDivisionError" not in run.error  # that is for the log
    assert "ZeroDivisionError" in caplog.text


def test_a_run_waits_while_another_of_its_job_runs(job: Job) -> None:
    a_run(job, state="running", attempts=1, heartbeat_at=timezone.now())
    run = planned(a_run(job))
    assert (run.state, run.attempts) == ("queued", 0)


def test_the_next_waiting_run_follows_the_one_that_ends(job: Job) -> None:
    first = a_run(job)
    PlanRun.objects.filter(pk=first.pk).update(state="done")
    second = a_run(job)
    assert replan(first.pk, budget=BUDGET) == second.pk
    assert replan(second.pk, budget=BUDGET) is None


class Patient:
    """An engine that waits for a word before it ends; the real one is too quick."""

    def __init__(self, meanwhile: Callable[[], None]) -> None:
        self.meanwhile, self.go_on = meanwhile, threading.Event()

    def __call__(self, job: Any, **given: Any) -> Any:
        finish = given["at"] + timedelta(hours=9)
        progress = Progress(text="Looking for a better plan", finish=finish)
        while given["on_progress"](progress) and not self.go_on.wait(0.02):
            pass
        return plan_job(job, **{**given, "on_progress": None})


@pytest.fixture
def during(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[], Any]], None]:
    """Makes runs report often, and something happen at the first report."""

    def set_up(meanwhile: Callable[[], Any]) -> None:
        patient = Patient(meanwhile)
        real = replanning._report

        def report(*given: Any) -> bool:
            told = real(*given)
            if given[1] is not None:
                meanwhile()
                patient.go_on.set()
            return told

        monkeypatch.setattr(runs, "REPORT_EVERY_S", 0.02)
        monkeypatch.setattr(replanning, "plan_job", patient)
        monkeypatch.setattr(replanning, "_report", report)

    return set_up


def test_progress_and_heartbeat_are_written_while_it_plans(
    job: Job, during: Callable[[Callable[[], Any]], None]
) -> None:
    seen: list[PlanRun] = []
    during(lambda: seen.append(PlanRun.objects.get()))
    run = planned(a_run(job))
    assert seen[0].progress == "Looking for a better plan"
    assert seen[0].best_finish == NOW + timedelta(hours=9)
    assert seen[0].heartbeat_at > seen[0].started_at
    assert (run.state, run.progress) == ("done", "")


def test_a_stopped_run_keeps_the_best_plan_so_far(
    job: Job, during: Callable[[Callable[[], Any]], None]
) -> None:
    run = a_run(job)
    during(lambda: actions.stop_run(run=run, now=NOW))
    run = planned(run)
    assert (run.state, run.plan.outcome) == ("stopped", "plan")


def test_a_worker_taken_for_dead_throws_its_plan_away(
    job: Job, during: Callable[[Callable[[], Any]], None]
) -> None:
    run = a_run(job)
    during(lambda: PlanRun.objects.filter(pk=run.pk).update(attempts=2))
    run = planned(run)
    assert (run.state, run.plan, Plan.objects.count()) == ("running", None, 0)


def test_a_lost_run_goes_back_to_the_queue_and_is_planned(job: Job) -> None:
    old = timezone.now() - timedelta(minutes=5)
    run = a_run(job, state="running", attempts=1, started_at=old, heartbeat_at=old)
    assert take_up_lost_runs(timezone.now()) == [run.pk]
    run = planned(run)
    assert (run.state, run.attempts) == ("done", 2)


def test_a_run_with_a_fresh_heartbeat_is_left_alone(job: Job) -> None:
    now = timezone.now()
    a_run(job, state="running", attempts=1, heartbeat_at=now - timedelta(seconds=25))
    assert take_up_lost_runs(now) == []
    assert PlanRun.objects.get().state == "running"


def test_a_lost_run_makes_way_for_a_newer_one(job: Job) -> None:
    old = timezone.now() - timedelta(minutes=5)
    lost = a_run(job, state="running", attempts=1, heartbeat_at=old)
    newer = a_run(job, requested_at=old)
    assert take_up_lost_runs(timezone.now()) == [newer.pk]
    lost.refresh_from_db()
    assert lost.state == "stopped"


def test_a_run_that_was_to_stop_is_not_taken_up_again(job: Job) -> None:
    old = timezone.now() - timedelta(minutes=5)
    a_run(job, state="running", attempts=1, heartbeat_at=old, stop_requested=True)
    assert take_up_lost_runs(timezone.now()) == []
    assert PlanRun.objects.get().state == "stopped"


def test_a_job_that_takes_its_worker_down_is_given_up_in_words(job: Job) -> None:
    old = timezone.now() - timedelta(minutes=5)
    a_run(job, state="running", attempts=3, heartbeat_at=old)
    assert take_up_lost_runs(timezone.now()) == []
    run = PlanRun.objects.get()
    assert run.state == "failed"
    assert "lost 3 times" in run.error


def test_a_queued_run_whose_message_was_lost_is_sent_again(job: Job) -> None:
    now = timezone.now()
    run = a_run(job, requested_at=now - timedelta(minutes=2))
    assert take_up_lost_runs(now) == [run.pk]
    PlanRun.objects.update(requested_at=now)
    assert take_up_lost_runs(now) == []


def test_a_silent_worker_is_not_alive(db: None) -> None:
    now = timezone.now()
    assert not worker_is_alive(now)
    replanning.show_alive(now - timedelta(minutes=10))
    assert not worker_is_alive(now)
    replanning.show_alive(now)
    assert worker_is_alive(now)
    assert WorkerBeat.objects.count() == 1
