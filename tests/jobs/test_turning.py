"""When the air turns, from the question to a draft: page, worker, what is accepted."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.utils import timezone

from jobs import actions, tasks, turning
from jobs.models import Hand, Job, Plan, PlanRun, TurnRun, User
from jobs.translation import job_value, store_plan
from jobs.turn_questions import question_text, supposed
from scheduling.errors import BadInput
from scheduling.planning import plan_job
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import words

PATH = "/jobs/job/turn/"
BUDGET = 0.1


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def turns(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    keys: list[int] = []
    monkeypatch.setattr("jobs.tasks.turn.delay", keys.append)
    return keys


@pytest.fixture
def issued(two_walls: Job) -> Job:
    value = job_value(two_walls)
    plan = store_plan(
        two_walls, plan_job(value, at=NOW, budget=BUDGET), planned=value, planned_at=NOW
    )
    Plan.objects.filter(pk=plan.pk).update(state="issued", issued_at=NOW)
    return two_walls


@pytest.fixture
def page(issued: Job, client: Client, lead: User) -> Callable[..., str]:
    client.force_login(lead)

    def get(path: str = PATH, **headers: str) -> str:
        answer = client.get(path, headers=headers)
        assert answer.status_code == 200
        return answer.content.decode()

    return get


def a_run(job: Job, **changes: Any) -> TurnRun:
    return TurnRun.objects.create(
        **{"job": job, "plan_number": 1, "at": NOW, "requested_at": NOW, **changes}
    )


def answered(run: TurnRun) -> TurnRun:
    turning.work_out(run.pk, budget=BUDGET)
    run.refresh_from_db()
    return run


def test_without_an_issued_plan_there_is_nothing_to_slip(
    two_walls: Job, client: Client, lead: User
) -> None:
    client.force_login(lead)
    assert "No plan of this job is issued" in words(client.get(PATH).content.decode())
    answer = client.post(PATH)
    assert answer.status_code == 422
    assert "issue one first" in answer.content.decode()


def test_asking_waits_is_worked_out_and_shown(
    page, issued: Job, client: Client, turns: list[int],
    django_capture_on_commit_callbacks: Any,
) -> None:  # fmt: skip
    assert "Nobody has asked yet" in words(page())
    with django_capture_on_commit_callbacks(execute=True):
        assert client.post(PATH)["Location"] == PATH
    run = TurnRun.objects.get()
    assert turns == [run.pk]
    assert "Waiting to be worked out" in words(page())
    assert f'hx-get="{PATH}part/"' in page()
    run = answered(run)
    assert (run.state, run.error, run.tried) == ("done", "", run.ways)
    said = words(page())
    assert "Nothing of plan 1 slips." in said
    assert "Buys it back" in said
    assert "1 day sooner" in said
    assert Plan.objects.count() == 1


def test_accepting_changes_the_job_and_asks_for_a_draft(
    page, issued: Job, client: Client, sent: list[int]
) -> None:
    run = answered(a_run(issued))
    texts = [kept["text"] for kept in run.helps]
    hand = next(n for n, text in enumerate(texts) if text.startswith("One more hand"))
    before = Hand.objects.count()
    answer = client.post(f"{PATH}accept/", {"run": run.pk, "way": [str(hand)]})
    assert (answer.status_code, answer["Location"]) == (302, "/jobs/job/week/")
    assert Hand.objects.count() == before + 1
    assert PlanRun.objects.get().state == "queued"
    issued_now = Plan.objects.get(state="issued")
    assert issued_now.number == 1


@pytest.mark.parametrize(
    ("sent_values", "said"),
    [
        ({}, "Nothing is ticked"),
        ({"way": "99"}, "99 is not among the ways"),
        ({"run": "0", "way": "0"}, "There is a newer answer"),
    ],
)
def test_a_wrong_choice_is_named_and_changes_nothing(
    page, issued: Job, client: Client, sent_values: dict[str, str], said: str
) -> None:
    run = answered(a_run(issued))
    values = {"run": str(run.pk)} | sent_values
    answer = client.post(f"{PATH}accept/", values)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not PlanRun.objects.exists()


def test_a_hand_reads_and_neither_asks_nor_accepts(
    issued: Job, client: Client, hand: User
) -> None:
    a_run(issued, state="done", judged={"slips": [], "better": []}, outcome="plan")
    client.force_login(hand)
    html = client.get(PATH).content.decode()
    assert f'action="{PATH}' not in html
    assert "Nothing of plan 1 slips." in words(html)
    assert client.post(PATH).status_code == 403
    assert client.post(f"{PATH}accept/").status_code == 403


def test_slips_and_what_is_better_are_told_with_names_and_moments(
    page, issued: Job
) -> None:
    judged = {
        "slips": [
            {
                "rule": "wait",
                "surface": "first",
                "step": "paint",
                "start": (NOW + timedelta(hours=1)).isoformat(),
                "holds_from": (NOW + timedelta(hours=3)).isoformat(),
            }
        ],
        "better": [
            {"kind": "open", "surface": "second", "step": "paint", "by_min": 25.0}
        ],
    }
    a_run(issued, state="done", judged=judged, outcome="plan", ends_at=NOW)
    said = words(page())
    assert (
        "Mon 08:30 first: paint Not before Mon 10:30: the coat under it takes" in said
    )
    assert "second paint stays open 25 min longer" in said


def test_typed_suppositions_are_kept_or_refused_beside_the_field(
    page, issued: Job, client: Client, turns: list[int]
) -> None:
    answer = client.post(PATH, {"what": "humidity", "day": "soon", "pct": "120"})
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "give it as 2026-10-15" in html
    assert 'value="120"' in html
    assert not TurnRun.objects.exists()
    off = {"what": "off", "day": f"{NOW + timedelta(days=1):%Y-%m-%d}", "hand": ""}
    assert "choose the hand" in client.post(PATH, off).content.decode()
    key = issued.hands.get().key
    assert client.post(PATH, off | {"hand": key}).status_code == 302
    assert TurnRun.objects.get().question["hand"] == key


def test_a_hand_that_is_off_is_away_that_day_and_a_late_one_until_it(
    issued: Job,
) -> None:
    value = job_value(issued)
    key, day = value.hands[0].id, date(2026, 10, 14)
    off = supposed(value, {"what": "off", "hand": key, "day": f"{day}"}, at=NOW)
    ((begins, ends),) = off.hands[0].away
    assert (begins.date(), ends - begins) == (day, timedelta(days=1))
    late = supposed(value, {"what": "late", "hand": key, "day": f"{day}"}, at=NOW)
    assert late.hands[0].away == ((NOW, begins),)
    with pytest.raises(BadInput, match="forecast"):
        supposed(value, {"what": "humidity", "day": "2031-01-01", "pct": 85}, at=NOW)
    said = question_text({"what": "late", "hand": key, "day": f"{day}"}, {key: "Ada"})
    assert said == "If Ada does not come before Wed 14 Oct"


def test_the_newest_question_takes_the_place_of_one_that_waits(
    issued: Job, turns: list[int]
) -> None:
    first = actions.request_turn(job=issued, question={}, by=None, now=NOW)
    later = {"what": "off", "hand": "x", "day": "2026-10-14"}
    again = actions.request_turn(job=issued, question=later, by=None, now=NOW)
    assert again.pk == first.pk
    assert again.question == later


def test_a_question_of_what_is_gone_fails_in_words_and_a_lost_one_comes_again(
    issued: Job, turns: list[int]
) -> None:
    run = answered(
        a_run(issued, question={"what": "off", "hand": "x", "day": "2026-10-14"})
    )
    assert run.state == "failed"
    assert "one of the job's hands" in run.error
    old = timezone.now() - timedelta(minutes=5)
    lost = a_run(issued, state="running", attempts=1, heartbeat_at=old)
    tasks.sweep()
    assert turns == [lost.pk]


def test_queries_do_not_grow_with_what_slips(
    page, issued: Job, django_assert_max_num_queries: Any
) -> None:
    slip = {
        "rule": "air", "surface": "first", "step": "paint",
        "start": NOW.isoformat(), "holds_from": None,
    }  # fmt: skip
    a_run(issued, state="done", judged={"slips": [slip] * 200, "better": []})
    with django_assert_max_num_queries(40):
        page()
