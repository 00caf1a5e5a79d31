"""Plan a job file from the shell: no database, no clock."""

from argparse import ArgumentParser
from collections.abc import Iterable
from datetime import datetime
from math import nan
from typing import Any

from django.core.management.base import BaseCommand

from jobs import job_input
from jobs.calendar_words import names_in
from jobs.forward_words import count_text, helps_of
from jobs.management.file_command import (
    FileCommand,
    add_units,
    in_units,
    moment_of,
    number_of,
    place,
    table,
    units_of,
)
from jobs.measures import METRIC
from scheduling import plan as engine_plan
from scheduling import problem
from scheduling.chance import SAFE_CHANCE, cases_text, check_chance
from scheduling.errors import BadInput, bad
from scheduling.levers import check_surface
from scheduling.plan_file import write_plan
from scheduling.planning import plan_job
from scheduling.risk import Chances, chances, chances_answer
from scheduling.what_if import BUDGET as LEVER_BUDGET
from scheduling.what_if import Forward, bring_forward

NO_PLAN = 3  # exit status
BUDGET = 10.0  # deterministic units of about a second each
WEAKEST = 3  # weak points told with every plan; --chances tells all


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
        parser.add_argument(
            "--chance",
            metavar="P",
            help="plan each wait and window to hold with this chance, 0.5 to 0.99 "
            "(usual: the clocks' safe and early ends)",
        )
        parser.add_argument(
            "--chances",
            metavar="CHANCES.json",
            nargs="?",
            const=True,
            help="print every weak point and how likely each stint is on time, or "
            "write all that is known of chances there",
        )
        parser.add_argument(
            "--forward",
            metavar="SURFACE",
            help="print what would bring that surface forward, the most first, each "
            f"planned with at most {LEVER_BUDGET:g} of the budget",
        )
        add_units(parser)

    def run(self, **given: Any) -> int:
        job = job_input.job_of_file(given["job"])
        at = moment_of(given["at"], job)
        units = units_of(given["units"])
        limits = limits_of(given["seconds"], given["budget"])
        chance = chance_of(given["chance"])
        forward = given["forward"]
        if forward is not None:
            check_surface(job, forward, "--forward")
        previous = given["previous"]
        plan = plan_job(
            job,
            at=at,
            previous=None if previous is None else job_input.plan_of_file(previous),
            chance=chance,
            **limits,
        )
        found = chances(job, plan, at=at)
        asked = given["chances"]
        if isinstance(asked, str):
            job_input.write_json(asked, chances_answer(found), "--chances")
        if given["out"] is not None:
            job_input.write_json(given["out"], write_plan(plan), "--out")
        else:
            self.print_lines(stints_told(job, plan, units))
        self.print_lines(summary(job, plan, units))
        self.print_lines(odds_told(job, plan, found, every=asked is True))
        if forward is not None:
            budget = min(limits.get("budget", BUDGET), LEVER_BUDGET)
            helped = bring_forward(job, forward, at=at, budget=budget, chance=chance)
            self.print_lines(forward_told(job, forward, helped, units))
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


def chance_of(given: str | None) -> float | None:
    """The chance to plan against; None is the clocks' own ends."""
    if given is None:
        return None
    try:
        chance = float(given)
    except ValueError:
        chance = nan  # refused below, but by what was typed
    try:
        check_chance(chance)
    except BadInput as error:
        raise bad("--chance", given, error.faults[0].allowed) from None
    return chance


def odds_told(
    job: problem.Job, plan: engine_plan.Plan, found: Chances, *, every: bool
) -> Iterable[str]:
    """How likely finish and dates hold, and the weakest points; ``every``: all."""
    if found.finish is None:
        return
    finish = found.finish
    by_then = "; 9 of 10 not within the days looked at"
    if finish.nine_of_ten is not None:
        by_then = f"; 9 of 10 by {_told(finish.nine_of_ten, job)}"
    if finish.chance >= SAFE_CHANCE:
        by_then = ""
    yield f"chance: finish kept in {cases_text(finish.chance)}{by_then}"
    for date in found.dates if every else ():
        wish = job.dates[date.date]
        target = wish.surface or wish.room or "the job"
        told = f"{target}, {wish.stage or wish.promise} by {_told(wish.by, job)}"
        yield f"chance: {told}: kept in {cases_text(date.chance)}"
    for gate in found.weak if every else found.weak[:WEAKEST]:
        yield f"weak: {gate.text}"
    if not every:
        return
    yield ""
    rows = [
        (
            f"{stint.start.astimezone(job.site.tz):%a %d %b %H:%M}",
            place(job, stint.surface, stint.section),
            stint.step,
            f"{one.chance:.2f}",
            f"{one.on_time:.2f}",
            "never" if one.late_min is None else f"{one.late_min / 60:.1f} h",
        )
        for one in found.stints
        for stint in [plan.stint(one.stint)]
        if stint is not None
    ]
    yield from table(("start", "where", "step", "by itself", "on time", "late"), rows)


def forward_told(
    job: problem.Job, surface: str, found: Forward, units: str = METRIC
) -> Iterable[str]:
    """What brings the surface forward, the most first, with what each costs."""
    where = place(job, surface)
    if found.end is None:
        left = "no plan" if found.plan.outcome == "no-plan" else "no work left on it"
        yield f"forward: {where}: {left}"
        return
    helps = helps_of(found)
    names = names_in(job)
    told = count_text(found.tried, helps)
    yield f"forward: {where} ends {_told(found.end, job)}; {told}"
    rows = [
        (
            one.sooner,
            _told(one.ends, job),
            in_units(one.text, units, names),
            f"{one.hands}",
            f"{one.hours:.1f}",
            one.cost,
            one.besides,
        )
        for one in helps
    ]
    if rows:
        head = ("gains", "ends", "what", "hands", "hours", "costs", "besides")
        yield from table(head, rows)


def stints_told(
    job: problem.Job, plan: engine_plan.Plan, units: str = METRIC
) -> Iterable[str]:
    """The stints as a table, a day after the other."""
    names = names_in(job)
    rows = []
    day = None
    for stint in sorted(plan.stints, key=lambda stint: (stint.start, stint.id)):
        start, end = (m.astimezone(job.site.tz) for m in (stint.start, stint.end))
        step = job.step_of(stint.surface, stint.step)
        kind = "" if stint.kind == "work" else f"{stint.kind}: "
        told = f"{start:%a %d %b}"
        rows.append(
            (
                "" if told == day else told,
                f"{start:%H:%M}-{end:%H:%M}",
                place(job, stint.surface, stint.section),
                kind + (step.name or step.id),
                ", ".join(stint.hands) or "-",
                in_units(stint.reason.text, units, names),
            )
        )
        day = told
    if rows:
        yield from table(("day", "from-to", "where", "step", "hands", "why"), rows)
        yield ""


def summary(
    job: problem.Job, plan: engine_plan.Plan, units: str = METRIC
) -> Iterable[str]:
    """Outcome, finish and bound, late dates, changes and notes, a line each."""
    names = names_in(job)
    if plan.outcome == "no-plan":
        yield "No plan."
        for reason in plan.reasons:
            yield f"reason: {reason.code}: {in_units(reason.text, units, names)}"
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
        yield f"note: {in_units(note, units, names)}"


def _told(moment: datetime | None, job: problem.Job) -> str:
    return f"{moment.astimezone(job.site.tz):%a %d %b %H:%M}" if moment else "none"
