"""What the log says is done, and which of several coats the next step lies on."""

from dataclasses import replace

import pytest

from jobs.factories import (
    AirControlFactory,
    AirHourFactory,
    CoatFactory,
    DateWishFactory,
)
from scheduling.air_of_job import job_air
from scheduling.corrections import standing
from scheduling.done import coats_done
from scheduling.planning import plan_job
from scheduling.problem import Rescue
from scheduling.readiness import ready
from scheduling.risk import chances
from tests.scheduling.planning_jobs import (
    at,
    coat,
    job_of,
    paint,
    planned,
    stint,
    with_room,
    with_surface,
)

TWO = (coat("one"), coat("two"))


def logged(day, clock="08:00", step="one", section=None, *, to="09:00"):
    """A coat on the first wall, an hour long unless told."""
    return CoatFactory(
        surface="wall-1",
        step=step,
        section=section,
        start=at(day, clock),
        end=at(day, to),
    )


def done_of(job):
    surface = job.surfaces[0]
    return coats_done(job, surface, job.recipe(surface.recipe))


FIRST = logged(-4)
AGAIN = logged(-1)
LEFT = logged(-3, section="1")
RIGHT = logged(-2, section="2")
MORE_LEFT = logged(-1, section="1")


@pytest.mark.parametrize(
    ("coats", "section", "on_top"),
    [
        ((FIRST,), None, {FIRST}),
        ((FIRST, AGAIN), None, {AGAIN}),
        ((AGAIN, FIRST), None, {FIRST}),  # logged last: the other was wrong
        ((FIRST, LEFT, FIRST), None, {FIRST}),
        ((AGAIN, LEFT), None, {AGAIN, LEFT}),  # wrong on the left alone
        ((AGAIN, LEFT), "1", {LEFT}),
        ((FIRST, LEFT), None, {FIRST, LEFT}),  # on the right the first is still seen
        ((FIRST, LEFT), "1", {LEFT}),
        ((FIRST, LEFT), "2", {FIRST}),
        ((FIRST, LEFT, RIGHT), None, {LEFT, RIGHT}),
        ((LEFT, RIGHT, AGAIN), None, {AGAIN}),
        ((LEFT, RIGHT, MORE_LEFT), None, {RIGHT, MORE_LEFT}),
        ((LEFT,), "2", set()),
        ((), None, set()),
    ],
)
def test_of_several_coats_of_a_step_the_last_logged_on_each_place_counts(
    coats, section, on_top
):
    job = with_surface(job_of(TWO, coats=coats), 1, stop_lines_m=(2.0,))
    step = job.recipes[0].steps[0]
    assert set(done_of(job).coats(step, section)) == on_top


@pytest.mark.parametrize(
    ("coats", "stand"),
    [
        ((FIRST, AGAIN), (FIRST, AGAIN)),  # laid again: both are on the wall
        ((AGAIN, FIRST), (FIRST,)),  # corrected: one is
        ((FIRST, FIRST), (FIRST,)),
        ((AGAIN, FIRST, AGAIN), (FIRST, AGAIN)),
        ((AGAIN, LEFT), (AGAIN, LEFT)),  # on the right it still stands
        ((AGAIN, LEFT, RIGHT), (LEFT, RIGHT)),
        ((MORE_LEFT, LEFT), (LEFT,)),
        ((MORE_LEFT, RIGHT), (MORE_LEFT, RIGHT)),  # another place
        ((MORE_LEFT, FIRST), (FIRST,)),
        ((AGAIN, logged(-4, step="two")), (AGAIN, logged(-4, step="two"))),
    ],
)
def test_an_entry_with_an_earlier_end_corrects_what_was_logged_before_it(coats, stand):
    job = with_surface(job_of(TWO, coats=coats), 1, stop_lines_m=(2.0,))
    assert standing(job) == stand
    assert standing(replace(job, coats=stand)) == stand


def test_a_correction_counts_in_plan_audit_odds_and_list():
    """Logged at ten to eleven by mistake: it was eight to nine, so ready at one."""
    wrong = logged(0, "10:00", to="11:00")
    right = logged(0, "08:00", to="09:00")
    job = job_of(TWO, coats=(wrong, right), now=at(0, "10:30"))
    plan = planned(job)  # its audit has passed
    assert stint(plan, 1, "two").start == at(0, "13:00")
    assert [gate.chance for gate in chances(job, plan).gates] == [1.0]
    (row,) = ready(job, at=job.now)  # and nobody is at work
    assert (row.state, row.until.likely) == ("today", at(0, "13:00"))
    (row,) = ready(replace(job, coats=(right, wrong)), at=job.now)
    assert row.state == "working"


def test_a_corrected_coat_gives_off_no_water():
    wrong, right = logged(0, "10:00", to="11:00"), logged(0, "08:00", to="09:00")
    airs = []
    for coats in ((wrong, right), (right,), (right, wrong)):
        job = job_of(TWO, coats=coats, outdoors=(AirHourFactory(at=at(-1, "00:00")),))
        job = with_room(job, air=AirControlFactory())
        airs.append(job_air(job, at=at(0, "12:00"), days=1).rooms["room"].humidity_pct)
    assert (airs[0] == airs[1]).all()
    assert airs[2].max() > airs[1].max()


def test_the_order_of_the_steps_and_not_of_the_log_decides_what_is_next():
    """The first coat corrected after the second was logged: the third is next."""
    three = (*TWO, coat("three"))
    wrong, second = logged(-4), logged(0, "08:00", step="two", to="09:00")
    for corrected in (logged(-5), logged(0, "10:00", to="11:00")):
        job = job_of(three, coats=(wrong, second, corrected))
        (row,) = ready(job, at=at(0, "11:30"))
        assert row.step.id == "three"
        assert row.last_coat == second
        assert row.until.likely == at(0, "13:00")


def test_the_later_of_two_coats_in_the_hour_that_autumn_shows_twice():
    # Summer time ends in Lisbon on Sunday 25 October 2026 at 02:00, 01:30 comes twice.
    summer = logged(13, "00:30", to="01:40")
    winter = replace(summer, start=at(13, "01:20"), end=at(13, "01:30").replace(fold=1))
    assert winter.end < summer.end  # by the face of the clock
    job = job_of(TWO, coats=(summer, winter))
    assert standing(job) == (summer, winter)  # laid again and not corrected
    assert done_of(job).coats(job.recipes[0].steps[0], None) == (winter,)


def test_each_section_is_passed_only_where_a_later_step_was_logged():
    job = with_surface(job_of(TWO, coats=(logged(-1, step="two", section="2"),)), 1,
                       stop_lines_m=(2.0,))  # fmt: skip
    one, two = job.recipes[0].steps
    done = done_of(job)
    assert done.has(one, "2")
    assert done.has(two, "2")
    assert not done.has(one, "1")
    assert not done.all_of(one)


def test_a_coat_laid_again_opens_a_window_that_the_first_had_shut():
    """The first of Thursday shut at 19:00 that day; the one of Monday 07:00 is open."""
    job = job_of(TWO, materials=(paint(window=600.0),))
    both = replace(job, coats=(FIRST, logged(0, "06:00", to="07:00")))
    plan = planned(both)
    (two,) = plan.stints
    assert (two.step, two.kind, two.start) == ("two", "work", at(0, "11:00"))
    shut = plan_job(replace(job, coats=(FIRST,)), at=job.now, budget=1)
    assert "window" in shut.reasons[0].text


def test_no_rescue_is_planned_for_a_coat_that_another_lies_over():
    two = coat("two", rescue=Rescue(min_m2=2.4, stage=None))
    job = job_of((coat("one"), two), materials=(paint(window=600.0),))
    assert stint(planned(replace(job, coats=(FIRST,))), 1, "two", "rescue")
    both = replace(job, coats=(FIRST, logged(0, "06:00", to="07:00")))
    assert [s.kind for s in planned(both).stints] == ["work"]


def test_a_section_laid_again_counts_by_its_own_clocks():
    """The whole of 05:00 shut at 10:00; the left half of 07:00 opens at 11:00."""
    job = job_of(TWO, materials=(paint(window=300.0),))
    job = with_surface(job, 1, stop_lines_m=(2.0,))
    coats = (
        logged(0, "04:00", to="05:00"),
        logged(0, "06:00", section="1", to="07:00"),
        logged(0, "07:30", step="two", section="2", to="07:50"),
    )
    (left,) = planned(replace(job, coats=coats)).stints
    assert (left.section, left.start) == ("1", at(0, "11:00"))


def test_a_date_counts_from_the_coat_on_top():
    wish = DateWishFactory(job="small", by=at(0, "10:00"), stage="recoat", must=False)
    job = job_of((coat("one"),), dates=(wish,))
    coats = (logged(-4), logged(0, "07:00", to="08:00"))
    plan = planned(replace(job, coats=coats))
    assert [late.by_min for late in plan.late] == [120.0]
