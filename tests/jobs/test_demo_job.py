"""The demo job is a sound job of the size the story tells."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest

from jobs.demo_job import demo_monday, marram_house
from scheduling import job_file

MONDAY = date(2026, 10, 12)
STRETCH_MIN = 240.0  # eight to noon, or half past twelve to half past four


@pytest.fixture(scope="module")
def job():
    return marram_house(MONDAY)


def unlogged(job):
    """Surface, step and its minutes with the fewest hands, for what is still to do."""
    logged = {(coat.surface, coat.step) for coat in job.coats}
    for surface in job.surfaces:
        for step in job.recipe(surface.recipe).steps:
            if (surface.id, step.id) not in logged:
                yield surface, step, step.minutes(surface.area_m2, step.hands.least)


@pytest.mark.parametrize(
    ("today", "monday"),
    [
        (date(2026, 10, 12), date(2026, 10, 12)),
        (date(2026, 10, 16), date(2026, 10, 12)),
        (date(2026, 10, 17), date(2026, 10, 19)),
        (date(2026, 10, 18), date(2026, 10, 19)),
        (date(2027, 1, 1), date(2026, 12, 28)),
    ],
)
def test_the_demo_monday_is_this_weeks_and_next_weeks_from_saturday(today, monday):
    assert demo_monday(today) == monday


def test_the_demo_refuses_to_begin_on_another_day():
    with pytest.raises(ValueError, match="2026-10-13 is no Monday"):
        marram_house(date(2026, 10, 13))


def test_the_demo_is_a_valid_job_file(job):
    assert job_file.read_job(job_file.write_job(job)) == job


@pytest.mark.parametrize("monday", [date(2026, 3, 23), date(2026, 10, 19)])
def test_a_clock_change_leaves_no_hour_out_and_none_twice(monday):
    """Portugal's clocks change on the last Sundays of March and October."""
    moments = [hour.at.astimezone(UTC) for hour in marram_house(monday).outdoors]
    steps = {late - early for early, late in pairwise(moments)}
    assert steps == {timedelta(hours=1)}


def test_net_areas_are_those_of_the_story(job):
    areas = {surface.id: surface.area_m2 for surface in job.surfaces}
    for wall, area in {"n": 19.7, "e": 13.6, "s": 12.9, "w": 13.6}.items():
        assert areas[f"lounge-{wall}"] == pytest.approx(area, abs=0.05)
    for wall, area in {"n": 14.2, "e": 16.5, "s": 11.3}.items():
        assert areas[f"stair-hall-{wall}"] == pytest.approx(area, abs=0.05)
    assert areas["lounge-trim"] == pytest.approx(11.0, abs=0.05)
    assert areas["dining-end"] == pytest.approx(18.6)
    assert areas["dining-walls"] == pytest.approx(57.0)
    assert areas["bar-front"] == pytest.approx(6.4)
    assert areas["column-1"] + areas["column-2"] == pytest.approx(5.9, abs=0.05)


def test_a_dining_coat_gives_the_room_about_three_kilograms_of_water(job):
    paint = job.material("wall-paint")
    assert 57.0 / paint.spread_m2_per_l * paint.water_share == pytest.approx(3, abs=0.2)


def test_three_hands_put_a_coat_on_the_dining_walls_in_about_an_hour(job):
    surface = job.surface("dining-walls")
    coat = job.recipe(surface.recipe).step("coat-1")
    assert coat.minutes(surface.area_m2, 3) == pytest.approx(67)


def test_every_wet_step_fits_one_unbroken_stretch(job):
    wet = {
        (surface.id, step.id): took for surface, step, took in unlogged(job) if step.wet
    }
    assert max(wet.values()) <= STRETCH_MIN
    # Three hands for most of a morning: the tightest fit of the week.
    assert wet["dining-end", "polish"] == pytest.approx(233.2)


def test_every_step_fits_one_day(job):
    assert max(took for _, _, took in unlogged(job)) <= 2 * STRETCH_MIN


def test_the_work_is_more_than_the_week_holds(job):
    """Three finishers, five days of seven productive hours: 105 hand-hours."""
    hours = sum(
        took * step.hands.least / 60
        for _, step, took in unlogged(job)
        if step.skill != "carpentry"
    )
    assert 105 < hours < 130


def test_carpentry_fits_the_two_days_the_carpenter_is_there(job):
    minutes = sum(took for _, step, took in unlogged(job) if step.skill == "carpentry")
    assert minutes <= 2 * 2 * STRETCH_MIN
    (away,) = next(hand.away for hand in job.hands if hand.id == "carpenter")
    assert away[0] == datetime.fromisoformat("2026-10-14T00:00+01:00")


def test_the_fog_comes_on_wednesday_at_eleven_and_stays_until_friday(job):
    fog = [hour.at for hour in job.outdoors if hour.humidity_pct == 95]
    assert fog[0] == datetime.fromisoformat("2026-10-14T11:00+01:00")
    assert fog[-1] == datetime.fromisoformat("2026-10-15T23:00+01:00")
    assert len(fog) == 13 + 24


def test_every_date_is_wished_not_a_must(job):
    assert job.dates
    assert not any(date.must for date in job.dates)


def test_hands_are_named_by_role_and_can_do_what_the_recipes_ask(job):
    skills = {skill for hand in job.hands for skill in hand.skills}
    asked = {step.skill for recipe in job.recipes for step in recipe.steps}
    assert asked - {None} <= skills
