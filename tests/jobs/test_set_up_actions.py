"""Writes of setting up: what they keep, and that nothing half-right is kept."""

from typing import Any

import pytest
from django.core.exceptions import ValidationError

from jobs.actions import log_test
from jobs.models import Company, Job, User
from jobs.set_up_actions import (
    change_site,
    free_key,
    keep_room,
    remove_room,
    start_job,
)
from jobs.set_up_calendar import keep_gate, keep_trade
from jobs.set_up_hands import keep_hand, remove_hand
from jobs.set_up_surfaces import (
    add_surfaces,
    change_surface,
    give_recipe,
    remove_surface,
)
from jobs.starting_recipes import starting_recipes
from jobs.translation import job_json, job_value
from scheduling.errors import BadInput
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import log_first_coat

pytestmark = pytest.mark.django_db(transaction=True)

SITE = {
    "zone": "Europe/Lisbon",
    "hours": [{"days": "mon-fri", "from": "08:00", "to": "16:30"}],
    "typical_air": [{"from": "08:00", "temperature_c": 15, "humidity_pct": 65}],
}
AIR = {"changes_per_h": 0.5, "day_c": 20, "night_c": 17}


def room_columns(name: str, **changes: Any) -> dict[str, Any]:
    return {"name": name, "volume_m3": 50.0, "air": AIR} | changes


def surface_columns(job: Job, **changes: Any) -> dict[str, Any]:
    recipe = job.recipes.first()
    size = {"kind": "wall", "width_m": 5.0, "height_m": 2.5}
    return size | {"recipe": recipe} | changes


@pytest.fixture
def begun(company: Company) -> Job:
    book = starting_recipes()
    return start_job(company=company, title="Gull House", site=SITE, book=book)


def test_a_job_that_is_begun_is_a_job_file_at_once(begun: Job) -> None:
    assert begun.key == "gull-house"
    value = job_value(begun)
    assert [recipe.id for recipe in value.recipes]
    assert job_json(begun)["site"]["zone"] == "Europe/Lisbon"


def test_jobs_of_one_title_have_ids_of_their_own(company: Company, begun: Job) -> None:
    again = start_job(
        company=company, title="Gull  House!", site=SITE, book=starting_recipes()
    )
    assert again.key == "gull-house-2"
    named = start_job(company=company, title="海", site=SITE, book=starting_recipes())
    assert named.key == "job"
    long = start_job(
        company=company, title="x" * 90, site=SITE, book=starting_recipes()
    )
    assert len(long.key) == 40
    assert free_key("x" * 90, "job", company.jobs.all()) == "x" * 38 + "-2"


def test_a_site_that_cannot_be_is_told_by_the_engine_and_not_kept(job: Job) -> None:
    hours = [{"days": "mon", "from": "09:00", "to": "08:00"}]
    with pytest.raises(BadInput) as caught:
        change_site(job=job, now=NOW, hours=hours)
    assert [fault.path for fault in caught.value.faults] == ["site.hours[0].to"]
    job.refresh_from_db()
    assert job.hours[0]["to"] == "16:30"


def test_plans_are_older_than_what_was_set_up_after_them(job: Job) -> None:
    before = job.changed_at
    change_site(job=job, now=NOW, title="Another")
    job.refresh_from_db()
    assert (job.title, job.changed_at) == ("Another", NOW)
    assert job.changed_at != before


def test_a_door_leads_both_ways_and_goes_with_its_room(begun: Job) -> None:
    def connected() -> dict[str, list[str]]:
        return {room.key: room.connected for room in begun.rooms.all()}

    keep_room(job=begun, room=None, now=NOW, **room_columns("Hall"))
    lounge = keep_room(
        job=begun, room=None, now=NOW, **room_columns("Lounge", connected=["hall"])
    )
    assert connected() == {"hall": ["lounge"], "lounge": ["hall"]}
    keep_room(job=begun, room=lounge, now=NOW, **room_columns("Lounge", connected=[]))
    assert connected() == {"hall": [], "lounge": []}
    keep_room(
        job=begun, room=lounge, now=NOW, **room_columns("Lounge", connected=["hall"])
    )
    remove_room(room=lounge, now=NOW)
    assert connected() == {"hall": []}
    assert job_value(begun).rooms[0].connected == ()


def test_surfaces_are_called_after_their_room_and_follow_its_name(begun: Job) -> None:
    room = keep_room(job=begun, room=None, now=NOW, **room_columns("Lounge"))
    entries = [surface_columns(begun), surface_columns(begun, name="Chimney breast")]
    entries.append(surface_columns(begun, kind="ceiling"))
    made = add_surfaces(room=room, entries=entries, now=NOW)
    names = [surface.name for surface in made]
    assert names == ["Lounge, wall 1", "Chimney breast", "Lounge, ceiling 1"]
    assert [surface.key for surface in made] == [
        "lounge-wall-1", "chimney-breast", "lounge-ceiling-1",
    ]  # fmt: skip
    remove_surface(surface=made[0], now=NOW)
    (again,) = add_surfaces(room=room, entries=[surface_columns(begun)], now=NOW)
    assert again.name == "Lounge, wall 1"
    keep_room(job=begun, room=room, now=NOW, **room_columns("Parlour"))
    assert set(begun.surfaces.values_list("name", flat=True)) == {
        "Parlour, wall 1", "Chimney breast", "Parlour, ceiling 1",
    }  # fmt: skip


def test_what_others_wrote_since_a_row_was_read_stays(job: Job) -> None:
    room, surface = job.rooms.get(), job.surfaces.get()  # read with the form
    days = {"name": "Joiner", "from": "2026-10-13T08:00:00+01:00",
            "to": "2026-10-13T12:00:00+01:00"}  # fmt: skip
    keep_trade(room=job.rooms.get(), was=None, trade=days, now=NOW)
    gate = {"name": "Scaffold up", "not_before": "2026-10-13T08:00:00+01:00"}
    keep_gate(job=job, was=None, gate=gate, surfaces=["wall"], now=NOW)
    keep_room(job=job, room=room, now=NOW, **room_columns("Hall", air=room.air))
    change_surface(surface=surface, now=NOW, **surface_columns(job, name="North"))
    value = job_value(job)
    assert (value.rooms[0].name, value.surfaces[0].name) == ("Hall", "North")
    assert [trade.name for trade in value.rooms[0].others] == ["Joiner"]
    assert [gate.name for gate in value.surfaces[0].gates] == ["Scaffold up"]


def test_of_several_surfaces_all_are_added_or_none(begun: Job) -> None:
    room = keep_room(job=begun, room=None, now=NOW, **room_columns("Lounge"))
    wrong = surface_columns(begun, stop_lines_m=[9.0])
    with pytest.raises(BadInput):
        add_surfaces(room=room, entries=[surface_columns(begun), wrong], now=NOW)
    assert not begun.surfaces.exists()


def test_a_recipe_stays_where_something_of_it_is_logged(job: Job, lead: User) -> None:
    surface = job.surfaces.get()
    other = job.recipes.create(key="other", name="Other")
    other.steps.create(key="sand", apply_min_m2=1.0, hands_least=1)
    coat = log_first_coat(job, lead)
    with pytest.raises(ValidationError, match="has coats logged of recipe"):
        give_recipe(job=job, surfaces=[surface], recipe=other, now=NOW)
    coat.delete()
    test = log_test(
        job=job, surface=surface, step=surface.recipe.steps.first(), result="ready",
        at=NOW, by=lead, now=NOW,
    )  # fmt: skip
    columns = surface_columns(job, name="", recipe=other)
    with pytest.raises(ValidationError, match="has tests logged"):
        change_surface(surface=surface, now=NOW, **columns)
    surface.refresh_from_db()
    assert surface.recipe.key == "recipe"
    test.delete()
    change_surface(surface=surface, now=NOW, **columns)
    assert job_value(job).surfaces[0].recipe == "other"


def test_a_hand_of_another_job_stays_one_person(begun: Job) -> None:
    columns = {"name": "Ann", "skills": ["painting"], "hours": None, "away": []}
    ann = keep_hand(job=begun, hand=None, now=NOW, key="lead-finisher", **columns)
    twin = keep_hand(job=begun, hand=None, now=NOW, key="lead-finisher", **columns)
    assert (ann.key, twin.key) == ("lead-finisher", "ann")
    keep_hand(job=begun, hand=ann, now=NOW, **(columns | {"name": "Anna"}))
    assert [hand.id for hand in job_value(begun).hands] == ["lead-finisher", "ann"]


def test_a_hand_who_goes_leaves_held_stints_held(job: Job) -> None:
    surface = job.surfaces.get()
    step = surface.recipe.steps.first()
    pin = job.pins.create(surface=surface, step=step, start=NOW, hands=["hand"])
    job.bans.create(surface=surface, step=step, hands=["hand"])
    remove_hand(hand=job.hands.get(), now=NOW)
    pin.refresh_from_db()
    assert pin.hands == []
    assert not job.bans.exists()  # forbidden to nobody, and at no time
    assert job_value(job).hands == ()
