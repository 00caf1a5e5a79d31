"""The pages on which a job is set up: from nothing, by a lead; a hand only reads."""

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.factories import (
    AirControlFactory,
    HandFactory,
    RoomFactory,
    SurfaceFactory,
    small_job,
)
from jobs.models import Job, User
from jobs.translation import job_json, job_value, store_job
from scheduling.job_file import read_job
from scheduling.planning import plan_job
from scheduling.problem import TypicalAir
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import log_first_coat, words

pytestmark = pytest.mark.django_db(transaction=True)

NEW_JOB = {
    "title": "Gull House", "zone": "Lisbon", "air": "mild", "hours-0-days": [
        "mon", "tue", "wed", "thu", "fri"
    ], "hours-0-start": "8", "hours-0-end": "1630", "hours-0-breaks": "12:00-12:30",
}  # fmt: skip
LOUNGE = {"name": "Lounge", "size": "5 x 4 x 2.5", "kind": "living", "then": "surfaces"}
WALL = {"kind": "wall", "width_m": "5", "height_m": "2.5", "recipe": "wall-paint"}


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def signed_in(client: Client, lead: User) -> Client:
    client.force_login(lead)
    return client


@pytest.fixture
def post(signed_in: Client) -> Callable[..., Any]:
    """Posts as the lead."""

    def send(address: str, data: dict[str, Any], status: int = 302) -> Any:
        answer = signed_in.post(address, data)
        assert answer.status_code == status, words(answer.content.decode())[:600]
        return answer

    return send


@pytest.fixture
def begun(post: Callable[..., Any], lead: User) -> Job:
    assert post("/new-job/", NEW_JOB).url == "/jobs/gull-house/set-up/"
    return lead.company.jobs.get()


def test_an_empty_account_leads_to_a_first_job(signed_in: Client) -> None:
    assert 'href="/new-job/"' in signed_in.get("/").content.decode()
    page = signed_in.get("/new-job/").content.decode()
    assert "Mild: 15 °C and 65 % by day" in words(page)


def test_a_title_is_all_that_must_be_typed(begun: Job, signed_in: Client) -> None:
    value = job_value(begun)
    assert (value.id, value.title) == ("gull-house", "Gull House")
    assert value.site.zone == "Europe/Lisbon"
    assert [(row.days, row.start, row.end) for row in value.site.hours] == [
        ("mon-fri", "08:00", "16:30")
    ]
    assert len(value.recipes) > 5
    said = words(signed_in.get("/jobs/gull-house/set-up/").content.decode())
    assert "No room yet." in said
    assert "Nobody is on the job." in said
    assert "Plan the week" not in said


def test_a_new_job_takes_the_recipes_of_the_company_if_it_has_some(
    job: Job, signed_in: Client, post: Callable[..., Any], lead: User
) -> None:
    page = words(signed_in.get("/new-job/").content.decode())
    assert "As on One wall" in page
    post("/new-job/", NEW_JOB, status=422)  # one of the two must be chosen
    post("/new-job/", NEW_JOB | {"recipes": "job"})
    value = job_value(lead.company.jobs.get(key="gull-house"))
    assert [recipe.id for recipe in value.recipes] == ["recipe"]
    assert [material.id for material in value.materials] == ["material"]


def test_what_is_wrong_stands_beside_its_field_and_nothing_typed_is_lost(
    post: Callable[..., Any], lead: User
) -> None:
    wrong = NEW_JOB | {"zone": "Lyonesse", "hours-0-end": "7"}
    page = post("/new-job/", wrong, status=422).content.decode()
    assert 'value="Gull House"' in page
    assert "Lyonesse" in words(page)
    late = post("/new-job/", NEW_JOB | {"hours-0-end": "7"}, status=422)
    said = words(late.content.decode())
    assert "later than 08:00" in said  # the engine's own words
    assert "one line needs another look" in said
    assert not lead.company.jobs.exists()


def test_a_room_leads_on_to_its_walls_and_these_to_a_plan(
    begun: Job, signed_in: Client, post: Callable[..., Any], sent: list[int]
) -> None:
    there = "/jobs/gull-house/set-up/"
    answer = post(f"{there}new-room/", LOUNGE)
    assert answer.url.startswith(f"{there}rooms/lounge/all-round/?long=5.0&wide=4.0")
    page = signed_in.get(answer.url).content.decode()
    assert 'value="2.5"' in page
    walls = {
        "long": "5", "wide": "4", "high": "2.5", "wall_1": "on", "wall_2": "on",
        "ceiling": "on", "openings_1": "0.9 x 2", "walls_recipe": "wall-paint",
        "ceiling_recipe": "wall-paint", "floor_recipe": "wall-paint", "then": "next",
    }  # fmt: skip
    answer = post(f"{there}rooms/lounge/all-round/", walls)
    assert answer.url == f"{there}rooms/lounge/new-surface/"
    said = words(signed_in.get(there).content.decode())
    assert "Nobody is on the job." in said
    assert "material 40.7 m², labour 42.5 m²" in said
    post(f"{there}new-hand/", {"name": "Ann", "skills": ["glazing"], "then": "next"})
    said = words(signed_in.get(there).content.decode())
    assert "asks for painting, and nobody has it." in said
    most = max(step.hands.least for step in job_value(begun).recipe("wall-paint").steps)
    assert (f"wants {most} at the wall; 1 on the job." in said) == (most > 1)
    for name in ("Ben", "Cleo"):
        post(f"{there}new-hand/", {"name": name, "skills": ["painting"]})
    said = words(signed_in.get(there).content.decode())
    assert "Ready to plan" in said
    assert "1 room, 3 surfaces, 3 hands." in said
    post("/jobs/gull-house/week/plan/", {})
    assert len(sent) == 1

    exported = json.loads(signed_in.get("/jobs/gull-house/file.json").content)
    plan = plan_job(read_job(exported), at=NOW, budget=1.0)
    assert plan.outcome == "plan"
    assert {stint.surface for stint in plan.stints} == {
        "lounge-wall-1", "lounge-wall-2", "lounge-ceiling-1",
    }  # fmt: skip


def test_the_air_of_a_room_is_its_kinds_unless_it_is_typed(
    begun: Job, post: Callable[..., Any], signed_in: Client
) -> None:
    there = "/jobs/gull-house/set-up/"
    typed = {"night_c": "12", "dehumidifier_l_day": "20", "then": "room"}
    assert post(f"{there}new-room/", LOUNGE | typed).url == f"{there}new-room/"
    air = begun.rooms.get().air
    assert air == {
        "changes_per_h": 0.5, "day_c": 20, "night_c": 12.0, "dehumidifier_l_day": 20.0,
    }  # fmt: skip
    page = signed_in.get(f"{there}rooms/lounge/").content.decode()
    assert "nights 12 °C" in words(page)
    change = {"name": "Lounge", "size": "50 m³", "changes_per_h": "3", "day_c": "20"}
    answer = post(f"{there}rooms/lounge/", change, status=422)
    assert "Empty: give a value." in words(answer.content.decode())
    post(f"{there}rooms/lounge/", change | {"night_c": "20"})
    assert begun.rooms.get().air == {"changes_per_h": 3.0, "day_c": 20, "night_c": 20.0}


def test_feet_and_inches_are_typed_by_who_reads_them(
    begun: Job, post: Callable[..., Any], signed_in: Client
) -> None:
    post("/units/", {"units": "us"})
    there = "/jobs/gull-house/set-up/"
    answer = post(f"{there}new-room/", LOUNGE | {"size": "16 x 13 x 8'6\""})
    assert begun.rooms.get().volume_m3 == pytest.approx(16 * 13 * 8.5 * 0.3048**3)
    form = signed_in.get(answer.url).context["form"]
    assert [form[name].value() for name in ("long", "wide", "high")] == [
        "16 ft", "13 ft", "8 ft 6 in",
    ]  # fmt: skip
    wall = WALL | {"width_m": "16", "height_m": "8'6\"", "openings_m2": "3 x 7"}
    post(f"{there}rooms/lounge/new-surface/", wall)
    assert begun.surfaces.get().area_m2 == pytest.approx(115 * 0.3048**2)
    said = words(signed_in.get(there).content.decode())
    assert "material 115 ft², labour 136 ft²" in said


def test_cooling_below_the_heating_is_refused_in_the_engines_words(
    begun: Job, post: Callable[..., Any]
) -> None:
    typed = LOUNGE | {"cooling_c": "18"}
    answer = post("/jobs/gull-house/set-up/new-room/", typed, status=422)
    said = words(answer.content.decode())
    assert "18.0: at least the warmer set point, which is 20." in said
    assert not begun.rooms.exists()


def test_saving_what_is_shown_changes_no_value(
    signed_in: Client, stored: Callable[..., Job]
) -> None:
    """A room, a surface and a hand with every key that the pages know."""
    row = stored(_full())
    before = job_json(row)
    pages = ("rooms/a/", "surfaces/wall/", "hands/hand/", "site/", "air/")
    for units in ("metric", "us"):
        signed_in.post("/units/", {"units": units})
        for page in pages:
            address = f"/jobs/job/set-up/{page}"
            form = signed_in.get(address).context["form"]
            answer = signed_in.post(address, _as_shown(form))
            assert answer.status_code == 302, (page, form.errors)
            assert job_json(row) == before, (page, units)


def _full() -> Any:
    hours = small_job().site.hours
    air = AirControlFactory(dehumidifier_l_day=30.5, cooling_c=26.0, doors_m3_h=12.3)
    room = RoomFactory(
        id="a", name="A", volume_m3=1 / 3, air=air, access=hours, opens=hours,
        connected=("b",), hands_most=2, hand_back=NOW, any_order=True,
        smell_free=hours,
    )  # fmt: skip
    other = RoomFactory(id="b", name="B", connected=("a",))
    surface = SurfaceFactory(
        id="wall", room="a", name="North", width_m=10 / 3, height_m=2.7,
        openings_m2=1 / 7, stop_lines_m=(1.1, 7 / 3), outside=True, u_w_m2k=1.2,
        sun=hours, priority=-3, ground="porous",
    )  # fmt: skip
    hand = HandFactory(id="hand", name="Ann", hours=hours, away=((NOW, NOW.replace(
        hour=9)),))  # fmt: skip
    site = replace(
        small_job().site,
        typical_air=(TypicalAir(start="00:00", temperature_c=9.5, humidity_pct=80.0),),
        quiet=hours,
        closed=(NOW.date(),),
    )
    return small_job(rooms=(room, other), surfaces=(surface,), hands=(hand,), site=site)


def _as_shown(form: Any) -> dict[str, Any]:
    """What a browser sends when nothing was touched."""
    forms = [form, *(rule for rules in form.hours.values() for rule in rules.forms)]
    sent: dict[str, Any] = {}
    for part in forms:
        for name in part.fields:
            bound = part[name]
            value = bound.field.prepare_value(bound.value())
            if value is True:
                sent[bound.html_name] = "on"
            elif value not in (None, False):
                sent[bound.html_name] = value
            elif name in {"start", "end"}:
                sent[bound.html_name] = ""
    return sent


def test_the_next_surface_begins_as_the_last_one_was_typed(
    begun: Job, post: Callable[..., Any], signed_in: Client
) -> None:
    post("/jobs/gull-house/set-up/new-room/", LOUNGE)
    address = "/jobs/gull-house/set-up/rooms/lounge/new-surface/"
    typed = WALL | {"kind": "door", "width_m": "0.9", "openings_m2": "0.2"}
    assert post(address, typed | {"then": "next"}).url == address
    form = signed_in.get(address).context["form"]
    shown = {name: form[name].value() for name in ("kind", "width_m", "recipe")}
    assert shown == {"kind": "door", "width_m": "0.9", "recipe": "wall-paint"}
    assert form["openings_m2"].value() == ""
    assert begun.surfaces.get().name == "Lounge, door 1"


def test_a_recipe_is_that_chosen_last_for_such_a_surface_else_a_usual_one(
    begun: Job, post: Callable[..., Any], signed_in: Client
) -> None:
    post("/jobs/gull-house/set-up/new-room/", LOUNGE)
    address = "/jobs/gull-house/set-up/rooms/lounge/new-surface/"
    form = signed_in.get(address).context["form"]
    assert form["recipe"].value() == "wall-paint"
    post(address, WALL | {"recipe": "strie"})
    post(address, WALL | {"kind": "door", "recipe": "trim-enamel"})
    form = signed_in.get(address).context["form"]
    by_kind = json.loads(form.fields["recipe"].widget.attrs["data-by-kind"])
    assert by_kind == {
        "wall": "strie", "ceiling": "wall-paint", "door": "trim-enamel",
        "trim": "trim-enamel",
    }  # fmt: skip
    page = signed_in.get("/jobs/gull-house/set-up/rooms/lounge/all-round/")
    assert page.context["form"]["walls_recipe"].value() == "strie"


def test_a_hand_of_another_job_is_offered_with_what_they_can_do(
    begun: Job,
    stored: Callable[..., Job],
    post: Callable[..., Any],
    signed_in: Client,
) -> None:
    stored().hands.update(name="Ann")
    address = "/jobs/gull-house/set-up/new-hand/"
    assert 'href="?as=hand">Ann</a>' in signed_in.get(address).content.decode()
    form = signed_in.get(f"{address}?as=hand").context["form"]
    assert form["name"].value() == "Ann"
    assert form["skills"].value() == ["finisher"]
    post(f"{address}?as=hand", {"name": "Ann", "skills": ["finisher", "painting"]})
    assert begun.hands.get().key == "hand"  # one person in all jobs
    assert "?as=" not in signed_in.get(address).content.decode()


def test_one_recipe_is_given_to_several_surfaces(
    begun: Job, post: Callable[..., Any]
) -> None:
    post("/jobs/gull-house/set-up/new-room/", LOUNGE)
    for _ in range(3):
        post("/jobs/gull-house/set-up/rooms/lounge/new-surface/", WALL)
    chosen = ["lounge-wall-1", "lounge-wall-3"]
    address = "/jobs/gull-house/set-up/one-recipe/"
    post(address, {"recipe": "strie", "surfaces": chosen})
    rows = begun.surfaces.values_list("key", "recipe__key")
    assert dict(rows) == {
        "lounge-wall-1": "strie", "lounge-wall-2": "wall-paint",
        "lounge-wall-3": "strie",
    }  # fmt: skip
    answer = post(address, {"recipe": "strie"}, status=422)
    assert "one surface or more" in words(answer.content.decode())


def test_what_would_be_lost_is_said_before_anything_goes(
    job: Job, lead: User, signed_in: Client, post: Callable[..., Any]
) -> None:
    log_first_coat(job, lead)
    address = "/jobs/job/set-up/rooms/room/remove/"
    said = words(signed_in.get(address).content.decode())
    assert "1 surface: wall" in said
    assert "1 logged coat" in said
    post(address, {}, status=422)  # only the button removes
    assert job.rooms.exists()
    post(address, {"remove": "yes"})
    assert not job.rooms.exists()
    assert not job.coats.exists()
    assert job_value(job).surfaces == ()


def test_a_hand_reads_what_is_set_up_and_is_offered_no_change(
    job: Job, hand: User, client: Client
) -> None:
    client.force_login(hand)
    page = client.get("/jobs/job/set-up/").content.decode()
    assert "wall" in words(page)
    main = page[page.index("<main") : page.index("</main")]
    assert "/set-up/" not in main
    assert "<form" not in main


def test_two_hundred_surfaces_take_no_more_queries_than_two(
    signed_in: Client, lead: User
) -> None:
    def asked(count: int, page: str) -> int:
        walls = tuple(SurfaceFactory(id=f"wall-{n}") for n in range(count))
        rooms = (RoomFactory(id="room"), RoomFactory(id="other"))
        store_job(lead.company, small_job(surfaces=walls, rooms=rooms), replace=True)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert signed_in.get(f"/jobs/job/set-up/{page}").status_code == 200
        return len(queries)

    store_job(lead.company, small_job())
    for page in ("", "one-recipe/", "rooms/room/remove/", "gate/", "new-date/"):
        assert asked(2, page) == asked(200, page), page
