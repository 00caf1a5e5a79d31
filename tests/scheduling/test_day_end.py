"""What a day leaves behind, in still, known air."""

from dataclasses import replace

import pytest

from jobs.factories import (
    CoatFactory,
    HoursFactory,
    MaterialFactory,
    SiteFactory,
    StepFactory,
)
from scheduling.day_end import day_end
from scheduling.plan import Reason, Stint
from scheduling.problem import Coat, Rescue
from scheduling.working_time import last_shutting, next_opening
from tests.scheduling.planning_jobs import at, coat, dry, job_of, paint, planned

EVENING = at(0, "16:10")
# At the label's own air every clock is the label's: 8 h dry, 2 h more of a window.
PATIENT = paint(touch=90.0, recoat=480.0)
SHUTTING = paint(touch=60.0, recoat=240.0, window=600.0)


def laid(start: str, end: str, step: str = "one", **more) -> Coat:
    return CoatFactory(
        surface="wall-1", step=step, start=at(0, start), end=at(0, end), **more
    )


def two_coats(material=PATIENT, **more):
    return job_of((coat("one"), coat("two", **more)), materials=(material,))


def stint(start: str, end: str, *, day: int = 0, step="two", kind="work") -> Stint:
    return Stint(
        id=f"{kind}-{step}",
        kind=kind,
        surface="wall-1",
        step=step,
        hands=("hand-1",),
        start=at(day, start),
        end=at(day, end),
        reason=Reason(code="start", text="As early as it can be."),
    )


def logged(job, *coats: Coat):
    return replace(job, coats=coats)


def with_plan(job, *stints: Stint):
    return replace(planned(job), stints=stints)


def test_a_coat_is_a_wet_edge_until_it_is_dry_to_touch():
    job = logged(two_coats(), laid("15:00", "16:00"))
    (edge,) = day_end(job, None, at=EVENING).edges
    assert (edge.surface.id, edge.step.id) == ("wall-1", "one")
    assert edge.until == at(0, "17:30")
    assert edge.logged
    assert day_end(job, None, at=at(0, "17:35")).edges == ()


def test_a_coat_just_laid_can_still_be_joined():
    job = logged(two_coats(), laid("15:00", "16:05"))
    (edge,) = day_end(job, None, at=at(0, "16:10")).edges
    assert edge.open == at(0, "16:15")


def test_a_coat_under_another_one_is_no_edge():
    done = laid("08:00", "09:00"), laid("15:00", "16:00", step="two")
    (edge,) = day_end(logged(two_coats(), *done), None, at=EVENING).edges
    assert edge.step.id == "two"


def test_sections_are_edges_by_themselves():
    job = two_coats()
    wall = replace(job.surfaces[0], stop_lines_m=(2.0,))
    job = logged(
        replace(job, surfaces=(wall,)),
        laid("13:00", "14:00", section="1"),
        laid("15:00", "16:00", section="2"),
    )
    (edge,) = day_end(job, None, at=EVENING).edges
    assert edge.section == "2"


def test_work_the_plan_has_begun_and_nobody_logged_is_told_apart():
    job = two_coats()
    plan = planned(job)
    begun = replace(plan.stints[0], start=at(0, "15:00"), end=at(0, "16:00"))
    end = day_end(job, replace(plan, stints=(begun, plan.stints[1])), at=EVENING)
    assert [row.id for row in end.unlogged] == [begun.id]
    assert [material.id for material in end.used] == ["material"]
    assert day_end(job, None, at=EVENING).unlogged == ()


def test_a_window_that_shuts_before_work_starts_again_is_named():
    job = logged(two_coats(SHUTTING), laid("08:00", "09:00"))
    (window,) = day_end(job, None, at=EVENING).windows
    assert window.shuts == at(0, "19:00")
    assert window.free == EVENING
    assert not window.past
    assert window.planned is None


def test_a_window_that_outlasts_the_night_is_not():
    patient = replace(SHUTTING, labels=SHUTTING.labels | {"window": 2000.0})
    job = logged(two_coats(patient), laid("08:00", "09:00"))
    assert day_end(job, None, at=EVENING).windows == ()


def test_a_window_that_shuts_over_a_weekend_is_named_on_friday():
    patient = replace(SHUTTING, labels=SHUTTING.labels | {"window": 2400.0})
    friday = CoatFactory(
        surface="wall-1", step="one", start=at(4, "08:00"), end=at(4, "09:00")
    )
    job = logged(two_coats(patient), friday)
    (window,) = day_end(job, None, at=at(4, "16:10")).windows
    assert window.shuts == at(6, "01:00")


def test_a_window_that_cannot_be_met_tonight_says_what_holds_it():
    slow = paint(touch=60.0, recoat=570.0, window=600.0)
    job = logged(two_coats(slow), laid("08:00", "09:00"))
    (window,) = day_end(job, None, at=EVENING).windows
    assert window.free == at(0, "18:30")
    assert [hold.code for hold in window.held_by] == ["wait"]


def test_a_window_that_has_shut_asks_for_its_rescue():
    job = logged(two_coats(SHUTTING, rescue=Rescue(min_m2=1.0)), laid("08:00", "09:00"))
    plan = with_plan(job, stint("09:00", "09:30", day=1, kind="rescue"))
    (window,) = day_end(job, plan, at=at(0, "19:30")).windows
    assert window.past
    assert window.free is None
    assert window.rescued is not None
    assert window.rescued.start == at(1, "09:00")


def test_the_plan_may_have_the_step_in_time():
    job = logged(two_coats(SHUTTING), laid("08:00", "09:00"))
    plan = with_plan(job, stint("16:15", "17:00"))
    (window,) = day_end(job, plan, at=EVENING).windows
    assert window.planned is not None


def test_a_room_is_told_for_the_night_only():
    job = logged(two_coats(), laid("15:00", "16:05"))
    (night,) = day_end(job, None, at=at(0, "16:10")).nights
    assert [care.start for care in night.cares] == [at(0, "16:10"), at(0, "16:15")]
    assert [care.state.fan for care in night.cares] == ["off", "low"]
    assert night.cares[-1].end == at(1, "00:05")


def test_only_what_went_on_today_counts_as_used():
    oil = MaterialFactory(id="oil", family="oil", oily=True, labels={"touch": 600.0})
    job = job_of(
        (coat("one"), StepFactory(id="two", material="oil")), materials=(PATIENT, oil)
    )
    job = logged(job, laid("08:00", "09:00"), laid("15:00", "16:00", step="two"))
    assert [m.id for m in day_end(job, None, at=EVENING).used] == ["material", "oil"]
    assert day_end(job, None, at=at(1, "16:10")).used == ()


def test_a_coat_that_dries_overnight_is_tested_when_the_site_opens():
    job = logged(two_coats(), laid("15:00", "16:00"))
    end = day_end(job, None, at=EVENING)
    (test,) = end.tests
    assert test.at == at(1, "08:00")
    assert test.reached.likely == at(1, "00:00")
    assert test.step.id == "two"
    assert test.test.startswith("Thumb press")
    assert end.today == ()


def test_a_coat_that_dries_in_the_day_is_tested_then():
    slow = paint(touch=90.0, recoat=1080.0)
    job = logged(two_coats(slow), laid("15:00", "16:00"))
    (test,) = day_end(job, None, at=EVENING).tests
    assert test.at == at(1, "10:00")


def test_a_coat_ready_before_is_tested_right_before_its_planned_step():
    job = logged(two_coats(SHUTTING), laid("08:00", "09:00"))
    assert day_end(job, None, at=EVENING).tests == ()
    plan = with_plan(job, stint("09:30", "10:30", day=1))
    (test,) = day_end(job, plan, at=EVENING).tests
    assert test.at == at(1, "09:30")
    assert test.planned is not None


def test_a_test_that_the_plan_books_keeps_its_hour():
    job = logged(two_coats(), laid("15:00", "16:00"))
    plan = with_plan(
        job,
        stint("08:30", "08:35", day=1, kind="test"),
        stint("08:35", "09:30", day=1),
    )
    (test,) = day_end(job, plan, at=EVENING).tests
    assert test.at == at(1, "08:30")


def test_the_next_morning_they_are_todays_tests():
    job = logged(two_coats(), laid("15:00", "16:00"))
    end = day_end(job, None, at=at(1, "08:10"))
    assert [test.at for test in end.today] == [at(1, "08:00")]
    assert end.tests == ()


def test_work_that_puts_nothing_on_leaves_nothing_behind():
    job = logged(job_of((dry("one"), dry("two"))), laid("15:00", "16:00"))
    end = day_end(job, None, at=EVENING)
    assert (end.edges, end.windows, end.nights, end.used, end.tests) == ((),) * 5


@pytest.mark.parametrize(("day", "opens"), [(0, 1), (4, 7), (5, 7), (6, 7)])
def test_the_site_next_opens_on_a_working_day(day, opens):
    job = two_coats()
    assert next_opening(job, at(day, "16:10")) == at(opens, "08:00")


def test_a_closed_day_is_no_morning_and_no_evening():
    site = SiteFactory(closed=(at(1, "00:00").date(),))
    job = replace(two_coats(), site=site)
    assert next_opening(job, EVENING) == at(2, "08:00")
    assert last_shutting(job, at(2, "08:00")) == at(0, "16:30")


def test_a_site_that_does_not_open_again_has_no_morning():
    closed = tuple(at(day, "00:00").date() for day in range(1, 20))
    site = SiteFactory(closed=closed, hours=(HoursFactory(),))
    job = replace(logged(two_coats(SHUTTING), laid("08:00", "09:00")), site=site)
    end = day_end(job, None, at=EVENING)
    assert end.morning is None
    assert (end.windows, end.tests) == ((), ())
