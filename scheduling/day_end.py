"""What a day leaves behind: wet edges, windows that shut overnight, rooms at night.

For whoever closes up: the log, the plan and the air in, facts out. The night ends when
the site next opens on a later day.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from scheduling.clock_tables import clear_stage
from scheduling.lying import lying
from scheduling.morning_tests import MorningTest, tests_on
from scheduling.plan import Plan, Range, Stint
from scheduling.problem import Job, Material, Step, Surface
from scheduling.readiness import states_at
from scheduling.readiness_look import Look
from scheduling.readiness_state import HeldBy, SurfaceState
from scheduling.room_care import Care, room_care
from scheduling.working_time import next_opening


@dataclass(frozen=True, slots=True, kw_only=True)
class WetEdge:
    """A coat not dry to touch (or a size not closed); ``open`` while it joins.

    ``until`` is None where it never dries in this air. ``logged`` is False for work
    that the plan has begun and nobody has logged.
    """

    surface: Surface
    section: str | None
    step: Step
    until: datetime | None
    open: datetime | None
    logged: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ShuttingWindow:
    """A next step whose window shuts before work starts again, or has shut.

    ``free`` is when it can likely be done (None: not before), ``planned`` where the
    plan has it in time, ``rescued`` where the plan has its rescue.
    """

    surface: Surface
    section: str | None
    step: Step
    shuts: datetime
    past: bool
    free: datetime | None
    held_by: tuple[HeldBy, ...]
    planned: Stint | None
    rescued: Stint | None
    test: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Night:
    """How a room is left, state by state until the site opens again."""

    room: str
    cares: tuple[Care, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DayEnd:
    """Everything to mind when a site is left; ``morning`` is when work starts again.

    ``used`` are the materials put on today, ``unlogged`` the work of today that the
    plan has begun and nobody has logged. ``today`` are this day's own tests, ``tests``
    those of the next working day.
    """

    morning: datetime | None
    edges: tuple[WetEdge, ...]
    windows: tuple[ShuttingWindow, ...]
    nights: tuple[Night, ...]
    used: tuple[Material, ...]
    unlogged: tuple[Stint, ...]
    today: tuple[MorningTest, ...]
    tests: tuple[MorningTest, ...]


def day_end(job: Job, plan: Plan | None, *, at: datetime) -> DayEnd:
    """What to mind at ``at``, by the log and by the plan that people work by.

    The plan may name only surfaces and steps that the job has, and nothing logged.
    """
    look = Look(job, at)
    laid = tuple(lying(look))
    states = states_at(look)
    waits = tuple(_waits(look, states))
    stints = plan.stints if plan is not None else ()
    unlogged = tuple(_begun(job, stints, at))
    morning = next_opening(job, at)
    zone = job.site.tz
    return DayEnd(
        morning=morning,
        edges=tuple(_edges(job, laid, unlogged, at)),
        windows=tuple(_windows(states, stints, at, morning)),
        nights=tuple(_nights(job, (*laid, *unlogged), at, morning)),
        used=tuple(_used(look, unlogged)),
        unlogged=unlogged,
        today=tests_on(job, waits, stints, day=at.astimezone(zone).date(), at=at),
        tests=tests_on(job, waits, stints, day=morning.date(), at=at)
        if morning is not None
        else (),
    )


def _begun(job: Job, stints: Iterable[Stint], at: datetime) -> Iterable[Stint]:
    """Work that the plan has begun today."""
    today = at.astimezone(job.site.tz).date()
    for stint in stints:
        day = stint.start.astimezone(job.site.tz).date()
        if stint.kind == "work" and stint.start <= at and day == today:
            yield stint


def _waits(
    look: Look, states: Iterable[SurfaceState]
) -> Iterable[tuple[SurfaceState, Range]]:
    """The surfaces whose next step waits for a coat, and when it gets there."""
    for state in states:
        coat, material, stage = state.last_coat, state.material, state.stage
        if coat is not None and material is not None and stage:
            yield (
                state,
                look.clock(state.surface, material, state.laid, stage, coat.end),
            )


def _edges(
    job: Job, laid: Iterable[Stint], unlogged: Sequence[Stint], at: datetime
) -> Iterable[WetEdge]:
    for stint in (*laid, *unlogged):
        step = job.step_of(stint.surface, stint.step)
        if step.material is None:
            continue
        stage = clear_stage(job.material(step.material))
        clear = _clear(stint, stage) if stage is not None else None
        if clear is None or (clear.safe is not None and clear.safe <= at):
            continue
        joins = stint.open.early if stint.open else None
        yield WetEdge(
            surface=job.surface(stint.surface),
            section=stint.section,
            step=step,
            until=clear.safe,
            open=joins if joins is not None and joins > at else None,
            logged=stint not in unlogged,
        )


def _clear(stint: Stint, stage: str) -> Range | None:
    if stage == "closes":
        return stint.closes
    return stint.open if stage == "open" else stint.ready.get(stage)


def _windows(
    states: Iterable[SurfaceState],
    stints: Iterable[Stint],
    at: datetime,
    morning: datetime | None,
) -> Iterable[ShuttingWindow]:
    plan = list(stints)
    for state in states:
        step, closes = state.step, state.closes
        if step is None or closes is None or state.state == "working":
            continue
        past = any(hold.code == "window" for hold in state.held_by)
        shuts = closes.safe if past else closes.early
        if shuts is None or morning is None or shuts > morning:
            continue
        mine = [
            stint
            for stint in plan
            if (stint.surface, stint.step) == (state.surface.id, step.id)
            and stint.section in (state.section, None)
            and stint.end > at
        ]
        free = state.until.likely if state.held_by and state.until else at
        if state.held_by and state.until is None:
            free = None
        yield ShuttingWindow(
            surface=state.surface,
            section=state.section,
            step=step,
            shuts=shuts,
            past=past,
            free=free if free is not None and free < shuts and not past else None,
            held_by=state.held_by,
            planned=next(
                (row for row in mine if row.kind == "work" and row.start <= shuts), None
            ),
            rescued=next((row for row in mine if row.kind == "rescue"), None),
            test=state.test,
        )


def _nights(
    job: Job, stints: Iterable[Stint], at: datetime, morning: datetime | None
) -> Iterable[Night]:
    ends = morning or at + timedelta(days=1)
    cares = room_care(job, stints)
    for room in job.rooms:
        tonight = tuple(
            replace(care, start=max(care.start, at), end=min(care.end, ends))
            for care in cares.get(room.id, ())
            if care.end > at and care.start < ends
        )
        if tonight:
            yield Night(room=room.id, cares=tonight)


def _used(look: Look, unlogged: Iterable[Stint]) -> Iterable[Material]:
    """The materials put on today, each once, in the job's order."""
    job, zone = look.job, look.job.site.tz
    today = look.at.astimezone(zone).date()
    names = {
        job.step_of(coat.surface, coat.step).material
        for coat in look.coats
        if today
        in (coat.start.astimezone(zone).date(), coat.end.astimezone(zone).date())
    }
    names |= {job.step_of(row.surface, row.step).material for row in unlogged}
    return (material for material in job.materials if material.id in names)
