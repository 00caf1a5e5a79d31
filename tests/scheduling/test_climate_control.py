"""How a room's air is kept: humidifier, cooling, people, open doors, sun on a wall."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from scheduling.air_of_job import job_air
from scheduling.climate import (
    SUN_RISE_K,
    outdoor_air,
    room_airs,
    room_conditions,
    surface_air,
    water_given_off,
)
from scheduling.errors import BadInput
from scheduling.job_file import read_job, write_job
from scheduling.notes import unused_notes
from scheduling.outdoors import UNKNOWN_SPREAD
from scheduling.problem import (
    AirControl,
    AirHour,
    GivenAir,
    Hours,
    Job,
    Room,
    Site,
    Surface,
)
from scheduling.psychrometrics import humidity_ratio_g_kg, saturation_pa, vapour_pa
from scheduling.room_doors import door_m3_h, flows_m3_h
from scheduling.room_model import run_together
from scheduling.room_water import water_balance

MONDAY = datetime(2026, 10, 12, tzinfo=UTC)
SITE = Site(zone="Etc/UTC", hours=(Hours(days="mon-fri", start="08:00", end="16:30"),))


def control(**more):
    return AirControl(**{"changes_per_h": 0.5, "day_c": 20.0, "night_c": 20.0, **more})


def room(room_id="hall", *, volume_m3=100.0, connected=(), air=None, **more):
    return Room(
        id=room_id,
        volume_m3=volume_m3,
        connected=connected,
        air=air or control(**more),
    )


def job(*rooms, outdoors=(12.0, 70.0), **more):
    air = AirHour(at=MONDAY, temperature_c=outdoors[0], humidity_pct=outdoors[1])
    return Job(
        **{
            "id": "hotel",
            "title": "Small hotel",
            "site": SITE,
            "now": MONDAY,
            "hands": (),
            "materials": (),
            "recipes": (),
            "rooms": rooms,
            "surfaces": (),
            "outdoors": (air,),
            **more,
        }
    )


def given_room(room_id, temperature_c, humidity_pct, connected=()):
    hour = AirHour(at=MONDAY, temperature_c=temperature_c, humidity_pct=humidity_pct)
    return room(room_id, connected=connected, air=GivenAir(given=(hour,)))


def last(whole, room_id="hall", days=5):
    air = room_airs(whole, MONDAY, days)[room_id]
    return float(air.temperature_c[-1]), float(air.humidity_pct[-1])


def vapour_of(state):
    return vapour_pa(*state)


# Machines and people


def test_a_humidifier_dampens_a_dry_room_and_gives_nothing_near_saturation():
    dry = last(job(room(), outdoors=(0.0, 70.0)))[1]
    small = last(job(room(humidifier_l_day=10.0), outdoors=(0.0, 70.0)))[1]
    huge = last(job(room(humidifier_l_day=1000.0), outdoors=(0.0, 70.0)))[1]
    assert dry < 20
    assert dry + 10 < small < 60
    assert 80 < huge <= 95


def test_a_humidifier_in_dry_air_gives_its_rating():
    whole = job(room(humidifier_l_day=6.0, volume_m3=1e5), outdoors=(0.0, 50.0))
    outside = outdoor_air(whole, MONDAY, 2)
    conditions = room_conditions(whole, whole.rooms[0], outside)
    (result,) = run_together([conditions])
    assert result.humidified_kg[:288].sum() == pytest.approx(6.0, rel=1e-6)


def test_cooling_holds_its_highest_temperature_and_takes_water_out():
    summer = (32.0, 60.0)
    warm, damp = last(job(room(), outdoors=summer))
    cool, dry = last(job(room(cooling_c=24.0), outdoors=summer))
    assert warm == pytest.approx(32.0, abs=0.01)
    assert cool == pytest.approx(24.0, abs=0.01)
    # The outdoor air at 24 C would be over 90 %; the coil leaves less in it.
    uncooled = 100 * vapour_of((warm, damp)) / saturation_pa(24.0)
    assert 40 < dry < uncooled - 10


def test_cooling_that_has_nothing_to_do_changes_nothing():
    plain = room_airs(job(room()), MONDAY, 3)["hall"]
    cooled = room_airs(job(room(cooling_c=26.0)), MONDAY, 3)["hall"]
    assert (plain.humidity_pct == cooled.humidity_pct).all()
    assert (plain.temperature_c == cooled.temperature_c).all()


def test_people_raise_the_vapour_by_their_water_over_the_air_flow():
    """ASHRAE Fundamentals ch. 16: steady, source over air flow. 1.204 kg/m3 at 20 C."""
    quiet, lived = (
        humidity_ratio_g_kg(vapour_of(last(job(room(occupants_g_h=g)), days=20)))
        for g in (0.0, 150.0)
    )
    assert lived - quiet == pytest.approx(150 / (1.204 * 0.5 * 100), rel=5e-3)


def test_a_lived_in_room_begins_as_its_people_have_made_it():
    air = room_airs(job(room(occupants_g_h=150.0)), MONDAY, 20)["hall"]
    assert air.humidity_pct[0] == pytest.approx(air.humidity_pct[-1], abs=0.3)


# Doors


def test_a_door_is_read_from_either_side_and_the_larger_word_counts():
    hall = room("hall", connected=("bar",), doors_m3_h=60.0)
    bar = room("bar", doors_m3_h=100.0)
    far = room("far", doors_m3_h=500.0)
    assert door_m3_h(hall, bar) == door_m3_h(bar, hall) == 100.0
    assert door_m3_h(hall, far) == door_m3_h(hall, hall) == 0.0
    assert flows_m3_h([bar, far]) is None
    assert (flows_m3_h([hall, bar, far]) == [[0, 100, 0], [100, 0, 0], [0, 0, 0]]).all()


def test_connected_rooms_without_open_doors_stay_apart():
    pair = job(room("hall", connected=("bar",)), room("bar", day_c=10.0, night_c=10.0))
    alone = job(room("hall"))
    together = room_airs(pair, MONDAY, 3)["hall"]
    assert (
        together.humidity_pct == room_airs(alone, MONDAY, 3)["hall"].humidity_pct
    ).all()


def test_an_open_door_warms_the_unheated_room_and_shares_the_water():
    def pair(doors):
        return job(
            room("hall", connected=("store",), occupants_g_h=300.0, doors_m3_h=doors),
            room("store", day_c=5.0, night_c=5.0),
            outdoors=(2.0, 80.0),
        )

    shut, ajar, wide = (
        {name: last(pair(doors), name) for name in ("hall", "store")}
        for doors in (None, 50.0, 2000.0)
    )
    assert shut["store"][0] < ajar["store"][0] < wide["store"][0] < 20.0
    assert vapour_of(shut["hall"]) > vapour_of(ajar["hall"]) > vapour_of(wide["hall"])
    apart = vapour_of(wide["hall"]) - vapour_of(wide["store"])
    assert 0 < apart < 0.1 * vapour_of(wide["hall"])


def test_a_room_of_given_air_stands_at_the_door_as_it_is():
    damp = given_room("cellar", 14.0, 90.0)
    hall = room("hall", connected=("cellar",), doors_m3_h=1000.0, changes_per_h=0.1)
    whole = job(hall, damp, outdoors=(5.0, 60.0))
    airs = room_airs(whole, MONDAY, 5)
    assert set(airs["cellar"].humidity_pct) == {90.0}
    found = vapour_of((airs["hall"].temperature_c[-1], airs["hall"].humidity_pct[-1]))
    # Ten room volumes an hour from the cellar, a tenth of one from outdoors.
    expected = (10 * vapour_pa(14.0, 90.0) + 0.1 * vapour_pa(5.0, 60.0)) / 10.1
    assert found == pytest.approx(expected, rel=5e-3)


def test_a_hot_given_room_warms_what_is_open_to_it():
    hall = room("hall", connected=("plant",), doors_m3_h=500.0)
    whole = job(hall, given_room("plant", 35.0, 30.0))
    # Heat in by the door is heat out by air change and fabric: 0.335 W h/(m3 K).
    door, lost = 0.335 * 500, (0.335 * 0.5 + 0.6) * 100
    expected = (door * 35 + lost * 12) / (door + lost)
    assert last(whole)[0] == pytest.approx(expected, abs=0.01)


def test_rooms_far_from_the_open_door_are_as_if_alone():
    pair = (room("hall", connected=("bar",), doors_m3_h=100.0), room("bar"))
    alone = room_airs(job(room("far", occupants_g_h=50.0)), MONDAY, 3)["far"]
    among = room_airs(job(*pair, room("far", occupants_g_h=50.0)), MONDAY, 3)["far"]
    assert among.temperature_c == pytest.approx(alone.temperature_c, abs=1e-9)
    # One is stepped in two halves, the other whole: equal to the step's square.
    assert among.humidity_pct == pytest.approx(alone.humidity_pct, abs=0.02)


@settings(max_examples=40, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(
    outdoors=st.tuples(st.floats(-20, 38), st.floats(5, 100)),
    changes=st.floats(0, 20),
    doors=st.floats(0, 5000),
    litres=st.floats(0, 300),
    humidifier=st.floats(0, 300),
    people=st.floats(0, 5000),
    kilograms=st.floats(0, 50),
    volume=st.floats(5, 2000),
    cooling_c=st.floats(22, 30),
)
def test_water_is_kept_with_every_machine_and_door_at_once(
    outdoors, changes, doors, litres, humidifier, people, kilograms, volume, cooling_c
):
    hall = room(
        "hall",
        connected=("bar", "cellar"),
        volume_m3=volume,
        changes_per_h=changes,
        doors_m3_h=doors,
        dehumidifier_l_day=litres,
        humidifier_l_day=humidifier,
        occupants_g_h=people,
        cooling_c=cooling_c,
    )
    bar = room("bar", day_c=18.0, night_c=12.0, changes_per_h=1.0)
    whole = job(hall, bar, given_room("cellar", 12.0, 95.0), outdoors=outdoors)
    outside = outdoor_air(whole, MONDAY, 2)
    water = water_given_off(kilograms, 1.0, 900.0, 5.0, 2 * 288)
    both = [
        room_conditions(whole, hall, outside, water=water),
        room_conditions(whole, bar, outside),
    ]
    results = run_together(both, doors_m3_h=flows_m3_h([hall, bar]))
    exchanged = sum(result.doors_kg.sum() for result in results)
    moved = 1 + sum(np.abs(result.doors_kg).sum() for result in results)
    assert abs(exchanged) < 1e-9 * moved
    for conditions, result in zip(both, results, strict=True):
        balance = water_balance(conditions, result)
        size = 1 + sum(
            abs(part)
            for part in (
                balance.ventilated,
                balance.through_doors,
                balance.given_off,
                balance.humidified,
                balance.removed,
                balance.cooled,
                balance.condensed,
            )
        )
        assert abs(balance.missing) < 1e-6 * size
        for values in (
            result.ratio,
            result.removed_kg,
            result.cooled_kg,
            result.humidified_kg,
            result.condensed_kg,
        ):
            assert np.isfinite(values).all()
            assert (values >= 0).all()
    for air in room_airs(whole, MONDAY, 2, water={"hall": water}).values():
        assert ((air.humidity_pct >= 0) & (air.humidity_pct <= 100)).all()
        assert np.isfinite(air.temperature_c).all()


def test_a_quarter_of_the_step_hardly_changes_rooms_with_all_machines():
    whole = job(
        room(
            "hall",
            connected=("bar",),
            doors_m3_h=200.0,
            humidifier_l_day=5.0,
            occupants_g_h=100.0,
            cooling_c=24.0,
        ),
        room("bar", night_c=15.0, dehumidifier_l_day=20.0),
        outdoors=(28.0, 70.0),
    )
    # Past the first hours, in which machines take hold of a room that knew none.
    coarse = room_airs(whole, MONDAY, 3)
    fine = room_airs(whole, MONDAY, 3, step_min=1.25)
    inside = slice(48, -1)

    def means(values):
        return values.reshape(-1, 4).mean(axis=1)

    for name in ("hall", "bar"):
        apart_c = coarse[name].temperature_c - means(fine[name].temperature_c)
        apart_pct = coarse[name].humidity_pct - means(fine[name].humidity_pct)
        assert np.abs(apart_c[inside]).max() < 0.005
        assert np.abs(apart_pct[inside]).max() < 0.05


# Sun


WALL = Surface(
    id="wall",
    room="hall",
    kind="wall",
    width_m=5,
    height_m=3,
    recipe="none",
    sun=(Hours(days="mon-sun", start="12:00", end="16:00"),),
)


def test_the_sun_warms_a_wall_in_its_hours_and_lets_it_cool_after():
    whole = job(room())
    air = room_airs(whole, MONDAY, 2)["hall"]
    found = surface_air(whole, WALL, air, outdoor_air(whole, MONDAY, 2))
    rise = found.surface_c - found.temperature_c

    def at(hours):
        return rise[found.index(hours * 60)]

    assert at(11.9) == 0.0
    # First order, an hour: 1 - 1/e of the way after that time, then five minutes' mean.
    over_a_step = -np.expm1(-1 / 12) * 12
    warmed = SUN_RISE_K * (1 - np.exp(-1) * over_a_step)
    assert at(13) == pytest.approx(warmed, abs=1e-9)
    cooling = SUN_RISE_K * (1 - np.exp(-4)) * over_a_step
    assert at(16) == pytest.approx(cooling, abs=1e-9)
    assert at(17) == pytest.approx(at(16) * np.exp(-1), abs=1e-9)
    assert at(35.9) < 0.01
    assert (found.temperature_c == air.temperature_c).all()
    assert (found.humidity_pct == air.humidity_pct).all()


def test_a_cloud_is_allowed_for_while_the_sun_is_planned_on_a_wall():
    sure = tuple(
        AirHour(at=MONDAY + timedelta(hours=h), temperature_c=12.0, humidity_pct=70.0)
        for h in range(24)
    )
    whole = replace(job(room()), outdoors=sure)
    air = room_airs(whole, MONDAY, 2)["hall"]
    found = surface_air(whole, WALL, air, None)
    wider = found.spread - air.spread
    assert wider[found.index(8 * 60)] == 0.0
    assert 0.05 < wider[found.index(15 * 60)] <= 0.10
    assert found.spread.max() <= UNKNOWN_SPREAD


def test_sun_warms_no_wall_of_a_room_of_given_air_and_the_note_says_so():
    whole = job(given_room("hall", 20.0, 50.0), surfaces=(WALL,))
    air = room_airs(whole, MONDAY, 2)["hall"]
    assert surface_air(whole, WALL, air, None) is air
    (note,) = unused_notes(whole)
    assert "the sun does not warm it" in note


def test_the_note_on_sun_says_what_is_planned_with_it():
    (note,) = unused_notes(job(room(), surfaces=(WALL,)))
    assert "as up to 8 K warmer in those hours" in note
    assert "before the sun comes round" in note


def test_two_walls_of_a_room_may_have_different_sun():
    shaded = replace(WALL, id="shaded", sun=())
    again = replace(WALL, id="again")
    airs = job_air(
        job(room(), surfaces=(WALL, shaded, again)), at=MONDAY, days=2
    ).surfaces
    assert airs["wall"].surface_c.max() > 27
    assert airs["shaded"].surface_c.max() == pytest.approx(20.0)
    assert airs["again"] is airs["wall"]


# The job file


SITE_HOURS = [{"days": "mon-fri", "from": "08:00", "to": "16:30"}]
FILE = {
    "format": "coat-by-coat/1",
    "id": "j",
    "title": "j",
    "site": {"zone": "Etc/UTC", "hours": SITE_HOURS},
    "hands": [],
    "materials": [],
    "recipes": [],
    "surfaces": [],
    "outdoors": [
        {"at": "2026-10-12T00:00:00+00:00", "temperature_c": 10, "humidity_pct": 80}
    ],
}
AIR = {
    "changes_per_h": 0.5,
    "day_c": 20,
    "night_c": 16,
    "humidifier_l_day": 8,
    "cooling_c": 25,
    "occupants_g_h": 300,
    "doors_m3_h": 120,
}


def file_of(**air):
    rooms = [{"id": "hall", "volume_m3": 60, "air": {**AIR, **air}}]
    return {**FILE, "rooms": rooms, "readings": [], "coats": [], "dates": []}


def test_the_keys_of_a_rooms_air_are_read_and_written_again():
    whole = read_job(file_of())
    assert whole.rooms[0].air == AirControl(**AIR)
    assert write_job(whole)["rooms"][0]["air"] == AIR
    plain = {name: AIR[name] for name in ("changes_per_h", "day_c", "night_c")}
    rooms = [{"id": "hall", "volume_m3": 60, "air": plain}]
    assert (
        write_job(read_job({**file_of(), "rooms": rooms}))["rooms"][0]["air"] == plain
    )


@pytest.mark.parametrize(
    ("key", "value", "allowed"),
    [
        ("humidifier_l_day", -1, "1000"),
        ("cooling_c", 300, "50"),
        ("cooling_c", 18, "warmer set point which is 20"),
        ("occupants_g_h", float("nan"), "100000"),
        ("doors_m3_h", -5, "100000"),
        ("doors_m3_h", "wide", "100000"),
    ],
)
def test_nonsense_about_a_rooms_air_is_refused_with_the_field(key, value, allowed):
    with pytest.raises(BadInput) as refused:
        read_job(file_of(**{key: value}))
    (fault,) = refused.value.faults
    assert fault.path == f"rooms[0].air.{key}"
    assert allowed in fault.allowed.replace(",", "").replace("_", "")


def test_twelve_open_rooms_with_every_machine_over_a_month():
    rooms = [
        room(
            f"room-{i}",
            connected=(f"room-{(i + 1) % 12}",),
            doors_m3_h=100.0,
            dehumidifier_l_day=20.0,
            humidifier_l_day=5.0,
            occupants_g_h=50.0,
            cooling_c=22.0,
        )
        for i in range(12)
    ]
    outdoors = tuple(
        AirHour(
            at=MONDAY + timedelta(hours=h),
            temperature_c=15 + 10 * np.sin(h / 4),
            humidity_pct=75.0,
        )
        for h in range(720)
    )
    airs = room_airs(replace(job(*rooms), outdoors=outdoors), MONDAY, 30)
    for air in airs.values():
        assert ((air.humidity_pct > 0) & (air.humidity_pct <= 100)).all()
        assert air.temperature_c.max() <= 22.0 + 1e-9
