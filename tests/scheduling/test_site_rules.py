"""Rules of rooms, site and hours: where each alone binds, and broken on purpose.

In each first test only the rule at hand keeps the stint from an earlier start; without
the rule the same job starts earlier.
"""

from dataclasses import replace

from jobs.factories import HoursFactory
from scheduling.planning import plan_job
from tests.scheduling.planning_jobs import at, coat, dry, job_of, planned, stint
from tests.scheduling.test_audit import broken_rules, moved, sound


def hours(start, end, days="mon-sun"):
    """Hours without a break."""
    return (HoursFactory(days=days, start=start, end=end, breaks=()),)


def with_site(job, **changes):
    """The job with its site changed."""
    return replace(job, site=replace(job.site, **changes))


def no_plan(job):
    """The reasons for which a job has no plan."""
    plan = plan_job(job, at=job.now, budget=1)
    assert plan.outcome == "no-plan"
    return plan.reasons


# -- quiet hours ---------------------------------------------------------------------


def test_dust_and_noise_wait_for_the_end_of_quiet_hours():
    for what in ("dust", "noise"):
        job = job_of((dry("coat", makes=(what,)),))
        assert stint(planned(job), 1).start == at(0, "08:00")
        job = with_site(job, quiet=hours("07:00", "09:30"))
        found = stint(planned(job), 1)
        assert found.start == at(0, "09:30")
        assert found.reason.code == "quiet"
        assert "Mon 12 Oct 07:00 to Mon 12 Oct 09:30" in found.reason.text
        assert broken_rules(job, moved((found,), "wall-1", "coat", at(0, "09:00"))) == {
            "quiet"
        }


def test_quiet_hours_are_nothing_to_a_brush():
    job = with_site(job_of((coat(),)), quiet=hours("07:00", "09:30"))
    assert stint(planned(job), 1).start == at(0, "08:00")


def test_dusty_work_may_pause_for_a_quiet_lunch():
    job = job_of((dry("coat", minutes=420, makes=("dust",)),))
    job = with_site(job, quiet=hours("12:00", "12:30"))
    (only,) = sound(job)
    assert (only.start, only.end) == (at(0, "08:00"), at(0, "15:30"))


def test_a_step_that_splits_is_split_by_quiet_hours():
    job = job_of((dry("coat", minutes=300, splits=True, makes=("dust",)),))
    job = with_site(job, quiet=hours("10:00", "12:00"))
    first, *_ = sound(job)
    assert first.end <= at(0, "10:00") or first.start >= at(0, "12:30")


def test_quiet_hours_all_day_leave_no_plan_and_say_so():
    job = job_of((dry("coat", makes=("noise",)),))
    (reason,) = no_plan(with_site(job, quiet=hours("08:00", "16:00")))
    assert reason.code == "quiet"
    assert "quiet hours leave no time" in reason.text
