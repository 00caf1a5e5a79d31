"""Strips, hands and the latest start. Figures: common practice, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.wet_edge import fewest_hands, latest_start, wet_edge


def wall(hands, open_min, *, width=6.8, height=2.7, **more):
    values = {
        "area_m2": width * height,
        "width_m": width,
        "height_m": height,
        "apply_min_m2": 2.5,
        "work_min_m2": 5.0,
        "setup_min": 0.0,
        "wet": True,
        "open_min": open_min,
        "hands": hands,
        **more,
    }
    return wet_edge(**values)


@pytest.mark.parametrize(
    ("hands", "open_min", "strip_m2"),
    [(1, 20, 1.87), (2, 20, 2.8), (1, 35, 3.27), (2, 35, 4.9)],
)
def test_a_strip_is_as_large_as_seven_tenths_of_the_open_time(
    hands, open_min, strip_m2
):
    assert wall(hands, open_min).strip_m2 == pytest.approx(strip_m2, abs=0.01)


def test_a_lone_strip_of_twenty_minutes_is_seven_tenths_of_a_metre_wide():
    edge = wall(1, 20)
    assert edge.strip_m == pytest.approx(0.69, abs=0.01)
    assert edge.feasible


def test_a_strip_under_forty_centimetres_is_refused_in_words():
    edge = wall(1, 8, height=3.2)
    assert not edge.feasible
    assert "stop line" in edge.why
    assert wall(2, 12, height=3.2).feasible


def test_narrow_sections_between_stop_lines_are_feasible_though_strips_are_narrow():
    lines = tuple(0.3 * n for n in range(1, 22))
    assert not wall(1, 10, width=6.6).feasible
    assert wall(1, 10, width=6.6, stop_lines_m=lines).feasible


def test_a_panel_that_stays_open_as_a_whole_needs_no_strips():
    edge = wall(1, 20, width=0.6, height=1.0)
    assert edge.strips == 1
    assert edge.feasible


def test_dry_work_has_no_edge_to_keep():
    assert wall(1, 0.0, wet=False).feasible


def test_the_wall_takes_set_up_and_the_pace_of_the_slower():
    assert wall(1, 30, setup_min=20).wall_min == pytest.approx(20 + 18.36 * 7.5)
    assert wall(2, 30, setup_min=20).wall_min == pytest.approx(20 + 18.36 * 5.0)
    assert wall(3, 30, setup_min=20).wall_min == pytest.approx(20 + 18.36 * 5.0)


def test_fewest_hands_finds_the_second_when_one_is_too_slow():
    values = {
        "area_m2": 16.8,
        "width_m": 5.25,
        "height_m": 3.2,
        "apply_min_m2": 2.5,
        "work_min_m2": 5.0,
        "setup_min": 0.0,
        "wet": True,
    }
    assert fewest_hands(**values, open_min=35, most=3) == 1
    assert fewest_hands(**values, open_min=12, most=3) == 2
    assert fewest_hands(**values, open_min=3, most=3) is None


def test_the_latest_start_leaves_slack_and_time_to_clean_up():
    # closes 17:00, a wall of three hours: 17:00 - 3 h x 1.15 - 20 min = 13:13
    assert latest_start(17 * 60, 180) == pytest.approx(13 * 60 + 13)


@given(st.floats(2, 90), st.integers(1, 4))
def test_longer_open_time_and_more_hands_never_make_a_strip_smaller(open_min, hands):
    assert wall(hands, open_min + 1).strip_m2 >= wall(hands, open_min).strip_m2
    assert wall(hands + 1, open_min).strip_m2 >= wall(hands, open_min).strip_m2
