"""One wall at one moment. Strip rules: common practice, no source."""

from dataclasses import replace
from datetime import timedelta

import pytest

from jobs.factories import GateFactory, HoursFactory, TradeFactory
from scheduling.problem import Air, Break, HandsNeeded
from scheduling.this_wall import CLOSING_TIME, wall_now
from tests.scheduling.planning_jobs import (
    at,
    coat,
    job_of,
    paint,
    with_hours,
    with_room,
    with_surface,
)

# 5.0 x 2.5 m, laid at 2.5 and worked at 5 min a m2, open for 40 min on the label.
GLAZE = coat("glaze", wet=True, work_min_m2=5.0, hands=HandsNeeded(least=1, most=2))


def glazed(**labels):
    step = replace(GLAZE, apply_min_m2=2.5)
    made = job_of((step,), materials=(paint(open=40.0, **labels),))
    noon = (Break(start="12:00", end="12:30"),)
    return with_hours(made, end="16:30", breaks=noon)


def look(job, when=None, **more):
    surface = job.surfaces[0]
    step = job.recipe(surface.recipe).steps[0]
    return wall_now(job, surface, step, at=when or at(0, "08:00"), **more)


def test_one_hand_alone_does_strips_as_wide_as_the_open_time_lets_him():
    crew = look(glazed()).crews[0]
    assert crew.strip_m == pytest.approx(0.7 * 40 / 7.5 / 2.5)
    assert crew.section_strips == (4,)
    assert crew.wall_min == pytest.approx(12.5 * 7.5)


def test_two_hands_go_at_the_pace_of_the_slower():
    crew = look(glazed()).crews[1]
    assert crew.strip_m == pytest.approx(0.7 * 40 / 5.0 / 2.5)


def test_the_latest_start_leaves_time_for_slack_and_cleaning_before_the_break():
    wall = look(glazed())
    assert wall.ends == {"the break": at(0, "12:00")}
    left = timedelta(minutes=12.5 * 7.5 * 1.15 + 20)
    assert wall.moment(wall.crews[0].latest_start_min) == at(0, "12:00") - left


def test_after_the_break_the_day_ends_with_closing_time():
    wall = look(glazed(), at(0, "13:00"))
    assert wall.begins == at(0, "13:00")
    assert wall.ends == {CLOSING_TIME: at(0, "16:30")}


def test_in_the_break_the_wall_begins_when_it_is_over():
    assert look(glazed(), at(0, "12:10")).begins == at(0, "12:30")


def test_after_closing_it_begins_next_morning():
    wall = look(glazed(), at(0, "19:00"))
    assert wall.begins == at(1, "08:00")
    assert wall.ends == {"the break": at(1, "12:00")}


def test_a_room_that_is_not_open_for_a_week_has_no_start():
    job = with_room(glazed(), access=())
    wall = look(job)
    assert (wall.begins, wall.ends) == (None, {})
    assert wall.moment(0.0) is None


def test_the_sun_ends_wet_work_before_the_break_does():
    sun = (HoursFactory(days="mon-sun", start="10:30", end="14:00", breaks=()),)
    wall = look(with_surface(glazed(), 1, sun=sun))
    assert list(wall.ends) == ["the sun", "the break"]
    assert wall.crews[0].before == "the sun"


def test_the_public_a_trade_and_a_gate_end_it_too():
    job = with_room(
        glazed(),
        opens=(HoursFactory(days="mon-fri", start="11:30", end="15:00", breaks=()),),
        others=(
            TradeFactory(name="carpenter", start=at(0, "11:00"), end=at(1, "09:00")),
        ),
        hand_back=at(0, "09:30"),
    )
    gate = GateFactory(name="scaffold", not_before=None, not_after=at(0, "10:00"))
    wall = look(with_surface(job, 1, gates=(gate,)))
    assert list(wall.ends) == [
        "the room’s hand-back", "scaffold", "carpenter", "the public", "the break",
    ]  # fmt: skip


def test_the_crew_is_the_smallest_that_the_step_allows_and_the_air_lets_finish():
    wall = look(glazed())
    assert [crew.hands for crew in wall.crews] == [1, 2, 3]
    assert wall.crew is not None
    assert wall.crew.hands == 1
    # With slack and cleaning up one takes 128 min, two 92.
    assert look(glazed(), at(0, "10:15")).crew.hands == 2
    late = look(glazed(), at(0, "10:45"))
    assert late.crew is None
    assert "left before the break" in late.crews[0].why
    assert late.tight.hands == 2  # 62.5 min of work alone just fit
    assert look(glazed(), at(0, "11:00")).tight is None


def test_dry_air_shortens_the_open_time_and_leaves_more_of_it_unused():
    usual, dry = (
        look(glazed()),
        look(glazed(), air=Air(temperature_c=23, humidity_pct=30)),
    )
    assert dry.open_time.early_min < usual.open_time.early_min
    assert (usual.used_share, dry.used_share) == (0.7, 0.6)


def test_air_given_counts_instead_of_the_rooms():
    wall = look(glazed(), air=Air(temperature_c=15, humidity_pct=70), surface_c=13.0)
    assert wall.air == Air(temperature_c=15, humidity_pct=70)
    assert wall.surface_c == 13.0


def test_a_section_is_a_wall_by_itself():
    job = with_surface(glazed(), 1, stop_lines_m=(2.0,))
    whole, first = look(job), look(job, section="1")
    assert whole.crews[0].section_strips == (2, 3)
    assert first.width_m == pytest.approx(2.0)
    assert first.area_m2 == pytest.approx(5.0)
    assert first.stop_lines_m == ()
    with pytest.raises(KeyError):
        look(job, section="3")


def test_dry_work_keeps_no_edge_and_mixes_nothing():
    job = job_of((coat("sand", material=None),))
    wall = look(job)
    assert (wall.open_time, wall.crews, wall.mix, wall.batch) == (None, (), None, None)


def test_one_batch_is_mixed_for_every_surface_that_gets_the_step():
    material = replace(
        paint(open=40.0), spread_m2_per_l=10.0, parts={"colour": 1.0, "medium": 1.0}
    )
    job = job_of((GLAZE,), materials=(material,))
    twin = replace(job.surfaces[0], id="wall-2", openings_m2=2.5)
    wall = look(replace(job, surfaces=(*job.surfaces, twin)))
    assert wall.mix.net_l == pytest.approx(1.25)
    assert wall.batch.net_l == pytest.approx(2.25)
    # Common practice, no source: one part colour to one part medium halves a batch.
    assert wall.batch.parts_l["colour"] == pytest.approx(wall.batch.batch_l / 2)
    assert [row.id for row in wall.shares] == ["wall-1", "wall-2"]


def test_a_coat_twice_as_thick_takes_twice_the_mix():
    material = replace(paint(open=40.0), spread_m2_per_l=10.0)
    job = job_of((replace(GLAZE, coat=2.0),), materials=(material,))
    assert look(job).mix.net_l == pytest.approx(2.5)


def test_air_that_no_coat_may_start_in_is_said_with_the_wall():
    codes = [
        c.code
        for c in look(glazed(), air=Air(temperature_c=20, humidity_pct=93)).cautions
    ]
    assert "dew-margin" in codes
    assert "humid" in codes
