"""The demo's damp Wednesday, from a plan made when a dry week was forecast.

On Tuesday evening, with all that was planned until then logged, sea fog is forecast for
Wednesday at eleven. Figures are ours, of the demo job; they are no measurement.
"""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from jobs.demo_job import marram_house
from scheduling.judging import judge
from scheduling.planning import plan_job
from scheduling.problem import Coat

MONDAY = date(2026, 10, 12)
FOG_PCT = 90.0
BUDGET = 1.0
DINING_WALLS_BY = 2  # of the demo's dates: breakfast, Thursday at seven
SECOND = "dining-walls-coat-2"


def with_machine(job, room):
    """The job with a dehumidifier of 20 l a day in a room."""
    return replace(
        job,
        rooms=tuple(
            replace(row, air=replace(row.air, dehumidifier_l_day=20.0))
            if row.id == room
            else row
            for row in job.rooms
        ),
    )


@pytest.fixture(scope="module")
def week():
    """The plan of the dry week, and the job on Tuesday evening with fog forecast."""
    foggy = marram_house(MONDAY)
    begins = next(hour.at for hour in foggy.outdoors if hour.humidity_pct > FOG_PCT)
    dry = replace(
        foggy,
        outdoors=tuple(
            replace(hour, temperature_c=15.0, humidity_pct=78.0)
            if hour.at >= begins
            else hour
            for hour in foggy.outdoors
        ),
    )
    plan = plan_job(dry, at=dry.now, budget=BUDGET)
    at = dry.now.replace(hour=16, minute=30) + timedelta(days=1)
    done = tuple(
        Coat(
            surface=stint.surface,
            section=stint.section,
            step=stint.step,
            start=stint.start,
            end=stint.end,
        )
        for stint in plan.stints
        if stint.kind == "work" and stint.end <= at
    )
    return plan, replace(foggy, coats=(*foggy.coats, *done), now=at), at


@pytest.fixture(scope="module")
def again(week):
    """Plans from Tuesday evening in the fog: as it is, and with a machine in a room."""
    _, job, at = week
    rooms = ("dining", "lounge")
    jobs = {None: job} | {room: with_machine(job, room) for room in rooms}
    return {room: plan_job(row, at=at, budget=BUDGET) for room, row in jobs.items()}


def by_min(judged, stint):
    return max(
        (slip.by_min or 0.0 for slip in judged.slips if slip.stint == stint),
        default=0.0,
    )


def late_min(plan, number):
    return next((late.by_min for late in plan.late if late.date == number), 0.0)


def test_the_dining_rooms_second_coat_slips_by_hours_in_the_fog(week):
    plan, job, at = week
    judged = judge(job, plan, at=at)
    slips = {slip.rule for slip in judged.slips if slip.stint == SECOND}
    assert "wait" in slips
    # 177 min: past half past four, when the site shuts.
    assert 120 < by_min(judged, SECOND) < 240


def test_with_a_dehumidifier_it_waits_minutes_instead(week):
    plan, job, at = week
    with_one = by_min(judge(with_machine(job, "dining"), plan, at=at), SECOND)
    assert with_one < 45  # 24 min
    elsewhere = by_min(judge(with_machine(job, "lounge"), plan, at=at), SECOND)
    assert elsewhere > 120  # a machine in another room is none here


def test_planned_again_it_moves_to_thursday_unless_a_machine_stands_there(again):
    assert again[None].stint(SECOND).start.strftime("%a") == "Thu"
    assert late_min(again[None], DINING_WALLS_BY) > 60  # 492 min after breakfast
    assert again["dining"].stint(SECOND).start.strftime("%a") == "Wed"
    assert late_min(again["dining"], DINING_WALLS_BY) == 0.0


def test_the_stair_is_pulled_in_while_the_dining_room_dries(week, again):
    plan, _, _ = week
    drags = [f"stair-hall-{side}-drag" for side in "nes"]
    first = min(again[None].stint(name).start for name in drags)
    # Thursday at eight in the dry plan, Wednesday afternoon in the fog.
    assert first < min(plan.stint(name).start for name in drags)
    assert first.strftime("%a") == "Wed"


def test_a_machine_in_the_lounge_buys_minutes_and_no_day(again):
    without, with_one = again[None], again["lounge"]
    # The lounge waits for hands by then, not for air: ten minutes of its lateness.
    assert with_one.finish.date() == without.finish.date()
    lounge = 7
    gained = late_min(without, lounge) - late_min(with_one, lounge)
    assert abs(gained) < 60
