"""The form that changes a label: times with their units, judged by the engine."""

from collections.abc import Callable
from dataclasses import replace
from html import unescape
from typing import Any

import pytest
import time_machine
from django.http import HttpResponse
from django.test import Client

from jobs.factories import AirFactory, MaterialFactory
from jobs.material_forms import typed_label
from jobs.models import Job, User
from jobs.recipe_changes import change_material
from jobs.starting_set import starting_materials
from jobs.translation import job_json, job_value
from jobs.typed_units import label_min
from scheduling.problem import LabelPoint, Material
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import as_shown, words

ADDRESS = "/jobs/job/materials/material/"


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def signed_in(client: Client, lead: User) -> Client:
    client.force_login(lead)
    return client


@pytest.fixture
def send(signed_in: Client, job: Job) -> Callable[..., HttpResponse]:
    """Posts the label as the page shows it, with some of its fields typed over."""

    def post(**changes: Any) -> HttpResponse:
        shown = as_shown(signed_in.get(ADDRESS).content.decode())
        return signed_in.post(ADDRESS, shown | changes)

    return post


def test_a_label_is_changed_and_the_old_one_shown(
    send: Callable[..., HttpResponse], signed_in: Client, job: Job
) -> None:
    answer = send(
        name="Wall paint",
        recoat="3,0 to 5 h",
        hard="2d",
        open="",
        family="glaze",
        temperature="20",
        humidity="60",
        spread="9,5",
        water_share="0.6",
        parts="1 colour, 4 medium",
        wash="14 d",
        oily="on",
        solvent="on",
    )
    assert answer.status_code == 302
    kept = job_value(job).material("material")
    assert kept == Material(
        id="material",
        name="Wall paint",
        family="glaze",
        label_air=AirFactory(temperature_c=20, humidity_pct=60),
        labels={"touch": 60, "recoat": (180, 300), "hard": 2880},
        promises={"wash": 20160},
        spread_m2_per_l=9.5,
        water_share=0.6,
        parts={"colour": 1, "medium": 4},
        oily=True,
        solvent=True,
    )
    said = words(signed_in.get(ADDRESS).content.decode())
    assert "Version 2. It goes on in recipe ." in said
    assert "Version 1, until Mon 07:30, changed by lead@example.com" in said
    assert "Takes the next coat 2 h to 4 h" in said


@pytest.mark.parametrize("material", starting_materials(), ids=lambda row: row.id)
@pytest.mark.parametrize("units", [User.Units.METRIC, User.Units.US])
def test_a_label_kept_untouched_does_not_change(
    material: Material,
    units: str,
    stored: Callable[..., Job],
    signed_in: Client,
    lead: User,
) -> None:
    lead.units = units
    lead.save()
    job = stored(materials=(MaterialFactory(id="material"), material))
    address = f"/jobs/job/materials/{material.id}/"
    shown = as_shown(signed_in.get(address).content.decode())
    answer = signed_in.post(address, shown, follow=True)
    assert "Nothing was changed." in words(answer.content.decode())
    assert job_value(job).material(material.id) == material


def test_points_stay_where_a_label_changes(
    stored: Callable[..., Job], signed_in: Client
) -> None:
    point = LabelPoint(
        air=AirFactory(temperature_c=10, humidity_pct=70), labels={"recoat": (300, 400)}
    )
    paint = replace(MaterialFactory(id="material"), points=(point,))
    job = stored(materials=(paint,))
    shown = as_shown(signed_in.get(ADDRESS).content.decode())
    signed_in.post(ADDRESS, shown | {"touch": "70 min"})
    kept = job_value(job).material("material")
    assert (kept.points, kept.labels["touch"]) == ((point,), 70)


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("recoat", "35", '"35": give a time in min, h or d'),
        ("recoat", "4-2h", "the shorter time first"),
        ("recoat", "1,200 min", '"1,200 min": give a time in min, h or d'),
        ("recoat", "soon", '"soon": give a time in min, h or d'),
        ("recoat", "30min", "30.0: give no less than touch, which is 60 minutes."),
        ("recoat", "", "a stage that the label of material (step coat-1) knows"),
        ("humidity", "101", "101: give a number from 0 to 100."),
        ("humidity", "", "Empty: give a value."),
        ("temperature", "200", "200 °C cannot be"),
        ("water_share", "2", "2: give a number from 0 to 1."),
        ("spread", "0", "give a spread from"),
        ("parts", "colour", '"colour": give parts such as 1 colour, 4 medium.'),
        ("parts", "0 colour", "0.0: give a number above 0"),
        ("family", "emulsion", "Select a valid choice"),
        ("name", "", "Empty: give a value."),
    ],
)
def test_what_cannot_be_is_refused_in_words_and_kept(
    field: str, value: str, said: str, send: Callable[..., HttpResponse], job: Job
) -> None:
    answer = send(**{field: value, "touch": "1 h "})
    assert answer.status_code == 422
    html = unescape(answer.content.decode())
    assert said in html
    if field != "family":
        assert as_shown(html)[field] == value
    assert job.materials.get().version == 1


def test_an_edit_of_an_older_label_is_refused_and_both_are_shown(
    send: Callable[..., HttpResponse], signed_in: Client, job: Job, lead: User
) -> None:
    theirs = job_json(job)["materials"][0] | {"name": "Theirs"}
    theirs["labels"]["recoat"] = [300, 360]
    shown = as_shown(signed_in.get(ADDRESS).content.decode()) | {"recoat": "6-7 h"}
    change_material(job=job, written=theirs, version=1, by=lead, now=NOW)
    answer = signed_in.post(ADDRESS, shown)
    assert answer.status_code == 409
    html = answer.content.decode()
    assert "it is version 2 now" in html
    assert "Takes the next coat 5 h to 6 h" in words(html)
    again = as_shown(html)
    assert (again["version"], again["recoat"]) == ("2", "6-7 h")
    assert signed_in.post(ADDRESS, again).status_code == 302
    assert job_value(job).material("material").labels["recoat"] == (360, 420)


def test_a_new_material_is_written_from_nothing(signed_in: Client, job: Job) -> None:
    address = "/jobs/job/new-material/"
    shown = as_shown(signed_in.get(address).content.decode())
    answer = signed_in.post(
        address, shown | {"name": "Casein", "family": "distemper", "recoat": "2-4 h"}
    )
    assert answer["Location"] == "/jobs/job/materials/casein/"
    kept = job_value(job).material("casein")
    assert kept.labels == {"recoat": (120, 240)}
    assert kept.label_air == AirFactory()


@pytest.mark.parametrize(
    ("label", "typed"),
    [
        (20.0, "20 min"),
        ((120.0, 240.0), "2-4 h"),
        (60.0, "1 h"),
        (1440.0, "24 h"),
        ((1440.0, 2880.0), "1-2 d"),
        ((90.0, 120.0), "90-120 min"),
        (12.25, "12.25 min"),
    ],
)
def test_a_label_is_shown_as_it_would_be_typed(label: Any, typed: str) -> None:
    assert typed_label(label) == typed
    assert label_min("", typed) == label


def test_units_switched_in_another_tab_do_not_move_what_was_typed(
    signed_in: Client, job: Job, lead: User
) -> None:
    shown = as_shown(signed_in.get(ADDRESS).content.decode())
    lead.units = User.Units.US
    lead.save()
    signed_in.post(ADDRESS, shown | {"temperature": "21", "spread": "10"})
    kept = job_value(job).material("material")
    assert (kept.label_air.temperature_c, kept.spread_m2_per_l) == (21, 10)


def test_an_old_label_is_brought_back_with_its_points(
    stored: Callable[..., Job], signed_in: Client, lead: User
) -> None:
    point = LabelPoint(
        air=AirFactory(temperature_c=10, humidity_pct=70), labels={"recoat": 350.0}
    )
    job = stored(materials=(MaterialFactory(id="material", points=(point,)),))
    plain = job_json(job)["materials"][0]
    del plain["points"]
    change_material(job=job, written=plain, version=1, by=lead, now=NOW)
    address = f"{ADDRESS}versions/1/"
    answer = signed_in.post(address, {"version": "2"}, follow=True)
    said = words(answer.content.decode())
    assert "material is version 3 now." in said
    assert "At 10.0 °C and 70 %: takes the next coat 5 h 50 min" in said
    assert job_value(job).material("material").points == (point,)
