"""The week in words: the facts of the drawing as table rows, dates and sentences.

Pure: a plan and its job in. Times by the site's clock.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo

from jobs.calendar_words import ceil, floor, hands_text
from jobs.templatetags.plan_format import (
    say_clock,
    say_day,
    say_minutes,
    say_moment,
    say_place,
)
from jobs.week_marks import shown_stage
from jobs.week_scale import Page
from scheduling.cautions import Caution
from scheduling.corrections import standing
from scheduling.job_file import job_sha256
from scheduling.plan import Plan, Range, Stint
from scheduling.problem import Coat, DateWish, Job
from scheduling.work_cautions import SHORT, cautions_of, work_cautions

PROMISED = {
    "handle": "fit to handle",
    "load": "fit to load",
    "wash": "fit to wash",
    "full": "fully cured",
}
# What a wait ends in, said beside its moment.
THEN = {
    "touch": "dry to touch",
    "recoat": "next coat",
    "through": "dry through",
    "hard": "hard",
    "cured": "cured",
    "tack": "at tack",
}
# Assumed: a coat that ends this near to its time moves nothing worth a new plan.
NEAR_ENOUGH = timedelta(minutes=30)
REACHED = {
    **THEN,
    "open": "set",
    "recoat": "dry for the next coat",
    "window": "its window open",
    "closes": "open for leaf",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """One stint or logged coat in words; empty where it has no such fact.

    ``surface`` is the id of what may still be brought forward: of a stint, not a coat.
    """

    key: str
    surface: str
    when: str
    where: str
    what: str
    who: str
    open: str
    ready: str
    window: str
    because: str
    mind: str
    change: bool = False  # whether it is planned work, to be held or moved


@dataclass(frozen=True, slots=True, kw_only=True)
class TableDay:
    """A day's rows in order."""

    key: str
    name: str
    today: bool
    past: bool
    rows: tuple[TableRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LateDate:
    """A wished date that is missed."""

    text: str
    by: str


def known_part(plan: Plan, job: Job) -> Plan:
    """The plan without stints whose surface or step the job no longer has.

    Stints that are logged by now are left out too: the log knows better.
    """
    steps = {
        surface.id: {step.id for step in job.recipe(surface.recipe).steps}
        for surface in job.surfaces
    }
    done = {(coat.surface, coat.step, coat.section) for coat in job.coats}
    return replace(
        plan,
        stints=tuple(
            stint
            for stint in plan.stints
            if stint.step in steps.get(stint.surface, ())
            and not (
                stint.kind == "work"
                and {
                    (stint.surface, stint.step, stint.section),
                    (stint.surface, stint.step, None),
                }
                & done
            )
        ),
    )


def kept_to(
    plan: Plan, job: Job, logged: Collection[tuple[str, str, str]]
) -> bool | None:
    """Whether only coats were logged since and each ended about when the plan has it.

    ``logged`` names those coats; None where anything else of the job has changed.
    """
    new = [
        coat
        for coat in job.coats
        if (coat.surface, coat.step, coat.section or "") in logged
    ]
    before = replace(job, coats=tuple(coat for coat in job.coats if coat not in new))
    if job_sha256(before) != plan.job_sha256:
        return None
    for coat in new:
        ends = [
            stint.end
            for stint in plan.stints
            if stint.kind == "work"
            and (stint.surface, stint.step) == (coat.surface, coat.step)
            and stint.section in (coat.section, None)
        ]
        if not ends or abs(max(ends) - coat.end) > NEAR_ENOUGH:
            return False
    return True


def unlogged_text(plan: Plan, job: Job, now: datetime) -> str:
    """How much of the plan's work should be done by now and is not logged."""
    left = {
        (stint.surface, stint.step, stint.section)
        for stint in known_part(plan, job).stints
        if stint.kind == "work" and stint.end + NEAR_ENOUGH < now
    }
    if not left:
        return ""
    if len(left) == 1:
        return "One step of this plan should be done by now and is not logged."
    return f"{len(left)} steps of this plan should be done by now and are not logged."


def table_days(
    job: Job,
    plan: Plan,
    page: Page,
    zone: tzinfo,
    now: datetime,
    rooms: Collection[str],
) -> tuple[TableDay, ...]:
    """Every stint and logged coat of the page's days in these rooms, day by day."""
    here = {surface.id for surface in job.surfaces if surface.room in rooms}
    entries: list[Coat | Stint] = [
        entry for entry in (*standing(job), *plan.stints) if entry.surface in here
    ]
    by_day: dict[date, list[Coat | Stint]] = {}
    today = now.astimezone(zone).date()
    for entry in entries:
        day = entry.start.astimezone(zone).date()
        if page.first <= day <= page.last:
            by_day.setdefault(day, []).append(entry)
    return tuple(
        TableDay(
            key=day.isoformat(),
            name=say_day(rows[0].start, zone),
            today=day == today,
            past=day < today,
            rows=tuple(
                _row(job, entry, zone)
                for entry in sorted(rows, key=lambda row: (row.start, row.surface))
            ),
        )
        for day, rows in sorted(by_day.items())
    )


def stint_time(stint: Stint, zone: tzinfo) -> str:
    """Its day and time: "Wed 14 Oct, 08:00 to 12:30"."""
    start = f"{say_day(stint.start, zone)}, {say_clock(stint.start, zone)}"
    return f"{start} to {_end_text(stint, zone)}"


def late_dates(job: Job, plan: Plan, zone: tzinfo) -> tuple[LateDate, ...]:
    """Each missed date with what it is for and by how much it is missed."""
    return tuple(
        LateDate(
            text=wish_text(job, job.dates[late.date], zone),
            by="never in this air"
            if late.by_min is None
            else f"{say_minutes(late.by_min)} late",
        )
        for late in plan.late
        if late.date < len(job.dates)
    )


def wish_text(job: Job, wish: DateWish, zone: tzinfo) -> str:
    """A date in words: "Lounge: fit to load wished by Tue 20 Oct 08:00"."""
    if wish.surface is not None:
        surface = job.surface(wish.surface)
        room = job.room(surface.room)
        what = say_place(room.name or room.id, surface.name or surface.id)
    elif wish.room is not None:
        room = job.room(wish.room)
        what = room.name or room.id
    else:
        what = "The whole job"
    state = PROMISED.get(wish.promise or "") or REACHED.get(wish.stage or "", "done")
    by = f"{say_day(wish.by, zone)} {say_clock(wish.by, zone)}"
    return f"{what}: {state} wished by {by}"


def late_text(plan: Plan) -> str:
    """How many dates are missed and by how much at the worst, in a sentence."""
    if not plan.late:
        return ""
    count = len(plan.late)
    dates = (
        "One wished date is late" if count == 1 else f"{count} wished dates are late"
    )
    if any(late.by_min is None for late in plan.late):
        return f"{dates}, and some are never reached in this air."
    most = max(late.by_min or 0.0 for late in plan.late)
    return f"{dates}, {'by' if count == 1 else 'the most by'} {say_minutes(most)}."


def bound_text(plan: Plan, zone: tzinfo, now: datetime) -> str:
    """What is known about the earliest end, said before the end itself."""
    if plan.finish is None:
        return ""
    ends = say_moment(plan.finish, zone, now)
    bound = plan.bound.finish_not_before
    if bound is None:
        return f"This ends {ends}. No earlier limit is known."
    if bound >= plan.finish:
        return f"This ends {ends}, and no plan as good on dates ends sooner."
    return (
        f"No plan as good on dates ends before {say_moment(bound, zone, now)}; "
        f"this one ends {ends}."
    )


def _row(job: Job, entry: Coat | Stint, zone: tzinfo) -> TableRow:
    surface = job.surface(entry.surface)
    room = job.room(surface.room)
    recipe = job.recipe(surface.recipe)
    step = recipe.step(entry.step)
    name = step.name or step.id
    stint = entry if isinstance(entry, Stint) else None
    what = name
    if stint is not None and stint.kind == "test":
        what = f"Test before {name[:1].lower()}{name[1:]}"
    elif stint is not None and stint.kind == "rescue":
        what = f"Rescue before {name[:1].lower()}{name[1:]}"
    where = say_place(room.name or room.id, surface.name or surface.id)
    if entry.section:
        where += f", part {entry.section}"
    ready = ""
    if stint is not None and stint.kind == "work":
        materials = {material.id: material for material in job.materials}
        stage = shown_stage(recipe, step, materials)
        ready = _ready_text(stint.ready.get(stage), stage, stint, zone)
    return TableRow(
        key=stint.id if stint else f"coat-{entry.surface}-{entry.step}",
        surface=entry.surface if stint else "",
        when=f"{say_clock(entry.start, zone)} to {_end_text(entry, zone)}",
        where=where,
        what=what,
        who=hands_text(job, stint.hands, stint.roles) if stint else "done",
        open=_open_text(stint, step.wet, zone),
        ready=ready,
        window=_window_text(stint, zone),
        because=stint.reason.text if stint else "",
        change=stint is not None and stint.kind == "work",
        mind=_mind(job, stint),
    )


def week_minded(job: Job, plan: Plan, page: Page, zone: tzinfo) -> tuple[Caution, ...]:
    """What to mind at the work of the page's days, each thing once."""
    return cautions_of(
        caution.code
        for stint in plan.stints
        if page.first <= stint.start.astimezone(zone).date() <= page.last
        for caution in _minded(job, stint)
    )


def _minded(job: Job, stint: Stint) -> tuple[Caution, ...]:
    if stint.kind == "test":  # a thumb on a wall calls for nothing
        return ()
    surface = job.surface(stint.surface)
    step = job.recipe(surface.recipe).step(stint.step)
    return work_cautions(job, surface, step)


def _mind(job: Job, stint: Stint | None) -> str:
    """What to mind at a stint, in a word or two each: "Mind: oily rags"."""
    if stint is None:
        return ""
    said = ", ".join(SHORT[caution.code] for caution in _minded(job, stint))
    return f"Mind: {said}" if said else ""


def _end_text(entry: Coat | Stint, zone: tzinfo) -> str:
    same = entry.start.astimezone(zone).date() == entry.end.astimezone(zone).date()
    clock = say_clock(entry.end, zone)
    return clock if same else f"{say_moment(entry.end, zone, entry.start)}"


def _open_text(stint: Stint | None, wet: bool, zone: tzinfo) -> str:
    if stint is None or stint.open is None or not wet:
        return ""
    early = stint.open.early or stint.open.likely
    return (
        "to the end" if early is None else f"until {_near(floor(early), stint, zone)}"
    )


def _ready_text(span: Range | None, stage: str, stint: Stint, zone: tzinfo) -> str:
    if span is None:
        return ""
    word = THEN.get(stage, stage)
    if span.likely is None:
        return f"{word}: not in this air"
    text = f"{word} {_near(ceil(span.likely), stint, zone)}"
    if span.safe is None:
        return f"{text}, never safe in this air"
    if span.safe != span.likely:
        text += f", safe {_near(ceil(span.safe), stint, zone)}"
    return text


def _window_text(stint: Stint | None, zone: tzinfo) -> str:
    if stint is None or stint.closes is None:
        return ""
    close = stint.closes.early or stint.closes.likely
    return "" if close is None else f"shuts {_near(floor(close), stint, zone)}"


def _near(moment: datetime, stint: Stint, zone: tzinfo) -> str:
    """The time, with its day where that is another than the work's."""
    same = moment.astimezone(zone).date() == stint.start.astimezone(zone).date()
    return say_clock(moment, zone) if same else say_moment(moment, zone, stint.start)
