"""Clocks as odds: which quantiles their ends are, and plans made against a chance."""

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.chance import (
    asked_text,
    cases_text,
    closing_min,
    even_normals,
    minutes_at,
    wait_min,
)
from scheduling.coats import Clock
from scheduling.errors import BadInput
from scheduling.plan_file import write_plan
from scheduling.planning import plan_job
from tests.scheduling.planning_jobs import (
    QUICK,
    at,
    coat,
    damp,
    job_of,
    paint,
    planned,
    stint,
    with_room,
)

INF = math.inf
NORMAL = NormalDist()


def clock_of(early: float, likely: float, safe: float) -> Clock:
    """The clock of one coat."""
    return Clock(
        early_min=np.array([early]),
        likely_min=np.array([likely]),
        safe_min=np.array([safe]),
    )


ends = st.lists(
    st.one_of(st.just(0.0), st.just(INF), st.floats(0.5, 5000.0)),
    min_size=3,
    max_size=3,
).map(sorted)

# -- the distribution --------------------------------------------------------------


@given(ends)
def test_the_ends_are_the_tenth_the_middle_and_the_ninetieth_of_a_hundred(three):
    found = clock_of(*three)
    z = np.array([NORMAL.inv_cdf(share) for share in (0.1, 0.5, 0.9)])
    assert minutes_at(found, z) == pytest.approx(three, rel=1e-9)


@given(ends)
def test_a_slower_case_never_ends_sooner(three):
    minutes = minutes_at(clock_of(*three), even_normals(400))
    assert (minutes >= 0).all()
    with np.errstate(invalid="ignore"):
        steps = np.diff(minutes)
    assert not (steps < -1e-9).any()


def test_between_likely_and_safe_the_logarithm_runs_straight():
    # A log-normal's standard deviation of the logarithm: ln(240 / 180) / 1.2816.
    sigma = math.log(240 / 180) / NORMAL.inv_cdf(0.9)
    share = NORMAL.cdf(math.log(210 / 180) / sigma)
    z = NORMAL.inv_cdf(share)
    assert minutes_at(clock_of(120, 180, 240), z) == pytest.approx(210)
    assert share == pytest.approx(0.754, abs=0.001)  # worked by hand


def test_a_clock_of_one_number_is_certain():
    minutes = minutes_at(clock_of(60, 60, 60), even_normals(100))
    assert (minutes == 60).all()


def test_where_the_safe_end_is_never_one_case_in_ten_never_dries():
    minutes = minutes_at(clock_of(60, 120, INF), even_normals(1000))
    assert np.isinf(minutes).mean() == pytest.approx(0.1)
    assert np.median(minutes) == pytest.approx(120, rel=0.01)


def test_where_likely_is_never_half_the_cases_never_dry():
    minutes = minutes_at(clock_of(60, INF, INF), even_normals(1000))
    assert np.isinf(minutes).mean() == 0.5
    assert (minutes <= 60).mean() == pytest.approx(0.1)


def test_without_a_chance_the_clocks_own_ends_are_planned_with():
    found = clock_of(120, 180, 240)
    assert wait_min(found, None) == 240
    assert closing_min(found, None) == 120
    assert wait_min(found, 0.9) == pytest.approx(240)
    assert closing_min(found, 0.9) == pytest.approx(120)
    assert wait_min(found, 0.5) == closing_min(found, 0.5) == 180


def test_chances_are_told_as_cases():
    told = [
        cases_text(chance) for chance in (0, 0.002, 0.03, 0.31, 0.9, 0.97, 0.998, 1)
    ]
    assert told == [
        "no case",
        "fewer than 1 of 100 cases",
        "3 of 100 cases",
        "3 of 10 cases",
        "9 of 10 cases",
        "97 of 100 cases",
        "more than 99 of 100 cases",
        "all cases",
    ]
    assert [asked_text(chance) for chance in (0.9, 0.75, 0.925)] == [
        "9 of 10 cases",
        "75 of 100 cases",
        "92.5 of 100 cases",
    ]


# -- plans against a chance --------------------------------------------------------


def two_coats(**labels):
    return job_of(
        (coat("one"), coat("two")), materials=(paint(recoat=(120.0, 240.0), **labels),)
    )


def test_a_higher_chance_waits_longer():
    # One ends 09:00; 90 of 100 cases are ready at the safe end, 4 h later. At 60 and
    # 99 of 100 by the quantiles of the log-normal: 190.5 and 303.5 min (by hand).
    starts = {
        chance: stint(planned_at(two_coats(), chance), 1, "two").start
        for chance in (0.5, 0.6, 0.9, 0.99)
    }
    assert starts == {
        0.5: at(0, "12:30"),  # 180 min is 12:00, and the break ends 12:30
        0.6: at(0, "12:30"),
        0.9: at(0, "13:00"),
        0.99: at(0, "14:05"),
    }


def planned_at(job, chance):
    plan = plan_job(job, at=job.now, budget=QUICK, chance=chance)
    assert plan.outcome == "plan", plan.reasons
    return plan


def test_a_window_is_kept_with_the_matching_early_quantile():
    # One ends at 16:30 at the latest; a window of 4 to 6 h, likely 5 h, shuts early.
    job = two_coats(window=(240.0, 360.0))
    for chance in (0.5, 0.7, 0.9):
        two = stint(planned_at(job, chance), 1, "two")
        one = stint(planned_at(job, chance), 1, "one")
        passed = (two.start - one.end).total_seconds() / 60
        sigma = math.log(300 / 240) / NORMAL.inv_cdf(0.9)
        shuts = 300 * math.exp(-NORMAL.inv_cdf(chance) * sigma)
        assert passed <= shuts + 0.02


def test_nine_of_ten_plans_the_same_moments_as_safe_ends():
    job = with_room(two_coats(), air=damp(0, 2))
    with_chance, usual = planned_at(job, 0.9), planned(job)
    assert [(s.id, s.start, s.end) for s in with_chance.stints] == [
        (s.id, s.start, s.end) for s in usual.stints
    ]


def test_notes_and_reasons_say_the_chance_and_only_then():
    plan = planned_at(two_coats(), 0.8)
    assert any("in 8 of 10 cases" in note for note in plan.notes)
    assert "can be recoated in 8 of 10 cases" in stint(plan, 1, "two").reason.text
    usual = planned(two_coats())
    assert "cases" not in "".join(usual.notes)
    assert "safe to recoat" in stint(usual, 1, "two").reason.text


def test_the_same_chance_gives_the_same_plan():
    assert write_plan(planned_at(two_coats(), 0.7)) == write_plan(
        planned_at(two_coats(), 0.7)
    )


@pytest.mark.parametrize("chance", [0.0, -0.1, 0.49, 0.995, 1.0, 1.2, math.nan, INF])
def test_a_chance_nobody_can_plan_against_is_refused(chance):
    with pytest.raises(BadInput) as error:
        planned_at(two_coats(), chance)
    assert str(error.value).startswith("chance: ")
    assert str(error.value).endswith("a number from 0.5 to 0.99")


@settings(max_examples=15, deadline=None)
@given(
    st.sampled_from([0.5, 0.66, 0.8, 0.95, 0.99]),
    st.floats(40.0, 95.0),
    st.floats(1.0, 3.0),
    st.booleans(),
)
def test_every_plan_against_a_chance_passes_its_audit(chance, damp_pct, wide, window):
    # plan_job raises AuditError where its own audit finds a fault.
    labels = {"recoat": (120.0, 120.0 * wide)}
    if window:
        labels["window"] = (2000.0, 2000.0 * wide)
    job = job_of(
        (coat("one"), coat("two"), coat("three")), materials=(paint(**labels),)
    )
    job = with_room(job, air=damp(0, 1, damp_pct))
    plan = plan_job(job, at=job.now, budget=0.2, chance=chance)
    assert plan.outcome in {"plan", "no-plan"}
