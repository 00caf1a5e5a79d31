"""The client's page: rooms and dates in plain words, no hand and no draft."""

from dataclasses import replace
from typing import Any
from urllib.parse import urlsplit

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.feed_links import link_address, make_link, revoke_link
from jobs.models import FeedLink, Job
from scheduling.plan import Range, Reason
from scheduling.problem import Gate
from tests.jobs.calendar_cast import (
    after,
    base_stint,
    draft,
    gilding_job,
    moments,
    moved,
    stint,
    stored_job,
    week_stints,
)
from tests.jobs.page_cast import words
from tests.jobs.test_pages_my_walls import issue

pytestmark = pytest.mark.django_db

CLIENT = FeedLink.Purpose.CLIENT


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(after(0), tick=False):
        yield


@pytest.fixture
def job() -> Job:
    row = stored_job()
    issue(row, week_stints())
    return row


def path_of(job: Job) -> str:
    _, token = make_link(job=job, purpose=CLIENT, at=after(0))
    return urlsplit(link_address(CLIENT, token)).path


def shown(job: Job) -> str:
    return words(Client().get(path_of(job)).content.decode())


def finished(ends: float) -> Any:
    """A last coat: touch dry 2 h after, carrying after a day, never washed."""
    end = after(ends)
    return replace(
        stint("wall-glaze", start=after(ends - 1), hands=("ann",)),
        ready={"touch": moments(1, 1.5, 2, of=end), "hard": moments(8, 9, 10, of=end)},
        promises={
            "handle": moments(6, 7, 8, of=end),
            "load": moments(20, 22, 24, of=end),
            "wash": Range(early=None, likely=None, safe=None),
        },
    )


def test_a_room_says_until_when_it_is_out_of_use_and_what_must_not_happen() -> None:
    job = stored_job()
    issue(job, [base_stint(after(1)), finished(27)])
    said = shown(job)
    assert "Lounge Out of use from Fri 08:00 until Sat 12:00." in said
    assert "Touch and handle from Sun 25 Oct" in said
    assert "Put furniture back from Mon 26 Oct" in said
    assert "Wash down not in this air" in said
    assert "Windows, heating and fans stay as the crew left them." in said
    assert "Nobody goes in but the crew, until Sat 12:00." in said
    assert "Nothing is put down, hung up or leant against it before Mon 26 Oct." in said
    assert "Hall" not in said


def test_no_hand_is_named_nor_any_reason_of_the_planner(job: Job) -> None:
    stints = [
        replace(entry, reason=Reason(code="hands", text="Ann is at the panel."))
        for entry in moved(week_stints(), "wall-glaze", 24)
    ]
    issue(job, stints, after(0.1))
    html = Client().get(path_of(job)).content.decode()
    for name in ("Ann", "Ben", "ann", "ben"):
        assert f">{name}" not in html
        assert f"{name} " not in words(html)
    assert "is at the panel" not in html
    assert "Because the crew is at work in other rooms until then." in words(html)


def test_what_moved_since_the_plan_issued_before_is_two_lines(job: Job) -> None:
    assert "Since last time" not in shown(job)
    issue(job, moved(week_stints(), "wall-glaze", 24), after(0.1))
    assert (
        "Since last time Out of use: Lounge until Mon 02:30 instead of Sun 02:30. "
        "The other rooms stay as told. Because the coat before is "
        "ready at another hour." in shown(job)
    )
    issue(job, moved(week_stints(), "wall-glaze", 24.2), after(0.2))
    assert "No room is out of use for longer or shorter than told before." in shown(job)


def test_what_is_needed_is_told_with_the_hour_at_which_work_waits_for_it() -> None:
    value = gilding_job()
    gated = tuple(
        replace(row, gates=(Gate(name="Sample signed", not_before=after(20)),))
        if row.id == "wall"
        else row
        for row in value.surfaces
    )
    job = stored_job(surfaces=gated)
    issue(job, week_stints())
    assert (
        "Needed from you or others Sample signed by Sat 12:00: then Lounge, End wall "
        "needs it." in shown(job)
    )
    with time_machine.travel(after(30), tick=False):
        assert "Sample signed" not in shown(job)


def test_a_room_that_is_done_is_in_use_again(job: Job) -> None:
    with time_machine.travel(after(24 * 6), tick=False):
        assert "Lounge In use again." in shown(job)


def test_a_draft_shows_nothing() -> None:
    job = stored_job()
    draft(job, week_stints())
    assert "The dates are still being worked out." in shown(job)
    issue(job, week_stints())
    before = shown(job)
    draft(job, moved(week_stints(), "wall-glaze", 24))
    assert shown(job) == before


def test_the_link_opens_nothing_else_and_closes_at_a_tap(job: Job) -> None:
    path = path_of(job)
    token = path.split("/")[2]
    assert Client().get(f"/walls/{token}/").status_code == 404
    assert Client().get(f"/feeds/{token}.ics").status_code == 404
    assert Client().post(path, {"kind": "done"}).status_code == 405
    answer = Client().get(path)
    assert "no-store" in answer["Cache-Control"]
    assert answer["X-Robots-Tag"] == "noindex"
    assert answer["Referrer-Policy"] == "no-referrer"
    assert token not in answer.content.decode()
    revoke_link(job.feed_links.get(), after(0))
    assert Client().get(path).status_code == 410


def test_queries_do_not_grow_with_the_stints(job: Job) -> None:
    path = path_of(job)

    def asked() -> int:
        with CaptureQueriesContext(connection) as found:
            Client().get(path)
        return len(found)

    asked()
    issue(job, week_stints(), after(0.1))
    before = asked()
    many = [stint(f"wall-base-{n}", start=after(n), hours=0.5) for n in range(120)]
    issue(job, many, after(0.2))
    assert asked() == before
