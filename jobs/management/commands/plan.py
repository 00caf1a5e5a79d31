"""Plan a job file from the shell: no database, no clock."""

from argparse import ArgumentParser
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand

from jobs import job_input
from jobs.management.file_command import FileCommand, moment_of, number_of, place, table
from scheduling import plan as engine_plan
from scheduling import problem
from scheduling.errors import bad
from scheduling.plan_file import write_plan
from scheduling.planning import plan_job

NO_PLAN = 3  # exit status
BUDGET = 10.0  # deterministic units of about a second each


class Command(FileCommand, BaseCommand):
    help = (
        "Plan the job in a file. Exit status: 0 a plan (late or not), 3 no plan "
        "(the reasons are printed), 2 bad input."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("job", metavar="JOB.json")
        parser.add_argument("--out", metavar="PLAN.json", help="write the plan there")
        parser.add_argument("--at", metavar="ISO", help="plan from this moment on")
        parser.add_argument("--previous", metavar="PLAN.json", help="stay close to it")
        parser.add_argument(
            "--seconds", metavar="N", help="search so long by the clock"
        )
        parser.add_argument("--budget", metavar="N", help="search so much (usual: 10)")

    def run(self, **given: Any) -> int:
        job = job_input.job_of_file(given["job"])
        at = moment_of(given["at"], job)
        limits = limits_of(given["seconds"], given["budget"])
        previous = given["previous"]
        plan = plan_job(
            job,
            at=at,
            previous=None if previous is None else job_input.plan_of_file(previous),
            **limits,
        )
        if given["out"] is not None:
            job_input.write_json(given["out"], write_plan(plan), "--out")
        else:
            self.print_lines(stints_told(job, plan))
        self.print_lines(summary(job, plan))
        return 0 if plan.outcome == "plan" else NO_PLAN


def limits_of(seconds: str | None, budget: str | None) -> dict[str, float]:
    """How long to search, as ``plan_job`` takes it."""
    if seconds is not None and budget is not None:
        raise bad("--seconds", seconds, "not together with --budget")
    if seconds is not None:
        return {"seconds": number_of("--seconds", seconds, most=86_400)}
    if budget is None:
        return {"budget": BUDGET}
    return {"budget": number_of("--budget", budget, most=86_400)}


def stints_told(job: problem.Job, plan: engine_plan.Plan) -> Iterable[str]:
    """The stints as a table, a day after the other."""
    rows = []
    day = None
    for stint in sorted(plan.stints, key=lambda stint: (stint.start, stint.id)):
        start, end = (m.astimezone(job.site.tz) for m in (stint.start, stint.end))
        step = job.recipe(job.surface(stint.surface).recipe).step(stint.step)
        kind = "" if stint.kind == "work" else f"{stint.kind}: "
        told = f"{start:%a %d %b}"
        rows.append(
            (
                "" if told == day else told,
                f"{start:%H:%M}-{end:%H:%M}",
                place(job, stint.surface, stint.section),
                kind + (step.name or step.id),
                ", ".join(stint.hands) or "-",
                stint.reason.text,
            )
        )
        day = told
    if rows:
        yield from table(("day", "from-to", "where", "step", "hands", "why"), rows)
        yield ""


def summary(job: problem.Job, plan: engine_plan.Plan) -> Iterable[str]:
    """Outcome, finish and bound, late dates, changes and notes, a line each."""
    if plan.outcome == "no-plan":
        yield "No plan."
        for reason in plan.reasons:
            yield f"reason: {reason.code}: {reason.text}"
    else:
        work = sum(stint.kind == "work" for stint in plan.stints)
        yield f"Plan: {work} stints of work, finish {_told(plan.finish, job)}"
    bound = plan.bound
    if bound.finish_not_before is not None:
        proved = "proved best" if bound.proved else "not proved best"
        earliest = _told(bound.finish_not_before, job)
        yield f"bound: not before {earliest} ({proved}; {bound.air})"
    for late in plan.late:
        wish = job.dates[late.date]
        target = wish.surface or wish.room or "the job"
        told = f"{target}, {wish.stage or wish.promise} by {_told(wish.by, job)}"
        if late.by_min is None:
            yield f"late: {told}: never reached in this air"
        else:
            yield f"late: {told}: by {late.by_min / 60:.1f} h"
    for change in plan.changes:
        yield f"change: {change.surface}, {change.step}: {change.text}"
    for note in plan.notes:
        yield f"note: {note}"


def _told(moment: datetime | None, job: problem.Job) -> str:
    return f"{moment.astimezone(job.site.tz):%a %d %b %H:%M}" if moment else "none"
