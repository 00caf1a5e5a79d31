"""The outdoor air over a plan's days: what is held, repeated and how sure it is."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from scheduling.climate import outdoor_air
from scheduling.errors import BadInput
from scheduling.outdoors import Steps, day_minutes, working
from scheduling.problem import AirHour, Hours, Job, OutdoorsFrom, Site, TypicalAir

LISBON = ZoneInfo("Europe/Lisbon")
MONDAY = datetime(2026, 10, 12, tzinfo=LISBON)
WEEK = (Hours(days="mon-fri", start="08:00", end="16:30"),)


def site(**more):
    return Site(**{"zone": "Europe/Lisbon", "hours": WEEK, **more})


def job(hours=(), **more):
    plain = {"hands": (), "materials": (), "recipes": (), "rooms": (), "surfaces": ()}
    return Job(
        id="j", title="j", **{"site": site(), "outdoors": hours, **plain, **more}
    )


def hour(after_h, temperature_c, humidity_pct=80.0, wind_m_s=None):
    return AirHour(
        at=MONDAY + timedelta(hours=after_h),
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
        wind_m_s=wind_m_s,
    )


def at(air, after_h):
    return air.index(air.minute(MONDAY + timedelta(hours=after_h)))


def test_each_hour_is_held_until_the_next():
    air = outdoor_air(job((hour(0, 10), hour(1, 12), hour(2, 14))), MONDAY, 1)
    assert air.temperature_c[:12].tolist() == [10] * 12
    assert air.temperature_c[12:24].tolist() == [12] * 12


def test_hours_may_come_in_any_order():
    hours = (hour(2, 14), hour(0, 10), hour(1, 12))
    backwards = outdoor_air(job(hours), MONDAY, 2)
    forwards = outdoor_air(job(tuple(sorted(hours, key=lambda h: h.at))), MONDAY, 2)
    assert (backwards.temperature_c == forwards.temperature_c).all()


def test_the_first_hour_is_held_before_it():
    air = outdoor_air(job((hour(5, 10, 70), hour(6, 12))), MONDAY, 1)
    assert air.temperature_c[0] == 10
    assert air.humidity_pct[0] == 70


def test_after_the_last_hour_the_last_two_days_come_again():
    hours = tuple(hour(h, h % 24 + (10 if h >= 24 else 0)) for h in range(72))
    air = outdoor_air(job(hours), MONDAY, 8)
    for later in (72, 80, 95, 96, 119, 120, 150):
        before = later - 48 * (1 + (later - 72) // 48)
        assert air.temperature_c[at(air, later)] == hours[before].temperature_c


def test_less_than_two_days_repeat_as_one_whole_day():
    hours = tuple(hour(h, h % 24) for h in range(30))
    air = outdoor_air(job(hours), MONDAY, 5)
    for later in (30, 47, 60, 100):
        assert air.temperature_c[at(air, later)] == later % 24


def test_less_than_a_day_repeats_what_there_is():
    air = outdoor_air(job((hour(0, 10), hour(1, 12), hour(2, 14))), MONDAY, 1)
    assert [air.temperature_c[at(air, h)] for h in range(3, 9)] == [10, 12, 14] * 2


def test_typical_air_follows_the_last_hour_by_the_sites_clock():
    typical = (
        TypicalAir(start="20:00", temperature_c=9, humidity_pct=90),
        TypicalAir(start="08:00", temperature_c=16, humidity_pct=60),
    )
    air = outdoor_air(job((hour(0, 12),), site=site(typical_air=typical)), MONDAY, 3)
    assert air.temperature_c[at(air, 0.5)] == 12
    found = [air.temperature_c[at(air, h)] for h in (1, 7.9, 8, 19.9, 20, 31, 32)]
    assert found == [9, 9, 16, 16, 9, 9, 16]
    assert air.humidity_pct[at(air, 40)] == 60


def test_typical_air_alone_is_enough():
    typical = (TypicalAir(start="00:00", temperature_c=15, humidity_pct=75),)
    air = outdoor_air(job(site=site(typical_air=typical)), MONDAY, 2)
    assert set(air.temperature_c) == {15}
    assert set(air.spread) == {0.15}


def test_no_outdoor_air_at_all_is_bad_input_that_names_the_key():
    with pytest.raises(BadInput, match=r"outdoors: \[\]: at least one hour"):
        outdoor_air(job(), MONDAY, 1)


def test_a_forecast_widens_with_its_hours_and_most_after_its_end():
    hours = tuple(hour(h, 10) for h in range(96))
    now = MONDAY + timedelta(hours=24)
    air = outdoor_air(job(hours, now=now), MONDAY, 6)
    assert air.spread[at(air, 20)] == 0.0
    assert air.spread[at(air, 34)] == pytest.approx(0.005)
    assert air.spread[at(air, 95)] == pytest.approx(0.03)
    assert air.spread[at(air, 96)] == 0.15
    assert (np.diff(air.spread) >= 0).all()


def test_wind_is_kept_and_still_air_stands_where_none_is_stated():
    air = outdoor_air(job((hour(0, 10, wind_m_s=4.0), hour(1, 10))), MONDAY, 1)
    assert air.moving_air_m_s[0] == 4.0
    assert air.moving_air_m_s[12] == 0.1


def test_steps_count_real_hours_over_the_end_of_summer_time():
    start = datetime(2026, 10, 25, tzinfo=LISBON)  # clocks go back at 02:00
    steps = Steps.over(start, 1, 60.0)
    _, minutes = day_minutes(site(), steps)
    assert minutes[:4].tolist() == [0, 60, 60, 120]
    assert steps.start.tzinfo is UTC


def test_working_hours_follow_the_local_clock_and_closed_days():
    start = datetime(2026, 10, 23, tzinfo=LISBON)  # Friday before the change
    here = site(closed=(date(2026, 10, 27),))
    steps = Steps.over(start, 6, 30.0)
    open_now = working(here, steps)
    opened = [
        steps.start + timedelta(minutes=30 * int(i)) for i in open_now.nonzero()[0]
    ]
    local = [moment.astimezone(LISBON) for moment in opened]
    assert {moment.day for moment in local} == {23, 26, 28}
    for day in (23, 26, 28):
        clock = [moment.strftime("%H:%M") for moment in local if moment.day == day]
        assert (clock[0], clock[-1]) == ("08:00", "16:00")


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("mon-fri", {0, 1, 2, 3, 4}),
        ("sat", {5}),
        ("mon,wed-thu", {0, 2, 3}),
        ("sat-mon", {5, 6, 0}),
        ("mon-sun", set(range(7))),
    ],
)
def test_days_of_the_week(text, days):
    assert Hours(days=text, start="08:00", end="16:00").weekdays == days


def test_steps_refuse_a_start_without_a_zone():
    with pytest.raises(ValueError, match="aware start"):
        Steps.over(datetime(2026, 10, 12), 1, 5.0)  # noqa: DTZ001


def test_an_old_forecast_is_less_sure_hour_for_hour_than_a_new_one():
    hours = tuple(hour(h, 12) for h in range(60))
    whole = job(hours)
    fresh = replace(whole, outdoors_from=OutdoorsFrom(source="a", made=MONDAY))
    made = MONDAY - timedelta(hours=20)
    old = replace(whole, outdoors_from=OutdoorsFrom(source="a", made=made))
    new_air, old_air = (outdoor_air(row, MONDAY, 3) for row in (fresh, old))
    assert new_air.spread[at(new_air, 6)] == pytest.approx(0.003)
    # A twentieth of a percent an hour: twenty hours more are one percent more.
    assert old_air.spread[at(old_air, 6)] == pytest.approx(0.013)
    assert old_air.spread[at(old_air, 59)] == pytest.approx(0.03)  # at most
    assert (old_air.temperature_c == new_air.temperature_c).all()
