"""The process: which stints a job still needs, in which order, after which waits.

Units (one step on one surface or section) and what binds them, all in slots of the
working axis, as values. The greedy planner, the solver and the explanation read this;
the audit does not. ``process_of_job`` makes it.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scheduling import wet_edge
from scheduling.ground import Laid
from scheduling.plan import Reason
from scheduling.problem import (
    Coat,
    DateWish,
    Job,
    Material,
    Pin,
    Room,
    Step,
    Surface,
)
from scheduling.working_time import SLOT_MIN, Axis, Ints, Mask, Span

RANKS = {"ceiling": 0, "wall": 1, "panel": 1, "column": 1, "door": 2, "trim": 2}
FLOOR_RANK = 3  # top before bottom: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bar:
    """The starts that one rule leaves, and the minutes that forbid the others."""

    code: str
    may_start: Mask
    spans: tuple[Span, ...]  # in order
    name: str = ""  # who or what has those hours


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mode:
    """A number of hands, the slots it takes, and where it may start.

    With no slots it only marks a moment, after the slot before it: never slot 0.
    """

    hands: int
    slots: int
    may_start: Mask
    unbarred: Mask  # where it might if no bar were there
    bars: tuple[Bar, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unit:
    """One stint's worth of work still to be planned."""

    index: int
    id: str
    surface: Surface
    step: Step
    material: Material | None
    section: str | None
    area_m2: float
    modes: tuple[Mode, ...]
    release: int  # first slot that gates, pins and logged coats leave open
    due: int  # last slot that a logged coat's window leaves open
    test_first: bool  # a logged coat asks for a test before this step
    laid: Laid
    testable: Mask  # slots in which a test may stand
    kind: Literal["work", "rescue"] = "work"
    part: int = 0  # number among the parts of a step that splits, from 1
    pinned: Pin | None = None
    kept_off: frozenset[str] = frozenset()  # hands, by id, who may not be at it
    logged: "Logged | None" = None  # what of the log lets go last
    lead: int | None = None  # the hand, by number, that must be one of those at it
    shuts: int | None = None  # a rescue: last slot that a logged coat's window leaves

    @property
    def rank(self) -> int:
        """Height in the room: smaller is done first."""
        return RANKS.get(self.surface.kind, FLOOR_RANK)

    @property
    def called(self) -> str:
        """Surface and step as people name them."""
        return called_step(self.surface, self.step)


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """A logged coat or dust that holds a unit back until ``minute``.

    ``stage`` is what the unit waits for, "" that the step has ended. ``what`` is dust,
    steam or solvent that must not meet a wet coat, "" where the unit lies on the coat.
    """

    minute: float
    coat: Coat
    stage: str
    what: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wait:
    """``after`` may start at ``low[l]`` to ``high[l]`` when ``before`` ends in slot l.

    ``test[l]`` asks for a test first. ``stage`` "" is a plain order. ``ready_min[l]``
    is the minute behind ``low[l]``, whoever is there then; None: the slot's own.
    ``saver`` names a rescue that may be done or not: the wait then holds only where
    that is so (``saved``) or only where it is not. A wait of a rescue itself knows in
    ``missed`` the last slots of the window that is given up.
    """

    before: int
    after: int
    stage: str
    low: Ints
    high: Ints
    test: Mask
    ready_min: NDArray[np.float64] | None = None
    code: str = "wait"
    saver: int | None = None
    saved: bool = False
    missed: Ints | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A rescue that may be done or not, and the unit that it makes free of a window.

    ``due`` is the last slot that a logged coat's window leaves the unit without it.
    """

    saver: int
    unit: int
    due: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Apart:
    """``maker`` keeps off ``coat`` from its start to ``clear[l]``, l its last slot.

    A coat after it starts no earlier than ``settled[l]``, l the maker's last slot.
    """

    maker: int
    coat: int
    what: str
    clear: Ints
    settled: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Corner:
    """Two walls that meet, laid wet: neither starts while the other's coat is wet.

    ``dry_one[l]`` is the first slot in which the coat of ``one`` is dry to touch, l its
    last slot; ``dry_other`` the same of ``other``.
    """

    one: int
    other: int
    dry_one: Ints
    dry_other: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Load:
    """What units draw on together: no more than ``most`` in any slot.

    ``demand[unit][hands]`` is what a unit draws with so many hands at it. ``taken`` is
    what stints that stand draw, by slot; 0 where there are none.
    """

    name: str
    most: int
    demand: Mapping[int, Mapping[int, int]]
    taken: Ints | int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Promise:
    """A date's claim on a unit: minutes late (never below 0) if it ends in slot l."""

    date: int
    unit: int
    wish: DateWish
    late_min: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HandSlots:
    """A hand and the slots in which it is there."""

    id: str
    skills: frozenset[str]
    there: Mask


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Process:
    """Everything the planner decides about, on one axis."""

    job: Job
    axis: Axis
    units: tuple[Unit, ...]
    waits: tuple[Wait, ...]
    aparts: tuple[Apart, ...]
    promises: tuple[Promise, ...]
    hands: tuple[HandSlots, ...]
    loads: tuple[Load, ...]
    overdue: tuple[tuple[int, float | None], ...]  # dates already settled, and how late
    impossible: tuple[Reason, ...]
    notes: tuple[str, ...]
    keys: Mapping[str, str]  # a unit's id -> its name for ``rescued``
    before: Mapping[int, tuple[Wait, ...]] = field(default_factory=dict)
    after: Mapping[int, tuple[Wait, ...]] = field(default_factory=dict)
    choices: tuple[Choice, ...] = ()  # only the exact model knows how to decide them
    corners: tuple[Corner, ...] = ()

    @property
    def in_order(self) -> list[Unit]:
        """The units so that each stands behind those it waits for."""
        missing = {unit.index: len(self.before[unit.index]) for unit in self.units}
        ready = [unit for unit in self.units if not missing[unit.index]]
        for unit in ready:  # grows while it is walked
            for wait in self.after[unit.index]:
                missing[wait.after] -= 1
                if not missing[wait.after]:
                    ready.append(self.units[wait.after])
        return ready


def ancestors(process: Process) -> list[int]:
    """For each unit the units that have ended before it starts, as bits."""
    earlier = [0] * len(process.units)
    for unit in process.in_order:
        for wait in process.before[unit.index]:
            earlier[unit.index] |= earlier[wait.before] | 1 << wait.before
    return earlier


def earliest_ends(process: Process) -> list[int]:
    """For each unit the first slot after its end if hands were without limit."""
    n = len(process.axis)
    ends = [n + 1] * len(process.units)
    for unit in process.in_order:
        low = earliest_start(process, unit, ends)
        best = n + 1
        for mode in unit.modes:
            starts = np.flatnonzero(mode.may_start[low:])
            if len(starts):
                best = min(best, low + int(starts[0]) + mode.slots)
        ends[unit.index] = best
    return ends


def only_units(process: Process, units: set[int]) -> Process:
    """The process cut to some units; what else is to be done only takes room."""
    order = sorted(units)
    place = {old: new for new, old in enumerate(order)}
    waits = tuple(
        replace(
            w,
            before=place[w.before],
            after=place[w.after],
            saver=None if w.saver is None else place[w.saver],
        )
        for w in process.waits
        if w.before in units and w.after in units
    )
    left = [process.units[u] for u in order]
    return replace(
        process,
        keys={unit.id: process.keys[unit.id] for unit in left},
        units=tuple(replace(process.units[u], index=place[u]) for u in order),
        waits=waits,
        loads=tuple(
            replace(
                load,
                demand={place[u]: load.demand[u] for u in order if u in load.demand},
            )
            for load in process.loads
        ),
        aparts=tuple(
            replace(a, maker=place[a.maker], coat=place[a.coat])
            for a in process.aparts
            if a.maker in units and a.coat in units
        ),
        corners=tuple(
            replace(c, one=place[c.one], other=place[c.other])
            for c in process.corners
            if c.one in units and c.other in units
        ),
        promises=tuple(
            replace(p, unit=place[p.unit]) for p in process.promises if p.unit in units
        ),
        choices=tuple(
            replace(c, saver=place[c.saver], unit=place[c.unit])
            for c in process.choices
            if c.unit in units
        ),
        before={n: tuple(w for w in waits if w.after == n) for n in place.values()},
        after={n: tuple(w for w in waits if w.before == n) for n in place.values()},
    )


def earliest_start(process: Process, unit: Unit, ends: Sequence[int]) -> int:
    """The first slot that waits, gates and pins leave, by earliest ends so far."""
    low = unit.release
    if unit.pinned is not None:
        minute = process.axis.minute_of(unit.pinned.start)
        low = max(low, process.axis.slot_from(minute))
    for wait in process.before[unit.index]:
        if wait.saver == wait.before:
            continue  # a rescue that may not be done holds nothing back
        before = ends[wait.before]
        if before > len(process.axis):
            return len(process.axis)
        # A later end may be ready no later: look at every end from here on.
        low = max(low, int(wait.low[before - 1 :].min()))
    return low


def open_needed_min(step: Step, surface: Surface, area_m2: float, hands: int) -> float:
    """Shortest open time in which ``hands`` keep a strip wide enough on that area."""
    pace = wet_edge.pace_min_m2(
        step.apply_min_m2, step.work_min_m2, hands, wet=step.wet
    )
    widest_m = max(share for _, share in surface.sections) * surface.width_m
    strip_m2 = min(wet_edge.NARROWEST_M, widest_m) * surface.height_m
    return pace * min(strip_m2, area_m2) / wet_edge.USED_SHARE


def slots_of(step: Step, area_m2: float, hands: int) -> int:
    """Whole slots a stint takes; at least one."""
    minutes = step.minutes(area_m2, hands)
    return max(1, math.ceil(minutes / SLOT_MIN - 1e-9))


def all_of(mask: Mask, slots: int) -> Mask:
    """For each slot, whether it and the next ``slots - 1`` are all in the mask."""
    n = len(mask)
    if not slots:
        return np.ones(n, dtype=bool)
    sums = np.concatenate([[0], np.cumsum(mask)])
    found = np.zeros(n, dtype=bool)
    if slots <= n:
        found[: n - slots + 1] = sums[slots:] - sums[: n - slots + 1] == slots
    return found


def share_wall(one: Unit, other: Unit) -> bool:
    """Whether two units work on the same surface or section, in part at least."""
    return one.surface.id == other.surface.id and (
        None in (one.section, other.section) or one.section == other.section
    )


def air_meets(one: Room, other: Room) -> bool:
    """Whether two rooms are the same or connected, stated from either side."""
    return one.id == other.id or other.id in one.connected or one.id in other.connected


def surfaces_of(job: Job, wish: DateWish) -> tuple[Surface, ...]:
    """The surfaces a date speaks of."""
    return tuple(
        surface
        for surface in job.surfaces
        if wish.job is not None
        or wish.surface == surface.id
        or wish.room == surface.room
    )


def called(surface: Surface) -> str:
    """A surface as people name it."""
    return surface.name or surface.id


def called_step(surface: Surface, step: Step) -> str:
    """A step on a surface as people name it: "Stair wall, second coat"."""
    return f"{called(surface)}, {step.name or step.id}"


def minutes_text(minutes: float) -> str:
    """A length of time in hours and minutes: "4 h", "6 h 10 min", "25 min"."""
    hours, rest = divmod(round(minutes), 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def date_text(day: date) -> str:
    """A day as people write it on site: "Wed 14 Oct"."""
    return f"{day:%a} {day.day} {day:%b}"


def day_text(moment: datetime, job: Job) -> str:
    """A moment on the site's clock with its day: "Wed 14 Oct 08:10"."""
    local = moment.astimezone(job.site.tz)
    return f"{date_text(local)} {local:%H:%M}"


def dated_text(moment: datetime, job: Job) -> str:
    """The same with its year, where it may be far off: "Tue 1 Jan 2199 08:00"."""
    local = moment.astimezone(job.site.tz)
    return f"{date_text(local)} {local:%Y %H:%M}"
