"""What the lead forbids a step: hands to do it, or a time to do it in."""

from dataclasses import replace

import pytest

from jobs.factories import BanFactory, PinFactory
from scheduling.greedy import Greedy
from scheduling.planning import plan_job
from scheduling.problem import Rescue
from scheduling.solver import Effort, solve
from tests.scheduling.planning_jobs import (
    at,
    coat,
    dry,
    job_of,
    paint,
    people,
    planned,
    stint,
    with_surface,
)
from tests.scheduling.test_audit import broken_rules, moved, sound
from tests.scheduling.test_same_hand import ALIKE, two_walls
from tests.scheduling.test_search import process_of


def ban(step="coat", wall=1, hands=(), span=(), **more):
    start, end = span or (None, None)
    return BanFactory(
        surface=f"wall-{wall}", step=step, hands=hands, start=start, end=end, **more
    )


def morning(day=0):
    return at(day, "08:00"), at(day, "12:00")


def no_plan(job):
    plan = plan_job(job, at=job.now, budget=1)
    assert plan.outcome == "no-plan"
    return plan.reasons


# -- a time ----------------------------------------------------------------------------


def test_a_step_is_not_done_while_it_is_forbidden_and_says_so():
    job = job_of((coat(),), (coat(),), bans=(ban(span=morning()),))
    stints = sound(job)
    assert stints[0].surface != "wall-1"  # the other wall is free
    found = stint(planned(job), 1)
    assert found.start == at(0, "12:30")
    assert found.reason.code == "ban"
    assert "Mon 12 Oct 08:00 to Mon 12 Oct 12:00" in found.reason.text
    alone = job_of((coat(),), bans=(ban(span=morning()),))
    for clock in ("08:00", "11:55"):
        early = moved((stint(planned(alone), 1),), "wall-1", "coat", at(0, clock))
        assert "ban-time" in broken_rules(alone, early)


def test_a_whole_day_is_forbidden_to_its_last_minute():
    day = at(0, "00:00"), at(1, "00:00")
    job = job_of((coat(),), bans=(ban(span=day),))
    assert sound(job)[0].start == at(1, "08:00")
    early = moved(sound(job), "wall-1", "coat", at(0, "15:00"))
    assert broken_rules(job, early) == {"ban-time"}


def test_dry_work_may_pause_for_a_forbidden_lunch():
    job = job_of((dry("coat", minutes=420),))
    job = replace(job, bans=(ban(span=(at(0, "12:00"), at(0, "12:30"))),))
    assert sound(job)[0].start == at(0, "08:00")


def test_a_time_forbidden_for_ever_is_no_plan_and_named():
    far = at(0, "00:00"), at(400, "00:00")
    (reason,) = no_plan(job_of((coat(),), bans=(ban(span=far),)))
    assert reason.code == "ban"
    assert "forbidden in every hour in which it could be done" in reason.text


def test_a_ban_on_a_section_leaves_the_other_free():
    job = with_surface(job_of((coat(wet=True),)), 1, stop_lines_m=(2.0,))
    job = replace(job, bans=(ban(section="2", span=morning()),))
    starts = {s.section: s.start for s in sound(job)}
    assert starts["1"] == at(0, "08:00")
    assert starts["2"] >= at(0, "12:00")


def test_a_ban_on_a_step_leaves_its_rescue_free():
    last = coat("two", rescue=Rescue(min_m2=1.0, stage=None))
    job = job_of((coat("one"), last), materials=(paint(window=300.0),))
    span = at(0, "12:30"), at(3, "00:00")
    job = replace(job, bans=(ban("two", span=span),))
    kinds = {s.kind: s.start for s in sound(job) if s.step == "two"}
    assert kinds["work"] >= at(3, "08:00")
    assert "rescue" in kinds


# -- a hand ----------------------------------------------------------------------------


@pytest.mark.parametrize("barred", ["hand-1", "hand-2"])
def test_a_hand_kept_off_a_step_does_not_do_it(barred):
    job = job_of((coat(),), hands=2, bans=(ban(hands=(barred,)),))
    (only,) = sound(job)
    assert barred not in only.hands
    assert broken_rules(job, (replace(only, hands=(barred,)),)) == {"ban-hand"}
    process = process_of(job)
    number = [hand.id for hand in process.hands].index(barred)
    found = solve(process, None, effort=Effort(budget=1)).placing
    placed = Greedy(process).best(None)
    assert number not in found[0].hands + placed[0].hands


def test_a_hand_kept_off_is_not_the_second_at_the_wall_either():
    job = job_of((coat(hands=people(2)),), hands=3, bans=(ban(hands=("hand-1",)),))
    assert set(sound(job)[0].hands) == {"hand-2", "hand-3"}
    process = process_of(job)
    placed = Greedy(process).best(None)
    assert 0 not in placed[0].hands


def test_where_too_few_are_left_there_is_no_plan_and_the_ban_is_named():
    job = job_of((coat(hands=people(2)),), hands=2, bans=(ban(hands=("hand-1",)),))
    (reason,) = no_plan(job)
    assert reason.code == "ban"
    assert "not kept off it" in reason.text


def test_the_hand_of_all_walls_is_one_who_may_do_each_of_them():
    for barred in ("hand-1", "hand-2"):
        job = two_walls(ALIKE, bans=(ban("drag", wall=2, hands=(barred,)),))
        assert {barred} & {h for s in sound(job) for h in s.hands} == set()


def test_where_nobody_may_do_all_walls_each_is_done_by_whoever_may():
    bans = (
        ban("drag", wall=1, hands=("hand-1",)),
        ban("drag", wall=2, hands=("hand-2",)),
    )
    job = two_walls(ALIKE, bans=bans)
    assert {s.surface: s.hands for s in sound(job)} == {
        "wall-1": ("hand-2",),
        "wall-2": ("hand-1",),
    }
    assert any("kept off one of them" in note for note in planned(job).notes)


# -- pins against bans -----------------------------------------------------------------


def test_a_pin_in_a_forbidden_time_or_to_a_forbidden_hand_is_refused_by_name():
    pin = PinFactory(surface="wall-1", step="coat", start=at(0, "10:00"))
    job = job_of((coat(),), bans=(ban(span=morning()),), pins=(pin,))
    (reason,) = no_plan(job)
    assert reason.text.endswith("at a time that is forbidden for it")
    named = replace(pin, hands=("hand-1",))
    job = job_of((coat(),), hands=2, bans=(ban(hands=("hand-1",)),), pins=(named,))
    (reason,) = no_plan(job)
    assert reason.text.endswith("with a hand who is kept off it")


def test_a_pin_on_a_section_holds_that_section():
    job = with_surface(job_of((coat(wet=True),)), 1, stop_lines_m=(2.0,))
    pin = PinFactory(
        surface="wall-1", step="coat", section="2", start=at(1, "10:00"), hands=()
    )
    job = replace(job, pins=(pin,))
    stints = {s.section: s for s in sound(job)}
    assert stints["2"].start == at(1, "10:00")
    assert stints["1"].start < at(1, "10:00")
    off = replace(stints["2"], start=at(1, "11:00"), end=at(1, "12:00"))
    assert "pin" in broken_rules(job, (stints["1"], off))


def test_a_later_plan_holds_what_was_forbidden_since():
    job = job_of((coat(),), (coat(),), hands=2)
    before = planned(job)
    barred = stint(before, 1).hands
    job = replace(job, bans=(ban(hands=barred),))
    after = plan_job(job, at=job.now, previous=before, budget=2)
    assert set(stint(after, 1).hands) & set(barred) == set()
