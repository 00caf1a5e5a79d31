"""Strips, hands and the latest start. Figures: common practice, no source."""

from itertools import pairwise
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.errors import BadInput
from scheduling.wet_edge import (
    fewest_hands,
    latest_start,
    options,
    used_share,
    wet_edge,
)


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


# Options for one, two and three hands ------------------------------------------------


def choices(open_min=35.0, *, width=6.8, height=2.7, now=480.0, **more):
    values = {
        "width_m": width,
        "height_m": height,
        "apply_min_m2": 2.5,
        "work_min_m2": 5.0,
        "open_min": open_min,
        "now_min": now,
        "ends": {"lunch": 720.0, "close": 990.0},
        **more,
    }
    return options(**values)


def test_options_stand_for_one_two_and_three_hands_with_their_own_strips():
    one, two, three = choices()
    assert [o.hands for o in (one, two, three)] == [1, 2, 3]
    assert one.strip_m2 == pytest.approx(3.27, abs=0.01)
    assert two.strip_m2 == three.strip_m2 == pytest.approx(4.9)
    assert (one.strips, two.strips) == (6, 4)  # 18.36 m2 by 3.27 and by 4.9
    assert one.wall_min == pytest.approx(18.36 * 7.5)
    assert all(o.feasible for o in (one, two, three))


def test_the_next_thing_that_ends_wet_work_counts_and_the_sun_is_one():
    for now, sun, before, closes in (
        (480.0, 840.0, "lunch", 720.0),
        (480.0, 660.0, "the sun", 660.0),
        (730.0, 840.0, "the sun", 840.0),
        (850.0, 840.0, "close", 990.0),
    ):
        ends = {"lunch": 720.0, "close": 990.0, "the sun": sun}
        two = choices(now=now, ends=ends)[1]
        assert two.before == before
        assert two.latest_start_min == pytest.approx(closes - 91.8 * 1.15 - 20)


def test_a_wall_that_cannot_end_before_lunch_says_how_long_it_needs():
    # Two hands need 91.8 x 1.15 + 20 = 125.6 min: until 9:54, not until 10:00.
    assert choices(now=9 * 60 + 54)[1].feasible
    late = choices(now=600.0)[1]
    assert not late.feasible
    assert late.why == "Needs 126 min with cleaning up; 120 are left before lunch."


def test_too_late_for_the_wall_it_says_where_to_stop_instead():
    # Sections of 2, 2 and 2.8 m: 27, 54 and 91.8 min of work for two.
    late = choices(now=600.0, stop_lines_m=(2.0, 4.0))[1]
    assert not late.feasible
    assert late.sections_in_time == 2
    assert late.section_strips == (2, 2, 2)
    assert late.why.endswith("before lunch: stop after section 2 of 3.")
    assert choices(now=480.0, stop_lines_m=(2.0, 4.0))[1].sections_in_time == 3


def test_an_open_time_too_short_for_one_is_told_before_the_hour():
    one, two, _ = choices(12.0, height=3.2)
    assert not one.feasible
    assert one.why.startswith("Only 0.35 m stays open for one hand")
    assert one.sections_in_time == 0
    assert two.feasible


def test_with_nothing_to_end_it_a_wall_may_start_at_any_time():
    one = choices(ends={})[0]
    assert (one.before, one.latest_start_min, one.feasible) == ("", inf, True)
    past = choices(now=1200.0)[0]
    assert past.before == ""


def test_moving_a_ladder_takes_its_minutes_from_every_strip_and_from_the_wall():
    still, moved = choices()[0], choices(move_min=5.0)[0]
    assert moved.strip_m2 == pytest.approx((0.7 * 35 - 5) / 7.5)
    assert moved.strips == 8
    assert moved.wall_min == pytest.approx(still.wall_min + 7 * 5)
    assert not choices(6.0, move_min=5.0)[0].feasible


def test_a_beginner_and_dry_air_use_less_of_the_open_time():
    assert used_share(50.0) == 0.7
    assert used_share(50.0, beginner=True) == used_share(30.0) == 0.6
    careful, usual = choices(k=used_share(30.0))[0], choices()[0]
    assert careful.strip_m2 / usual.strip_m2 == pytest.approx(0.6 / 0.7)


@given(
    st.floats(2, 90),
    st.lists(st.floats(0.5, 6.5), max_size=3, unique=True),
    st.floats(400, 1000),
)
def test_more_hands_never_start_earlier_or_finish_fewer_sections(open_min, lines, now):
    found = choices(open_min, now=now, stop_lines_m=tuple(lines))
    for fewer, more in pairwise(found):
        assert more.wall_min <= fewer.wall_min
        assert more.latest_start_min >= fewer.latest_start_min
        assert more.sections_in_time >= fewer.sections_in_time
        assert more.feasible or not fewer.feasible
        assert len(more.section_strips) == len(lines) + 1


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("width", -1.0),
        ("height", nan),
        ("open_min", -5.0),
        ("apply_min_m2", inf),
        ("openings_m2", 18.36),
        ("openings_m2", nan),
        ("stop_lines_m", (7.0,)),
        ("k", 1.5),
        ("most", 0),
        ("now", nan),
        ("ends", {"lunch": nan}),
    ],
)
def test_sizes_and_minutes_that_cannot_be_are_refused_by_name(field, value):
    with pytest.raises(BadInput, match=field):
        choices(**{field: value})
