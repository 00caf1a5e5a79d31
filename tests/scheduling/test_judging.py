"""Judging an issued plan in new air: the same stints as the whole audit, and why."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from jobs.factories import AirHourFactory, CoatFactory, DateWishFactory, GivenAirFactory
from scheduling.audit import audit
from scheduling.judging import judge, judged_airs
from scheduling.planning import plan_job
from scheduling.problem import AirControl
from tests.scheduling.planning_jobs import (
    at,
    coat,
    job_of,
    paint,
    people,
    planned,
    stint,
    with_hours,
    with_room,
)
from tests.scheduling.random_jobs import jobs

TWO = (coat("one"), coat("two"))


def steady(humidity_pct):
    return GivenAirFactory(
        given=(
            AirHourFactory(
                at=at(-2, "00:00"), temperature_c=20.0, humidity_pct=humidity_pct
            ),
        )
    )


def turned(job, by_pct):
    """The job in other air, within rooms and outdoors."""

    def other(hour):
        humidity_pct = min(max(hour.humidity_pct + by_pct, 5.0), 97.0)
        return replace(hour, humidity_pct=humidity_pct)

    rooms = tuple(
        room
        if isinstance(room.air, AirControl)
        else replace(
            room, air=replace(room.air, given=tuple(map(other, room.air.given)))
        )
        for room in job.rooms
    )
    return replace(job, rooms=rooms, outdoors=tuple(map(other, job.outdoors)))


@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(job=jobs(), by_pct=st.sampled_from([-25.0, 12.0, 25.0, 45.0]))
def test_the_same_stints_as_the_whole_audit(job, by_pct):
    plan = plan_job(job, at=job.now, budget=0.0)
    assume(plan.outcome == "plan")
    other = turned(job, by_pct)
    airs = judged_airs(other, plan, at=job.now)
    found = judge(other, plan, at=job.now, airs=airs)
    whole = audit(other, plan.stints, at=job.now, wait_air=airs, open_air=airs)
    slips = [slip for slip in found.slips if slip.rule != "wet"]
    assert {(slip.rule, slip.stint) for slip in slips} == {
        (fault.rule, fault.stint) for fault in whole
    }
    starts = [slip.start for slip in slips if slip.start is not None]
    assert starts == sorted(starts)


def test_nothing_slips_where_the_air_stayed():
    job = with_room(job_of(TWO), air=steady(50.0))
    found = judge(job, planned(job), at=job.now)
    assert (found.slips, found.better, found.dates) == ((), (), ())


def test_a_longer_wait_names_the_stint_and_when_it_would_hold():
    job = with_room(job_of(TWO), air=steady(50.0))
    plan = planned(job)
    (slip,) = judge(with_room(job, air=steady(75.0)), plan, at=job.now).slips
    assert (slip.rule, slip.stint, slip.surface, slip.step) == (
        "wait", stint(plan, 1, "two").id, "wall-1", "two",
    )  # fmt: skip
    # The plan made for that air waits as long, and no night lies in between.
    again = planned(with_hours(with_room(job, air=steady(75.0)), end="24:00"))
    late = stint(again, 1, "two").start - slip.holds_from
    assert timedelta() <= late < timedelta(minutes=5)
    assert slip.by_min == pytest.approx(
        (slip.holds_from - stint(plan, 1, "two").start) / timedelta(minutes=1)
    )


def test_air_in_which_no_coat_may_start_names_the_hour_it_may_again():
    job = with_room(job_of((coat("one"),)), air=steady(50.0))
    plan = planned(job)
    fog = GivenAirFactory(
        given=tuple(
            AirHourFactory(at=at(*when), temperature_c=20.0, humidity_pct=pct)
            for when, pct in (((-2, "00:00"), 92.0), ((0, "14:00"), 60.0))
        )
    )
    (slip,) = judge(with_room(job, air=fog), plan, at=job.now).slips
    assert (slip.rule, slip.holds_from) == ("air", at(0, "14:00"))


def test_a_window_that_shuts_sooner_is_no_matter_of_waiting():
    slow = paint(window=700.0)
    job = with_room(job_of(TWO, materials=(slow,)), air=steady(80.0))
    plan = planned(job)
    dry = judge(with_room(job, air=steady(20.0)), plan, at=job.now)
    window = [slip for slip in dry.slips if slip.rule == "window"]
    for slip in window:
        assert (slip.holds_from, slip.by_min) == (None, None)
    shut = stint(plan, 1, "one").closes.early
    late = tuple(
        replace(s, start=shut + timedelta(hours=1), end=shut + timedelta(hours=2))
        if s.step == "two"
        else s
        for s in plan.stints
    )
    found = judge(job, replace(plan, stints=late), at=job.now)
    assert [(slip.rule, slip.by_min) for slip in found.slips] == [("window", None)]


def test_wet_work_whose_edge_its_hands_cannot_keep_any_more():
    wet = coat("one", 75.0, wet=True, hands=people(1))
    material = paint(open=12.0)
    job = with_room(job_of((wet,), materials=(material,)), air=steady(50.0))
    plan = planned(job)
    found = judge(with_room(job, air=steady(10.0)), plan, at=job.now)
    assert [slip.rule for slip in found.slips] == ["wet"]
    assert "stays open for" in found.slips[0].text
    longer = judge(with_room(job, air=steady(80.0)), plan, at=job.now)
    assert longer.slips == ()


def test_a_wait_over_sooner_is_better_and_says_whether_it_held_the_stint():
    job = with_room(job_of(TWO), air=steady(80.0))
    plan = planned(job)
    better = judge(with_room(job, air=steady(50.0)), plan, at=job.now).better
    (wait,) = [row for row in better if row.kind == "wait"]
    two = stint(plan, 1, "two")
    assert (wait.stint, wait.held) == (two.id, two.reason.code == "wait")
    was = stint(plan, 1, "one").ready["recoat"].safe
    assert wait.now + timedelta(minutes=wait.by_min) == was


def test_damp_air_keeps_wet_work_open_longer():
    wet = coat("one", 60.0, wet=True)
    job = job_of((wet,), materials=(paint(open=60.0, touch=120.0),))
    job = with_room(job, air=steady(45.0))
    plan = planned(job)
    better = judge(with_room(job, air=steady(75.0)), plan, at=job.now).better
    assert [(row.kind, row.stint) for row in better] == [("open", plan.stints[0].id)]
    assert better[0].by_min >= 15


def test_what_is_logged_or_past_does_not_slip():
    job = with_room(job_of(TWO), air=steady(50.0))
    plan = planned(job)
    one, two = stint(plan, 1, "one"), stint(plan, 1, "two")
    damper = with_room(job, air=steady(80.0))
    assert judge(damper, plan, at=two.start + timedelta(minutes=5)).slips == ()
    logged = tuple(
        CoatFactory(surface=s.surface, step=s.step, start=s.start, end=s.end)
        for s in (one, two)
    )
    assert judge(replace(damper, coats=logged), plan, at=job.now).slips == ()
    # The first coat logged, an hour later than planned: the second waits on that.
    late = (replace(logged[0], end=one.end + timedelta(hours=1)),)
    found = judge(replace(job, coats=late), plan, at=late[0].end)
    assert [slip.rule for slip in found.slips] == ["wait"]


def test_a_plan_older_than_the_job_is_judged_by_what_both_have():
    job = with_room(job_of(TWO, TWO), air=steady(50.0))
    plan = planned(job)
    fewer = replace(job, surfaces=job.surfaces[:1])
    found = judge(with_room(fewer, air=steady(80.0)), plan, at=job.now)
    assert {slip.surface for slip in found.slips} == {"wall-1"}


def test_wished_and_must_dates_that_move_are_told_by_their_place():
    job = with_room(job_of((coat("one"),)), air=steady(50.0))
    plan = planned(job)
    by = plan.finish + timedelta(minutes=360)
    wishes = (
        DateWishFactory(surface="wall-1", by=by, stage="recoat", must=False),
        DateWishFactory(surface="wall-1", by=by, stage="recoat", must=True),
    )
    job = replace(job, dates=wishes)
    plan = planned(job)
    found = judge(with_room(job, air=steady(80.0)), plan, at=job.now)
    (moved,) = found.dates
    assert (moved.date, moved.was_min) == (0, 0.0)
    assert moved.by_min > 60
    assert [(slip.rule, slip.stint) for slip in found.slips] == [
        ("must-date", "date 1")
    ]
