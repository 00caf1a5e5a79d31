"""Whether two coats of a usual wall paint fit a working day, planned end to end.

Trade times: a paint of 4 h between coats at 23 C and 50 %, put on by two at 2.5 minutes
a square metre; 8 in the morning to half past four. Common practice, no source.
"""

from dataclasses import replace

import pytest

from jobs.factories import (
    AirControlFactory,
    AirHourFactory,
    BreakFactory,
    GivenAirFactory,
    HandFactory,
    HandsNeededFactory,
    HoursFactory,
    JobFactory,
    MaterialFactory,
    RecipeFactory,
    RoomFactory,
    SiteFactory,
    StepFactory,
    SurfaceFactory,
)
from scheduling.plan import Plan
from scheduling.planning import plan_job
from scheduling.problem import AirControl, GivenAir, Job
from scheduling.psychrometrics import humidity_pct_of, vapour_pa
from tests.scheduling.planning_jobs import at

WALLS_M2 = 57.0  # four walls of a room of 150 m3
PAINT = MaterialFactory(
    id="paint",
    labels={"open": 10.0, "touch": 60.0, "recoat": 240.0},
    water_share=0.55,
    spread_m2_per_l=10.0,
)


def given_air(temperature_c: float, humidity_pct: float) -> GivenAir:
    hour = AirHourFactory(
        at=at(-2, "00:00"), temperature_c=temperature_c, humidity_pct=humidity_pct
    )
    return GivenAirFactory(given=(hour,))


def job(air: GivenAir | AirControl, **more) -> Job:
    """The room's four walls as one surface, with stop lines at its corners."""
    steps = tuple(
        StepFactory(
            id=name,
            material="paint",
            apply_min_m2=2.5,
            setup_min=5.0,
            hands=HandsNeededFactory(least=2),
        )
        for name in ("first", "second")
    )
    made = JobFactory(
        id="room-of-150-m3",
        now=at(0, "08:00"),
        # The break is taken in turn: 8.5 h of work in the day.
        site=SiteFactory(hours=(HoursFactory(breaks=(BreakFactory(relay=True),)),)),
        hands=(HandFactory(id="ana"), HandFactory(id="rui")),
        materials=(PAINT,),
        recipes=(RecipeFactory(id="two-coats", steps=steps),),
        rooms=(RoomFactory(id="room", volume_m3=150.0, air=air),),
        surfaces=(
            SurfaceFactory(
                id="walls",
                room="room",
                kind="wall",
                width_m=WALLS_M2 / 2.5,
                height_m=2.5,
                recipe="two-coats",
            ),
        ),
        outdoors=(),
        readings=(),
        coats=(),
        dates=(),
    )
    return replace(made, **more)


def outdoors_for(temperature_c: float, humidity_pct: float, outdoor_c: float = 13.0):
    """A week of outdoor air that stands at that humidity once as warm as the room."""
    vapour = vapour_pa(temperature_c, humidity_pct)
    return tuple(
        AirHourFactory(
            at=at(day, "00:00"),
            temperature_c=outdoor_c,
            humidity_pct=humidity_pct_of(outdoor_c, vapour),
        )
        for day in range(-2, 8)
    )


def planned(whole: Job) -> Plan:
    plan = plan_job(whole, at=whole.now, budget=2.0)
    assert plan.outcome == "plan", plan.reasons
    return plan


def days(plan: Plan) -> set[object]:
    return {stint.end.date() for stint in plan.stints if stint.kind == "work"}


def test_two_coats_fit_the_day_at_21_c_and_56_percent():
    plan = planned(job(given_air(21.0, 56.0)))
    assert days(plan) == {at(0, "08:00").date()}
    assert plan.finish is not None
    assert plan.finish <= at(0, "16:30")


def test_two_coats_do_not_fit_the_day_at_20_c_and_78_percent():
    plan = planned(job(given_air(20.0, 78.0)))
    assert days(plan) == {at(0, "08:00").date(), at(1, "08:00").date()}
    assert plan.bound.finish_not_before is not None
    assert plan.bound.finish_not_before > at(0, "16:30")


def modelled(changes_per_h: float, **more) -> Job:
    air = AirControlFactory(changes_per_h=changes_per_h, day_c=21.0, night_c=21.0)
    return job(air, outdoors=outdoors_for(21.0, 56.0), **more)


def test_with_the_works_own_water_one_air_change_an_hour_does_not_do():
    whole = modelled(1.0)
    plan = planned(whole)
    assert days(plan) == {at(0, "08:00").date(), at(1, "08:00").date()}
    most = max(
        hour.humidity_pct for hour in plan.air["room"] if hour.at < at(0, "16:30")
    )
    assert 65 < most < 95  # the same outdoor air alone would give 56 %
    assert any("in turn" in note for note in plan.notes)
    [cause] = [note for note in plan.notes if "water of the work itself" in note]
    assert "keeps second of walls waiting" in cause
    assert "air the room or run a dehumidifier" in cause


def test_it_is_the_works_water_that_takes_the_day():
    dry = replace(PAINT, water_share=0.0)
    plan = planned(modelled(1.0, materials=(dry,)))
    assert len(days(plan)) == 1
    assert not any("water of the work itself" in note for note in plan.notes)


def test_the_same_room_without_that_water_stands_at_21_c_and_56_percent():
    dry = replace(PAINT, water_share=0.0)
    plan = planned(modelled(1.0, materials=(dry,)))
    for hour in plan.air["room"]:
        assert hour.temperature_c == pytest.approx(21.0, abs=0.01)
        assert hour.humidity_pct == pytest.approx(56.0, abs=0.1)
