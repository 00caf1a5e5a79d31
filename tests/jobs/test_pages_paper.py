"""Sheets for paper: whose day, which week, which door, and never a draft."""

import re
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.models import Job, User
from tests.jobs.calendar_cast import (
    after,
    draft,
    moments,
    moved,
    stint,
    stored_job,
    week_stints,
)
from tests.jobs.page_cast import words
from tests.jobs.test_pages_my_walls import issue

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(after(0), tick=False):
        yield


@pytest.fixture
def job() -> Job:
    row = stored_job()
    issue(row, week_stints())
    return row


def shown(job: Job, kind: str, day: str = "", status: int = 200) -> str:
    client = Client()
    person, _ = User.objects.get_or_create(
        email="hand@example.com", company=job.company, role=User.Role.HAND
    )
    client.force_login(person)
    query = {"day": day} if day else {}
    answer = client.get(f"/jobs/{job.key}/paper/{kind}/", query)
    assert answer.status_code == status
    return re.sub(r"\s([.,])", r"\1", words(answer.content.decode()))


def test_each_hand_with_work_that_day_has_a_sheet(job: Job) -> None:
    friday = shown(job, "days")
    assert "Ann, Friday 23 October 08:00 to 09:00 base: End wall, Lounge" in friday
    assert "Ben, Friday" not in friday
    saturday = shown(job, "days", "2026-10-24")
    assert "Ann, Saturday 24 October" in saturday
    assert "Ben, Saturday 24 October 12:00 to 13:30 drag glaze" in saturday
    assert "Mix Umber glaze, by parts colour 1 : medium 4" in saturday
    assert "Plan 1, issued Fri 07:00, printed Fri 07:00" in saturday


def test_the_week_has_hands_down_and_days_across(job: Job) -> None:
    said = shown(job, "week")
    assert "Hand Fri 23 Oct Sat 24 Oct Sun 25 Oct" in said
    assert "Ann 08:00 base, Lounge, End wall 12:00 drag glaze, Lounge, End wall" in said
    assert "07:00 test before leaf, Hall, Panel 08:00 leaf, Hall, Panel" in said


def test_a_door_says_wet_until_the_safe_moment(job: Job) -> None:
    end = after(2)
    issue(
        job,
        [
            stint(
                "wall-base", start=after(1), ready={"touch": moments(1, 2, 3, of=end)}
            ),
            stint(
                "panel-size",
                start=after(8),
                ready={"tack": moments(11, 12, 14, of=after(9))},
            ),
            stint("panel-leaf", start=after(9), hours=1),
        ],
        after(0.1),
    )
    said = shown(job, "signs")
    assert "Lounge WET do not enter before 12:00 End wall" in said
    assert "Hall WET do not enter before Sat 24 Oct, 06:00 Panel" in said
    assert "WET do not enter before 06:00" in shown(job, "signs", "2026-10-24")
    assert "No coat is wet on Sunday 25 October" in shown(job, "signs", "2026-10-25")


def test_drafts_are_not_put_on_paper(job: Job) -> None:
    before = {kind: shown(job, kind) for kind in ("days", "week", "signs")}
    draft(job, moved(week_stints(), "wall-base", 1))
    for kind, text in before.items():
        assert shown(job, kind) == text


@pytest.mark.parametrize("day", ["2026-13-01", "soon", "9999-12-31", "0001-01-01"])
def test_a_day_that_cannot_be_is_not_found(day: str, job: Job) -> None:
    for kind in ("days", "week", "signs"):
        shown(job, kind, day, status=404)
    shown(job, "labels", status=404)


def test_a_day_gone_by_has_no_sheet(job: Job) -> None:
    assert "No hand has anything to do" in shown(job, "days", "2026-10-20")


@pytest.mark.parametrize("kind", ["days", "week", "signs"])
def test_queries_do_not_grow_with_the_stints(kind: str, job: Job) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as found:
            shown(job, kind)
        return len(found)

    asked()
    before = asked()
    many = [
        stint(f"wall-base-{n}", start=after(1) + timedelta(minutes=n), hours=0.5)
        for n in range(120)
    ]
    issue(job, many, after(0.2))
    assert asked() == before
