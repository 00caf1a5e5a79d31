"""Progress added up: both ways agree, and a rate that rises in a step is exact."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.drying import clock, hours_in, in_air
from scheduling.integral import Cumulative, Places, StepByStep
from scheduling.problem import Air, Material
from scheduling.rate_laws import Weather, law, rate
from scheduling.room_air import Drift, RoomAir
from tests.strategies import START, floats

STEP_MIN = 5.0


@st.composite
def tilted_rates(draw):
    """Means and tilts of some steps; rests, and none in the two ends."""
    size = draw(st.integers(2, 12))
    means = draw(
        st.lists(st.just(0.0) | floats(0.01, 3.0), min_size=size, max_size=size)
    )
    shares = draw(st.lists(floats(-2.0, 2.0), min_size=size, max_size=size))
    rate, tilt = np.array(means), np.array(means) * np.array(shares)
    rate[-1] = max(rate[-1], 0.5)  # every amount comes together in the end
    tilt[[0, -1]] = 0.0
    return rate, tilt


def test_a_rate_rising_from_rest_takes_the_root_of_what_is_wanted():
    # From 0 at minute 5 to 2 at minute 10: x^2 / 5 gathers in its first x minutes.
    rate, tilt = np.array([0.0, 1.0, 0.0]), np.array([0.0, 2.0, 0.0])
    for kind in (Cumulative, StepByStep):
        integral = kind(rate, STEP_MIN, tilt)
        amounts = np.array([0.05, 0.8, 1.8, 5.0])
        finish = integral.until(np.full(4, 2.0), amounts)
        assert finish == pytest.approx(5 + np.sqrt(amounts * 5))
        gathered = integral.between(np.full(1, 7.0), np.full(1, 9.0))
        assert gathered == pytest.approx([(4**2 - 2**2) / 5])


def test_a_rate_falling_to_rest_gives_the_step_its_mean_and_no_more():
    rate, tilt = np.array([0.0, 1.0, 0.0]), np.array([0.0, -2.0, 0.0])
    for kind in (Cumulative, StepByStep):
        integral = kind(rate, STEP_MIN, tilt)
        finish = integral.until(np.full(3, 5.0), np.array([1.8, 5.0, 5.001]))
        assert finish[:2] == pytest.approx([6.0, 10.0], abs=1e-6)
        assert finish[2] == np.inf


@settings(max_examples=200, deadline=None)
@given(tilted_rates(), floats(-20, 80), floats(0.01, 60))
def test_prefix_sums_and_the_walk_agree_in_a_rate_that_rises_and_falls(
    steps, begin, amount
):
    rate, tilt = steps
    start, need = np.array([begin]), np.array([amount])
    quick, slow = Cumulative(rate, STEP_MIN, tilt), StepByStep(rate, STEP_MIN, tilt)
    one, other = quick.until(start, need), slow.until(start, need)
    # At rest a moment is not defined; what has gathered by then is.
    gathered = slow.between(start, one)
    assert gathered[0] == pytest.approx(amount, rel=1e-9, abs=1e-9)
    assert quick.between(start, other)[0] == pytest.approx(amount, rel=1e-9, abs=1e-9)
    assert quick.until(start, amount) == one


@settings(max_examples=100, deadline=None)
@given(tilted_rates(), floats(0, 60), floats(0.01, 30), floats(0.05, 0.95))
def test_splitting_a_wait_changes_nothing_in_a_rate_that_rises(
    steps, begin, amount, share
):
    integral = Cumulative(steps[0], STEP_MIN, steps[1])
    start = np.array([begin])
    part = integral.until(start, np.array([amount * share]))
    rest = integral.until(part, np.array([amount * (1 - share)]))
    gathered = integral.between(start, rest)
    assert gathered[0] == pytest.approx(amount, rel=1e-9, abs=1e-9)


@settings(max_examples=100, deadline=None)
@given(tilted_rates(), st.lists(floats(-20, 80), min_size=2, max_size=9))
def test_no_start_is_overtaken_in_a_rate_that_rises_and_falls(steps, starts):
    integral = Cumulative(steps[0], STEP_MIN, steps[1])
    finish = integral.until(np.sort(np.array(starts)), 7.0)
    assert (np.diff(finish) >= -1e-9).all()


def test_places_are_found_again_for_other_starts():
    places = Places(STEP_MIN, 4)
    one = Cumulative(np.array([1.0, 2.0, 3.0, 4.0]), STEP_MIN, None, places)
    first, second = np.array([0.0, 5.0]), np.array([7.0, 11.0])
    for _ in range(2):
        assert one.until(first, 5.0) == pytest.approx([5.0, 7.5])
        assert one.until(second, 6.0) == pytest.approx([10.0, 13.0])


def test_air_that_drifts_counts_as_air_in_steps_a_hundred_times_finer():
    # An hour in which a room goes from 55 to 85 % and its wall cools by 2 K.
    def air(step_min, *, drifting):
        amid = (np.arange(round(600 / step_min)) + 0.5) * step_min
        share = np.clip((amid - 60) / 60, 0.0, 1.0)
        rising = np.where((amid > 60) & (amid < 120), step_min / 60, 0.0)
        still = np.zeros_like(amid)
        return RoomAir(
            start=START,
            step_min=step_min,
            temperature_c=np.full_like(amid, 20.0),
            humidity_pct=55 + 30 * share,
            surface_c=20 - 2 * share,
            moving_air_m_s=np.full_like(amid, 0.1),
            spread=still,
            drift=Drift(
                temperature_k=still, humidity_pct=30 * rising, surface_k=-2 * rising
            )
            if drifting
            else None,
        )

    ends = 60 + np.array([2.0, 13.0, 21.0, 28.0, 37.0])
    fine, coarse = air(0.05, drifting=False), air(5.0, drifting=True)
    apart = []
    for label in (7.0, 12.0):
        stuff = Material(
            id="m",
            family="waterborne",
            label_air=Air(temperature_c=23, humidity_pct=50),
            labels={"touch": label},
        )
        wanted = clock(stuff, "touch", fine, ends).likely_min
        found = clock(stuff, "touch", coarse, ends).likely_min
        assert found == pytest.approx(wanted, rel=4e-4)
        walked = [float(hours_in(stuff, "touch", coarse, e).likely_min) for e in ends]
        assert found == pytest.approx(walked, rel=1e-9)
        jumping = clock(stuff, "touch", air(5.0, drifting=False), ends).likely_min
        apart.append(np.abs(jumping / wanted - 1).max())
    assert max(apart) > 0.004  # what the drift is for


def test_a_wall_that_meets_its_dew_point_inside_a_step_dries_until_then():
    # From 90 to 100 % in one step: at 98 % a dispersion stops, four fifths through.
    def air(step_min):
        amid = (np.arange(round(30 / step_min)) + 0.5) * step_min
        inside = (amid > 10) & (amid < 15)
        still = np.zeros_like(amid)
        return RoomAir(
            start=START,
            step_min=step_min,
            temperature_c=np.full_like(amid, 20.0),
            humidity_pct=90 + 10 * np.clip((amid - 10) / 5, 0.0, 1.0),
            surface_c=np.full_like(amid, 20.0),
            moving_air_m_s=np.full_like(amid, 0.1),
            spread=still,
            drift=Drift(
                temperature_k=still,
                humidity_pct=np.where(inside, 10 * step_min / 5, 0.0),
                surface_k=still,
            ),
        )

    (phase,) = law("waterborne", "touch").phases
    full = float(rate(phase, Weather(air(5.0)), 1.0)[0])
    gathered = full * 10 + full * 4 / 2  # a triangle of four minutes
    for step_min in (5.0, 2.5, 0.5):
        integral = in_air(air(step_min)).progress(phase, 1.0, None, 1.0)
        found = integral.between(np.zeros(1), np.full(1, 30.0 - step_min))
        assert found[0] == pytest.approx(gathered, rel=2e-3)
