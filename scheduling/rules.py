"""What binds units: waits, windows, top before bottom, dust off wet coats, dates.

Each rule is one function over what is already made.
"""

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from scheduling.bars import why_never
from scheduling.cautions import DUST_SETTLES_MIN
from scheduling.clock_tables import ClockTables, clear_stage
from scheduling.corrections import standing
from scheduling.done import Done, coats_done
from scheduling.ground import laid_on
from scheduling.openings import Openings
from scheduling.parts import Part
from scheduling.plan import Reason
from scheduling.problem import (
    SIZES,
    DateWish,
    Job,
    Material,
    Recipe,
    Step,
    Surface,
    at_corner,
    corners_of,
    wait_of,
)
from scheduling.process import (
    Apart,
    Corner,
    Load,
    Logged,
    Process,
    Promise,
    Unit,
    Wait,
    air_meets,
    called,
    called_step,
    day_text,
    earliest_ends,
    earliest_start,
    surfaces_of,
)
from scheduling.working_time import SLOT_MIN, Axis, Ints, Mask

Places = Mapping[tuple[str, str], Sequence[Unit]]  # units by surface and step


# -- after logged coats and gates ----------------------------------------------------


def gate_slot(axis: Axis, surface: Surface) -> int:
    """The first slot that the surface's gates leave open."""
    opened = surface.opened_by
    return 0 if opened is None else axis.slot_from(axis.minute_of(opened[1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """First and last slot that gates and the log allow; whether to test first."""

    release: int
    due: int
    test_first: bool = False
    logged: Logged | None = None


def logged_limits(
    openings: Openings, tables: ClockTables, recipe: Recipe, part: Part, done: Done
) -> Limits:
    """What gates and logged coats leave open to a part."""
    axis, surface = openings.axis, part.surface
    held_by = (
        *kept_clear(openings, tables, surface, part.step),
        *corners_logged(openings, tables, surface, part.step, part.section),
    )
    holds = [(axis.slot_from(hold.minute), hold) for hold in held_by]
    due, test = len(axis), False
    wait = wait_of(recipe, part.step, openings.materials)
    if wait is not None:
        before = recipe.step(wait.step)
        laid = laid_on(openings.job, surface, before)
        for coat in done.coats(before, part.section):
            ended = axis.minute_of(coat.end)
            if wait.stage == "" or before.material is None:
                hold = Logged(minute=ended, coat=coat, stage="")
                holds.append((axis.slot_from(ended), hold))
                continue
            material = openings.materials[before.material]
            low, high, tested = tables.gate_after(
                surface, material, wait.stage, ended, laid
            )
            ready = tables.ready_after(surface, material, wait.stage, ended, laid)
            holds.append((low, Logged(minute=ready, coat=coat, stage=wait.stage)))
            due, test = min(due, high), test or tested
    last, held = max(holds, key=_slot_and_minute, default=(0, None))
    return Limits(
        release=max(gate_slot(axis, surface), last),
        due=due,
        test_first=test,
        logged=held if last > 0 else None,
    )


def _slot_and_minute(held: tuple[int, Logged]) -> tuple[int, float]:
    return held[0], held[1].minute


def kept_clear(
    openings: Openings, tables: ClockTables, surface: Surface, step: Step
) -> Iterable[Logged]:
    """What the log says of coats elsewhere that the step must not meet, and of dust.

    Also what is over by now: each says until when.
    """
    job, axis = openings.job, openings.axis
    room = job.room(surface.room)
    for coat in standing(job):
        other = job.surface(coat.surface)
        theirs = job.recipe(other.recipe).step(coat.step)
        if not air_meets(room, job.room(other.room)):
            continue
        ended = axis.minute_of(coat.end)
        if step.material is not None:
            for what in sorted(set(theirs.airborne) - set(step.makes)):
                settles = DUST_SETTLES_MIN if what == "dust" else 0.0
                yield Logged(minute=ended + settles, coat=coat, stage="", what=what)
        if other.id == surface.id or theirs.material is None:
            continue
        for what in sorted(set(step.airborne) - set(theirs.makes)):
            material = openings.materials[theirs.material]
            stage, clear = clear_stage(material), ended
            if stage is not None:
                laid = laid_on(job, other, theirs)
                clear = tables.ready_after(other, material, stage, ended, laid)
            yield Logged(minute=clear, coat=coat, stage=stage or "", what=what)


def corners_logged(
    openings: Openings,
    tables: ClockTables,
    surface: Surface,
    step: Step,
    section: str | None,
) -> Iterable[Logged]:
    """Coats already on walls that meet this one, until they are dry to touch."""
    job = openings.job
    if not step.wet or step.material is None or not at_corner(surface, section):
        return
    meets = corners_of(job).get(surface.id, frozenset())
    for coat in standing(job) if meets else ():
        other = job.surface(coat.surface)
        theirs = job.recipe(other.recipe).step(coat.step)
        if other.id not in meets or not theirs.wet or theirs.material is None:
            continue
        material = openings.materials[theirs.material]
        stage, dry = clear_stage(material), openings.axis.minute_of(coat.end)
        if at_corner(other, coat.section):
            if stage is not None:
                laid = laid_on(job, other, theirs)
                dry = tables.ready_after(other, material, stage, dry, laid)
            yield Logged(minute=dry, coat=coat, stage=stage or "", what="corner")


def window_shut(openings: Openings, unit: Unit) -> Reason | None:
    """Say so where a logged coat's window shuts before any start is possible."""
    axis = openings.axis
    if not unit.modes or not unit.release <= unit.due < len(axis):
        return None
    inside = slice(unit.release, unit.due + 1)
    if any(mode.may_start[inside].any() for mode in unit.modes):
        return None
    closes = day_text(axis.start_of(unit.due), openings.job)
    text = (
        f"{unit.called}: the window of the coat before closes {closes}, and hours, "
        "hands or air allow no start until then; the recipe states no rescue"
    )
    return Reason(code="window", text=text)


# -- between units -------------------------------------------------------------------


def plain_order(axis: Axis, before: Unit, after: Unit) -> Wait:
    """One after the other, with nothing to wait for between."""
    low, high, test = _no_wait(len(axis))
    return Wait(
        before=before.index,
        after=after.index,
        stage="",
        low=low,
        high=high,
        test=test,
        ready_min=(axis.minute + SLOT_MIN).astype(np.float64),
        code="order",
    )


@lru_cache(maxsize=4)
def _no_wait(n: int) -> tuple[Ints, Ints, Mask]:
    """Tables of a plain order on n slots, the same arrays for all."""
    low = np.arange(1, n + 1, dtype=np.int64)
    high = np.full(n, n, dtype=np.int64)
    test = np.zeros(n, dtype=bool)
    for table in (low, high, test):
        table.flags.writeable = False
    return low, high, test


def wait_between(
    axis: Axis, tables: ClockTables, before: Unit, after: Unit, stage: str
) -> Wait:
    """The wait for a stage of the earlier unit's coat; plain order without one.

    A coat waits for the dust of the step before to settle.
    """
    if stage == "" or before.material is None:
        order = plain_order(axis, before, after)
        spoils = set(before.step.airborne) - set(after.step.makes)
        if after.material is not None and "dust" in spoils:
            settled = (axis.minute + SLOT_MIN + DUST_SETTLES_MIN).astype(np.float64)
            low = tables.settled_after("dust")
            return replace(order, low=low, ready_min=settled, code="dust")
        return order
    gate = tables.gate(before.surface, before.material, stage, before.laid)
    return Wait(
        before=before.index,
        after=after.index,
        stage=stage,
        low=gate.low,
        high=gate.high,
        test=gate.test,
        ready_min=tables.ready(before.surface, before.material, stage, before.laid),
    )


def without_window(axis: Axis, wait: Wait) -> Wait:
    """The wait of a rescue: no latest end, and no test in place of the safe opening.

    Where the coat is never safely ready the likely moment has to do.
    """
    n = len(axis)
    low = wait.low
    if wait.ready_min is not None:
        safe = axis.slots_from(wait.ready_min)
        low = np.where(wait.test & (safe < n), np.maximum(low, safe), low)
    none = np.zeros(n, dtype=bool)
    return replace(wait, low=low, high=np.full(n, n, dtype=np.int64), test=none)


def before_opening(openings: Openings, before: Unit, after: Unit, wait: Wait) -> Wait:
    """Leaf a size before its room next opens to the public, unless it has closed by
    then: until one of the two it is tacky."""
    axis, material = openings.axis, before.material
    room = openings.job.room(before.surface.room)
    if material is None or material.family not in SIZES or not room.opens:
        return wait
    ends = (axis.minute + SLOT_MIN).astype(np.float64)
    opens = openings.bars.next_opening(room, ends)
    dry = openings.bars.clear_min(before.surface, before.step, material)
    slots = max((mode.slots for mode in after.modes), default=1)
    latest = axis.slots_until(opens - SLOT_MIN) - slots + 1
    high = np.where(dry <= opens, wait.high, np.minimum(wait.high, latest))
    return replace(wait, high=high, code="opens")


def tacky_at_opening(openings: Openings, tables: ClockTables) -> Iterable[str]:
    """Remarks on logged coats that are still tacky when their room next opens."""
    job, axis = openings.job, openings.axis
    for coat in standing(job):
        surface = job.surface(coat.surface)
        room = job.room(surface.room)
        step = job.recipe(surface.recipe).step(coat.step)
        done = coats_done(job, surface, job.recipe(surface.recipe))
        over = {name for passed, name in done.passed if passed == step.id}
        if step.material is None or not room.opens or over & {None, coat.section}:
            continue
        material = openings.materials[step.material]
        stage = clear_stage(material)
        if stage is None:
            continue
        laid = laid_on(job, surface, step)
        ended = axis.minute_of(coat.end)
        ready = tables.ready_after(surface, material, stage, ended, laid)
        since = max(axis.minute_of(coat.end), axis.minute_of(openings.at))
        opens = float(openings.bars.next_opening(room, np.array([since]))[0])
        if opens < ready:
            yield (
                f"{called_step(surface, step)}: a coat already on is not safely dry to "
                f"touch when {room.name or room.id} opens to the public "
                f"{day_text(axis.moment(opens), job)}"
            )


def top_before_bottom(
    axis: Axis, units: Sequence[Unit], waits: Sequence[Wait]
) -> Iterable[Wait]:
    """A lower surface's first coat waits for all work above it in the room.

    Not where a coat is on it already, or the room says so: then somebody has decided
    otherwise. ``waits`` are those in the surfaces' own recipes, each behind those it
    waits for.
    """
    begun = {
        coat.surface
        for coat in axis.job.coats
        if axis.job.step_of(coat.surface, coat.step).material is not None
    }
    has_later = {wait.before for wait in waits}
    has_coat_before: set[int] = set()
    for wait in waits:
        before = units[wait.before]
        if before.material is not None or wait.before in has_coat_before:
            has_coat_before.add(wait.after)
    lasts = [unit for unit in units if unit.index not in has_later]
    firsts = [
        unit
        for unit in units
        if unit.material is not None
        and unit.index not in has_coat_before
        and unit.surface.id not in begun
        and not axis.job.room(unit.surface.room).any_order
    ]
    for first in firsts:
        for last in lasts:
            if last.surface.room == first.surface.room and last.rank < first.rank:
                yield plain_order(axis, last, first)


def kept_apart(job: Job, tables: ClockTables, units: Sequence[Unit]) -> Iterable[Apart]:
    """What makes dust, steam or solvent, and each coat in the same air it spoils."""
    rooms = {room.id: room for room in job.rooms}
    for maker in units:
        for what in maker.step.airborne:
            for coat in units:
                if (
                    coat.material is None
                    or coat.index == maker.index
                    or what in coat.step.makes
                    or not air_meets(
                        rooms[maker.surface.room], rooms[coat.surface.room]
                    )
                ):
                    continue
                yield Apart(
                    maker=maker.index,
                    coat=coat.index,
                    what=what,
                    clear=tables.clear_after(coat.surface, coat.material, coat.laid),
                    settled=tables.settled_after(what),
                )


def wet_corners(
    job: Job, tables: ClockTables, units: Sequence[Unit]
) -> Iterable[Corner]:
    """Walls that meet, each laid wet: opposite walls are done first, then the others.

    So no wet edge meets another in a corner; common practice, no source.
    """
    meets = corners_of(job)
    wet = [
        unit
        for unit in units
        if unit.kind == "work"
        and unit.step.wet
        and unit.material is not None
        and meets.get(unit.surface.id)
        and at_corner(unit.surface, unit.section)
    ]
    for one, other in itertools.combinations(wet, 2):
        if other.surface.id in meets[one.surface.id]:
            yield Corner(
                one=one.index,
                other=other.index,
                dry_one=_dry_after(tables, one),
                dry_other=_dry_after(tables, other),
            )


def _dry_after(tables: ClockTables, unit: Unit) -> Ints:
    assert unit.material is not None  # noqa: S101 - the caller asks for coats alone
    return tables.clear_after(unit.surface, unit.material, unit.laid)


def room_heads(job: Job, units: Sequence[Unit]) -> Iterable[Load]:
    """Rooms that hold only so many hands at a time."""
    for room in job.rooms:
        if room.hands_most is not None:
            demand = {
                unit.index: {mode.hands: mode.hands for mode in unit.modes}
                for unit in units
                if unit.surface.room == room.id
            }
            yield Load(name=room.id, most=room.hands_most, demand=demand)


def windows_never_met(process: Process, days: int) -> Iterable[Reason]:
    """Windows that shut, whenever the coat ends, before the next can start."""
    n = len(process.axis)
    for wait in process.waits:
        before, after = process.units[wait.before], process.units[wait.after]
        if after.step.rescue is not None or not (wait.high < n).any():
            continue
        starts = np.zeros(n + 1, dtype=np.int64)
        starts[1:] = np.cumsum(np.any([m.may_start for m in after.modes], axis=0))
        first = np.minimum(wait.low + wait.test, n)
        met = starts[np.clip(wait.high + 1, first, n)] > starts[first]
        ends = [
            np.flatnonzero(mode.may_start) + mode.slots - 1 for mode in before.modes
        ]
        if not met[np.concatenate(ends)].any():
            name = before.step.name or before.step.id
            when = f"whenever {name} ends in the next {days} days"
            text = f"the window of {name} shuts before it can start, {when}"
            if wait.code == "opens":
                text = f"{text}, or the room opens to the public on a tacky size"
            yield Reason(code="window", text=f"{after.called}: {text}")


def barred_for_ever(process: Process) -> Iterable[Reason]:
    """Stints that come too late for a bar, were hands without limit: a tower struck."""
    n, ends = len(process.axis), earliest_ends(process)
    may_be_left_out = {choice.saver for choice in process.choices}
    for unit in process.units:
        if unit.index in may_be_left_out:
            continue
        low = earliest_start(process, unit, ends)
        if ends[unit.index] <= n or low >= n:
            continue  # what it waits for is never done: that is told there
        for mode in unit.modes:
            late = [
                bar
                for bar in mode.bars
                if not (mode.unbarred & bar.may_start)[low:].any()
            ]
            if late and mode.unbarred[low:].any():
                since = day_text(process.axis.start_of(low), process.job)
                text = (
                    f"ready for it on {since} at the earliest, and {why_never(late[0])}"
                )
                yield Reason(code=late[0].code, text=f"{unit.called}: {text}")
                break


# -- dates ---------------------------------------------------------------------------


def promises_of(
    openings: Openings, tables: ClockTables, places: Places
) -> Iterable[Promise]:
    """What each date asks of the last units on its surfaces."""
    axis, job = openings.axis, openings.job
    for number, wish in enumerate(job.dates):
        by = axis.minute_of(wish.by)
        for surface in surfaces_of(job, wish):
            last = job.recipe(surface.recipe).steps[-1]
            material = _knowing(openings, wish, last)
            for unit in places.get((surface.id, last.id), ()):
                ends = (axis.minute + SLOT_MIN).astype(np.float64)
                if material is not None:
                    ends = tables.ready(surface, material, _stage(wish), unit.laid)
                yield Promise(
                    date=number,
                    unit=unit.index,
                    wish=wish,
                    late_min=np.maximum(ends - by, 0.0),
                )


def late_already(
    openings: Openings, tables: ClockTables
) -> Iterable[tuple[int, float | None]]:
    """Dates that coats already on miss, and by how many minutes; None for ever."""
    axis, job = openings.axis, openings.job
    for number, wish in enumerate(job.dates):
        by, late = axis.minute_of(wish.by), 0.0
        for surface in surfaces_of(job, wish):
            recipe = job.recipe(surface.recipe)
            last = recipe.steps[-1]
            material = _knowing(openings, wish, last)
            laid = laid_on(job, surface, last)
            for coat in coats_done(job, surface, recipe).coats(last, None):
                reached = axis.minute_of(coat.end)
                if material is not None:
                    reached = tables.ready_after(
                        surface, material, _stage(wish), reached, laid
                    )
                late = max(late, reached - by)
        if late > 0:
            yield number, late if math.isfinite(late) else None


def must_be_missed(job: Job, wish: DateWish) -> Reason:
    """A date that must be kept and that coats already on miss."""
    what = [called(surface) for surface in surfaces_of(job, wish)]
    text = (
        f"{', '.join(what)}: {_stage(wish) or 'done'} must be reached by "
        f"{day_text(wish.by, job)}, and the coats already on do not reach it in this "
        "air"
    )
    return Reason(code="date", text=text)


def _stage(wish: DateWish) -> str:
    return wish.stage or wish.promise or ""


def _knowing(openings: Openings, wish: DateWish, last: Step) -> Material | None:
    """The last step's material, if its label knows what the date asks for."""
    material = openings.materials[last.material] if last.material else None
    if material is None or material.label_min(_stage(wish)) is None:
        return None
    return material
