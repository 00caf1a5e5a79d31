"""Each rule of the site on the plan of a small job where only that rule binds."""

import json
import os
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from jobs.factories import (
    BreakFactory,
    CoatFactory,
    DateWishFactory,
    GateFactory,
    HandFactory,
    HoursFactory,
    MaterialFactory,
    PinFactory,
    RoomFactory,
)
from scheduling.errors import BadInput
from scheduling.plan_file import read_plan, write_plan
from scheduling.planning import plan_job
from scheduling.problem import After, Rescue
from tests.scheduling.planning_jobs import (
    MONDAY,
    QUICK,
    at,
    coat,
    damp,
    dry,
    job_of,
    paint,
    people,
    planned,
    span,
    stint,
    with_hours,
    with_room,
    with_surface,
)

MINUTE = timedelta(minutes=1)

# -- waits and windows -----------------------------------------------------------------


def test_the_second_coat_waits_out_the_safe_end_of_the_label():
    plan = planned(job_of((coat("one"), coat("two"))))
    assert span(plan, 1, "one") == (at(0, "08:00"), at(0, "09:00"))
    assert span(plan, 1, "two") == (at(0, "13:00"), at(0, "14:00"))
    assert plan.finish == plan.bound.finish_not_before == at(0, "14:00")
    assert plan.bound.proved


def test_damp_hours_put_the_second_coat_off():
    job = with_room(job_of((coat("one"), coat("two"))), air=damp(0, 2))
    assert stint(planned(job), 1, "two").start > at(0, "16:30")


def test_a_wait_over_at_night_lets_the_next_coat_start_in_the_morning():
    job = job_of((coat("one"), coat("two")), materials=(paint(recoat=700.0),))
    plan = planned(job)
    assert stint(plan, 1, "two").start == at(1, "08:00")
    assert "08:00" in stint(plan, 1, "two").reason.text


def test_a_step_may_wait_for_a_stage_other_than_recoat():
    hard = coat("two", after=After(step="one", stage="hard"))
    job = job_of((coat("one"), hard), materials=(paint(hard=2880.0),))
    assert stint(planned(job), 1, "two").start == at(2, "09:00")


def test_a_window_that_shuts_in_the_night_moves_the_first_coat_to_the_morning():
    # Opens after 6 h, shuts after 10 h: begun at 08:00 there would be no time.
    size = MaterialFactory(
        id="material", family="oil-size", labels={"tack": 720.0, "closes": 1200.0}
    )
    job = job_of((coat("size", 30), dry("leaf", 120)), materials=(size,))
    plan = planned(job)
    laid, leaf = stint(plan, 1, "size"), stint(plan, 1, "leaf")
    assert laid.ready["tack"].safe <= leaf.start <= laid.closes.early
    assert leaf.start.date() > laid.end.date()


def test_a_range_too_wide_for_its_window_is_planned_with_a_test_first():
    slow = MaterialFactory(
        id="material",
        family="oil-size",
        labels={"tack": (60, 300), "closes": (200, 420)},
    )
    job = job_of((coat("size", 30), dry("leaf", 60)), materials=(slow,))
    plan = planned(job)
    test, leaf = stint(plan, 1, "leaf", "test"), stint(plan, 1, "leaf")
    assert test.end == leaf.start
    assert test.end - test.start == 5 * MINUTE
    laid = stint(plan, 1, "size")
    assert laid.ready["tack"].likely <= leaf.start <= laid.closes.likely


def test_a_window_already_missed_is_saved_by_the_recipes_rescue():
    two = coat("two", rescue=Rescue(min_m2=2.4, stage=None))
    job = job_of((coat("one"), two), materials=(paint(window=480.0),))
    old = CoatFactory(
        surface="wall-1", step="one", start=at(-4, "08:00"), end=at(-4, "09:00")
    )
    plan = planned(replace(job, coats=(old,)))
    rescue = stint(plan, 1, "two", "rescue")
    assert rescue.start == at(0, "08:00")
    assert rescue.end - rescue.start == 30 * MINUTE
    assert stint(plan, 1, "two").start == rescue.end


SCUFF = Rescue(min_m2=2.4, stage=None)  # half an hour on 12.5 m2


def afternoon(**more):
    """A first coat may begin on Monday at 13:00; its window shuts that night."""
    job = job_of((coat("one"), coat("two", **more)), materials=(paint(window=480.0),))
    return replace(job, now=at(0, "13:00"))


def test_a_window_is_given_up_where_its_rescue_ends_sooner():
    # Kept, the window holds the first coat back until Tuesday at 08:00.
    kept = planned(afternoon())
    assert stint(kept, 1, "one").start == at(1, "08:00")
    assert kept.finish == at(1, "14:00")
    saved = planned(afternoon(rescue=SCUFF))
    assert stint(saved, 1, "one").start == at(0, "13:00")
    assert stint(saved, 1, "two", "rescue").start == at(1, "08:00")
    assert saved.finish == at(1, "09:30")
    assert saved.bound.finish_not_before <= saved.finish


def test_a_rescue_that_takes_longer_than_waiting_is_not_chosen():
    long = Rescue(min_m2=28.0, stage=None)  # nearly six hours
    plan = planned(afternoon(rescue=long))
    assert plan.finish == at(1, "14:00")
    assert [s.kind for s in plan.stints] == ["work", "work"]


def test_the_bound_of_a_plan_that_keeps_its_window_counts_a_rescue_as_possible():
    # 08:00 today: both coats fit one day, and no rescue could make it sooner.
    day = replace(afternoon(rescue=SCUFF), now=at(0, "08:00"))
    plan = planned(day)
    assert (plan.finish, plan.bound.proved) == (at(0, "14:00"), True)


def test_without_a_rescue_a_missed_window_is_no_plan_and_says_why():
    job = job_of((coat("one"), coat("two")), materials=(paint(window=480.0),))
    old = CoatFactory(
        surface="wall-1", step="one", start=at(-4, "08:00"), end=at(-4, "09:00")
    )
    plan = plan_job(replace(job, coats=(old,)), at=job.now, budget=1)
    assert plan.outcome == "no-plan"
    assert "window" in plan.reasons[0].text


# -- hours -----------------------------------------------------------------------------


def test_wet_work_crosses_no_break_and_dry_work_pauses_for_it():
    wet = planned(job_of((coat("coat", 250 - 15, wet=True),)))
    assert span(wet, 1) == (at(0, "08:00"), at(0, "11:55"))
    too_long = planned(job_of((dry("coat", 300),)))
    assert span(too_long, 1) == (at(0, "08:00"), at(0, "13:30"))


def test_wet_work_begun_too_late_for_lunch_starts_after_it():
    job = job_of((dry("coat", 60),), (coat("coat", 225, wet=True),))
    job = replace(job, surfaces=job.surfaces, now=at(0, "09:00"))
    plan = planned(job)
    assert stint(plan, 2).start in (at(0, "12:30"), at(1, "08:00"))
    assert stint(plan, 2).end <= at(1, "12:00")


def test_wet_work_longer_than_any_stretch_is_no_plan_with_both_lengths():
    plan = plan_job(job_of((coat("coat", 300, wet=True),)), at=at(0, "08:00"), budget=1)
    assert plan.outcome == "no-plan"
    assert "5 h" in plan.reasons[0].text
    assert "4 h" in plan.reasons[0].text


def test_a_wall_too_long_for_a_stretch_is_done_between_its_stop_lines():
    job = job_of((coat("coat", 400, wet=True), coat("two", 60)))
    job = with_surface(job, 1, stop_lines_m=(2.5,))
    plan = planned(job)
    halves = [s for s in plan.stints if s.step == "coat"]
    assert [half.section for half in halves] == ["1", "2"]
    assert all(half.end - half.start == 200 * MINUTE for half in halves)
    assert stint(plan, 1, "two").start >= max(h.ready["recoat"].safe for h in halves)


def test_work_that_splits_goes_over_days_as_several_stints():
    plan = planned(job_of((dry("coat", 900, splits=True),)))
    days = [s for s in plan.stints if s.step == "coat"]
    assert [(s.start, s.end) for s in days] == [
        (at(0, "08:00"), at(0, "16:30")),
        (at(1, "08:00"), at(1, "15:30")),
    ]


def test_closed_days_and_week_ends_are_left_out():
    job = job_of((coat("one"), coat("two")), materials=(paint(recoat=500.0),))
    job = replace(job, site=replace(job.site, closed=(at(1, "00:00").date(),)))
    assert stint(planned(job), 1, "two").start == at(2, "08:00")
    friday = replace(job, now=at(4, "15:00"))
    assert stint(planned(friday), 1, "two").start == at(7, "08:00")


def test_hours_to_midnight_and_the_clock_change_are_counted_in_real_minutes():
    # Summer time ends in Lisbon on Sunday 25 October 2026 at 02:00.
    job = job_of((coat("one"), coat("two")), materials=(paint(recoat=240.0),))
    job = with_hours(job, days="sat-sun", start="00:00", end="24:00", breaks=())
    plan = planned(replace(job, now=at(12, "22:30")))
    one, two = stint(plan, 1, "one"), stint(plan, 1, "two")
    assert one.end == at(12, "23:30")
    assert two.start.astimezone(UTC) - one.end.astimezone(UTC) == timedelta(hours=4)
    assert two.start == at(13, "02:30")


# -- hands -----------------------------------------------------------------------------


def test_one_hand_does_two_walls_one_after_the_other_and_two_side_by_side():
    walls = ((coat(),), (coat(),))
    assert planned(job_of(*walls)).finish == at(0, "10:00")
    assert planned(job_of(*walls, hands=2)).finish == at(0, "09:00")


def test_a_second_hand_quickens_a_step_that_takes_one_or_two():
    step = coat("coat", 120, hands=people(1, 2))
    assert planned(job_of((step,))).finish == at(0, "10:00")
    assert planned(job_of((step,), hands=2)).finish == at(0, "09:00")


def test_in_wet_work_the_slower_of_laying_and_working_sets_the_pace():
    step = coat("coat", 60, work_min_m2=120 / 12.5, wet=True, hands=people(2))
    # alone 180 min; two: the slower of 60 and 120, not the half of 180
    assert planned(job_of((step,), hands=2)).finish == at(0, "10:00")


def test_only_the_hand_with_the_skill_takes_the_step():
    hands = (HandFactory(id="able", skills=("gilding",)), HandFactory(id="other"))
    steps = ((coat("coat", skill="gilding"),), (coat("coat", skill="gilding"),))
    plan = planned(job_of(*steps, hands=hands))
    assert [s.hands for s in plan.stints] == [("able",), ("able",)]
    assert plan.finish == at(0, "10:00")


def test_two_at_the_wall_need_the_skill_only_once():
    hands = (HandFactory(id="able", skills=("gilding",)), HandFactory(id="other"))
    job = job_of((coat("coat", 60, hands=people(2), skill="gilding"),), hands=hands)
    assert set(stint(planned(job), 1).hands) == {"able", "other"}


def test_a_skill_that_nobody_has_is_no_plan_and_named():
    plan = plan_job(job_of((coat(skill="gilding"),)), at=at(0, "08:00"), budget=1)
    assert plan.outcome == "no-plan"
    assert "gilding" in plan.reasons[0].text


def test_more_hands_than_there_are_is_no_plan_and_counted():
    job = job_of((coat(hands=people(3)),), hands=2)
    plan = plan_job(job, at=at(0, "08:00"), budget=1)
    assert plan.outcome == "no-plan"
    assert "3 hands" in plan.reasons[0].text


def test_own_hours_and_absence_are_kept():
    late = HandFactory(id="late", hours=(HoursFactory(start="13:00"),))
    assert stint(planned(job_of((coat(),), hands=(late,))), 1).start == at(0, "13:00")
    away = HandFactory(id="away", away=((at(0, "00:00"), at(1, "10:00")),))
    assert stint(planned(job_of((coat(),), hands=(away,))), 1).start == at(1, "10:00")


def test_hands_whose_hours_never_meet_cannot_pair():
    hands = (
        HandFactory(id="early", hours=(HoursFactory(end="11:00", breaks=()),)),
        HandFactory(id="late", hours=(HoursFactory(start="13:00", breaks=()),)),
    )
    plan = plan_job(
        job_of((coat(hands=people(2)),), hands=hands), at=at(0, "08:00"), budget=1
    )
    assert plan.outcome == "no-plan"
    assert "together" in plan.reasons[0].text


# -- rooms -----------------------------------------------------------------------------


def test_access_hours_of_the_room_are_kept():
    job = job_of((coat("coat", 120),))
    access = (HoursFactory(start="14:00", end="17:00", breaks=()),)
    assert stint(planned(with_room(job, access=access)), 1).start == at(0, "14:00")


def test_a_room_never_open_long_enough_says_so():
    job = with_room(
        job_of((coat("coat", 120),)),
        access=(HoursFactory(start="15:00", end="16:00", breaks=()),),
    )
    plan = plan_job(job, at=at(0, "08:00"), budget=1)
    assert plan.outcome == "no-plan"
    assert "2 h" in plan.reasons[0].text


def test_no_more_hands_than_the_room_holds():
    job = job_of((coat(),), (coat(),), hands=2)
    assert planned(with_room(job, hands_most=1)).finish == at(0, "10:00")


def test_top_before_bottom():
    job = job_of((coat(),), (coat(),), hands=2, kinds=("trim", "ceiling"))
    plan = planned(job)
    assert stint(plan, 1).start >= stint(plan, 2).end
    assert stint(plan, 1).reason.code == "order"


def test_dry_work_below_does_not_wait_for_the_ceiling():
    job = job_of((dry("coat"),), (coat(),), hands=2, kinds=("trim", "ceiling"))
    assert planned(job).finish == at(0, "09:00")


def test_a_lower_surface_already_begun_goes_on():
    job = job_of(
        (coat("one"), coat("two")), (coat(),), hands=2, kinds=("trim", "ceiling")
    )
    done = CoatFactory(
        surface="wall-1", step="one", start=at(-3, "08:00"), end=at(-3, "09:00")
    )
    assert planned(replace(job, coats=(done,))).finish == at(0, "09:00")


@pytest.mark.parametrize("what", ["dust", "steam", "solvent"])
def test_what_a_step_makes_keeps_away_from_open_and_tacky_coats(what):
    job = job_of((coat(),), (dry("coat", makes=(what,)),), hands=2)
    plan = planned(job)
    wet, makes = stint(plan, 1), stint(plan, 2)
    assert makes.end <= wet.start or makes.start >= wet.ready["touch"].safe
    assert planned(job_of((coat(),), (dry("coat"),), hands=2)).finish == at(0, "09:00")


def test_dust_reaches_connected_rooms_and_no_others():
    job = job_of((coat(),), (dry("coat", makes=("dust",)),), hands=2)
    apart = replace(job, rooms=(*job.rooms, RoomFactory(id="next")))
    apart = with_surface(apart, 2, room="next")
    assert planned(apart).finish == at(0, "09:00")
    joined = with_room(apart, connected=("next",))
    assert planned(joined).finish > at(0, "09:00")


def test_two_coats_that_both_make_steam_do_not_keep_apart():
    limewash = coat("coat", makes=("steam",))
    assert planned(job_of((limewash,), (limewash,), hands=2)).finish == at(0, "09:00")


def test_dust_waits_for_a_logged_coat_to_be_touch_dry():
    job = job_of((coat("one"), coat("two")), (dry("coat", makes=("dust",)),), hands=2)
    wet = CoatFactory(
        surface="wall-1", step="one", start=at(0, "07:30"), end=at(0, "08:00")
    )
    plan = planned(replace(job, coats=(wet,)))
    assert stint(plan, 2).start >= at(0, "09:00")


def test_a_gate_holds_the_surface_back():
    job = with_surface(job_of((coat(),)), 1, gates=(GateFactory(),))
    plan = planned(job)
    assert stint(plan, 1).start == at(2, "08:00")
    assert stint(plan, 1).reason.code == "gate"


FAR = datetime(2199, 1, 1, 8, tzinfo=MONDAY.tzinfo)


def test_a_gate_beyond_the_days_looked_at_is_named_as_what_holds_the_work():
    gate = GateFactory(name="sample signed", not_before=FAR)
    job = with_surface(job_of((coat(), coat("two")), (coat(),)), 1, gates=(gate,))
    plan = plan_job(job, at=job.now, budget=QUICK)
    assert plan.outcome == "no-plan"
    assert [reason.code for reason in plan.reasons] == ["gate"]
    assert "wall-1: not before sample signed, Tue 1 Jan 2199 08:00" in (
        plan.reasons[0].text
    )


def test_a_gate_months_ahead_is_waited_for():
    gate = GateFactory(name="sample signed", not_before=at(100, "08:00"))
    job = with_surface(job_of((coat(),)), 1, gates=(gate,))
    assert stint(planned(job), 1).start == at(100, "08:00")


def test_a_gate_that_outlasts_the_window_of_a_coat_on_is_named():
    job = job_of((coat("one"), coat("two")), materials=(paint(window=2880.0),))
    gate = GateFactory(name="sample signed", not_before=FAR)
    job = with_surface(job, 1, gates=(gate,))
    wet = CoatFactory(
        surface="wall-1", step="one", start=at(0, "06:30"), end=at(0, "07:30")
    )
    (reason,) = plan_job(replace(job, coats=(wet,)), at=job.now, budget=QUICK).reasons
    assert reason.code == "gate"
    assert "not before sample signed" in reason.text
    assert "the window of the coat before closes Tue 13 Oct" in reason.text


def test_no_coat_starts_in_air_that_forbids_it():
    job = with_room(job_of((coat(),)), air=damp(0, 1, humidity_pct=90.0))
    assert stint(planned(job), 1).start == at(1, "08:00")
    assert planned(
        with_room(job_of((dry("coat"),)), air=damp(0, 1, humidity_pct=90.0))
    ).finish == at(0, "09:00")


# -- people's words --------------------------------------------------------------------


def test_a_pin_holds_its_stint_and_its_hands():
    pin = PinFactory(
        surface="wall-1", step="coat", start=at(1, "10:00"), hands=("hand-2",)
    )
    plan = planned(job_of((coat(),), hands=2, pins=(pin,)))
    assert stint(plan, 1).start == at(1, "10:00")
    assert stint(plan, 1).hands == ("hand-2",)


def test_a_wished_date_missed_is_a_plan_with_its_lateness():
    wish = DateWishFactory(surface="wall-1", by=at(0, "12:00"), stage="recoat")
    plan = planned(job_of((coat("one"), coat("two")), dates=(wish,)))
    # two ends 14:00 and can be recoated, at the safe end, at 18:00
    assert [(late.date, late.by_min) for late in plan.late] == [(0, 360.0)]


def test_the_wall_with_a_wished_date_goes_first():
    wish = DateWishFactory(surface="wall-2", by=at(0, "09:00"), stage="open", weight=1)
    job = job_of((coat(),), (coat(),), dates=(replace(wish, stage="touch"),))
    plan = planned(job)
    assert stint(plan, 2).start == at(0, "08:00")


def test_a_must_date_is_kept_though_all_else_ends_later():
    wish = DateWishFactory(
        surface="wall-3", by=at(0, "10:00"), stage="touch", must=True
    )
    job = job_of(*[(coat(),)] * 3, dates=(wish,))
    plan = planned(job)
    assert stint(plan, 3).end == at(0, "09:00")
    assert plan.late == ()


def test_a_must_date_out_of_reach_is_no_plan_and_says_how_early_it_could_be():
    wish = DateWishFactory(
        surface="wall-1", by=at(0, "12:00"), stage="touch", must=True
    )
    job = job_of((coat("one"), coat("two")), dates=(wish,))
    plan = plan_job(job, at=job.now, budget=1)
    assert plan.outcome == "no-plan"
    assert plan.finish is None
    assert "wall-1" in plan.reasons[0].text
    assert "14:00" in plan.reasons[0].text


def test_dates_that_cannot_be_kept_together_are_named_with_the_hands():
    wishes = tuple(
        DateWishFactory(
            surface=f"wall-{n}", by=at(0, "10:00"), stage="touch", must=True
        )
        for n in (1, 2)
    )
    later = DateWishFactory(
        surface="wall-3", by=at(4, "10:00"), stage="touch", must=True
    )
    job = job_of(*[(coat(),)] * 3, dates=(*wishes, later))
    plan = plan_job(job, at=job.now, budget=2)
    assert plan.outcome == "no-plan"
    texts = " ".join(reason.text for reason in plan.reasons)
    assert "wall-1" in texts
    assert "wall-2" in texts
    assert "wall-3" not in texts
    assert {reason.code for reason in plan.reasons} == {"date", "hands"}


def test_a_promise_counts_from_the_last_coat():
    material = replace(paint(), promises={"wash": 2880.0})
    wish = DateWishFactory(
        job="small", by=at(2, "08:00"), stage=None, promise="wash", weight=1
    )
    plan = planned(job_of((coat(),), materials=(material,), dates=(wish,)))
    assert plan.late[0].by_min == 60.0
    assert stint(plan, 1).promises["wash"].safe == at(2, "09:00")


# -- what is done ----------------------------------------------------------------------


def test_logged_steps_and_those_before_them_are_not_planned_again():
    job = job_of((coat("one"), coat("two"), coat("three")))
    done = CoatFactory(
        surface="wall-1", step="two", start=at(0, "06:00"), end=at(0, "07:00")
    )
    plan = planned(replace(job, coats=(done,)))
    assert [s.step for s in plan.stints] == ["three"]
    assert plan.stints[0].start == at(0, "11:00")


def test_a_coat_still_running_is_waited_for():
    job = job_of((coat("one"), coat("two")))
    running = CoatFactory(
        surface="wall-1", step="one", start=at(0, "07:30"), end=at(0, "08:30")
    )
    plan = planned(replace(job, coats=(running,)))
    assert stint(plan, 1, "two").start == at(0, "12:30")


def test_a_job_all_done_is_an_empty_plan():
    job = job_of((coat("one"),))
    done = CoatFactory(
        surface="wall-1", step="one", start=at(-1, "08:00"), end=at(-1, "09:00")
    )
    plan = planned(replace(job, coats=(done,)))
    assert plan.stints == ()
    assert plan.finish is None


def test_planning_in_the_middle_of_a_day_starts_at_the_next_slot():
    job = replace(job_of((coat(),)), now=at(0, "09:02"))
    assert stint(planned(job), 1).start == at(0, "09:05")


# -- again -----------------------------------------------------------------------------


def busy_job():
    """Two hands, four walls, waits, a dust maker and two dates."""
    wishes = (
        DateWishFactory(surface="wall-1", by=at(1, "12:00"), stage="recoat"),
        DateWishFactory(job="small", by=at(1, "16:00"), stage="touch", weight=2.0),
    )
    walls = [(coat("one", 75), coat("two", 75))] * 3
    return job_of(*walls, (dry("coat", 150, makes=("dust",)),), hands=2, dates=wishes)


def test_an_unchanged_job_keeps_its_plan():
    job = busy_job()
    first = planned(job)
    again = planned(job, previous=first)
    assert again.changes == ()
    assert [s.start for s in again.stints] == [s.start for s in first.stints]


def test_a_re_plan_keeps_what_is_logged_and_lists_what_moved():
    job = busy_job()
    first = planned(job)
    done = first.stints[0]
    late = done.end + timedelta(hours=2)
    logged = CoatFactory(
        surface=done.surface, step=done.step, start=done.start, end=late
    )
    now = replace(job, now=late, coats=(logged,))
    again = planned(now, previous=first)
    assert not [
        s for s in again.stints if (s.surface, s.step) == (done.surface, done.step)
    ]
    moved = {change.stint for change in again.changes}
    assert done.id not in moved
    for s in again.stints:
        was = first.stint(s.id)
        assert (s.id in moved) is (
            was.start != s.start or set(was.hands) != set(s.hands)
        )


def test_reasons_name_stints_that_end_before_what_they_hold():
    plan = planned(busy_job())
    for s in plan.stints:
        if s.reason.code in ("hands", "wait", "order"):
            other = plan.stint(s.reason.other)
            assert other is not None, s.reason
            assert other.end <= s.start


def test_the_same_job_and_budget_give_the_same_plan_in_any_process():
    script = (
        "import json\n"
        "from tests.scheduling.test_planning import busy_job\n"
        "from tests.scheduling.planning_jobs import planned\n"
        "from scheduling.plan_file import write_plan\n"
        "print(json.dumps(write_plan(planned(busy_job(), budget=1))))\n"
    )
    told = set()
    for seed in ("1", "2"):
        env = os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": os.getcwd()}
        run = subprocess.run(
            [sys.executable, "-c", script],
            env=env,
            capture_output=True,
            text=True,
            check=True,
        )
        told.add(run.stdout)
    assert len(told) == 1
    plan = read_plan(json.loads(told.pop()))
    assert write_plan(plan)["stints"]


def test_the_search_can_be_stopped_and_keeps_the_best_so_far():
    seen = []

    def stop(progress):
        seen.append(progress)
        return False

    job = busy_job()
    plan = plan_job(job, at=job.now, budget=20, on_progress=stop)
    assert plan.outcome == "plan"
    assert seen


def test_a_moment_without_an_offset_is_refused():
    job = job_of((coat(),))
    with pytest.raises(BadInput, match="offset"):
        plan_job(job, at=job.now.replace(tzinfo=None))


def test_what_the_planner_does_not_use_is_said_in_the_notes():
    job = job_of((coat(),))
    hours = (HoursFactory(breaks=(BreakFactory(relay=True),)),)
    job = replace(job, hands=(replace(job.hands[0], hours=hours),))
    job = with_surface(job, 1, sun=hours)
    notes = " ".join(planned(job).notes)
    for word in ("relay", "sun"):
        assert word in notes
