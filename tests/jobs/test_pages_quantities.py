"""Quantities: by when, how much, what is missing; the table; and what leads set."""

import csv
import io
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from jobs.actions import issue_plan
from jobs.factories import MaterialFactory, SurfaceFactory, small_job
from jobs.models import Company, Job, User
from jobs.order_words import safe_cell
from jobs.translation import job_value, store_job, store_plan
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import plan_value, words


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def paint_job(company: Company) -> Callable[..., Job]:
    """Two coats on 12.5 m2, from a plan that first puts it on at nine."""

    def store(issued: bool = True, by: User | None = None, **material: Any) -> Job:
        given = {"spread_m2_per_l": 10.0, "name": "Wall paint"} | material
        value = small_job(materials=(MaterialFactory(id="material", **given),))
        job = store_job(company, value)
        plan = store_plan(job, plan_value(value), planned=value, planned_at=NOW)
        if issued:
            issue_plan(plan=plan, by=by, now=NOW)
        return job

    return store


@pytest.fixture
def page(client: Client, lead: User) -> Callable[..., str]:
    client.force_login(lead)

    def get() -> str:
        answer = client.get("/jobs/job/quantities/")
        assert answer.status_code == 200
        return words(answer.content.decode())

    return get


def table(client: Client) -> list[list[str]]:
    answer = client.get("/jobs/job/quantities/table.csv")
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    return list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))


def test_a_line_says_by_when_how_much_and_for_what(paint_job, page) -> None:
    paint_job(tins_l=(1.0, 2.5), lead_days=5)
    said = words(page())
    assert "Order by Wed 7 Oct: late" in said
    assert "One material should be on order already." in said
    assert "First used 09:00." in said
    assert "2.9 l , so 3 of 1 l ; 0.12 l over." in said
    assert "2 coats on one surface, together 25.0 m²." in said
    assert "15 % for waste counted in" in said


def test_what_is_missing_is_named(paint_job, page) -> None:
    paint_job(issued=False, spread_m2_per_l=None)
    said = page()
    assert "Its spread is not given, so no amount is reckoned." in said
    assert "No issued plan puts it on, so there is no day." in said
    assert "No plan is issued, so nothing has a day." in said
    assert "No day yet" in said


def test_without_tins_and_lead_time_nothing_is_made_up(paint_job, page) -> None:
    paint_job()
    said = page()
    assert "On site by Mon 12 Oct" in said
    assert "Not given: lead time and tins." in said
    assert "over" not in said.split("Take the table")[0].split("2.9 l")[1][:80]


def test_a_us_reader_has_gallons_and_square_feet(paint_job, page, lead) -> None:
    lead.units = User.Units.US
    lead.save()
    paint_job(tins_l=(3.785411784, 0.946352946))
    said = page()
    assert "3.0 qt" in said
    assert "so 1 of 1.0 gal" in said
    assert "269 ft²" in said


def test_the_table_has_the_same_figures_in_the_readers_units(
    paint_job, page, client, lead
) -> None:
    paint_job(tins_l=(1.0, 2.5), lead_days=5)
    head, row = table(client)
    told = dict(zip(head, row, strict=True))
    assert told["order by"] == "2026-10-07"
    assert told["first used"] == "2026-10-12"
    assert told["material"] == "Wall paint"
    assert told["needed (l)"] == "2.875"
    assert (told["tins"], told["bought (l)"]) == ("3 of 1 l", "3.000")
    lead.units = User.Units.US
    lead.save()
    head, row = table(client)
    told = dict(zip(head, row, strict=True))
    assert told["needed (gal)"] == "0.759"
    assert told["area of all coats (ft²)"] == "269.10"


def test_a_mix_has_a_row_for_each_part_and_a_bare_one_an_empty_amount(
    paint_job, page, client
) -> None:
    job = paint_job(parts={"colour": 1, "medium": 4})
    assert [row[4] for row in table(client)] == ["part", "colour", "medium"]
    job.materials.update(spread_m2_per_l=None)
    assert [row[9] for row in table(client)] == ["needed (l)", ""]


@pytest.mark.parametrize("name", ["=1+1", "+A1", "-2", "@SUM(A1)", " =x", "|calc"])
def test_no_name_becomes_a_formula(paint_job, page, client, name) -> None:
    paint_job(name=name)
    assert table(client)[1][3] == f"'{name}"


@given(st.text(max_size=40))
def test_a_safe_cell_keeps_its_text_and_starts_no_formula(text: str) -> None:
    cell = safe_cell(text)
    assert cell.removeprefix("'") == text.removeprefix("'") or cell == text
    assert not cell.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r"))


def test_a_lead_sets_the_waste_and_leaves_it_to_the_usual(
    paint_job, page, client
) -> None:
    job = paint_job()
    client.post("/jobs/job/quantities/waste/", {"waste": "10"})
    assert job_value(Job.objects.get()).waste_pct == 10.0
    assert "10 % for waste counted in" in page()
    client.post("/jobs/job/quantities/waste/", {"waste": ""})
    job.refresh_from_db()
    assert job.waste_pct is None


@pytest.mark.parametrize("typed", ["-1", "101", "lots", "nan", "1e9", "\x00"])
def test_a_waste_that_cannot_be_stands_beside_its_field(
    paint_job, page, client, typed
) -> None:
    paint_job()
    answer = client.post("/jobs/job/quantities/waste/", {"waste": typed})
    assert answer.status_code == 422
    assert "One field needs another look." in words(answer.content.decode())
    assert Job.objects.get().waste_pct is None


def test_a_lead_gives_spread_tins_and_lead_time(paint_job, page, client) -> None:
    job = paint_job()
    made = Job.objects.get().changed_at
    answer = client.post(
        "/jobs/job/quantities/of/material/",
        {"spread": "12", "tins": "5 l, 750 ml and 2,5", "lead_days": "3"},
    )
    assert answer.status_code == 302
    row = job.materials.get()
    assert (row.spread_m2_per_l, row.tins_l, row.lead_days) == (12, [0.75, 2.5, 5], 3)
    assert job_value(job).materials[0].tins_l == (0.75, 2.5, 5)
    assert Job.objects.get().changed_at >= made


def test_only_a_new_spread_makes_plans_older(paint_job, page, client) -> None:
    paint_job()
    before = Job.objects.get().changed_at
    address = "/jobs/job/quantities/of/material/"
    with time_machine.travel(NOW + timedelta(minutes=5), tick=False):
        client.post(address, {"spread": "10", "tins": "1 l", "lead_days": "3"})
        assert Job.objects.get().changed_at == before
        client.post(address, {"spread": "9", "tins": "1 l", "lead_days": "3"})
        assert Job.objects.get().changed_at == NOW + timedelta(minutes=5)


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("tins", "0.01 l", "0.01 l cannot be"),
        ("tins", "61", "61 cannot be"),
        ("tins", "big", "big is no size of a tin"),
        ("tins", "1, 2, 3, 4, 5, 6, 7", "7 sizes are too many: give at most 6."),
        ("spread", "0", "0 m²/l cannot be"),
        ("spread", "1e9", "give a spread"),
        ("lead_days", "1.5", "1.5 days cannot be: give whole days from 0 to 365."),
        ("lead_days", "-1", "-1 days cannot be"),
        ("lead_days", "400", "400 days cannot be"),
    ],
)
def test_what_cannot_be_is_kept_as_typed_beside_its_field(
    paint_job, page, client, field, typed, said
) -> None:
    paint_job()
    given = {"spread": "10", "tins": "1 l", "lead_days": "3"} | {field: typed}
    answer = client.post("/jobs/job/quantities/of/material/", given)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert said in words(html)
    assert f'value="{typed}"' in html
    assert Job.objects.get().materials.get().tins_l == []


def test_leaving_a_form_as_it_is_moves_nothing(paint_job, page, client, lead) -> None:
    lead.units = User.Units.US
    lead.save()
    job = paint_job(tins_l=(0.75, 2.5), spread_m2_per_l=9.87)
    html = client.get("/jobs/job/quantities/of/material/").content.decode()
    fields = {"units": "us"}
    for name in ("spread", "tins", "lead_days"):
        tag = html.split(f'name="{name}"')[1].split(">")[0]
        fields[name] = tag.split('value="')[1].split('"')[0] if "value" in tag else ""
    assert client.post("/jobs/job/quantities/of/material/", fields).status_code == 302
    row = job.materials.get()
    assert (row.spread_m2_per_l, row.tins_l) == (9.87, [0.75, 2.5])


def test_a_hand_reads_and_sets_nothing(paint_job, client, hand, lead) -> None:
    paint_job(by=lead)
    client.force_login(hand)
    said = words(client.get("/jobs/job/quantities/").content.decode())
    assert "Wall paint" in said
    assert "Keep this allowance" not in said
    assert "Spread, tins, lead time" not in said


def test_nothing_left_says_so(job: Job, page) -> None:
    job.surfaces.all().delete()
    assert "Nothing is left to put on" in page()


def test_the_page_asks_no_more_for_two_hundred_walls_than_for_two(
    company, client, lead
) -> None:
    counts = []
    client.force_login(lead)
    for many in (2, 200):
        walls = tuple(SurfaceFactory(id=f"w{number}") for number in range(many))
        job = store_job(company, small_job(id=f"job-{many}", surfaces=walls))
        address = f"/jobs/{job.key}/quantities/"
        client.get(address)
        with CaptureQueriesContext(connection) as asked:
            assert client.get(address).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]
