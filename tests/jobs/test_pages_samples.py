"""Samples: watched minutes logged, beside the clocks, and the label following."""

from collections.abc import Callable
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.factories import AirFactory, MaterialFactory
from jobs.models import Job, Sample, User
from jobs.recipe_changes import change_material
from jobs.samples import log_sample
from jobs.translation import job_json, job_value
from scheduling.samples import likely_min
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import as_shown, words

ADDRESS = "/jobs/job/materials/material/samples/"
COOL = AirFactory(temperature_c=18.0, humidity_pct=62.0)


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def signed_in(client: Client, lead: User) -> Client:
    client.force_login(lead)
    return client


@pytest.fixture
def log(signed_in: Client, job: Job) -> Callable[..., HttpResponse]:
    """Posts a sample laid on Sunday at seven in cool air, touch dry after 95 min."""

    def post(**changes: Any) -> HttpResponse:
        shown = as_shown(signed_in.get(ADDRESS).content.decode())
        typed = {
            "laid_at": "2026-10-11T07:00",
            "temperature": "18",
            "humidity": "62",
            "touch": "95",
        }
        return signed_in.post(ADDRESS, shown | typed | changes)

    return post


def sample(job: Job, **changes: Any) -> Sample:
    values = {
        "laid_at": NOW - timedelta(days=1),
        "temperature_c": 18.0,
        "humidity_pct": 62.0,
        "minutes": {"recoat": 400.0},
    }
    material = job.materials.get(key="material")
    return log_sample(material=material, by=None, now=NOW, **(values | changes))


def test_a_sample_is_logged_in_minutes_and_the_label_waits(
    log: Callable[..., HttpResponse], job: Job
) -> None:
    answer = log(open="35", touch="95 min", recoat="6,5 h", hard="")
    row = Sample.objects.get()
    assert answer["Location"] == f"{ADDRESS}{row.pk}/"
    assert row.minutes == {"open": 35, "touch": 95, "recoat": 390}
    assert (row.temperature_c, row.humidity_pct) == (18, 62)
    assert job.materials.get().version == 1


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("touch", "soon", '"soon": give one time, such as 35 min or 5 h'),
        ("touch", "1-2 h", '"1-2 h": give one time'),
        ("touch", "0", '"0": give one time'),
        ("touch", "", "No time was given: give at least one."),
        ("touch", "3 d", "3 days after it was laid is still to come."),
        ("laid_at", "2026-10-12T09:00", "This is still to come"),
        ("laid_at", "", "Empty: give a value."),
        ("humidity", "120", "120 % cannot be: give a number from 0 to 100 %."),
        ("temperature", "90", "90 °C cannot be: give a number from -30 to 60 °C."),
    ],
)
def test_a_sample_that_cannot_be_is_refused_and_kept_as_typed(
    field: str, value: str, said: str, log: Callable[..., HttpResponse]
) -> None:
    answer = log(**{field: value})
    assert answer.status_code == 422
    html = unescape(answer.content.decode())
    assert said in html
    assert as_shown(html)[field] == value
    assert not Sample.objects.exists()


def test_degrees_are_the_readers(log: Callable[..., HttpResponse], lead: User) -> None:
    lead.units = User.Units.US
    lead.save()
    log(temperature="64.4")
    assert Sample.objects.get().temperature_c == pytest.approx(18)


def test_clocks_before_and_after_stand_beside_what_was_watched(
    signed_in: Client, job: Job
) -> None:
    row = sample(job)
    said = words(signed_in.get(f"{ADDRESS}{row.pk}/").content.decode())
    assert "Takes the next coat 6 h 40 min" in said
    material = job_value(job).material("material")
    assert likely_min(material, "recoat", COOL) < 400
    assert "Let the label follow" in said
    assert said.count("label 2 h to 4 h") == 2  # now, and with a point


def test_accepted_as_a_point_it_bends_the_clock_and_leaves_the_label(
    signed_in: Client, job: Job
) -> None:
    row = sample(job)
    before = job_value(job).material("material")
    answer = signed_in.post(
        f"{ADDRESS}{row.pk}/", {"version": 1, "how": "point"}, follow=True
    )
    assert "follows the sample: version 2." in words(answer.content.decode())
    after = job_value(job).material("material")
    assert after.labels == before.labels
    assert [point.air for point in after.points] == [COOL]
    near, far = (abs(likely_min(one, "recoat", COOL) - 400) for one in (after, before))
    assert near < far
    row.refresh_from_db()
    assert row.version == 2


def test_accepted_as_the_label_the_clock_says_what_was_watched(
    signed_in: Client, job: Job
) -> None:
    row = sample(job)
    before = job_json(job)["materials"][0]
    signed_in.post(f"{ADDRESS}{row.pk}/", {"version": 1, "how": "label"})
    after = job_value(job).material("material")
    assert likely_min(after, "recoat", COOL) == pytest.approx(400, rel=0.006)
    old = job.materials.get().versions.get()
    assert old.content == before
    assert old.why == "a sample laid 11 Oct 07:30, 18.0 °C and 62 %"
    said = words(signed_in.get("/jobs/job/materials/material/").content.decode())
    assert "a sample laid 11 Oct 07:30" in said
    assert "Takes the next coat 2 h to 4 h" in said


def test_in_the_labels_own_air_the_label_is_set_and_nothing_else_offered(
    signed_in: Client, job: Job
) -> None:
    row = sample(job, temperature_c=23.0, humidity_pct=50.0, minutes={"recoat": 270.0})
    html = signed_in.get(f"{ADDRESS}{row.pk}/").content.decode()
    assert "That is the label’s own air." in html
    assert 'value="point"' not in html
    signed_in.post(f"{ADDRESS}{row.pk}/", {"version": 1, "how": "label"})
    after = job_value(job).material("material")
    assert after.labels["recoat"] == pytest.approx((180, 360))
    assert after.points == ()


def test_what_makes_no_label_is_said_and_cannot_be_accepted_so(
    signed_in: Client, job: Job
) -> None:
    row = sample(job, minutes={"open": 900.0})
    html = unescape(signed_in.get(f"{ADDRESS}{row.pk}/").content.decode())
    assert "The label cannot be set so:" in html
    assert "no less than open" in html
    answer = signed_in.post(f"{ADDRESS}{row.pk}/", {"version": 1, "how": "label"})
    assert answer.status_code == 422
    assert job.materials.get().version == 1


def test_an_air_in_which_nothing_dries_teaches_nothing(
    signed_in: Client, job: Job
) -> None:
    row = sample(job, humidity_pct=100.0)
    assert signed_in.get(f"{ADDRESS}{row.pk}/").status_code == 200
    answer = signed_in.post(f"{ADDRESS}{row.pk}/", {"version": 1, "how": "label"})
    assert answer.status_code == 422


def test_a_label_that_was_changed_meanwhile_is_shown_again_first(
    signed_in: Client, job: Job, lead: User
) -> None:
    row = sample(job)
    theirs = job_json(job)["materials"][0]
    theirs["labels"]["recoat"] = [300, 360]
    change_material(job=job, written=theirs, version=1, by=lead, now=NOW)
    answer = signed_in.post(f"{ADDRESS}{row.pk}/", {"version": 1, "how": "label"})
    assert answer.status_code == 409
    assert "it is version 2 now" in answer.content.decode()
    assert job_value(job).material("material").labels["recoat"] == (300, 360)
    again = signed_in.post(f"{ADDRESS}{row.pk}/", {"version": 2, "how": "label"})
    assert again.status_code == 302


def test_a_sample_is_accepted_once(signed_in: Client, job: Job) -> None:
    row = sample(job)
    signed_in.post(f"{ADDRESS}{row.pk}/", {"version": 1, "how": "label"})
    answer = signed_in.post(f"{ADDRESS}{row.pk}/", {"version": 2, "how": "label"})
    assert answer.status_code == 422
    assert job.materials.get().version == 2


@pytest.mark.parametrize(
    "typed", [{}, {"version": "x", "how": "label"}, {"version": 1, "how": "magic"}]
)
def test_half_an_acceptance_changes_nothing(
    typed: dict[str, Any], signed_in: Client, job: Job
) -> None:
    row = sample(job)
    assert signed_in.post(f"{ADDRESS}{row.pk}/", typed).status_code == 422
    assert job.materials.get().version == 1


def test_a_hand_logs_a_sample_and_the_lead_decides(
    client: Client, hand: User, job: Job
) -> None:
    client.force_login(hand)
    row = sample(job)
    html = client.get(f"{ADDRESS}{row.pk}/").content.decode()
    assert "The lead decides whether the label follows it." in html
    assert "Let the label follow" not in html


def test_a_sample_of_another_material_is_not_found(
    stored: Callable[..., Job], signed_in: Client
) -> None:
    materials = (MaterialFactory(id="material"), MaterialFactory(id="other"))
    row = sample(stored(materials=materials))
    address = f"/jobs/job/materials/other/samples/{row.pk}/"
    assert signed_in.get(address).status_code == 404


def test_the_page_takes_as_many_queries_for_200_samples_as_for_2(
    signed_in: Client, job: Job
) -> None:
    counts = []
    for number in (2, 198):
        for _ in range(number):
            sample(job)
        with CaptureQueriesContext(connection) as asked:
            assert signed_in.get(ADDRESS).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]
