"""What must hold of the clocks whatever the label and the air."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.drying import clock, hours_in
from scheduling.integral import Cumulative, StepByStep
from scheduling.problem import FAMILIES, Family, Material
from scheduling.psychrometrics import (
    dew_point_c,
    humidity_pct_of,
    vapour_from_ratio,
    vapour_pa,
)
from scheduling.rate_laws import Phase, Weather, law, rate
from scheduling.room_air import RoomAir, constant_air
from tests.strategies import (
    REFERENCE,
    START,
    coats,
    families,
    floats,
    humidities_pct,
    materials,
    room_airs,
    temperatures_c,
    winds_m_s,
)

ENDS = ("early", "likely", "safe")
# Stages of which the plain law speaks: no cap of an open time, no bound of lime.
PLAIN: tuple[tuple[Family, str], ...] = tuple(
    (family, stage)
    for family in FAMILIES
    for stage in ("touch", "recoat", "hard", "cured")
    if law(family, stage).slowest is None
)
plain = st.sampled_from(PLAIN)


def labelled(family: Family, **labels: float) -> Material:
    return Material(id="m", family=family, label_air=REFERENCE, labels=labels)


def likely(stuff: Material, stage: str, air: RoomAir, end_min: float = 0.0) -> float:
    return float(clock(stuff, stage, air, np.array([end_min])).likely_min[0])


def smooth(step_min: float, *, mean_c: float, swing_c: float, ratio_g_kg: float):
    """Four days of a room that warms and cools, each step the air at its middle."""
    minute = (np.arange(round(4 * 1440 / step_min)) + 0.5) * step_min
    temperature = mean_c + swing_c * np.sin(2 * np.pi * minute / 1440)
    humidity = humidity_pct_of(temperature, vapour_from_ratio(ratio_g_kg))
    size = len(minute)
    return RoomAir(
        start=START,
        step_min=step_min,
        temperature_c=temperature,
        humidity_pct=np.minimum(humidity, 100.0),
        surface_c=temperature - 1.0,
        moving_air_m_s=np.full(size, 0.1),
        spread=np.zeros(size),
    )


# Integrating -------------------------------------------------------------------------


@given(plain, temperatures_c, humidities_pct, winds_m_s, coats, floats(1, 5000))
def test_in_constant_air_phases_add_up_as_the_formula_says(
    pair, temperature, humidity, wind, coat, label
):
    # t = t_label (s1 / r1 + s2 / r2): to the last digits, not to a step's error.
    family, stage = pair
    air = constant_air(
        START,
        temperature_c=temperature,
        humidity_pct=humidity,
        moving_air_m_s=wind,
    )
    wanted = 0.0
    for phase in law(family, stage).phases:
        speed = float(rate(phase, Weather(air), coat)[0])
        wanted += label * phase.share / speed if speed > 0 else np.inf
    found = clock(
        labelled(family, **{stage: label}), stage, air, np.zeros(1), coat=coat
    )
    assert found.likely_min[0] == pytest.approx(wanted, rel=1e-9)


@given(
    floats(0.001, 5.0),
    floats(0.1, 5000.0),
    floats(0.0, 3000.0),
    st.integers(1, 200),
    st.sampled_from([3.0, 5.0, 60.0]),
)
def test_integrating_a_constant_rate_is_exact_in_any_number_of_steps(
    speed, amount, begin, size, step_min
):
    start, need = np.array([begin]), np.array([amount])
    for kind in (Cumulative, StepByStep):
        integral = kind(np.full(size, speed), step_min)
        finish = integral.until(start, need)
        assert finish[0] - begin == pytest.approx(amount / speed, rel=1e-9, abs=1e-8)
        gathered = integral.between(start, np.array([begin + 777.0]))
        assert gathered[0] == pytest.approx(777.0 * speed, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(
    plain,
    floats(13, 25),
    floats(0, 5),
    floats(3, 8),
    floats(60, 2880),
    floats(0, 1440),
    st.sampled_from([5.0, 10.0]),
)
def test_half_the_step_moves_no_wait_by_more_than_a_five_hundredth(
    pair, mean_c, swing_c, ratio, label, end, step_min
):
    family, stage = pair
    stuff = labelled(family, **{stage: label})
    shape = {"mean_c": mean_c, "swing_c": swing_c, "ratio_g_kg": ratio}
    coarse = likely(stuff, stage, smooth(step_min, **shape), end)
    fine = likely(stuff, stage, smooth(step_min / 2, **shape), end)
    if coarse + end < 4 * 1440:  # past the last step the air is held, not known
        assert fine == pytest.approx(coarse, rel=0.002)


@settings(max_examples=60, deadline=None)
@given(st.data(), room_airs(), floats(0, 2000), floats(0.05, 0.95))
def test_what_one_walk_does_in_two_it_does_in_one(data, air, end, share):
    # Splitting a wait: its first part, then the rest from there, ends at the same time.
    family, stage = data.draw(plain)
    for phase in law(family, stage).phases:
        integral = Cumulative(rate(phase, Weather(air), 1.0), air.step_min)
        start = np.array([end])
        whole = integral.until(start, np.array([300.0]))
        part = integral.until(start, np.array([300.0 * share]))
        if np.isfinite(whole[0]):
            rest = integral.until(part, np.array([300.0 * (1 - share)]))
            assert rest[0] == pytest.approx(whole[0], rel=1e-9, abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(st.data(), room_airs(), floats(-300, 3000), floats(0.01, 600))
def test_of_two_coats_the_later_is_never_ready_first(data, air, end, later):
    # Each worked out alone and by the plain loop, so that no lining up helps.
    stuff = data.draw(materials())
    for stage in stuff.labels:
        if law(stuff.family, stage).slowest is not None or stage in ("open", "closes"):
            continue
        if stage == "window":
            continue
        one = float(hours_in(stuff, stage, air, end).likely_min) + end
        two = float(hours_in(stuff, stage, air, end + later).likely_min) + end + later
        assert two >= one - 1e-6


@settings(max_examples=80, deadline=None)
@given(st.data(), room_airs(), floats(0, 2000), st.integers(0, 39), floats(0.1, 8.0))
def test_a_warmer_wall_in_one_hour_never_delays_any_family(
    data, air, end, hour, warmer
):
    family, stage = data.draw(plain)
    surface = air.surface_c.copy()
    surface[min(hour, len(air) - 1)] += warmer
    stuff = labelled(family, **{stage: 240.0})
    better = likely(stuff, stage, replace(air, surface_c=surface), end)
    assert better <= likely(stuff, stage, air, end) + 1e-6


@settings(max_examples=80, deadline=None)
@given(st.data(), room_airs(), floats(0, 2000), st.integers(0, 39), floats(0.1, 30.0))
def test_a_drier_hour_never_delays_any_but_the_cure_of_lime(
    data, air, end, hour, drier
):
    family, stage = data.draw(plain)
    if family == "lime" and stage in ("hard", "cured"):
        return
    humidity = air.humidity_pct.copy()
    at = min(hour, len(air) - 1)
    humidity[at] = max(0.0, humidity[at] - drier)
    stuff = labelled(family, **{stage: 240.0})
    better = likely(stuff, stage, replace(air, humidity_pct=humidity), end)
    assert better <= likely(stuff, stage, air, end) + 1e-6


# Windows -----------------------------------------------------------------------------


@settings(max_examples=80, deadline=None)
@given(
    families,
    room_airs(),
    st.lists(floats(-300, 4000), min_size=1, max_size=12),
    floats(5, 900),
    floats(1, 3),
    floats(1, 6),
)
def test_a_window_never_closes_before_it_opens(family, air, moments, low, wide, long):
    opens, closes = (
        ("tack", "closes") if family.endswith("size") else ("recoat", "window")
    )
    label = {opens: (low, low * wide), closes: (low * long, low * wide * long)}
    stuff = Material(id="m", family=family, label_air=REFERENCE, labels=label)
    ended = np.array(moments)
    first, last = (clock(stuff, stage, air, ended) for stage in (opens, closes))
    for end in ENDS:  # one unknown factor moves both
        assert np.all(first.end_min(end) <= last.end_min(end) * (1 + 1e-9) + 1e-6)


@given(
    st.sampled_from(["oil-size", "water-size"]),
    temperatures_c,
    humidities_pct,
    floats(10, 900),
    floats(0.3, 4),
)
def test_in_steady_air_a_gilding_window_grows_as_its_tack_does(
    family, temperature, humidity, tack_min, omega
):
    air = constant_air(START, temperature_c=temperature, humidity_pct=humidity)
    stuff = labelled(family, tack=tack_min, closes=tack_min * (1 + omega))
    tack, closes = likely(stuff, "tack", air), likely(stuff, "closes", air)
    if np.isfinite(tack):
        assert (closes - tack) / tack == pytest.approx(omega, rel=1e-9)
    else:
        assert closes == np.inf


# Laws ---------------------------------------------------------------------------------


@given(plain, temperatures_c, humidities_pct, winds_m_s)
def test_moving_air_leaves_every_reaction_alone(pair, temperature, humidity, wind):
    for phase in law(*pair).phases:
        if phase.kind in ("evaporation", "solvent"):
            continue
        still, windy = (
            float(
                rate(
                    phase,
                    Weather(
                        constant_air(
                            START,
                            temperature_c=temperature,
                            humidity_pct=humidity,
                            moving_air_m_s=speed,
                        )
                    ),
                    1.0,
                )[0]
            )
            for speed in (0.1, wind)
        )
        assert windy == still


@given(floats(0, 1), winds_m_s, coats, floats(1.05, 3))
def test_thickness_counts_between_once_and_twice_in_evaporation(
    film, wind, coat, times
):
    phase = Phase(kind="evaporation", activity=0.98, film=film)
    weather = Weather(
        constant_air(START, temperature_c=20.0, humidity_pct=50.0, moving_air_m_s=wind)
    )
    thin, thick = (float(rate(phase, weather, c)[0]) for c in (coat, coat * times))
    power = np.log(thin / thick) / np.log(times)
    assert 1 - 1e-9 <= power <= 2 + 1e-9


def test_the_cure_of_lime_counts_its_thickness_twice_by_carbonation():
    (_, carbonation) = law("lime", "cured").phases
    weather = Weather(constant_air(START, temperature_c=20.0, humidity_pct=60.0))
    thin, thick = (float(rate(carbonation, weather, c)[0]) for c in (1.0, 2.0))
    assert thin / thick == pytest.approx(4.0)


@given(floats(8, 33), humidities_pct, floats(0, 6))
def test_nothing_evaporates_from_a_wall_at_or_under_the_dew_point(
    temperature, humidity, under
):
    dew_c = dew_point_c(vapour_pa(temperature, humidity))
    air = constant_air(
        START,
        temperature_c=temperature,
        humidity_pct=humidity,
        surface_c=dew_c - under,
    )
    for family in FAMILIES:
        for stage in ("open", "touch", "recoat"):
            for phase in law(family, stage).phases:
                if phase.kind == "evaporation":
                    assert float(rate(phase, Weather(air), 1.0)[0]) == 0.0


@given(floats(10, 25), floats(25, 85), floats(0.5, 8))
def test_warming_only_the_air_at_one_humidity_slows_a_cool_wall(
    wall_c, humidity, warmer
):
    # Warmer air of the same relative humidity holds more vapour.
    (phase,) = law("waterborne", "touch").phases
    cool, warm = (
        float(
            rate(
                phase,
                Weather(
                    constant_air(
                        START,
                        temperature_c=wall_c + more,
                        humidity_pct=humidity,
                        surface_c=wall_c,
                    )
                ),
                1.0,
            )[0]
        )
        for more in (0.0, warmer)
    )
    assert warm < cool or warm == cool == 0.0


@given(floats(5, 25), floats(30, 90), floats(0.5, 8))
def test_heating_a_sealed_room_shortens_evaporation(cold_c, humidity, warmer):
    vapour = vapour_pa(cold_c, humidity)
    cold = constant_air(START, temperature_c=cold_c, humidity_pct=humidity)
    warm = constant_air(
        START,
        temperature_c=cold_c + warmer,
        humidity_pct=humidity_pct_of(cold_c + warmer, vapour),
    )
    for family in ("waterborne", "distemper", "gypsum"):
        stuff = labelled(family, touch=60.0)
        assert likely(stuff, "touch", warm) < likely(stuff, "touch", cold)


def test_airing_helps_only_where_it_is_drier_outside():
    # 28 C and 60 % outside is 14.2 g/kg: at 22 C that is 86 %, against 50 % indoors.
    stuff = labelled("waterborne", recoat=180.0)
    room = constant_air(START, temperature_c=22.0, humidity_pct=50.0)
    summer, winter = (
        constant_air(
            START,
            temperature_c=22.0,
            humidity_pct=humidity_pct_of(22.0, vapour_pa(*outdoors)),
        )
        for outdoors in ((28.0, 60.0), (5.0, 90.0))
    )
    as_it_is = likely(stuff, "recoat", room)
    assert likely(stuff, "recoat", summer) > 1.5 * as_it_is
    assert likely(stuff, "recoat", winter) < as_it_is
