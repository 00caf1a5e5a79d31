"""What would bring a surface forward: claimed once, shown as found, never lost."""

import logging
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from jobs import actions, forwarding, runs, tasks
from jobs.factories import DateWishFactory
from jobs.forward_words import Helps
from jobs.forwarding import take_up_lost_questions, work_out
from jobs.models import ForwardRun, Job, Plan, User
from jobs.translation import job_value
from scheduling.what_if import bring_forward
from tests.jobs.conftest import NOW

BUDGET = 0.1


def a_question(job: Job, **changes: Any) -> ForwardRun:
    return ForwardRun.objects.create(
        **{"job": job, "surface_key": "second", "at": NOW, **changes}
    )


def answered(run: ForwardRun) -> ForwardRun:
    work_out(run.pk, budget=BUDGET)
    run.refresh_from_db()
    return run


def helps(run: ForwardRun) -> list[Helps]:
    return [Helps.read(kept) for kept in run.helps]


def test_the_answer_is_the_engines_and_no_plan_is_made(two_walls: Job) -> None:
    run = answered(a_question(two_walls))
    found = bring_forward(job_value(two_walls), "second", at=NOW, budget=BUDGET)
    assert (run.state, run.error, run.progress) == ("done", "", "")
    assert (run.outcome, run.ends_at) == ("plan", found.end)
    assert (run.ways, run.tried) == (len(found.levers), len(found.levers))
    told = [(one.text, one.sooner_min, one.cost) for one in helps(run)]
    assert told == [
        (gain.lever.text, gain.sooner_min, gain.cost.text) for gain in found.gains
    ]
    assert told
    assert not Plan.objects.exists()


def test_a_message_that_comes_twice_is_worked_out_once(two_walls: Job) -> None:
    run = answered(a_question(two_walls))
    first = run.finished_at
    assert answered(run).attempts == 1
    assert run.finished_at == first


def test_hands_on_other_jobs_are_not_free(
    two_walls: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []

    def elsewhere(value: Any, stints: Any) -> Any:
        asked.append(value)
        return value, ()

    monkeypatch.setattr(forwarding, "away_elsewhere", elsewhere)
    answered(a_question(two_walls))
    assert len(asked) == 1


def test_levers_show_as_they_are_found(
    two_walls: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[ForwardRun] = []
    real = forwarding._report

    def report(*given: Any) -> bool:
        told = real(*given)
        seen.append(ForwardRun.objects.get())
        return told

    monkeypatch.setattr(runs, "REPORT_EVERY_S", 0.01)
    monkeypatch.setattr(forwarding, "_report", report)
    run = answered(a_question(two_walls))
    tried = [one.tried for one in seen]
    assert tried == sorted(tried)
    assert {one.state for one in seen} == {"running"}
    assert any(0 < len(one.helps) <= len(run.helps) for one in seen)
    assert any(one.ends_at == run.ends_at and one.tried < run.ways for one in seen)


def test_a_surface_that_is_gone_fails_in_words(two_walls: Job) -> None:
    run = answered(a_question(two_walls, surface_key="cellar"))
    assert run.state == "failed"
    assert '"cellar": one of the job\'s surfaces: first, second' in run.error
    assert "No plan has changed" in run.error


def test_where_there_is_no_plan_nothing_helps(stored: Callable[..., Job]) -> None:
    early = DateWishFactory(by=NOW + timedelta(minutes=1), must=True)
    job = stored(dates=(early,))
    run = answered(a_question(job, surface_key="wall"))
    assert (run.state, run.outcome, run.ends_at) == ("done", "no-plan", None)
    assert (run.ways, run.helps) == (0, [])


def test_a_planner_that_breaks_down_fails_the_question_and_says_so(
    two_walls: Job, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError("inside")

    monkeypatch.setattr(forwarding, "bring_forward", broken)
    with caplog.at_level(logging.ERROR):
        run = answered(a_question(two_walls))
    assert run.state == "failed"
    assert "ZeroDivisionError" not in run.error
    assert "ZeroDivisionError" in caplog.text


def test_a_worker_taken_for_dead_throws_its_answer_away(
    two_walls: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = bring_forward

    def slow(*given: Any, **named: Any) -> Any:
        ForwardRun.objects.update(attempts=2)
        return real(*given, **named)

    # In this thread, as the tests' database is one connection's.
    monkeypatch.setattr(runs, "with_reports", lambda work, _: work(lambda _: True))
    monkeypatch.setattr(forwarding, "bring_forward", slow)
    run = answered(a_question(two_walls))
    assert (run.state, run.helps) == ("running", [])


def test_one_question_of_a_job_is_worked_out_at_a_time_the_oldest_next(
    two_walls: Job,
) -> None:
    first = a_question(two_walls, state="running", attempts=1)
    second = a_question(two_walls, surface_key="first")
    assert answered(second).state == "queued"
    ForwardRun.objects.filter(pk=first.pk).update(state="done")
    third = a_question(two_walls)
    assert work_out(first.pk) == second.pk
    assert work_out(second.pk, budget=BUDGET) == third.pk


def test_a_lost_question_is_taken_up_again_and_given_up_in_the_end(
    two_walls: Job,
) -> None:
    old = timezone.now() - timedelta(minutes=5)
    run = a_question(two_walls, state="running", attempts=1, heartbeat_at=old)
    assert take_up_lost_questions(timezone.now()) == [run.pk]
    assert answered(run).state == "done"
    assert run.attempts == 2
    lost = a_question(two_walls, state="running", attempts=3, heartbeat_at=old)
    assert take_up_lost_questions(timezone.now()) == []
    lost.refresh_from_db()
    assert lost.state == "failed"
    assert "lost 3 times" in lost.error


def test_a_question_whose_message_was_lost_is_sent_again(
    two_walls: Job, asked: list[int]
) -> None:
    old = timezone.now() - timedelta(minutes=2)
    run = a_question(two_walls, requested_at=old)
    tasks.sweep()
    assert asked == [run.pk]


def test_the_queue_sends_the_question_that_waits_behind(
    two_walls: Job, asked: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(forwarding, "work_out", lambda _: 7)
    tasks.forward(1)
    assert asked == [7]


def test_asking_queues_a_question_and_sends_its_key(
    two_walls: Job, lead: User, asked: list[int],
    django_capture_on_commit_callbacks: Any,
) -> None:  # fmt: skip
    wall = two_walls.surfaces.get(key="second")
    with django_capture_on_commit_callbacks(execute=True):
        run = actions.request_forward(job=two_walls, surface=wall, by=lead, now=NOW)
    assert (run.state, run.at, run.surface_key) == ("queued", NOW, "second")
    assert asked == [run.pk]


@pytest.mark.parametrize("state", ["queued", "running"])
def test_asking_while_it_is_under_way_asks_nothing_new(
    two_walls: Job, state: str, asked: list[int]
) -> None:
    run = a_question(two_walls, state=state)
    wall = two_walls.surfaces.get(key="second")
    later = NOW + timedelta(hours=1)
    again = actions.request_forward(job=two_walls, surface=wall, by=None, now=later)
    assert again == run
    assert ForwardRun.objects.count() == 1


def test_an_answer_stays_when_it_is_asked_again(two_walls: Job) -> None:
    first = answered(a_question(two_walls))
    wall = two_walls.surfaces.get(key="second")
    again = actions.request_forward(job=two_walls, surface=wall, by=None, now=NOW)
    assert again != first
    first.refresh_from_db()
    assert first.helps
