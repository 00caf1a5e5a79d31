"""Breaks in relay: the site stays open, and the hands leave in turn."""

from dataclasses import replace
from datetime import timedelta

from jobs.factories import BreakFactory, HandFactory, HoursFactory
from scheduling.planning import plan_job
from scheduling.working_time import hand_spans, make_axis, site_spans
from tests.scheduling.planning_jobs import (
    at,
    coat,
    dry,
    job_of,
    people,
    planned,
    stint,
    with_hours,
)
from tests.scheduling.test_audit import broken_rules, moved, sound

LUNCH = BreakFactory(start="12:00", end="12:30", relay=True)
# One lays and one works, for four hours on 12.5 m2.
PAIR = coat(minutes=240, work_min_m2=240 / 12.5, wet=True, hands=people(2))


def in_relay(*recipes, hands=2, **more):
    """A job whose hands take lunch in turn, open 08:00 to 16:30."""
    return with_hours(job_of(*recipes, hands=hands, **more), breaks=(LUNCH,))


def minutes(job, spans):
    """Spans as clock times of Monday."""
    return [
        tuple(f"{job.now + timedelta(minutes=minute):%H:%M}" for minute in span)
        for span in spans
    ]


def test_the_site_stays_open_and_every_second_hand_leaves_half_an_hour_later():
    job = in_relay((coat(),))
    assert minutes(job, site_spans(job, job.now, job.now, 0)) == [("08:00", "16:30")]
    first, second = (
        minutes(job, hand_spans(job, hand, job.now, job.now, 0)) for hand in job.hands
    )
    assert first == [("08:00", "12:00"), ("12:30", "16:30")]
    assert second == [("08:00", "12:30"), ("13:00", "16:30")]


def test_one_hand_alone_has_nobody_to_take_turns_with():
    job = in_relay((coat(),), hands=1)
    assert not job.in_relay
    assert len(make_axis(job, job.now, job.now, 0)) == 8 * 12


def test_a_hand_with_hours_of_its_own_takes_the_breaks_that_these_state():
    own = HandFactory(id="own", hours=(HoursFactory(),))
    crew = (HandFactory(id="one"), own, HandFactory(id="two"))
    job = in_relay((coat(),), hands=crew)
    assert [job.turn_of(name) for name in ("one", "two")] == [0, 1]


def test_wet_work_goes_on_over_lunch_by_the_hand_that_is_there():
    # Until 12:30 by the second hand; with a common lunch it starts after it.
    wet = coat(minutes=240, wet=True), coat("second", 30, wet=True)
    lunch = with_hours(job_of((wet[0],), hands=2), start="08:30")
    assert stint(planned(lunch), 1).start == at(0, "12:30")
    relay = with_hours(lunch, start="08:30", breaks=(LUNCH,))
    found = stint(planned(relay), 1)
    assert (found.start, found.hands) == (at(0, "08:30"), ("hand-2",))
    swapped = replace(found, hands=("hand-1",))
    assert broken_rules(relay, (swapped,)) == {"hand-hours"}


def test_two_at_a_wall_who_leave_in_turn_are_not_both_there_over_lunch():
    job = in_relay((PAIR,))
    found = stint(planned(job), 1)
    assert (found.start, found.end) == (at(0, "08:00"), at(0, "12:00"))
    late = replace(job, now=at(0, "08:05"))
    assert stint(planned(late), 1).start == at(1, "08:00")
    early = moved((found,), "wall-1", "coat", at(0, "08:30"))
    assert broken_rules(job, early) == {"hand-hours"}


def test_of_four_hands_two_with_the_same_turn_go_on_together():
    job = replace(in_relay((PAIR,), hands=4), now=at(0, "08:30"))
    found = stint(planned(job), 1)
    assert (found.start, found.end) == (at(0, "08:30"), at(0, "12:30"))
    assert set(found.hands) == {"hand-2", "hand-4"}


def test_the_reason_says_that_hands_leave_in_turn():
    early = coat(minutes=20, wet=True)
    relay = replace(in_relay((PAIR,)), now=at(0, "08:05"))
    assert "their break in turn" in stint(planned(relay), 1).reason.text
    # Ready at 12:20, and four hours would end by 16:30 but for the second's break.
    waits = in_relay((early, replace(PAIR, id="two")))
    found = stint(planned(waits), 1, "two")
    assert found.start == at(1, "08:00")
    assert found.reason.text.endswith("The hands take their break in turn.")
    common = stint(planned(with_hours(waits)), 1, "two")
    assert common.start == at(0, "12:30")
    assert "in turn" not in common.reason.text


def test_dry_work_too_long_for_a_turn_goes_on_after_it_in_a_second_stint():
    job = in_relay((dry("coat", minutes=420),))
    found = sound(job)
    assert len(found) == 2
    assert sum((s.end - s.start for s in found), timedelta()) == timedelta(hours=7)


def test_somebody_can_be_found_over_lunch_for_a_coat_that_is_ready_then():
    # Safe to recoat at 12:00: with a common lunch the second coat waits until 12:30.
    common = job_of((coat("one", 60), coat("two", 30)), hands=2)
    common = replace(with_hours(common, start="07:00"), now=at(0, "07:00"))
    assert stint(planned(common), 1, "two").start == at(0, "12:30")
    relay = with_hours(common, start="07:00", breaks=(LUNCH,))
    found = stint(planned(relay), 1, "two")
    assert found.start == at(0, "12:00")
    assert found.hands == ("hand-2",)


def test_no_note_says_that_relays_are_planned_as_common_breaks():
    job = in_relay((coat(),))
    assert not any("relay" in note for note in plan_job(job, at=job.now).notes)
