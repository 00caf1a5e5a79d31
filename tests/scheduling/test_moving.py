"""One stint elsewhere, all else as it stands: how long it takes, what it breaks."""

from dataclasses import replace

import pytest

from jobs.factories import BanFactory, DateWishFactory, HandFactory, PinFactory
from scheduling.moving import broken_by, moved
from tests.scheduling.planning_jobs import (
    at,
    coat,
    dry,
    job_of,
    people,
    planned,
    stint,
)

TWO = (coat("one"), coat("two"))


def broken(job, start, step="two", hands=("hand-1",), asked=None):
    plan = planned(job)
    (found,) = (s for s in plan.stints if s.step == step and s.kind == "work")
    changed = moved(job, plan, found.id, start=start, hands=hands)
    rows = broken_by(job, plan, changed, asked=asked or job, at=job.now)
    return {(row.rule, row.alone) for row in rows}


def test_a_move_that_fits_breaks_nothing():
    assert broken(job_of(TWO), at(1, "09:00")) == set()


@pytest.mark.parametrize(
    ("start", "rules"),
    [
        (at(0, "10:00"), {("wait", False)}),
        (at(1, "07:00"), {("site-hours", True)}),
        (at(0, "08:30"), {("wait", False), ("wall", False), ("twice", False)}),
    ],
)
def test_what_breaks_is_told_and_whether_another_stint_could_give_way(start, rules):
    assert broken(job_of(TWO), start) >= rules


def test_a_hand_who_is_away_can_give_way_to_nobody():
    hand = HandFactory(id="hand-1", away=((at(1, "00:00"), at(2, "00:00")),))
    job = job_of(TWO, hands=(hand, HandFactory(id="hand-2")))
    assert ("hand-hours", True) in broken(job, at(1, "09:00"))
    assert broken(job, at(1, "09:00"), hands=("hand-2",)) == set()


def test_what_follows_in_the_plan_is_told_too():
    job = job_of(TWO)
    assert ("wait", False) in broken(job, at(0, "11:00"), step="one")


def test_a_wished_date_that_would_be_missed_is_told():
    wish = DateWishFactory(by=at(0, "16:00"), stage="touch", must=False)
    job = job_of((coat(),), dates=(wish,))
    assert broken(job, at(0, "09:00"), step="coat") == set()
    assert broken(job, at(1, "09:00"), step="coat") == {("must-date", False)}


def test_what_is_broken_already_is_not_told_again():
    wish = DateWishFactory(by=at(0, "08:30"), stage="touch", must=False)
    job = job_of((coat(),), dates=(wish,))
    assert broken(job, at(1, "09:00"), step="coat") == set()


def test_a_ban_is_asked_of_the_plan_as_it_stands():
    job = job_of((coat(),))
    ban = BanFactory(surface="wall-1", step="coat", hands=("hand-1",))
    plan = planned(job)
    asked = replace(job, bans=(ban,))
    (row,) = broken_by(job, plan, plan, asked=asked, at=job.now)
    assert (row.rule, row.stint) == ("ban-hand", plan.stints[0].id)


def test_more_hands_take_less_time_and_breaks_are_left_out():
    job = job_of((dry("coat", minutes=240, hands=people(1, 2)),), hands=2)
    plan = planned(replace(job, hands=job.hands[:1]))
    only = plan.stints[0]
    alone = moved(job, plan, only.id, start=at(1, "09:00"), hands=("hand-1",))
    assert alone.stints[0].end == at(1, "13:30")  # half an hour's break at noon
    both = moved(job, plan, only.id, start=at(1, "09:00"), hands=("hand-1", "hand-2"))
    assert both.stints[0].end == at(1, "11:00")


def test_wet_work_knows_no_pause():
    job = job_of((coat(minutes=120, wet=True),))
    plan = planned(job)
    changed = moved(
        job, plan, plan.stints[0].id, start=at(1, "11:00"), hands=("hand-1",)
    )
    assert changed.stints[0].end == at(1, "13:00")
    rows = broken_by(job, plan, changed, asked=job, at=job.now)
    assert ("site-hours", True) in {(row.rule, row.alone) for row in rows}


def test_a_move_that_broke_nothing_is_held_by_the_next_plan_as_it_was_shown():
    job = job_of(TWO)
    plan = planned(job)
    changed = moved(
        job, plan, stint(plan, 1, "two").id, start=at(1, "09:00"), hands=("hand-1",)
    )
    pin = PinFactory(
        surface="wall-1", step="two", start=at(1, "09:00"), hands=("hand-1",)
    )
    again = planned(replace(job, pins=(pin,)))
    assert stint(again, 1, "two").end == stint(changed, 1, "two").end
