"""Rooms over days: heating, given air, dehumidifier, the work's water, balance."""

import time
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from scheduling.climate import (
    Dehumidifier,
    coat_water_kg,
    outdoor_air,
    room_airs,
    room_conditions,
    surface_air,
    water_given_off,
    work_water,
)
from scheduling.problem import (
    Air,
    AirControl,
    AirHour,
    Coat,
    GivenAir,
    HandsNeeded,
    Hours,
    Job,
    Material,
    Recipe,
    Room,
    Site,
    Step,
    Surface,
)
from scheduling.room_model import run
from scheduling.room_water import RoomState, water_balance

MONDAY = datetime(2026, 10, 12, tzinfo=UTC)
SITE = Site(zone="Etc/UTC", hours=(Hours(days="mon-fri", start="08:00", end="16:30"),))
PAINT = Material(
    id="paint",
    family="waterborne",
    label_air=Air(temperature_c=23, humidity_pct=50),
    labels={"recoat": 180.0},
    water_share=0.5,
    spread_m2_per_l=10.0,
)
COATS = Recipe(
    id="two-coats",
    steps=(
        Step(id="coat-1", material="paint", apply_min_m2=3, hands=HandsNeeded(least=1)),
        Step(id="sand", material=None, apply_min_m2=1, hands=HandsNeeded(least=1)),
    ),
)
WALL = Surface(
    id="wall",
    room="dining",
    kind="wall",
    width_m=10,
    height_m=3,
    recipe="two-coats",
    stop_lines_m=(4.0,),
)


def outdoor(temperature_c=12.0, humidity_pct=85.0, after_h=0.0):
    return AirHour(
        at=MONDAY + timedelta(hours=after_h),
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
    )


def room(room_id="dining", *, changes_per_h=1.0, day_c=20.0, night_c=20.0, litres=None):
    air = AirControl(
        changes_per_h=changes_per_h,
        day_c=day_c,
        night_c=night_c,
        dehumidifier_l_day=litres,
    )
    return Room(id=room_id, volume_m3=152.0, air=air)


def job(*rooms, outdoors=None, **more):
    return Job(
        id="hotel",
        title="Small hotel",
        hands=(),
        rooms=rooms or (room(),),
        outdoors=(outdoor(),) if outdoors is None else outdoors,
        **{
            "site": SITE,
            "materials": (PAINT,),
            "recipes": (COATS,),
            "surfaces": (WALL,),
            "now": MONDAY,
            **more,
        },
    )


def at(air, after_h):
    return air.index(after_h * 60)


def test_given_air_is_used_as_it_is():
    entries = (
        AirHour(at=MONDAY + timedelta(hours=6), temperature_c=18, humidity_pct=55),
        AirHour(at=MONDAY + timedelta(hours=30), temperature_c=21, humidity_pct=40),
    )
    here = Room(id="dining", volume_m3=152.0, air=GivenAir(given=entries))
    water = {"dining": np.full(3 * 288, 0.1)}
    air = room_airs(job(here, outdoors=()), MONDAY, 3, water=water)["dining"]
    for after_h, expected in ((0, 18), (6, 18), (29.9, 18), (30, 21), (71, 21)):
        assert air.temperature_c[at(air, after_h)] == expected
    assert set(air.humidity_pct) == {55, 40}
    assert (air.surface_c == air.temperature_c).all()
    assert set(air.moving_air_m_s) == {0.1}
    assert set(air.spread) == {0.0}


def test_an_outer_wall_in_given_air_is_as_warm_as_the_air():
    entries = (AirHour(at=MONDAY, temperature_c=18, humidity_pct=55),)
    here = Room(id="dining", volume_m3=152.0, air=GivenAir(given=entries))
    wall = Surface(**{**_fields(WALL), "outside": True, "u_w_m2k": 1.5})
    whole = job(here)
    air = room_airs(whole, MONDAY, 1)["dining"]
    outside = outdoor_air(whole, MONDAY, 1)
    assert set(surface_air(whole, wall, air, outside).surface_c) == {18}


def _fields(value):
    return {name: getattr(value, name) for name in value.__slots__}


def test_the_room_is_warm_by_day_and_cools_by_night_with_a_lag():
    air = room_airs(job(room(day_c=20, night_c=15)), MONDAY, 2)["dining"]
    assert air.temperature_c[at(air, 7.9)] == pytest.approx(15.0, abs=0.05)
    # First order, an hour and a half: 1 - 1/e of the way after that time, and over the
    # five minutes from there on the mean of an exponential.
    warmed = air.temperature_c[at(air, 9.5)]
    step = 5 / 90
    left = np.exp(-1) * -np.expm1(-step) / step
    assert warmed == pytest.approx(20 - 5 * left, abs=1e-6)
    assert air.temperature_c[at(air, 16.4)] == pytest.approx(20.0, abs=0.05)
    assert air.temperature_c[at(air, 23)] < 15.1


def test_a_cooler_night_is_damper_for_the_same_vapour():
    air = room_airs(job(room(day_c=20, night_c=15)), MONDAY, 4)["dining"]
    assert air.humidity_pct[at(air, 78)] > air.humidity_pct[at(air, 88)] + 5


def test_heating_never_cools_a_warm_room():
    air = room_airs(job(outdoors=(outdoor(27, 50),)), MONDAY, 2)["dining"]
    assert air.temperature_c[-1] == pytest.approx(27.0, abs=0.01)


def test_an_outer_wall_lies_between_room_and_outdoors_and_an_inner_one_does_not():
    whole = job()
    air = room_airs(whole, MONDAY, 1)["dining"]
    outside = outdoor_air(whole, MONDAY, 1)
    outer = Surface(**{**_fields(WALL), "outside": True, "u_w_m2k": 2.0})
    assert surface_air(whole, WALL, air, outside).surface_c == pytest.approx(20.0)
    found = surface_air(whole, outer, air, outside).surface_c
    assert found == pytest.approx(20 - 2.0 * 0.13 * 8)


def test_an_outer_wall_of_unknown_u_is_taken_as_uninsulated_masonry():
    whole = job()
    air = room_airs(whole, MONDAY, 1)["dining"]
    outside = outdoor_air(whole, MONDAY, 1)
    outer = Surface(**{**_fields(WALL), "outside": True})
    stated = Surface(**{**_fields(WALL), "outside": True, "u_w_m2k": 1.5})
    assert (
        surface_air(whole, outer, air, outside).surface_c
        == surface_air(whole, stated, air, outside).surface_c
    ).all()


def test_a_dehumidifier_dries_and_warms_a_shut_room():
    fog = (outdoor(17, 95),)
    wet = room_airs(job(room(changes_per_h=0.5), outdoors=fog), MONDAY, 4)["dining"]
    dry = room_airs(job(room(changes_per_h=0.5, litres=30.0), outdoors=fog), MONDAY, 4)
    dry = dry["dining"]
    assert wet.humidity_pct[-1] > 75
    assert 40 < dry.humidity_pct[-1] < 60
    assert 20.0 < dry.temperature_c.max() < 23.0


def test_a_stronger_dehumidifier_never_leaves_a_damper_room():
    airs = [
        room_airs(job(room(litres=litres), outdoors=(outdoor(17, 95),)), MONDAY, 2)
        for litres in (5.0, 20.0, 80.0, 500.0)
    ]
    humidities = [air["dining"].humidity_pct for air in airs]
    for weaker, stronger in pairwise(humidities):
        assert (stronger <= weaker + 0.2).all()
    assert humidities[-1].min() > 30  # it idles at 40 % and only outdoor air is drier


def test_a_dehumidifier_set_up_for_a_while_works_only_then():
    begin, end = MONDAY + timedelta(hours=24), MONDAY + timedelta(hours=48)
    machine = Dehumidifier(l_day=30.0, start=begin, end=end, changes_per_h=0.5)
    fog = (outdoor(17, 95),)
    whole = job(room(changes_per_h=3.0), outdoors=fog)
    plain = room_airs(whole, MONDAY, 4)["dining"]
    air = room_airs(whole, MONDAY, 4, dehumidifier={"dining": machine})["dining"]
    assert air.humidity_pct[at(air, 23)] == plain.humidity_pct[at(air, 23)]
    assert air.humidity_pct[at(air, 47)] < plain.humidity_pct[at(air, 47)] - 15
    assert air.humidity_pct[-1] == pytest.approx(plain.humidity_pct[-1], abs=0.5)


def test_the_works_water_wets_its_own_room_only():
    whole = job(room("dining"), room("hall"))
    water = {"dining": water_given_off(6.0, 0.5, 600.0, 5.0, 2 * 288)}
    plain = room_airs(whole, MONDAY, 2)
    wet = room_airs(whole, MONDAY, 2, water=water)
    assert (wet["hall"].humidity_pct == plain["hall"].humidity_pct).all()
    risen = wet["dining"].humidity_pct - plain["dining"].humidity_pct
    assert risen[at(wet["dining"], 9.9)] == 0.0
    assert 10 < risen.max() < 40
    assert risen[-1] < 1.5


def test_more_air_changes_take_the_works_water_out_sooner():
    water = {"dining": water_given_off(6.0, 0.5, 600.0, 5.0, 2 * 288)}
    risen = []
    for changes in (0.3, 1.0, 3.0):
        whole = job(room(changes_per_h=changes))
        wet = room_airs(whole, MONDAY, 2, water=water)["dining"]
        risen.append(
            wet.humidity_pct - room_airs(whole, MONDAY, 2)["dining"].humidity_pct
        )
    assert risen[0].max() > risen[1].max() > risen[2].max()


def test_water_for_other_steps_is_refused():
    with pytest.raises(ValueError, match="water of dining: 288 steps"):
        room_airs(job(), MONDAY, 1, water={"dining": np.zeros(100)})


def test_a_coat_gives_off_all_its_water_most_of_it_early():
    flow = water_given_off(5.7, 0.53, 30.0, 5.0, 288)
    assert flow[:6].sum() == 0.0
    assert flow.sum() == pytest.approx(5.7 * 0.53)
    assert flow[6 : 6 + 12].sum() == pytest.approx(5.7 * 0.53 * (1 - np.exp(-1)))


def test_a_coat_from_before_the_first_step_gives_off_what_is_left():
    flow = water_given_off(2.0, 0.5, -60.0, 5.0, 288)
    assert flow.sum() == pytest.approx(np.exp(-1))


def test_a_coat_that_ends_inside_a_step_starts_there():
    flow = water_given_off(2.0, 0.5, 32.0, 5.0, 100)
    assert flow[6] == pytest.approx(1 - np.exp(-3 / 60))


def test_the_work_adds_up_by_room_section_and_material():
    coats = (
        Coat(surface="wall", step="coat-1", start=MONDAY, end=MONDAY, section="1"),
        Coat(surface="wall", step="coat-1", start=MONDAY, end=MONDAY, section="2"),
        Coat(surface="wall", step="sand", start=MONDAY, end=MONDAY),
    )
    water = work_water(job(), coats, MONDAY, 2)
    assert list(water) == ["dining"]
    assert water["dining"].sum() == pytest.approx(30 / 10 * 0.5)


def test_oil_and_spirit_bring_no_water_unless_their_label_says_so():
    oil = Material(**{**_fields(PAINT), "family": "oil", "water_share": None})
    assert coat_water_kg(oil, 20.0) == 0.0
    emulsion = Material(**{**_fields(oil), "water_share": 0.3})
    assert coat_water_kg(emulsion, 20.0) == pytest.approx(20 / 10 * 0.3)


@settings(max_examples=40, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(
    outdoors=st.tuples(st.floats(-20, 35), st.floats(5, 100)),
    later=st.tuples(st.floats(-20, 35), st.floats(5, 100)),
    changes=st.floats(0, 30),
    litres=st.sampled_from([0.0, 10.0, 300.0]),
    kilograms=st.floats(0, 50),
    volume=st.floats(5, 2000),
    day_c=st.floats(5, 28),
    night_c=st.floats(5, 28),
)
def test_water_in_is_water_out_and_water_held(
    outdoors, later, changes, litres, kilograms, volume, day_c, night_c
):
    air = AirControl(
        changes_per_h=changes, day_c=day_c, night_c=night_c, dehumidifier_l_day=litres
    )
    here = Room(id="dining", volume_m3=volume, air=air)
    whole = job(here, outdoors=(outdoor(*outdoors), outdoor(*later, after_h=30.0)))
    outside = outdoor_air(whole, MONDAY, 2)
    water = water_given_off(kilograms, 1.0, 900.0, 5.0, 2 * 288)
    conditions = room_conditions(whole, here, outside, water=water)
    result = run(conditions)
    balance = water_balance(conditions, result)
    moved = abs(balance.ventilated) + kilograms + balance.removed + balance.condensed
    assert abs(balance.missing) < 1e-6 * (1 + moved)
    assert (result.ratio >= 0).all()
    assert (result.removed_kg >= 0).all()
    assert (result.condensed_kg >= 0).all()
    found = room_airs(whole, MONDAY, 2, water={"dining": water})["dining"]
    assert ((found.humidity_pct >= 0) & (found.humidity_pct <= 100)).all()
    assert np.isfinite(found.humidity_pct).all()


def test_a_room_that_cools_below_its_dew_point_drips_and_stays_at_100():
    whole = job(room(changes_per_h=0.0, day_c=8.0, night_c=8.0))
    conditions = room_conditions(whole, whole.rooms[0], outdoor_air(whole, MONDAY, 1))
    begin = RoomState(temperature_c=25.0, ratio=0.016, walls=0.98)
    result = run(conditions, begin)
    balance = water_balance(conditions, result)
    assert balance.missing == pytest.approx(0.0, abs=1e-9)
    fine_air = outdoor_air(whole, MONDAY, 1, 0.5)
    fine = run(room_conditions(whole, whole.rooms[0], fine_air), begin)
    dripped = result.condensed_kg.sum()
    assert dripped > 1.0
    assert dripped == pytest.approx(fine.condensed_kg.sum(), rel=1e-3)


def test_the_air_hardly_depends_on_the_step():
    hours = tuple(outdoor(10 + h % 7, 70 + h % 25, h) for h in range(72))
    whole = job(room(day_c=20, night_c=14, litres=20.0), outdoors=hours)
    coarse = room_airs(whole, MONDAY, 3)["dining"]
    fine = room_airs(whole, MONDAY, 3, step_min=1.0)["dining"]
    means_c = fine.temperature_c.reshape(-1, 5).mean(axis=1)
    means_pct = fine.humidity_pct.reshape(-1, 5).mean(axis=1)
    inside = slice(48, -5)  # a machine takes hold at first; the last step ends nowhere
    assert np.abs(coarse.temperature_c - means_c)[inside].max() < 1e-3
    assert np.abs(coarse.humidity_pct - means_pct)[inside].max() < 0.03
    steps = np.arange(len(coarse))
    at_end, truly = coarse.at_ends(steps), fine.at_ends(steps * 5 + 4)
    assert np.abs(at_end.temperature_c - truly.temperature_c)[inside].max() < 0.01
    assert np.abs(at_end.humidity_pct - truly.humidity_pct)[inside].max() < 0.05
    assert np.abs(coarse.drift.humidity_pct[inside]).max() > 0.3


def test_a_strong_machine_meets_fresh_water_at_once_whatever_the_step():
    # 300 l/day go more than half way to where they idle in each five minutes.
    whole = job(room(changes_per_h=0.5, litres=300.0))

    def humidity(step_min):
        flow = water_given_off(12.0, 0.5, 600.0, step_min, round(1440 / step_min))
        airs = room_airs(whole, MONDAY, 1, water={"dining": flow}, step_min=step_min)
        return airs["dining"].humidity_pct

    means = humidity(0.5).reshape(-1, 10).mean(axis=1)
    onset = slice(118, 140)
    assert np.ptp(means[onset]) > 15
    # By goes between steps alone it was 1.4 too damp.
    assert np.abs(humidity(5.0) - means)[onset].max() < 0.3


def test_thin_air_of_a_mountain_site_changes_little_but_something():
    high = Site(zone="Etc/UTC", hours=SITE.hours, altitude_m=2000.0)
    water = {"dining": water_given_off(6.0, 0.5, 600.0, 5.0, 2 * 288)}
    low_air = room_airs(job(), MONDAY, 2, water=water)["dining"]
    high_air = room_airs(job(site=high), MONDAY, 2, water=water)["dining"]
    apart = np.abs(low_air.humidity_pct - high_air.humidity_pct)
    assert 0 < apart.max() < 2


def test_the_same_job_gives_the_same_air_to_the_last_bit():
    first, again = (room_airs(job(), MONDAY, 3)["dining"] for _ in range(2))
    assert (first.humidity_pct == again.humidity_pct).all()


def test_a_rooms_air_does_not_depend_on_the_other_rooms():
    pair = room_airs(job(room("dining"), room("hall", litres=30.0)), MONDAY, 2)
    alone = room_airs(job(room("dining")), MONDAY, 2)
    assert (pair["dining"].humidity_pct == alone["dining"].humidity_pct).all()


def test_twelve_rooms_over_a_month_are_quick():
    whole = job(*(room(f"room-{i}") for i in range(12)))
    room_airs(whole, MONDAY, 1)
    begun = time.process_time()
    room_airs(whole, MONDAY, 30)
    assert time.process_time() - begun < 2.0  # 0.15 s on a quiet machine
