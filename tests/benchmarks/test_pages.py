"""How long the pages take that are looked at most; printed, never asserted.

Now with 500 coats that are wet, the week with 300 stints; 30 looks each, uncached.
"""

import time
from dataclasses import replace
from datetime import timedelta

import pytest
from django.test import Client

from jobs.actions import issue_plan
from jobs.factories import CoatFactory, RoomFactory, SurfaceFactory, small_job
from jobs.models import Company, User
from jobs.translation import job_value, store_job, store_plan
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import at, plan_value

LOOKS = 30
pytestmark = [pytest.mark.measure, pytest.mark.django_db]


@pytest.fixture
def lead() -> User:
    company = Company.objects.create(name="Gull & Gilt")
    return User.objects.create_user(
        "lead@example.com", company=company, role=User.Role.LEAD
    )


def looked(client: Client, path: str) -> str:
    """The median and the 95th of a hundred, in milliseconds, and the size."""
    took = []
    for _ in range(LOOKS):
        began = time.perf_counter()
        answer = client.get(path)
        took.append(1e3 * (time.perf_counter() - began))
        assert answer.status_code == 200
    took.sort()
    high = took[int(0.95 * LOOKS)]
    size = len(answer.content) / 1e3
    return f"median {took[LOOKS // 2]:.0f} ms, p95 {high:.0f} ms, {size:.0f} kB"


def walls(count: int):
    """A job with so many walls, five to a room."""
    value = small_job()
    rooms = tuple(
        RoomFactory(id=f"room-{n}", name=f"Room {n}") for n in range(-(-count // 5))
    )
    surfaces = tuple(
        SurfaceFactory(
            id=f"wall-{n}",
            name=f"Wall {n}",
            room=rooms[n // 5].id,
            recipe=value.surfaces[0].recipe,
        )
        for n in range(count)
    )
    return replace(value, rooms=rooms, surfaces=surfaces, coats=())


def test_now_with_five_hundred_open_coats(client: Client, lead: User) -> None:
    value = walls(500)
    step = value.recipe(value.surfaces[0].recipe).steps[0].id
    coats = tuple(
        CoatFactory(
            surface=wall.id,
            step=step,
            start=NOW - timedelta(hours=2),
            end=NOW - timedelta(hours=1, minutes=n % 50),
        )
        for n, wall in enumerate(value.surfaces)
    )
    row = store_job(lead.company, replace(value, coats=coats))
    client.force_login(lead)
    print(f"\nNow, 500 open coats: {looked(client, f'/jobs/{row.key}/')}")


def test_the_week_with_three_hundred_stints(client: Client, lead: User) -> None:
    row = store_job(lead.company, walls(300))
    value = job_value(row)
    (first,) = plan_value(value).stints
    stints = tuple(
        replace(
            first,
            id=f"{wall.id}-coat-1",
            surface=wall.id,
            start=at(n // 40, 8 + n % 8),
            end=at(n // 40, 9 + n % 8),
        )
        for n, wall in enumerate(value.surfaces)
    )
    plan = plan_value(value, stints=stints)
    stored = store_plan(row, plan, planned=value, planned_at=NOW)
    issue_plan(plan=stored, by=lead, now=NOW)
    client.force_login(lead)
    print(f"\nThe week, 300 stints: {looked(client, f'/jobs/{row.key}/week/')}")
