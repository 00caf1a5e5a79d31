"""Clocks: the label's own air, ranges, limits, order, and air that changes."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling import drying
from scheduling.errors import BadInput
from scheduling.problem import Air, LabelPoint, Material
from scheduling.psychrometrics import humidity_pct_of, vapour_from_ratio
from scheduling.room_air import RoomAir, constant_air
from tests.strategies import (
    REFERENCE,
    START,
    families,
    floats,
    humidities_pct,
    materials,
    room_airs,
    temperatures_c,
)


def material(family="waterborne", *, at=REFERENCE, points=(), promises=None, **labels):
    return Material(
        id="m",
        family=family,
        label_air=at,
        labels=labels,
        points=points,
        promises=promises or {},
    )


def steady(temperature_c, humidity_pct, **more):
    return constant_air(
        START, temperature_c=temperature_c, humidity_pct=humidity_pct, **more
    )


def hourly(temperature_c, humidity_pct, *, colder=0.0, spread=0.0, step_min=60.0):
    temperature_c = np.asarray(temperature_c, dtype=np.float64)
    size = len(temperature_c)
    return RoomAir(
        start=START,
        step_min=step_min,
        temperature_c=temperature_c,
        humidity_pct=np.broadcast_to(np.float64(humidity_pct), size).copy(),
        surface_c=temperature_c - colder,
        moving_air_m_s=np.full(size, 0.1),
        spread=np.broadcast_to(np.float64(spread), size).copy(),
    )


def ends(found):
    return [
        float(found.early_min[0]),
        float(found.likely_min[0]),
        float(found.safe_min[0]),
    ]


def one(stuff, stage, air, end=0.0, **more):
    return drying.clock(stuff, stage, air, np.array([end]), **more)


# The label's own air ---------------------------------------------------------------


@given(families, floats(10, 30), floats(25, 75), floats(1, 5000), floats(1, 4))
def test_at_the_labels_own_air_the_ends_are_the_labels(
    family, temperature, humidity, low, times
):
    at = Air(temperature_c=temperature, humidity_pct=humidity)
    high = low * times
    for stage in ("open", "touch", "recoat", "hard", "cured", "window"):
        stuff = material(family, at=at, **{stage: (low, high)})
        found = one(stuff, stage, steady(temperature, humidity))
        assert ends(found) == pytest.approx([low, (low + high) / 2, high], rel=1e-12)


def test_a_label_that_dries_where_the_law_would_not_lowers_the_film_limit():
    at = Air(temperature_c=6.0, humidity_pct=60.0)
    found = one(material(at=at, recoat=240.0), "recoat", steady(6.0, 60.0))
    assert ends(found) == pytest.approx([240.0] * 3)


def test_a_label_of_frozen_air_is_refused_with_what_is_allowed():
    at = Air(temperature_c=-3.0, humidity_pct=60.0)
    with pytest.raises(BadInput, match=r"label_air.*over 0 C and under 98 %"):
        one(material(at=at, recoat=240.0), "recoat", steady(20.0, 50.0))


def test_a_stage_that_the_label_does_not_know_is_a_key_error():
    with pytest.raises(KeyError):
        one(material(recoat=240.0), "hard", steady(20.0, 50.0))


def test_promises_run_by_the_cure_of_their_family():
    stuff = material(recoat=240.0, through=1440.0, promises={"wash": 1440.0})
    air = steady(15.0, 70.0)
    assert ends(one(stuff, "wash", air)) == ends(one(stuff, "through", air))


# More points of a label -------------------------------------------------------------


def test_a_second_point_bends_the_law_and_leaves_the_labels_own_air_alone():
    # Ratio 4 at 10 C and 80 % asks for an evaporative share of about 0.41; the usual
    # law would say 4.7.
    cold = Air(temperature_c=10.0, humidity_pct=80.0)
    point = LabelPoint(air=cold, labels={"recoat": 480.0})
    stuff = material(recoat=120.0, points=(point,))
    assert ends(one(stuff, "recoat", steady(23.0, 50.0))) == pytest.approx([120.0] * 3)
    found = one(stuff, "recoat", steady(10.0, 80.0)).likely_min[0]
    assert found == pytest.approx(480.0, rel=0.02)
    usual = one(material(recoat=120.0), "recoat", steady(10.0, 80.0)).likely_min[0]
    assert usual / 120 == pytest.approx(4.68, rel=0.01)


def test_a_second_point_of_an_oil_changes_how_much_it_feels_cold():
    cold = LabelPoint(
        air=Air(temperature_c=10.0, humidity_pct=50.0), labels={"recoat": 3000.0}
    )
    stuff = material("oil", recoat=960.0, points=(cold,))
    found = one(stuff, "recoat", steady(10.0, 50.0)).likely_min[0]
    usual = one(material("oil", recoat=960.0), "recoat", steady(10.0, 50.0))
    assert found == pytest.approx(3000.0, rel=0.03)
    assert usual.likely_min[0] < 2500


# The range --------------------------------------------------------------------------


def test_the_range_widens_by_the_factors_power_and_no_more_than_the_familys_cap():
    stuff = material("spirit", recoat=60.0)
    early, likely, safe = ends(one(stuff, "recoat", steady(15.0, 50.0)))
    width = np.exp(0.3 * np.log(likely / 60.0))
    assert (early, safe) == pytest.approx((likely / width, likely * width))
    for family, stage, cap in (
        ("waterborne", "touch", 1.4),
        ("oil", "cured", 1.5),
        ("lime", "cured", 2.0),
    ):
        air = steady(12.0, 95.0) if family != "oil" else steady(5.2, 95.0)
        found = ends(one(material(family, **{stage: 600.0}), stage, air))
        assert found[2] / found[1] == pytest.approx(cap)
        assert found[1] / found[0] == pytest.approx(cap)


def test_an_old_forecast_widens_the_range_by_its_spread_over_the_wait():
    sure = one(material(recoat=120.0), "recoat", hourly([18.0] * 24, 60.0))
    unsure = one(
        material(recoat=120.0), "recoat", hourly([18.0] * 24, 60.0, spread=0.2)
    )
    assert unsure.likely_min[0] == pytest.approx(sure.likely_min[0])
    assert unsure.safe_min[0] / sure.safe_min[0] == pytest.approx(np.exp(0.2))
    assert sure.early_min[0] / unsure.early_min[0] == pytest.approx(np.exp(0.2))


def test_waits_plan_with_safe_and_open_times_and_closings_with_early():
    stuff = material(open=20.0, recoat=(120.0, 240.0), window=(600.0, 900.0))
    air = steady(15.0, 75.0)
    for stage, which in (("open", 0), ("recoat", 2), ("window", 0)):
        found = one(stuff, stage, air)
        assert found.plan_min(stage)[0] == ends(found)[which]


@settings(max_examples=60, deadline=None)
@given(st.data(), room_airs(), floats(-300, 3000))
def test_early_likely_and_safe_stand_in_order_in_every_air(data, air, end):
    stuff = data.draw(materials())
    for stage in stuff.labels:
        early, likely, safe = ends(one(stuff, stage, air, end))
        assert 0 < early <= likely <= safe


# Open time --------------------------------------------------------------------------


def test_open_time_shortens_in_full_and_lengthens_by_its_root_to_half_as_long_again():
    stuff = material(open=20.0)

    def likely(air):
        return float(one(stuff, "open", air).likely_min[0])

    # (0.98 - RH) p(T) against 0.48 p(23): the plain law of evaporation.
    assert likely(steady(23.0, 26.0)) == pytest.approx(20 * 0.48 / 0.72)
    assert likely(steady(23.0, 66.0)) == pytest.approx(20 * np.sqrt(0.48 / 0.32))
    assert likely(steady(23.0, 90.0)) == pytest.approx(30.0)
    assert likely(steady(23.0, 100.0)) == 30.0  # never endless


def test_no_end_of_an_open_time_is_longer_than_half_as_long_again():
    stuff = material("glaze", open=(20.0, 40.0))
    early, likely, safe = ends(one(stuff, "open", steady(12.0, 97.0)))
    assert early < 30.0
    assert (likely, safe) == (45.0, 60.0)


def test_a_ground_that_sucks_shortens_the_open_time_only():
    stuff = material(open=20.0, recoat=120.0)
    air = steady(23.0, 50.0)
    assert ends(one(stuff, "open", air, porous=True)) == pytest.approx([14.0] * 3)
    porous = one(stuff, "recoat", air, porous=True)
    assert ends(porous) == ends(one(stuff, "recoat", air))


# Lime -------------------------------------------------------------------------------


@given(temperatures_c, floats(20, 100))
def test_limewash_waits_its_label_and_at_most_half_as_long_again(temperature, humidity):
    found = ends(
        one(material("lime", recoat=1440.0), "recoat", steady(temperature, humidity))
    )
    assert found[0] >= 1440.0 * (1 - 1e-12)
    assert found[2] <= 2160.0 * (1 + 1e-12)


def test_limewash_in_damp_air_waits_half_as_long_again_and_dry_air_its_label():
    stuff = material("lime", open=30.0, touch=240.0, recoat=1440.0, window=4320.0)
    damp, dry = steady(10.0, 90.0), steady(26.0, 40.0)
    assert one(stuff, "recoat", damp).likely_min[0] == pytest.approx(2160.0)
    assert ends(one(stuff, "recoat", dry)) == pytest.approx([1440.0] * 3)
    assert one(stuff, "window", damp).likely_min[0] == pytest.approx(6480.0)
    assert one(stuff, "touch", damp).likely_min[0] <= 2160.0  # no later than recoat


# Order of stages ---------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(st.data(), room_airs(), floats(-300, 3000))
def test_stages_keep_the_order_of_their_label_in_every_air(data, air, end):
    stuff = data.draw(materials())
    pairs = (("open", "touch"), ("touch", "recoat"), ("recoat", "hard"))
    pairs += (("hard", "cured"), ("recoat", "window"), ("tack", "closes"))
    for first, second in pairs:
        if first not in stuff.labels:
            continue
        if stuff.family == "lime" and first == "open":
            continue
        one_, two = (ends(one(stuff, stage, air, end)) for stage in (first, second))
        assert all(a <= b * (1 + 1e-9) for a, b in zip(one_, two, strict=True))


def test_a_size_that_is_slow_in_the_cold_may_open_safely_after_it_closes_early():
    # Then plans keep to the likely window, which stays open.
    stuff = material("oil-size", tack=(600.0, 840.0), closes=(1200.0, 1500.0))
    air = steady(9.0, 80.0)
    tack, closes = (one(stuff, stage, air) for stage in ("tack", "closes"))
    assert tack.safe_min[0] > closes.early_min[0]
    assert tack.likely_min[0] < closes.likely_min[0]
    assert tack.early_min[0] < closes.early_min[0]
    assert tack.safe_min[0] < closes.safe_min[0]


# Changing air -------------------------------------------------------------------------


def test_each_hour_adds_its_own_share_of_a_wait():
    # Spirit at 23 C for an hour, then at 13 C: 60 of 90 minutes are done in the first.
    stuff = material("spirit", recoat=90.0)
    air = hourly([23.0] + [13.0] * 5, 50.0)
    slow = one(stuff, "recoat", steady(13.0, 50.0)).likely_min[0] / 90.0
    assert one(stuff, "recoat", air).likely_min[0] == pytest.approx(60 + 30 * slow)


def test_a_frozen_night_holds_a_coat_and_the_morning_goes_on_with_it():
    stuff = material(touch=90.0)
    air = hourly([23.0] + [-2.0] * 8 + [23.0] * 3, 50.0)
    assert one(stuff, "touch", air).likely_min[0] == pytest.approx(60 + 480 + 30)


def test_the_first_entry_holds_before_the_air_begins_and_the_last_for_ever():
    stuff = material("spirit", recoat=60.0)
    air = hourly([23.0, 13.0], 50.0)
    assert one(stuff, "recoat", air, -500.0).likely_min[0] == pytest.approx(60.0)
    slow = one(stuff, "recoat", steady(13.0, 50.0)).likely_min[0]
    assert one(stuff, "recoat", air, 90_000.0).likely_min[0] == pytest.approx(slow)


def test_a_coat_evening_and_morning_in_a_heated_room():
    # Room of 12 to 20 C over the day, 7.5 g/kg of vapour, wall 1 K colder. Our own
    # calculation, kept: a coat at 8 in the morning is ready the same afternoon, one at
    # 8 in the evening only the next morning.
    minute = np.arange(0, 4 * 1440, 3.0)
    temperature = 16 + 4 * np.sin(2 * np.pi * (minute / 60 + 8 - 9) / 24)
    air = hourly(temperature, 50.0, colder=1.0, step_min=3.0)
    humidity = humidity_pct_of(temperature, vapour_from_ratio(7.5))
    air = replace(air, humidity_pct=np.minimum(humidity, 100.0))
    morning, evening = (
        float(one(material(recoat=180.0), "recoat", air, end).likely_min[0]) / 60
        for end in (0.0, 720.0)
    )
    assert morning == pytest.approx(5.8, rel=0.03)
    assert evening == pytest.approx(13.45, rel=0.03)


@settings(max_examples=60, deadline=None)
@given(st.data(), room_airs(), st.integers(2, 4), floats(-300, 3000))
def test_splitting_the_steps_of_the_air_changes_nothing(data, air, parts, end):
    stuff = data.draw(materials())
    finer = replace(
        air,
        step_min=air.step_min / parts,
        **{
            name: np.repeat(getattr(air, name), parts)
            for name in (
                "temperature_c",
                "humidity_pct",
                "surface_c",
                "moving_air_m_s",
                "spread",
            )
        },
    )
    for stage in stuff.labels:
        got, wanted = (ends(one(stuff, stage, a, end)) for a in (finer, air))
        assert got == pytest.approx(wanted, rel=1e-6, abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(st.data(), room_airs(), floats(-300, 3000))
def test_the_loop_and_the_array_agree_to_three_seconds(data, air, end):
    stuff = data.draw(materials())
    for stage in stuff.labels:
        walked = drying.hours_in(stuff, stage, air, end)
        summed = one(stuff, stage, air, end)
        wanted = [float(walked.end_min(w)) for w in ("early", "likely", "safe")]
        assert ends(summed) == pytest.approx(wanted, rel=1e-9, abs=0.05)


@settings(max_examples=50, deadline=None)
@given(st.data(), room_airs(), st.lists(floats(-300, 4000), min_size=2, max_size=30))
def test_no_coat_overtakes_an_earlier_one(data, air, moments):
    stuff = data.draw(materials())
    ended = np.array(moments)
    order = np.argsort(ended, kind="stable")
    for stage in stuff.labels:
        found = drying.clock(stuff, stage, air, ended)
        for elapsed in (found.early_min, found.likely_min, found.safe_min):
            finish = (ended + elapsed)[order]
            later = finish[1:] >= finish[:-1] - 1e-6
            assert np.all(later | np.isinf(finish[1:]))
        assert np.all(found.early_min <= found.likely_min + 1e-6)
        assert np.all(found.likely_min <= found.safe_min + 1e-6)


@settings(max_examples=60, deadline=None)
@given(st.data(), room_airs(), st.lists(floats(-300, 4000), min_size=2, max_size=30))
def test_many_coats_at_once_are_never_less_careful_than_one(data, air, moments):
    stuff = data.draw(materials())
    ended = np.array(moments)
    for stage in stuff.labels:
        many = drying.clock(stuff, stage, air, ended).plan_min(stage)
        alone = np.array(
            [one(stuff, stage, air, e).plan_min(stage)[0] for e in moments]
        )
        if stage in ("open", "window", "closes"):
            # A window is also held open to the wait it ends.
            gate = {"window": "recoat", "closes": "tack"}.get(stage)
            if gate is not None:
                opens = drying.clock(stuff, gate, air, ended).early_min
                alone = np.maximum(alone, opens)
            assert np.all(many <= alone + 1e-6)
        else:
            assert np.all((many >= alone - 1e-6) | np.isinf(many))


@settings(max_examples=60, deadline=None)
@given(st.data(), room_airs(), floats(0, 2000), st.integers(0, 39), floats(0.1, 8.0))
def test_a_better_hour_never_delays_a_coat(data, air, end, hour, warmer):
    stuff = data.draw(materials(family="spirit"))
    hour = min(hour, len(air) - 1)
    surface = air.surface_c.copy()
    surface[hour] += warmer
    better = replace(air, surface_c=surface)
    got = one(stuff, "recoat", better, end).likely_min[0]
    assert got <= one(stuff, "recoat", air, end).likely_min[0] + 1e-6


def test_every_start_of_two_months_is_worked_out_within_a_second():
    size = 60 * 288
    minute = np.arange(size) * 5.0
    air = hourly(16 + 4 * np.sin(minute / 230), 60.0, colder=1.0, step_min=5.0)
    stuff = material(open=20.0, touch=60.0, recoat=(120.0, 240.0), hard=2880.0)
    found = drying.clock(stuff, "hard", air, minute)
    assert np.all(np.isfinite(found.safe_min))
    for end in (0.0, 40_000.0, minute[-1]):
        alone = one(stuff, "hard", air, end)
        index = int(end / 5)
        assert found.likely_min[index] == pytest.approx(alone.likely_min[0], abs=1e-6)


# The drying wedge ------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(
    st.data(),
    room_airs(),
    floats(0, 1000),
    st.sampled_from(["early", "likely", "safe"]),
)
def test_what_is_left_falls_from_one_to_nothing_when_the_wait_ends(
    data, air, end, which
):
    stuff = data.draw(materials())
    for stage in stuff.labels:
        wait = float(one(stuff, stage, air, end).end_min(which)[0])
        span = wait if np.isfinite(wait) else 5000.0
        at = end + np.linspace(0, span, 23)
        left = drying.progress(stuff, stage, air, end, at, which)
        assert left[0] == pytest.approx(1.0, abs=1e-9)
        assert np.all(np.diff(left) <= 1e-9)
        if np.isfinite(wait):
            assert left[-1] == pytest.approx(0.0, abs=1e-6)
            assert np.all(left[:-1] >= 0)
        else:
            assert left[-1] > 0


def test_half_of_a_steady_wait_is_left_at_half_time():
    stuff = material("spirit", recoat=60.0)
    left = drying.progress(
        stuff, "recoat", steady(23.0, 50.0), 0.0, np.array([-5.0, 30.0, 99.0])
    )
    assert left == pytest.approx([1.0, 0.5, 0.0])


# The answer of ``clocks`` ----------------------------------------------------------


@given(families, floats(-30, 60), floats(0, 100), floats(-30, 60))
def test_an_answer_is_given_in_every_air_and_holds_only_numbers(family, t, h, surface):
    answer = drying.clocks_answer(
        family=family,
        labels={"open": 20.0, "recoat": (120.0, 240.0), "wash": 20160.0},
        air=Air(temperature_c=t, humidity_pct=h),
        surface_c=surface,
    )
    codes = {caution["code"] for caution in answer["cautions"]}
    outside = not (5 <= t <= 35 and 20 <= h <= 95 and 5 <= surface <= 35)
    assert ("outside-range" in codes) is outside
    never = False
    for clock in answer["clocks"].values():
        found = [clock[f"{end}_min"] for end in ("early", "likely", "safe")]
        never = never or found[1] is None
        numbers = [np.inf if value is None else value for value in found]
        assert numbers == sorted(numbers)
        assert numbers[0] > 0
    assert ("never-ends" in codes) is never


def test_an_answer_names_the_frost_point_below_zero():
    frost = drying.clocks_answer(
        family="oil",
        labels={"recoat": 960.0},
        air=Air(temperature_c=-5.0, humidity_pct=80.0),
    )
    # e = 337.5 Pa over water; frost point from ASHRAE ch. 1 eq. 5 by hand: -7.0 C.
    assert frost["air"]["dew_point_c"] == pytest.approx(-7.02, abs=0.02)


def test_an_answer_of_the_usual_damp_day():
    answer = drying.clocks_answer(
        family="waterborne",
        labels={"open": 20.0, "recoat": (120.0, 240.0)},
        air=Air(temperature_c=19.0, humidity_pct=80.0),
        surface_c=18.0,
    )
    # ASHRAE Fundamentals ch. 1: 19 C and 80 % has 1758 Pa, 10.98 g/kg, dew at 15.5 C.
    assert answer["air"]["vapour_pa"] == pytest.approx(1758, rel=0.001)
    assert answer["air"]["humidity_ratio_g_kg"] == pytest.approx(10.98, rel=0.002)
    assert answer["margin_c"] == pytest.approx(2.53, abs=0.02)
    assert answer["may_start"] is False
    recoat = answer["clocks"]["recoat"]
    assert recoat["label_min"] == [120.0, 240.0]
    assert recoat["plan_min"] == recoat["safe_min"]
    open_ = answer["clocks"]["open"]
    assert open_["likely_min"] == 30.0
    assert open_["plan_min"] == open_["early_min"]
    codes = [caution["code"] for caution in answer["cautions"]]
    assert codes == ["dew-margin", "open-capped"]
    assert all(caution["source"] for caution in answer["cautions"])


@given(temperatures_c, humidities_pct)
def test_the_answer_is_the_clocks(temperature, humidity):
    answer = drying.clocks_answer(
        family="glaze",
        labels={"recoat": 480.0},
        air=Air(temperature_c=temperature, humidity_pct=humidity),
        coat=1.5,
    )
    found = one(
        material("glaze", recoat=480.0),
        "recoat",
        steady(temperature, humidity),
        coat=1.5,
    )
    wanted = None if np.isinf(found.safe_min[0]) else float(found.safe_min[0])
    assert answer["clocks"]["recoat"]["safe_min"] == wanted


def test_materials_of_one_label_share_their_clocks_and_others_do_not():
    air = constant_air(START, temperature_c=16.0, humidity_pct=70.0)
    worked, ends = drying.in_air(air), np.array([0.0, 60.0, 300.0])
    usual = Air(temperature_c=23.0, humidity_pct=50.0)
    labels = {"touch": (120.0, 240.0)}
    one = Material(id="one", family="waterborne", label_air=usual, labels=labels)
    alike = replace(one, id="alike", name="Another tin")
    first = drying.clock(one, "touch", air, ends, worked=worked)
    assert (
        drying.clock(alike, "touch", air, ends, worked=worked).safe_min
        is first.safe_min
    )
    for other in (
        replace(one, family="glaze"),
        replace(one, labels={**labels, "touch": (120.0, 300.0)}),
        replace(one, label_air=Air(temperature_c=20.0, humidity_pct=60.0)),
    ):
        alone = drying.clock(other, "touch", air, ends).safe_min
        found = drying.clock(other, "touch", air, ends, worked=worked).safe_min
        assert (found == alone).all()
        assert (found != first.safe_min).all()
    for more in ({"coat": 1.5}, {"early": False}):
        alone, found = (
            drying.clock(one, "touch", air, ends, worked=given, **more)
            for given in (None, worked)
        )
        assert (found.early_min == alone.early_min).all()
        assert (found.early_min != first.early_min).all()
