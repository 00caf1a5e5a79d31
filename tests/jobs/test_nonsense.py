"""Nonsense at every address and in every field: refused in words, never a 500."""

import json

import pytest
from django.test import Client
from django.urls import get_resolver

from jobs.actions import import_job, start_company
from jobs.factories import small_job
from scheduling.job_file import write_job

pytestmark = pytest.mark.django_db(transaction=True)

NONSENSE = [
    "",
    " ",
    "\x00",
    "a" * 100_000,
    "-1",
    "1e400",
    "nan",
    "inf",
    "12,5",
    "٣٤",
    "99999999999999999999999999",
    "<script>alert(1)</script>",
    "'; drop table jobs_job; --",
    "0001-01-01T00:00",
    "9999-12-31T23:59",
    "2026-10-25T01:30",
    "2026-03-29T01:30",
    "../../etc/passwd",
    "🖌️",
]
FIELDS = (
    "surface", "step", "section", "start", "end", "start_0", "start_1",
    "end_0", "end_1",
    "result", "at", "at_0", "at_1", "room", "temperature", "humidity", "wall", "text",
    "file", "replace", "kind", "pk", "hand", "next", "username", "password", "units",
    "name", "plan", "from", "back", "temperature_c", "humidity_pct", "surface_c",
    "email", "role", "hand_key", "password", "old_password", "new_password1",
    "new_password2", "source", "latitude", "longitude", "altitude_m", "clock",
    "order", "low_0", "high_0", "humidity_0",
    "day", "item", "waste", "spread", "tins", "lead_days",
    "title", "first_day", "part", "sheet",
    "title", "zone", "air", "recipes", "hours-0-days", "hours-0-start", "hours-0-end",
    "hours-0-breaks", "closed", "closed_from", "closed_to", "day_c", "day_pct",
    "night_c", "night_pct", "size", "kind", "changes_per_h", "dehumidifier_l_day",
    "access-0-start", "connected", "hands_most", "hand_back", "any_order", "width_m",
    "height_m", "openings_m2", "recipe", "stop_lines_m", "panels", "ground", "u_w_m2k",
    "early", "sun-0-end", "surfaces", "long", "wide", "high", "openings_1",
    "walls_recipe", "skills", "other_skill", "away", "away_from", "away_to", "as",
    "then", "remove", "not_before", "not_after", "to", "makes", "of", "n", "by",
    "reached", "must", "weight",
    "purpose",
)  # fmt: skip


@pytest.fixture
def lead():
    return start_company(
        name="Shore", email="lead@example.com", password="oak-comb-71", person="Lead"
    )


@pytest.fixture
def signed_in(lead):
    client = Client(raise_request_exception=False)
    client.force_login(lead)
    import_job(company=lead.company, written=write_job(small_job()), replace=False)
    return client


def addresses():
    for pattern in get_resolver("jobs.urls").url_patterns:
        route = str(pattern.pattern)
        for name, value in (
            ("<slug:job>", small_job().id),
            ("<slug:recipe>", "recipe"),
            ("<slug:room>", "room"),
            ("<slug:kind>", "days"),
            ("<slug:material>", "material"),
            ("<slug:part>", "surfaces"),
            ("<slug:surface>", "wall"),
            ("<slug:hand>", "hand"),
            ("<int:wish>", "99999999999999999999"),
            ("<int:number>", "99999999999999999999"),
            ("<int:link>", "99999999999999999999"),
            ("<int:tap>", "99999999999999999999"),
            ("<int:forecast>", "99999999999999999999"),
            ("<int:person>", "99999999999999999999"),
            ("<int:invitation>", "99999999999999999999"),
            ("<uidb64>", "x" * 300),
            ("<str:token>", "x" * 300),
            ("<token>", "x" * 300),
        ):
            route = route.replace(name, value)
        if "<" not in route and "^" not in route:
            yield "/" + route


@pytest.mark.parametrize("address", list(addresses()))
def test_no_address_breaks_on_nonsense(signed_in, address):
    # readyz speaks for the worker, and none runs here
    broken = {500} if address == "/readyz" else {500, 503}
    for value in NONSENSE:
        everything = dict.fromkeys(FIELDS, value)
        assert signed_in.get(address, everything).status_code not in broken, value
        assert signed_in.post(address, everything).status_code not in broken, value
    for method in ("put", "delete", "patch", "head", "options"):
        answer = getattr(signed_in, method)(address)
        assert answer.status_code not in broken, method


def test_files_that_are_no_job_are_refused_in_words(signed_in):
    for text in ("[" * 60_000, '{"a": NaN}', "null", '{"id": 1e999}', "\ufeff{}"):
        answer = signed_in.post("/import/", {"text": text})
        assert answer.status_code == 422, text[:20]


def test_a_job_with_nothing_in_it_has_all_its_pages(signed_in, lead):
    written = write_job(small_job()) | {
        "id": "bare",
        "hands": [],
        "surfaces": [],
        "rooms": [],
        "recipes": [],
        "materials": [],
        "coats": [],
        "pins": [],
        "dates": [],
        "readings": [],
    }
    answer = signed_in.post("/import/", {"text": json.dumps(written)})
    assert answer.status_code == 302
    for part in (
        "",
        "week/",
        "recipes/",
        "calendars/",
        "reading/",
        "weather/",
        "sensors/",
        "closing-up/",
        "quantities/",
        "quantities/table.csv",
        "file.json",
    ):
        answer = signed_in.get(f"/jobs/bare/{part}")
        assert answer.status_code in (200, 302, 404), part
