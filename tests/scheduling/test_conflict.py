"""Bounds that no plan can beat, and what is said where there is no plan."""

from dataclasses import replace

from jobs.factories import DateWishFactory, HandFactory, HoursFactory
from scheduling.conflict import why_no_plan
from scheduling.greedy import Greedy
from scheduling.planning import plan_job
from scheduling.solver import Effort
from tests.scheduling.planning_jobs import at, coat, job_of, people, with_hours
from tests.scheduling.test_search import process_of

QUICK = Effort(budget=1.0)


def must(wall, clock, stage="touch", day=0):
    return DateWishFactory(
        surface=f"wall-{wall}", by=at(day, clock), stage=stage, must=True
    )


# -- no plan ---------------------------------------------------------------------------


def test_a_date_out_of_reach_alone_is_named_with_the_earliest_it_could_be():
    process = process_of(job_of((coat(),), dates=(must(1, "09:30"),)))
    (reason,) = why_no_plan(process, None, QUICK)
    assert reason.code == "date"
    assert reason.text == (
        "wall-1 must be dry to touch by Mon 12 Oct 09:30; that cannot be kept: with "
        "hands without limit wall-1, coat ends Mon 12 Oct 09:00 at the earliest and "
        "gets there Mon 12 Oct 10:00"
    )


def test_two_dates_for_one_hand_are_named_together_and_a_third_is_not():
    dates = (must(1, "10:00"), must(2, "10:00"), must(3, "16:00"))
    process = process_of(job_of((coat(),), (coat(),), (coat(),), dates=dates))
    reasons = why_no_plan(process, None, QUICK)
    assert [reason.code for reason in reasons] == ["date", "date", "hands"]
    assert "wall-1" in reasons[0].text
    assert "wall-2" in reasons[1].text
    # By 09:00 both must have ended to be dry to touch an hour later.
    assert "2 h of hands are needed and 1 h are there" in reasons[2].text


def test_where_a_unit_found_no_place_the_dates_are_not_blamed():
    """The date alone can be kept; what failed failed without it."""
    job = job_of((coat(),), (coat(),), dates=(must(1, "16:00"),))
    process = process_of(job)
    (reason,) = why_no_plan(process, process.units[1].id, QUICK)
    assert reason.code == "window"
    assert reason.text.startswith("wall-2, coat: no time was found")
    assert reason.text.endswith("not proved impossible")


def test_a_plan_found_but_for_its_dates_blames_the_dates():
    """The constructive plan stands, so the planner names no unit that failed."""
    job = job_of((coat(),), (coat(),), dates=(must(1, "10:00"), must(2, "10:00")))
    assert Greedy(process_of(job)).best() is not None
    plan = plan_job(job, at=job.now, budget=1)
    assert plan.outcome == "no-plan"
    assert {reason.code for reason in plan.reasons} == {"date", "hands"}


def test_a_crew_that_a_step_takes_at_once_is_named():
    pairs = [(coat(hands=people(2)),)] * 2
    job = job_of(*pairs, hands=2, dates=(must(1, "10:00"), must(2, "10:00")))
    reasons = why_no_plan(process_of(job), None, QUICK)
    assert "wall-1, coat takes 2 at once" in reasons[-1].text


def test_hands_who_never_meet_are_named_before_any_date():
    crew = (
        HandFactory(id="early", hours=(HoursFactory(end="11:00", breaks=()),)),
        HandFactory(id="late", hours=(HoursFactory(start="13:00", breaks=()),)),
    )
    job = job_of((coat(hands=people(2)),), hands=crew, dates=(must(1, "16:00"),))
    plan = plan_job(with_hours(job, end="18:00"), at=job.now, budget=1)
    assert [reason.code for reason in plan.reasons] == ["hands"]
    assert "never there together" in plan.reasons[0].text
    both = replace(job, hands=(*crew, HandFactory(id="all-day")))
    assert plan_job(both, at=job.now, budget=1).outcome == "plan"
