"""Fans, windows and dehumidifiers. Common practice, no source."""

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import pytest

from jobs.factories import AirControlFactory, AirHourFactory, MaterialFactory
from scheduling.room_care import care_of, room_care
from tests.scheduling.planning_jobs import at, coat, dry, job_of, planned, with_room

STEP = coat("coat", wet=True)


def job_with(family="waterborne", *, litres=20.0, steps=(STEP,), walls=1, **labels):
    """Walls of one room with its own heating and, unless told, a dehumidifier."""
    known = {"open": 30.0, "touch": 60.0, "recoat": 240.0} | labels
    material = MaterialFactory(id="material", family=family, labels=known)
    job = job_of(*[steps] * walls, hands=2, materials=(material,))
    outdoors = (AirHourFactory(at=at(-2, "00:00"), temperature_c=12.0),)
    job = replace(job, outdoors=outdoors)
    return with_room(job, air=AirControlFactory(dehumidifier_l_day=litres))


def states(cares):
    return [(c.state.fan, c.state.windows, c.state.dehumidifier) for c in cares]


STILL = ("off", "shut", False)


def test_still_while_it_is_open_then_moving_and_dry_air_until_the_next_coat():
    job = job_with()
    plan = planned(job)
    (stint,) = plan.stints
    first, then = care_of(job, stint)
    assert states((first, then)) == [STILL, ("low", "shut", True)]
    assert first.start == stint.start
    assert first.end == then.start == stint.open.safe
    assert then.end == stint.ready["recoat"].safe


@pytest.mark.parametrize(
    ("family", "after"),
    [("oil", ("off", "ajar", False)), ("spirit", ("low", "ajar", False))],
)
def test_oil_hardens_in_fresh_air_and_spirit_lets_its_fumes_out(family, after):
    job = job_with(family)
    (stint,) = planned(job).stints
    assert states(care_of(job, stint)) == [STILL, after]


def test_spirit_is_left_still_until_it_is_dry_to_touch():
    job = job_with("spirit")
    (stint,) = planned(job).stints
    assert care_of(job, stint)[0].end == stint.ready["touch"].safe


def test_lime_is_kept_from_draught_and_drying_all_along():
    job = job_with("lime")
    (stint,) = planned(job).stints
    (only,) = care_of(job, stint)
    assert states((only,)) == [STILL]
    assert only.end == stint.ready["recoat"].safe


def test_a_size_is_kept_still_until_it_takes_no_more_leaf():
    size = MaterialFactory(
        id="material", family="oil-size", labels={"tack": 120.0, "closes": 600.0}
    )
    job = replace(job_with(steps=(coat(),)), materials=(size,))
    (stint,) = planned(job).stints
    (only,) = care_of(job, stint)
    assert (states((only,)), only.end) == ([STILL], stint.closes.likely)


def test_work_that_puts_nothing_on_wants_nothing_of_the_air():
    job = job_with(steps=(dry("sand"),))
    assert room_care(job, planned(job).stints) == {}


def test_a_room_without_a_dehumidifier_is_not_told_to_run_one():
    job = job_with(litres=None)
    cares = room_care(job, planned(job).stints)["room"]
    assert states(cares) == [("off", "shut", None), ("low", "ajar", None)]


def test_where_coats_disagree_the_open_one_has_its_way():
    job = job_with(walls=3)  # two hands: the third wall is open when the others set
    plan = planned(job)
    cares = room_care(job, plan.stints)["room"]
    late = max(plan.stints, key=lambda stint: stint.start)
    early = min(plan.stints, key=lambda stint: stint.start)
    assert early.open.safe < late.open.safe
    meanwhile = late.start + timedelta(minutes=45)
    (here,) = [care for care in cares if care.start <= meanwhile < care.end]
    assert states((here,)) == [STILL]
    assert late.id in here.stints
    assert all(a.end <= b.start for a, b in pairwise(cares))
