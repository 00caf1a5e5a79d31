"""Copies of rooms, recipes and jobs: what comes along, what stays, how it is named."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from jobs.copying import copy_job, copy_recipe, copy_room, free_name
from jobs.demo_job import marram_house
from jobs.factories import (
    MONDAY,
    AirControlFactory,
    AirHourFactory,
    CoatFactory,
    DateWishFactory,
    GateFactory,
    HandFactory,
    PinFactory,
    ReadingFactory,
    RoomFactory,
    SiteFactory,
    SurfaceFactory,
    TradeFactory,
)
from jobs.free_ids import free_id
from jobs.models import Company, Job
from jobs.queries import first_day_of
from jobs.translation import job_json, job_value
from scheduling.errors import BadInput
from scheduling.shapes import ID_PATTERN
from tests.jobs.conftest import NOW

Stored = Callable[..., Job]


@pytest.fixture
def house(stored: Stored) -> Job:
    """Two rooms with a door between; the hall has two walls and a carpenter."""
    return stored(
        rooms=(
            RoomFactory(
                id="hall",
                name="Hall",
                connected=("stair",),
                others=(TradeFactory(),),
                hand_back=MONDAY + timedelta(days=4, hours=12),
            ),
            RoomFactory(id="stair", connected=("hall",)),
        ),
        surfaces=(
            SurfaceFactory(id="hall-north", name="Hall, north", room="hall"),
            SurfaceFactory(
                id="ends", room="hall", stop_lines_m=(2.0,), gates=(GateFactory(),)
            ),
            SurfaceFactory(id="stair-wall", room="stair"),
        ),
    )


# A room ---------------------------------------------------------------------------


def test_a_room_comes_with_its_surfaces_behind_the_others(house: Job) -> None:
    before = job_json(house)
    room = copy_room(
        job=house, room=house.rooms.get(key="hall"), name="Hall 2", now=NOW
    )
    after = job_json(house)
    assert room.key == "hall-2"
    assert [row["id"] for row in after["rooms"]] == ["hall", "stair", "hall-2"]
    assert [row["id"] for row in after["surfaces"]] == [
        *("hall-north", "ends", "stair-wall"),
        *("hall-2-north", "hall-2-ends"),
    ]
    assert after["rooms"][:2] == before["rooms"]
    assert after["surfaces"][:3] == before["surfaces"]
    assert after["surfaces"][3]["name"] == "Hall 2, north"
    new, old = after["surfaces"][4], before["surfaces"][1]
    assert new == old | {"id": "hall-2-ends", "room": "hall-2"}


def test_doors_and_other_trades_stay_with_the_room_that_was_copied(house: Job) -> None:
    copy_room(job=house, room=house.rooms.get(key="hall"), name="Hall 2", now=NOW)
    value = job_value(house)
    hall, copied = value.room("hall"), value.room("hall-2")
    assert copied == replace(hall, id="hall-2", name="Hall 2", connected=(), others=())
    assert hall.connected == ("stair",)


def test_what_was_logged_in_the_room_is_not_copied(stored: Stored) -> None:
    job = stored(
        coats=(CoatFactory(),),
        readings=(ReadingFactory(),),
        dates=(DateWishFactory(surface="wall"),),
        pins=(PinFactory(step="coat-2"),),
    )
    before = job_json(job)
    copy_room(job=job, room=job.rooms.get(), name="Snug", now=NOW)
    after = job_json(job)
    for part in ("coats", "readings", "dates", "pins"):
        assert after[part] == before[part]


def test_plans_made_before_the_copy_are_out_of_date(house: Job) -> None:
    copy_room(job=house, room=house.rooms.get(key="hall"), name="Snug", now=NOW)
    house.refresh_from_db()
    assert house.changed_at == NOW


@pytest.mark.parametrize("name", ["Hall", "hall", "STAIR"])
def test_a_name_that_a_room_has_is_refused_and_nothing_is_made(
    house: Job, name: str
) -> None:
    with pytest.raises(ValidationError, match="called so already"):
        copy_room(job=house, room=house.rooms.get(key="hall"), name=name, now=NOW)
    assert house.rooms.count() == 2


def test_ids_of_a_copy_never_meet_those_there_are(house: Job) -> None:
    hall = house.rooms.get(key="hall")
    for name in ("ends", "Énds!", "Hall 2", "…"):
        copy_room(job=house, room=hall, name=name, now=NOW)
    keys = list(house.rooms.values_list("key", flat=True))
    assert keys == ["hall", "stair", "ends", "ends-2", "hall-2", "room"]
    assert len(job_value(house).surfaces) == 3 + 4 * 2


# A recipe -------------------------------------------------------------------------


def test_a_recipe_comes_with_all_its_steps(stored: Stored) -> None:
    job = stored(marram_house(MONDAY.date()))
    for recipe in list(job.recipes.all()):
        made = copy_recipe(
            job=job, recipe=recipe, name=f"{recipe.label} again", now=NOW
        )
        value = job_value(job)
        new, old = value.recipe(made.key), value.recipe(recipe.key)
        assert new == replace(old, id=made.key, name=f"{recipe.label} again")
        assert not any(row.recipe == made.key for row in value.surfaces)


def test_a_name_that_a_recipe_has_is_refused(job: Job) -> None:
    with pytest.raises(ValidationError, match="called so already"):
        copy_recipe(job=job, recipe=job.recipes.get(), name="Recipe", now=NOW)


# A job ----------------------------------------------------------------------------


def copied(job: Job, company: Company, *, days: int = 0, title: str = "Again") -> Job:
    first = MONDAY.date()
    return copy_job(
        company=company,
        job=job,
        title=title,
        first_day=first,
        start=first + timedelta(days=days),
    )


def test_a_job_comes_with_what_was_set_up_and_nothing_that_happened(
    stored: Stored, company: Company
) -> None:
    job = stored(
        coats=(CoatFactory(),),
        readings=(ReadingFactory(),),
        pins=(PinFactory(step="coat-2"),),
        outdoors=(AirHourFactory(),),
        dates=(DateWishFactory(),),
    )
    value = job_value(copied(job, company))
    assert (value.id, value.title, value.now) == ("again", "Again", None)
    old = job_value(job)
    for part in ("hands", "materials", "recipes", "rooms", "surfaces"):
        assert getattr(value, part) == getattr(old, part)
    assert value.coats == value.readings == value.pins == value.outdoors == ()
    assert [wish.job for wish in value.dates] == ["again"]
    assert job_value(job) == old


def test_what_counts_from_the_first_day_moves_with_it(
    stored: Stored, company: Company
) -> None:
    away = (MONDAY + timedelta(days=2), MONDAY + timedelta(days=3))
    job = stored(
        site=SiteFactory(closed=(date(2026, 12, 25),)),
        hands=(HandFactory(id="hand", away=(away,)),),
        rooms=(
            RoomFactory(
                id="room",
                hand_back=MONDAY + timedelta(days=4, hours=12),
                others=(TradeFactory(),),
            ),
        ),
        surfaces=(SurfaceFactory(id="wall", gates=(GateFactory(),)),),
        dates=(DateWishFactory(),),
    )
    value, old = job_value(copied(job, company, days=21)), job_value(job)
    # Three weeks on, the clocks have gone back (25 October 2026): the hour on the wall
    # stays, the moment in UTC does not.
    gate = value.surfaces[0].gates[0].not_before
    assert gate is not None
    assert f"{gate:%Y-%m-%d %H:%M %z}" == "2026-11-04 08:00 +0000"
    assert f"{value.dates[0].by:%Y-%m-%d %H:%M}" == "2026-11-06 16:30"
    assert f"{value.rooms[0].hand_back:%Y-%m-%d %H:%M}" == "2026-11-06 12:00"
    assert f"{value.rooms[0].others[0].start:%Y-%m-%d %H:%M}" == "2026-11-03 08:00"
    assert value.hands == old.hands
    assert value.site.closed == old.site.closed


def test_given_air_comes_along_for_the_new_days(
    stored: Stored, company: Company
) -> None:
    value = job_value(copied(stored(), company, days=7))
    assert value.rooms[0].air.given[0].at == MONDAY + timedelta(days=7)


def test_the_forecast_leaves_its_usual_day_behind(
    stored: Stored, company: Company
) -> None:
    job = stored(
        rooms=(RoomFactory(id="room", air=AirControlFactory()),),
        outdoors=(
            AirHourFactory(at=MONDAY, temperature_c=10.0, humidity_pct=80.0),
            AirHourFactory(
                at=MONDAY + timedelta(hours=24), temperature_c=20.0, humidity_pct=80.0
            ),
        ),
    )
    value = job_value(copied(job, company))
    assert value.outdoors == ()
    typical = {row.start: row for row in value.site.typical_air}
    assert len(typical) == 24
    # Midnight was met twice, noon once. Saturated vapour at 10 and 20 C is 12.28 and
    # 23.39 hPa (steam tables): the mean of 80 % of each is 83.6 % of the 17.06 at 15.
    assert typical["00:00"].temperature_c == 15.0
    assert typical["00:00"].humidity_pct == pytest.approx(83.6, abs=0.2)
    assert typical["12:00"].temperature_c == 10.0
    assert typical["12:00"].humidity_pct == pytest.approx(80.0, abs=0.1)


def test_the_demo_job_can_be_copied_and_its_file_read(
    stored: Stored, company: Company
) -> None:
    job = stored(marram_house(MONDAY.date()))
    value, old = job_value(copied(job, company, days=364)), job_value(job)
    assert [row.id for row in value.surfaces] == [row.id for row in old.surfaces]
    assert value.dates[0].by - old.dates[0].by == timedelta(days=364)


def test_a_title_that_a_job_has_is_refused(job: Job, company: Company) -> None:
    with pytest.raises(ValidationError, match="called so already"):
        copied(job, company, title="one WALL")
    assert company.jobs.count() == 1


def test_a_copy_beyond_the_calendar_is_refused_and_nothing_is_made(
    stored: Stored, company: Company
) -> None:
    job = stored(dates=(DateWishFactory(),))
    with pytest.raises(BadInput, match="2199"):
        copied(job, company, days=365 * 180)
    assert company.jobs.count() == 1


def test_a_job_begins_with_its_first_coat_else_when_its_file_was_written(
    stored: Stored,
) -> None:
    assert first_day_of(stored()) == MONDAY.date()
    coat = CoatFactory(start=MONDAY - timedelta(days=3), end=MONDAY - timedelta(days=2))
    assert first_day_of(stored(id="begun", coats=(coat,))) == date(2026, 10, 9)
    undated = stored(id="undated", now=None)
    undated.created_at = datetime(2026, 5, 31, 23, 30, tzinfo=UTC)
    assert first_day_of(undated) == date(2026, 6, 1)  # by the site's clock


# Names ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "taken", "offered"),
    [
        ("Hall", [], "Hall 2"),
        ("Hall 2", ["hall 3"], "Hall 4"),
        ("Flat 12 A", [], "Flat 12 A 2"),
        ("1904", [], "1904 2"),
    ],
)
def test_the_name_offered_counts_on(name: str, taken: list[str], offered: str) -> None:
    assert free_name(name, taken) == offered


@given(st.text(max_size=300), st.sets(st.sampled_from(["a", "a-2", "room", "b"])))
def test_an_id_made_from_any_name_is_one_and_free(name: str, taken: set[str]) -> None:
    key = free_id(name, "room", taken)
    assert re.fullmatch(ID_PATTERN, key)
    assert key not in taken


def test_an_id_made_from_a_long_name_stays_within_forty_letters() -> None:
    long = "a" * 60
    assert free_id(long, "room", {long[:40]}) == "a" * 38 + "-2"
