"""The demo command: one run gives a plan, people can sign in, and it can run again."""

import re
from datetime import date, datetime
from io import StringIO
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.core.management import call_command

from jobs import demo_job
from jobs.management.commands import demo
from jobs.models import FeedLink, Job, Plan, User

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def little_searching(monkeypatch):
    """The plan is held elsewhere; here it only has to be there."""
    monkeypatch.setattr(demo, "BUDGET", 0.5)


def demo_printed() -> str:
    out = StringIO()
    call_command("demo", "--no-serve", stdout=out)
    return out.getvalue()


def test_the_demo_prints_plan_ready_list_and_addresses_that_work(client):
    printed = demo_printed()
    assert "Lounge, north wall" in printed
    assert re.search(r"Plan: \d+ stints of work, finish", printed)
    assert "late: lounge, touch by" in printed
    assert "Stair hall, east wall" in printed.split("what to test")[1]
    addresses = re.findall(r"http://\S+\.ics", printed)
    assert len(addresses) == 4  # one a hand
    for address in addresses:
        answer = client.get(address.removeprefix("http://localhost:8000"))
        assert answer.status_code == 200
        assert answer.content.startswith(b"BEGIN:VCALENDAR")


def test_the_demo_lead_signs_in_with_the_password_told():
    password = re.search(r"as demo@localhost, password (\S+)", demo_printed())[1]
    lead = User.objects.get(email="demo@localhost")
    assert lead.check_password(password)
    assert lead.is_lead


def test_the_demo_plan_is_issued():
    demo_printed()
    plan = Job.objects.get(key=demo_job.JOB_ID).plans.get()
    assert plan.state == Plan.State.ISSUED


def test_the_demo_runs_again_with_new_addresses_and_the_same_account():
    first, second = demo_printed(), demo_printed()
    assert "password of the first run" in second
    assert User.objects.count() == 1
    job = Job.objects.get(key=demo_job.JOB_ID)
    states = list(job.plans.order_by("number").values_list("state", flat=True))
    assert states == [Plan.State.SUPERSEDED, Plan.State.ISSUED]
    old, new = (set(re.findall(r"http://\S+\.ics", text)) for text in (first, second))
    assert not old & new
    assert FeedLink.objects.filter(revoked_at=None).count() == len(new)


def test_the_demo_is_in_the_week_its_monday_says(monkeypatch):
    monkeypatch.setattr(demo_job, "demo_monday", lambda today: date(2026, 10, 12))
    demo_printed()
    job = Job.objects.get(key=demo_job.JOB_ID)
    assert job.now.isoformat() == "2026-10-12T06:30:00+00:00"


def test_another_port_is_in_every_address():
    out = StringIO()
    call_command("demo", "--no-serve", "--port", "8123", stdout=out)
    assert len(re.findall(r"http://localhost:8123/\S+\.ics", out.getvalue())) == 4


def test_in_mid_week_the_days_before_are_logged_as_planned():
    wednesday = datetime(2026, 10, 14, 9, tzinfo=ZoneInfo("Europe/Lisbon"))
    with time_machine.travel(wednesday, tick=False):
        printed = demo_printed()
    job = Job.objects.get(key=demo_job.JOB_ID)
    since_monday = job.coats.filter(start__gte=job.now)
    assert since_monday.exists()
    assert not since_monday.filter(end__gt=wednesday).exists()
    planned = job.plans.get().stints.filter(end__lte=wednesday, kind="work")
    steps = planned.values("surface_key", "step_key").distinct()
    assert since_monday.count() == steps.count()
    assert "At 2026-10-14 09:00" in printed
