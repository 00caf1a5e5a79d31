"""What each lever costs, read off the plan that is made with it."""

from dataclasses import replace

import pytest

from jobs.factories import HandFactory
from scheduling.levers import levers
from scheduling.what_if import try_lever
from tests.scheduling.planning_jobs import QUICK, coat, dry, job_of, paint, planned
from tests.scheduling.test_what_if import in_damp_weather


def gain_of(job, code, surface=None):
    plan = planned(job)
    lever = next(row for row in levers(job, plan, surface=surface) if row.code == code)
    return try_lever(lever, job, plan, at=job.now, surface=surface, budget=QUICK)


def test_a_hand_who_comes_costs_the_hours_of_their_stints():
    job = job_of((coat(minutes=420),), (coat(minutes=420),))
    cost = gain_of(job, "hand", "wall-2").cost
    assert (cost.hands, cost.hours) == (1, 7.0)
    assert cost.text == "1 hand for 7.0 h"


def test_a_saturday_costs_the_hours_that_are_worked_on_it():
    job = job_of((dry("prepare", 480.0 * 6, splits=True),))
    gain = gain_of(job, "extra-day")
    saturday = [
        stint
        for stint in gain.plan.stints
        if stint.start.date().isoformat() == "2026-10-17"
    ]
    worked = sum((stint.end - stint.start).total_seconds() / 3600 for stint in saturday)
    worked -= 0.5  # lunch
    assert gain.cost.hours == pytest.approx(worked)
    assert gain.cost.text == f"1 hand, {worked:.1f} h on Sat 17 Oct"


def test_an_hour_longer_costs_what_is_worked_after_closing():
    crew = (HandFactory(id="one"), HandFactory(id="two"))
    long = dry("prepare", 480.0 * 2.5, splits=True)
    job = job_of((long,), (long,), hands=crew)
    cost = gain_of(job, "longer").cost
    assert cost.hands == 2
    # Both work the hour on two days; the third ends before closing.
    assert cost.hours == pytest.approx(4.0)
    assert cost.text == "2 hands, 4.0 h together on 2 days"


def test_what_dries_or_warms_a_room_costs_no_hands_but_days():
    job = in_damp_weather(job_of((coat("one"), coat("two"))))
    for code, what in (("dehumidifier", "the machine"), ("heat", "the heating")):
        gain = gain_of(job, code, "wall-1")
        starts = [stint.start.date() for stint in gain.plan.stints]
        days = (max(starts) - min(starts)).days + 1
        told = "1 day" if days == 1 else f"{days} days"
        assert (gain.cost.hands, gain.cost.hours) == (0, 0.0)
        assert gain.cost.text == f"no hands; {what} for {told}"


def test_another_material_costs_itself_on_every_surface_of_its_recipe():
    job = job_of((coat("one"), coat("two")))
    quick = replace(
        paint(recoat=60.0, touch=30.0), id="quick", name="Quick paint",
        family=job.materials[0].family,
    )  # fmt: skip
    job = replace(job, materials=(*job.materials, quick))
    assert gain_of(job, "swap", "wall-1").cost.text == (
        "no hands; Quick paint on 1 surface"
    )


def test_going_first_costs_the_others_their_turn_and_the_job_is_told():
    job = job_of((coat(minutes=420),), (coat(minutes=420),))
    gain = gain_of(job, "first", "wall-2")
    assert gain.cost.text == "no hands; the other surfaces may have to wait"
    before, after = planned(job).finish, gain.plan.finish
    assert gain.job_sooner_min == (before - after).total_seconds() / 60
