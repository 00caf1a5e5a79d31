"""What was measured puts the model right, and makes it surer."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from scheduling.climate import outdoor_air, room_airs, surface_air
from scheduling.problem import (
    AirControl,
    AirHour,
    GivenAir,
    Hours,
    Job,
    Reading,
    Room,
    Site,
    Surface,
)
from scheduling.psychrometrics import vapour_pa

MONDAY = datetime(2026, 10, 12, tzinfo=UTC)
MODELLED = AirControl(changes_per_h=1.0, day_c=20.0, night_c=20.0)


def reading(after_h, temperature_c, humidity_pct, surface_c=None, room="dining"):
    return Reading(
        at=MONDAY + timedelta(hours=after_h),
        room=room,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
        surface_c=surface_c,
    )


def wall(**more):
    plain = {"kind": "wall", "width_m": 5, "height_m": 3, "recipe": "x"}
    return Surface(id="wall", room="dining", **plain, **more)


def job(*readings, air=MODELLED):
    return Job(
        id="hotel",
        title="Small hotel",
        now=MONDAY,
        site=Site(
            zone="Etc/UTC", hours=(Hours(days="mon-fri", start="08:00", end="16:30"),)
        ),
        hands=(),
        materials=(),
        recipes=(),
        rooms=(
            Room(id="dining", volume_m3=152.0, air=air),
            Room(id="hall", volume_m3=60.0, air=MODELLED),
        ),
        surfaces=(),
        outdoors=(AirHour(at=MONDAY, temperature_c=12, humidity_pct=85),),
        readings=readings,
    )


def air_of(*readings, days=3, start=MONDAY):
    return room_airs(job(*readings), start, days)["dining"]


def at(air, after_h):
    return air.index(air.minute(MONDAY + timedelta(hours=after_h)))


def test_the_air_is_exactly_what_was_read():
    air = air_of(reading(10.05, 17.5, 71.0))  # 10:03, between two steps
    found = at(air, 10.05)
    assert air.temperature_c[found] == pytest.approx(17.5, abs=1e-9)
    assert air.humidity_pct[found] == pytest.approx(71.0, abs=1e-9)
    assert air.surface_c[found] == pytest.approx(17.5, abs=1e-9)


def test_nothing_changes_before_the_first_reading():
    plain, put_right = air_of(), air_of(reading(10, 17.5, 71.0))
    before = slice(0, at(plain, 10))
    assert (plain.humidity_pct[before] == put_right.humidity_pct[before]).all()


def test_a_reading_fades_to_a_third_in_six_hours_for_heat_and_vapour():
    plain, put_right = air_of(), air_of(reading(10, 17.5, 71.0))
    off_c = put_right.temperature_c - plain.temperature_c
    off_pa = vapour_pa(put_right.temperature_c, put_right.humidity_pct) - vapour_pa(
        plain.temperature_c, plain.humidity_pct
    )
    for off in (off_c, off_pa):
        assert off[at(plain, 16)] == pytest.approx(off[at(plain, 10)] * np.exp(-1))
    assert abs(off_c[-1]) < 0.001


def test_between_two_readings_the_correction_goes_straight():
    plain = air_of()
    put_right = air_of(reading(10, 18.0, 60.0), reading(20, 22.0, 50.0))
    off = put_right.temperature_c - plain.temperature_c
    assert off[at(plain, 10)] == pytest.approx(-2.0)
    assert off[at(plain, 15)] == pytest.approx(0.0, abs=1e-9)
    assert off[at(plain, 20)] == pytest.approx(2.0)


def test_readings_count_in_the_order_of_their_time():
    early, late = reading(10, 18.0, 60.0), reading(20, 22.0, 50.0)
    one, other = air_of(early, late), air_of(late, early)
    assert (one.humidity_pct == other.humidity_pct).all()
    assert one.temperature_c[at(one, 20)] == pytest.approx(22.0)


def test_of_two_readings_in_one_step_the_later_holds():
    air = air_of(reading(10.01, 18.0, 60.0), reading(10.06, 19.0, 62.0))
    assert air.temperature_c[at(air, 10.01)] == pytest.approx(19.0)


def test_a_reading_from_before_the_first_step_still_counts_while_it_is_young():
    young, old = air_of(reading(-1, 16.0, 70.0)), air_of(reading(-48, 16.0, 70.0))
    assert young.temperature_c[0] == pytest.approx(20 - 4 * np.exp(-1 / 6), abs=0.05)
    assert old.temperature_c[0] == pytest.approx(20.0, abs=0.01)


def test_a_reading_after_the_last_step_changes_nothing():
    assert (
        air_of().humidity_pct == air_of(reading(200, 16.0, 70.0)).humidity_pct
    ).all()


def test_a_damp_reading_never_carries_the_air_past_saturation():
    air = air_of(reading(10, 12.0, 100.0), reading(11, 25.0, 99.0))
    assert air.humidity_pct.max() <= 100.0
    assert air.humidity_pct.min() >= 0.0


def test_a_reading_belongs_to_its_room():
    put_right = room_airs(job(reading(10, 15.0, 80.0)), MONDAY, 2)
    plain = room_airs(job(), MONDAY, 2)
    assert (put_right["hall"].humidity_pct == plain["hall"].humidity_pct).all()


def test_given_air_is_not_moved_by_a_reading():
    given = GivenAir(given=(AirHour(at=MONDAY, temperature_c=19, humidity_pct=80),))
    whole = job(reading(10, 25.0, 30.0, surface_c=12.0), air=given)
    air = room_airs(whole, MONDAY, 2)["dining"]
    assert set(air.humidity_pct) == {80}
    assert set(air.spread) == {0.0}
    assert set(surface_air(whole, wall(), air, None).surface_c) == {19}


@pytest.mark.parametrize("outside", [False, True])
def test_a_measured_surface_is_that_cold_at_the_reading_and_fades(outside):
    whole = job(reading(10, 20.0, 55.0, surface_c=13.0))
    air = room_airs(whole, MONDAY, 3)["dining"]
    outdoors = outdoor_air(whole, MONDAY, 3)
    cold = wall(outside=outside, u_w_m2k=1.0)
    found = surface_air(whole, cold, air, outdoors).surface_c
    model = surface_air(job(), cold, room_airs(job(), MONDAY, 3)["dining"], outdoors)
    assert found[at(air, 10)] == pytest.approx(13.0)
    assert found[at(air, 9.9)] == pytest.approx(model.surface_c[at(air, 9.9)])
    first = model.surface_c[at(air, 10)] - 13.0
    later = model.surface_c[at(air, 16)] - found[at(air, 16)]
    assert later == pytest.approx(first * np.exp(-1), rel=1e-3)


def test_a_fresh_reading_makes_the_room_surest_and_an_old_one_less():
    spread = air_of(reading(10, 19.0, 60.0)).spread
    air = air_of()
    forecast = outdoor_air(job(), MONDAY, 3).spread
    own = spread - forecast
    assert own[at(air, 9)] == pytest.approx(0.0, abs=0.03)
    inside = slice(at(air, 10), at(air, 10) + 1)
    assert spread[inside] <= air.spread[inside]


def test_the_rooms_own_range_grows_after_a_reading():
    hours = tuple(
        AirHour(at=MONDAY + timedelta(hours=h), temperature_c=12, humidity_pct=85)
        for h in range(72)
    )
    whole = job(reading(10, 19.0, 60.0))
    whole = Job(
        **{**{n: getattr(whole, n) for n in whole.__slots__}, "outdoors": hours}
    )
    air = room_airs(whole, MONDAY, 4)["dining"]
    forecast = outdoor_air(whole, MONDAY, 4).spread
    own = air.spread - forecast
    assert own[at(air, 9)] == pytest.approx(0.03)
    assert own[at(air, 10)] == pytest.approx(0.0)
    assert 0 < own[at(air, 20)] < own[at(air, 34)] < 0.03
    assert air.spread[at(air, 73)] == 0.15  # past the forecast: the widest
