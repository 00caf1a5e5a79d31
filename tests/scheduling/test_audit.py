"""Plans broken on purpose, one rule at a time: the audit names that rule."""

from dataclasses import replace
from datetime import timedelta

import pytest

from jobs.factories import (
    CoatFactory,
    DateWishFactory,
    GateFactory,
    HandFactory,
    HoursFactory,
    PinFactory,
)
from scheduling.air_of_job import job_air
from scheduling.audit import audit
from tests.scheduling.planning_jobs import (
    at,
    coat,
    damp,
    dry,
    job_of,
    paint,
    people,
    planned,
    with_room,
    with_surface,
)


def broken_rules(job, stints):
    airs = job_air(job, at=job.now, days=14).surfaces
    found = audit(job, stints, at=job.now, wait_air=airs, open_air=airs)
    return {violation.rule for violation in found}


def sound(job):
    """The stints of the job's plan, which break nothing."""
    stints = planned(job).stints
    assert broken_rules(job, stints) == set()
    return stints


def moved(stints, surface, step, to, **more):
    """The stints with one of them starting elsewhere, as long as it was."""
    return tuple(
        replace(s, start=to, end=to + (s.end - s.start), **more)
        if (s.surface, s.step) == (surface, step)
        else s
        for s in stints
    )


TWO = (coat("one"), coat("two"))


def test_a_coat_before_its_wait_is_over():
    job = job_of(TWO)
    stints = moved(sound(job), "wall-1", "two", at(0, "12:55"))
    assert broken_rules(job, stints) == {"wait"}


def test_a_coat_after_its_window_has_shut():
    job = job_of(TWO, materials=(paint(window=600.0),))
    stints = moved(sound(job), "wall-1", "two", at(2, "08:00"))
    assert broken_rules(job, stints) == {"window"}


def test_work_before_the_plan_begins_or_that_ends_before_it_starts():
    job = job_of((coat(),))
    (only,) = sound(job)
    later = replace(job, now=at(0, "10:00"))
    assert broken_rules(later, (only,)) == {"past"}
    turned = replace(only, start=only.end, end=only.start)
    assert "past" in broken_rules(job, (turned,))


def test_a_step_left_out_or_done_twice():
    job = job_of(TWO)
    stints = sound(job)
    assert "once" in broken_rules(job, stints[:1])
    again = replace(stints[1], id="again", start=at(1, "08:00"), end=at(1, "09:00"))
    assert "once" in broken_rules(job, (*stints, again))


@pytest.mark.parametrize(
    ("when", "rule"),
    [
        (at(0, "16:00"), "site-hours"),
        (at(5, "09:00"), "site-hours"),
        (at(0, "06:00"), "past"),
    ],
)
def test_work_outside_the_hours_of_the_site(when, rule):
    job = job_of((coat(),))
    assert rule in broken_rules(job, moved(sound(job), "wall-1", "coat", when))


def test_wet_work_through_lunch():
    job = job_of((coat(wet=True),))
    stints = moved(sound(job), "wall-1", "coat", at(0, "11:30"))
    assert "site-hours" in broken_rules(job, stints)


def test_dry_work_over_lunch_that_counts_the_break_as_work():
    job = job_of((dry("coat"),))
    stints = moved(sound(job), "wall-1", "coat", at(0, "11:45"))
    assert broken_rules(job, stints) == {"minutes"}


def test_a_room_outside_its_access_hours():
    job = with_room(job_of((coat(),)), access=(HoursFactory(end="12:00", breaks=()),))
    stints = moved(sound(job), "wall-1", "coat", at(0, "14:00"))
    assert broken_rules(job, stints) == {"room-hours"}


def test_a_hand_outside_own_hours_or_away():
    hand = HandFactory(
        id="hand-1",
        hours=(HoursFactory(end="12:00", breaks=()),),
        away=((at(1, "00:00"), at(2, "00:00")),),
    )
    job = job_of((coat(),), hands=(hand,))
    for when in (at(0, "14:00"), at(1, "09:00")):
        stints = moved(sound(job), "wall-1", "coat", when)
        assert "hand-hours" in broken_rules(job, stints)


def test_a_stint_too_short_or_too_long_for_its_work():
    job = job_of((coat(),))
    (only,) = sound(job)
    for minutes in (55, 70):
        wrong = replace(only, end=only.start + timedelta(minutes=minutes))
        assert broken_rules(job, (wrong,)) == {"minutes"}


def test_too_few_hands_and_nobody_with_the_skill():
    hands = (HandFactory(id="able", skills=("gilding",)), HandFactory(id="other"))
    job = job_of((coat("coat", skill="gilding"),), hands=hands)
    (only,) = sound(job)
    assert broken_rules(job, (replace(only, hands=("other",)),)) == {"skill"}
    assert "hands" in broken_rules(job, (replace(only, hands=("able", "other")),))
    pair = job_of((coat(hands=people(2)),), hands=2)
    (two,) = sound(pair)
    assert "hands" in broken_rules(pair, (replace(two, hands=("hand-1",)),))


def test_one_hand_in_two_places():
    job = job_of((coat(),), (coat(),))
    stints = moved(sound(job), "wall-2", "coat", at(0, "08:30"))
    assert "twice" in broken_rules(job, moved(stints, "wall-1", "coat", at(0, "08:00")))


def test_more_hands_than_the_room_holds():
    job = with_room(job_of((coat(),), (coat(),), hands=2), hands_most=1)
    stints = sound(job)
    both = moved(stints, "wall-2", "coat", at(0, "08:00"), hands=("hand-2",))
    both = moved(both, "wall-1", "coat", at(0, "08:00"), hands=("hand-1",))
    assert broken_rules(job, both) == {"room-heads"}


def test_two_stints_at_one_wall():
    job = job_of((coat("one"), dry("two")), hands=2)
    stints = moved(sound(job), "wall-1", "two", at(0, "08:30"), hands=("hand-2",))
    stints = moved(stints, "wall-1", "one", at(0, "08:00"), hands=("hand-1",))
    assert broken_rules(job, stints) == {"wall", "wait"}


def test_bottom_before_top():
    job = job_of((coat(),), (coat(),), hands=2, kinds=("trim", "ceiling"))
    stints = moved(sound(job), "wall-1", "coat", at(0, "08:00"), hands=("hand-2",))
    stints = moved(stints, "wall-2", "coat", at(0, "08:00"), hands=("hand-1",))
    assert broken_rules(job, stints) == {"order"}


def test_dust_beside_a_tacky_coat():
    job = job_of((coat(),), (dry("coat", makes=("dust",)),), hands=2)
    stints = moved(sound(job), "wall-1", "coat", at(0, "08:00"), hands=("hand-1",))
    stints = moved(stints, "wall-2", "coat", at(0, "09:30"), hands=("hand-2",))
    assert broken_rules(job, stints) == {"dust"}


def test_a_start_in_air_that_forbids_it():
    job = with_room(job_of((coat(),)), air=damp(0, 1, humidity_pct=90.0))
    stints = moved(sound(job), "wall-1", "coat", at(0, "08:00"))
    assert broken_rules(job, stints) == {"air"}


def test_a_gate_passed_too_early_and_a_pin_moved():
    job = with_surface(job_of((coat(),)), 1, gates=(GateFactory(),))
    stints = moved(sound(job), "wall-1", "coat", at(0, "08:00"))
    assert broken_rules(job, stints) == {"gate"}
    pin = PinFactory(surface="wall-1", step="coat", start=at(1, "10:00"))
    job = job_of((coat(),), pins=(pin,))
    stints = moved(sound(job), "wall-1", "coat", at(1, "11:00"))
    assert broken_rules(job, stints) == {"pin"}


def test_a_must_date_missed():
    wish = DateWishFactory(
        surface="wall-1", by=at(0, "12:00"), stage="touch", must=True
    )
    job = job_of((coat(),), dates=(wish,))
    stints = moved(sound(job), "wall-1", "coat", at(0, "14:00"))
    assert broken_rules(job, stints) == {"must-date"}


def test_what_is_logged_counts_as_done():
    job = job_of(TWO)
    first = sound(job)[0]
    logged = CoatFactory(surface="wall-1", step="one", start=first.start, end=first.end)
    job = replace(job, coats=(logged,), now=at(0, "09:00"))
    assert sound(job)[0].start == at(0, "13:00")
