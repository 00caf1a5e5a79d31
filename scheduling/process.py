"""The process: which stints a job still needs, in which order, after which waits.

Turns a job and the air of its rooms into units (one step on one surface or section) and
edges between them, all in slots of the working axis. The greedy planner, the solver and
the explanation read this; the audit does not.
"""

import hashlib
import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scheduling import wet_edge
from scheduling.clock_tables import ClockTables, clear_stage
from scheduling.plan import Reason
from scheduling.problem import (
    After,
    Coat,
    DateWish,
    Job,
    Material,
    Pin,
    Recipe,
    Room,
    Step,
    Surface,
    wait_of,
)
from scheduling.working_time import (
    SLOT_MIN,
    Axis,
    Ints,
    Mask,
    hand_spans,
    in_spans,
    room_spans,
)

RANKS = {"ceiling": 0, "wall": 1, "panel": 1, "column": 1, "door": 2, "trim": 2}
FLOOR_RANK = 3  # top before bottom: common practice, no source
# Assumed: a wet edge that holds in fewer of the hours than this is nothing to plan on;
# the wall is planned all the same and the plan says so.
OFTEN = 0.25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mode:
    """A number of hands, the slots it takes, and where it may start."""

    hands: int
    slots: int
    may_start: Mask


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
    kind: Literal["work", "rescue"] = "work"
    part: int = 0  # number among the parts of a step that splits, from 1
    pinned: Pin | None = None

    @property
    def rank(self) -> int:
        """Height in the room: smaller is done first."""
        return RANKS.get(self.surface.kind, FLOOR_RANK)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wait:
    """``after`` may start at ``low[l]`` to ``high[l]`` when ``before`` ends in slot l.

    ``test[l]`` asks for a test first. ``stage`` "" is a plain order.
    """

    before: int
    after: int
    stage: str
    low: Ints
    high: Ints
    test: Mask
    code: str = "wait"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Apart:
    """``maker`` keeps off ``coat`` from its start to ``clear[l]``, l its last slot."""

    maker: int
    coat: int
    what: str
    clear: Ints


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
    overdue: tuple[tuple[int, float | None], ...]  # dates already settled, and how late
    impossible: tuple[Reason, ...]
    notes: tuple[str, ...]
    keys: Mapping[str, str]  # a unit's id -> its name for ``rescued``
    before: Mapping[int, tuple[Wait, ...]] = field(default_factory=dict)
    after: Mapping[int, tuple[Wait, ...]] = field(default_factory=dict)

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


@dataclass(frozen=True, slots=True)
class _Part:
    """A step on a surface or section, before it has slots."""

    step: Step
    section: str | None
    area_m2: float
    kind: Literal["work", "rescue"] = "work"
    number: int = 0


def make_process(
    job: Job,
    axis: Axis,
    tables: ClockTables,
    *,
    at: datetime,
    days: int,
    rescued: frozenset[str] = frozenset(),
) -> Process:
    """Units, waits and rules of a job from ``at`` on, ``days`` days ahead.

    ``rescued`` names units whose window is given up: their rescue is planned.
    """
    return _Builder(job, axis, tables, at, days, rescued).build()


class _Builder:
    def __init__(
        self,
        job: Job,
        axis: Axis,
        tables: ClockTables,
        at: datetime,
        days: int,
        rescued: frozenset[str],
    ) -> None:
        self.job, self.axis, self.tables = job, axis, tables
        self.at, self.days, self.rescued = at, days, rescued
        self.materials = {material.id: material for material in job.materials}
        self.hands = tuple(
            HandSlots(
                id=hand.id,
                skills=frozenset(hand.skills),
                there=in_spans(
                    axis.minute, hand_spans(job, hand, axis.origin, at, days)
                ),
            )
            for hand in job.hands
        )
        self.entry = {
            room.id: in_spans(axis.minute, room_spans(job, room, axis.origin, at, days))
            for room in job.rooms
        }
        self.units: list[Unit] = []
        self.waits: list[Wait] = []
        self.impossible: list[Reason] = []
        self.notes: list[str] = []
        self.overdue: list[tuple[int, float | None]] = []
        self.by_place: dict[tuple[str, str], list[Unit]] = {}
        self.keys: dict[str, str] = {}

    def build(self) -> Process:
        for surface in self.job.surfaces:
            self._surface(surface)
        self._name_units()
        self._top_before_bottom()
        aparts = tuple(self._aparts())
        promises = tuple(self._promises())
        before: dict[int, list[Wait]] = {unit.index: [] for unit in self.units}
        after: dict[int, list[Wait]] = {unit.index: [] for unit in self.units}
        for wait in self.waits:
            before[wait.after].append(wait)
            after[wait.before].append(wait)
        process = Process(
            job=self.job,
            axis=self.axis,
            units=tuple(self.units),
            waits=tuple(self.waits),
            aparts=aparts,
            promises=promises,
            hands=self.hands,
            overdue=tuple(self.overdue),
            impossible=tuple(self.impossible),
            notes=tuple(dict.fromkeys(self.notes)),
            keys=self.keys,
            before={unit: tuple(waits) for unit, waits in before.items()},
            after={unit: tuple(waits) for unit, waits in after.items()},
        )
        if not self.impossible:
            self._pins_too_early(process)
            self._windows_never_met(process)
        return replace(process, impossible=tuple(self.impossible))

    # -- units -------------------------------------------------------------------

    def _surface(self, surface: Surface) -> None:
        recipe = self.job.recipe(surface.recipe)
        done = coats_done(self.job, surface, recipe)
        for step in _each_after_its_wait(recipe, self.materials):
            if done.all_of(step):
                continue
            for part in self._parts(surface, step, done):
                self._unit(surface, recipe, part, done)

    def _parts(self, surface: Surface, step: Step, done: "Done") -> Iterable[_Part]:
        """The whole surface; its sections where some are done or it will not fit."""
        whole = _Part(step, None, surface.area_m2)
        sections = surface.sections
        left = [row for row in sections if not done.has(step, row[0])]
        if len(left) < len(sections):
            return [
                _Part(step, section, surface.area_m2 * share) for section, share in left
            ]
        if self._fits_somewhere(surface, whole):
            return [whole]
        if step.splits:
            return self._split(surface, whole)
        if len(sections) == 1:
            return [whole]
        return [
            _Part(step, section, surface.area_m2 * share) for section, share in sections
        ]

    def _split(self, surface: Surface, whole: _Part) -> Iterable[_Part]:
        """Equal parts of a step that splits, as few as fit hours of room and hands."""
        for count in range(2, 200):
            part = replace(whole, area_m2=whole.area_m2 / count)
            if self._fits_somewhere(surface, part):
                return [replace(part, number=n) for n in range(1, count + 1)]
        return [whole]

    def _fits_somewhere(self, surface: Surface, part: _Part) -> bool:
        return any(
            self._hours(surface, part, count).any()
            for count in self._counts(surface, part.step)
        )

    def _counts(self, surface: Surface, step: Step) -> list[int]:
        """Numbers of hands that may do the step and that crew and room allow."""
        most = self.job.room(surface.room).hands_most or len(self.hands)
        return [n for n in step.hands.counts if n <= min(most, len(self.hands))]

    def _hours(self, surface: Surface, part: _Part, count: int) -> Mask:
        """Where ``count`` hands, one with the skill, are there long enough."""
        slots = slots_of(part.step, part.area_m2, count)
        skill = part.step.skill
        there = [all_of(hand.there, slots) for hand in self.hands]
        skilled = [
            mask
            for hand, mask in zip(self.hands, there, strict=True)
            if skill is None or skill in hand.skills
        ]
        enough: Mask = np.sum(there, axis=0) >= count
        one: Mask = np.any(skilled, axis=0) if skilled else np.zeros_like(enough)
        return self._starts(surface, part, slots) & enough & one

    def _starts(self, surface: Surface, part: _Part, slots: int) -> Mask:
        """Where a stint of so many slots may start for the site's and room's hours."""
        axis = self.axis
        n = len(axis)
        if part.step.wet:
            ends = axis.stretch_end
        elif part.step.splits:
            ends = np.full(n, n, dtype=np.int64)
        else:
            ends = axis.day_end
        starts = np.arange(n)
        return (starts + slots <= ends) & all_of(self.entry[surface.room], slots)

    def _unit(
        self, surface: Surface, recipe: Recipe, part: _Part, done: "Done"
    ) -> None:
        step = part.step
        wait = wait_of(recipe, step, self.materials)
        release, due, test_first = self._logged_limits(surface, recipe, part, done)
        befores = [
            earlier
            for earlier in (
                self.by_place.get((surface.id, wait.step), ()) if wait else ()
            )
            if part.section is None or earlier.section in (None, part.section)
        ]
        missed = due < release or self._key(surface, part) in self.rescued
        if wait is not None and step.rescue is not None and missed:
            rescue = self._rescue(surface, recipe, part, wait, befores, release)
            stage = step.rescue.stage or ""
            unit = self._add(surface, part, self._gate_slots(surface), len(self.axis))
            self.waits.append(self._wait(rescue, unit, stage))
        else:
            if due < release:
                text = (
                    f"{called(surface)}, {step.name or step.id}: the window of the "
                    "coat before has closed, and the recipe states no rescue"
                )
                self.impossible.append(Reason(code="window", text=text))
            unit = self._add(surface, part, release, due, test_first=test_first)
            if step.rescue is None:
                self._check_window(unit)
            self.waits += [
                self._wait(earlier, unit, wait.stage) for earlier in befores if wait
            ]
        place = self.by_place.setdefault((surface.id, step.id), [])
        if part.number > 1:
            self.waits.append(self._wait(place[-1], unit, ""))
        place.append(unit)

    def _add(
        self,
        surface: Surface,
        part: _Part,
        release: int,
        due: int,
        *,
        test_first: bool = False,
    ) -> Unit:
        step = part.step
        unit = Unit(
            index=len(self.units),
            id=self._key(surface, part),
            surface=surface,
            step=step,
            material=self.materials[step.material] if step.material else None,
            section=part.section,
            area_m2=part.area_m2,
            modes=(),
            release=release,
            due=due,
            test_first=test_first,
            kind=part.kind,
            part=part.number,
            pinned=self._pin(surface, step) if part.kind == "work" else None,
        )
        unit = replace(unit, modes=self._modes(unit, part))
        if unit.pinned is not None and unit.modes:
            self._check_pin(unit, unit.pinned)
        self.units.append(unit)
        return unit

    @staticmethod
    def _key(surface: Surface, part: _Part) -> str:
        number = str(part.number) if part.number else None
        return "/".join(
            filter(None, (surface.id, part.step.id, part.section, number, part.kind))
        )

    def _rescue(
        self,
        surface: Surface,
        recipe: Recipe,
        part: _Part,
        wait: After,
        befores: Sequence[Unit],
        release: int,
    ) -> Unit:
        """The stint that saves a missed window: a scuff, or the earlier coat again."""
        step = part.step
        assert step.rescue is not None  # noqa: S101 - asked for by the caller
        again = recipe.step(wait.step).material if step.rescue.stage else None
        saving = replace(
            step,
            name=f"rescue before {step.name or step.id}",
            material=again,
            apply_min_m2=step.rescue.min_m2,
            work_min_m2=0.0,
            setup_min=0.0,
            wet=False,
            makes=(),
        )
        rescue = self._add(
            surface,
            replace(part, step=saving, kind="rescue"),
            release,
            len(self.axis),
        )
        n = len(self.axis)
        for earlier in befores:
            waiting = self._wait(earlier, rescue, wait.stage)
            free = np.full(n, n, dtype=np.int64)
            no_test = np.zeros(n, dtype=bool)
            self.waits.append(replace(waiting, high=free, test=no_test))
        return rescue

    def _gate_slots(self, surface: Surface) -> int:
        moments = [self.axis.minute_of(gate.not_before) for gate in surface.gates]
        return max((self.axis.slot_from(moment) for moment in moments), default=0)

    def _wait(self, before: Unit, after: Unit, stage: str) -> Wait:
        n = len(self.axis)
        if stage == "" or before.material is None:
            return Wait(
                before=before.index,
                after=after.index,
                stage="",
                low=np.arange(1, n + 1, dtype=np.int64),
                high=np.full(n, n, dtype=np.int64),
                test=np.zeros(n, dtype=bool),
                code="order",
            )
        gate = self.tables.gate(before.surface, before.material, stage)
        return Wait(
            before=before.index,
            after=after.index,
            stage=stage,
            low=gate.low,
            high=gate.high,
            test=gate.test,
        )

    def _logged_limits(
        self, surface: Surface, recipe: Recipe, part: _Part, done: "Done"
    ) -> tuple[int, int, bool]:
        """First and last slot that gates and logged coats allow; whether to test."""
        axis, n = self.axis, len(self.axis)
        release = max(self._gate_slots(surface), self._clear_slots(surface, part.step))
        due, test = n, False
        wait = wait_of(recipe, part.step, self.materials)
        if wait is None:
            return release, due, test
        before = recipe.step(wait.step)
        for coat in done.coats(before, part.section):
            if wait.stage == "" or before.material is None:
                release = max(release, axis.slot_from(axis.minute_of(coat.end)))
                continue
            material = self.materials[before.material]
            low, high, tested = self.tables.gate_after(
                surface, material, wait.stage, axis.minute_of(coat.end)
            )
            release, due, test = max(release, low), min(due, high), test or tested
        return release, due, test

    def _clear_slots(self, surface: Surface, step: Step) -> int:
        """First slot in which this step meets no logged coat or dust elsewhere."""
        rooms = {room.id: room for room in self.job.rooms}
        clear = self.axis.minute_of(self.at)
        for coat in self.job.coats:
            other = self.job.surface(coat.surface)
            theirs = self._step_of(coat)
            if other.id == surface.id or not air_meets(
                rooms[surface.room], rooms[other.room]
            ):
                continue
            ended = self.axis.minute_of(coat.end)
            if step.material is not None and set(theirs.makes) - set(step.makes):
                clear = max(clear, ended)
            if theirs.material is not None and set(step.makes) - set(theirs.makes):
                material = self.materials[theirs.material]
                stage = clear_stage(material)
                if stage is not None:
                    ended = self.tables.ready_after(other, material, stage, ended)
                clear = max(clear, ended)
        return self.axis.slot_from(clear)

    def _modes(self, unit: Unit, part: _Part) -> tuple[Mode, ...]:
        step, surface = unit.step, unit.surface
        gate = np.ones(len(self.axis), dtype=bool)
        if unit.material is not None:
            gate = self.tables.may_start(surface, unit.material.family)
        skilled = [hand for hand in self.hands if step.skill in (None, *hand.skills)]
        if self.hands and not skilled:
            text = (
                f"{called(surface)}, {step.name or step.id}: needs the skill "
                f"{step.skill}, which no hand has"
            )
            self.impossible.append(Reason(code="hands", text=text))
            return ()
        modes, shortest = [], None
        for count in self._counts(surface, step):
            slots = slots_of(step, part.area_m2, count)
            shortest = slots if shortest is None else min(shortest, slots)
            may_start = self._hours(surface, part, count) & gate
            if may_start.any():
                modes.append(Mode(hands=count, slots=slots, may_start=may_start))
        if modes:
            return self._wet_modes(unit, modes)
        self.impossible.append(self._why_nowhere(unit, part, shortest, gate))
        return ()

    def _wet_modes(self, unit: Unit, modes: Sequence[Mode]) -> tuple[Mode, ...]:
        """Keep, hour by hour, the numbers of hands that hold the wet edge."""
        step, surface = unit.step, unit.surface
        if not step.wet or unit.material is None or "open" not in unit.material.labels:
            return tuple(modes)
        open_min = self.tables.open_min(surface, unit.material)
        kept = []
        for mode in modes:
            needed = open_needed_min(unit, mode.hands)
            holds = mode.may_start & (open_min >= needed)
            if holds.sum() >= OFTEN * mode.may_start.sum():
                kept.append(replace(mode, may_start=holds))
        if kept:
            return tuple(kept)
        self.notes.append(
            f"{called(surface)}, {step.name or step.id}: the open time of "
            f"{unit.material.name or unit.material.id} is mostly too short for a strip "
            f"of {wet_edge.NARROWEST_M:g} m with {step.hands.counts[-1]} at the wall; "
            "planned all the same: add a hand, a slower medium or a stop line"
        )
        return tuple(modes)

    def _why_nowhere(
        self, unit: Unit, part: _Part, slots: int | None, gate: Mask
    ) -> Reason:
        step, surface = unit.step, unit.surface
        name = f"{called(surface)}, {step.name or step.id}"
        most = self.job.room(surface.room).hands_most
        if slots is None and most is not None and most < step.hands.least:
            return Reason(
                code="room",
                text=f"{name}: needs {step.hands.least} hands at once; "
                f"room {surface.room} holds {most}",
            )
        if slots is None:
            return Reason(
                code="hands",
                text=f"{name}: needs {step.hands.least} hands at once; "
                f"the job has {len(self.hands)}",
            )
        hours = self._starts(surface, part, slots)
        time = minutes_text(slots * SLOT_MIN)
        if not hours.any():
            kind = "unbroken stretch" if step.wet else "day's hours"
            best = _longest_run(self.axis, self.entry[surface.room], wet=step.wet)
            return Reason(
                code="hours",
                text=f"{name}: needs {time} in one {kind}; the longest in room "
                f"{surface.room} is {minutes_text(best * SLOT_MIN)}",
            )
        if not (hours & gate).any():
            return Reason(
                code="air",
                text=f"{name}: no coat of {step.material} may start in this air in any "
                f"working hour of the next {self.days} days",
            )
        return Reason(
            code="hands",
            text=f"{name}: needs {step.hands.least} hands"
            + (f", one with the skill {step.skill}," if step.skill else "")
            + f" for {time} at once; they are never there together that long",
        )

    def _pin(self, surface: Surface, step: Step) -> Pin | None:
        """The step's pin, for the first of its parts or sections."""
        if (surface.id, step.id) in self.by_place:
            return None
        for pin in self.job.pins:
            if (pin.surface, pin.step) == (surface.id, step.id):
                if pin.start >= self.at:
                    return pin
                self.notes.append(
                    f"The pin on {called(surface)}, {step.name or step.id}, lies in "
                    "the past and no coat was logged: it is planned anew"
                )
        return None

    def _check_window(self, unit: Unit) -> None:
        """Say so where a logged coat's window shuts before any start is possible."""
        if not unit.modes or not unit.release <= unit.due < len(self.axis):
            return
        inside = slice(unit.release, unit.due + 1)
        if not any(mode.may_start[inside].any() for mode in unit.modes):
            closes = day_text(self.axis.start_of(unit.due), self.job)
            text = (
                f"{called(unit.surface)}, {unit.step.name or unit.step.id}: the window "
                f"of the coat before closes {closes}, and hours, hands or air allow no "
                "start until then; the recipe states no rescue"
            )
            self.impossible.append(Reason(code="window", text=text))

    def _check_pin(self, unit: Unit, pin: Pin) -> None:
        """Say why a pinned stint cannot stand where its pin is, if hours tell."""
        axis, step = self.axis, unit.step
        slot = axis.slot_from(axis.minute_of(pin.start))
        if slot >= len(axis):
            return
        named = [hand for hand in self.hands if hand.id in pin.hands]
        why = None
        if axis.minute[slot] - axis.minute_of(pin.start) >= SLOT_MIN:
            why = "outside the hours of the site and the hands"
        elif named and len(named) not in step.hands.counts:
            least, most = step.hands.counts[0], step.hands.counts[-1]
            needs = f"{least} to {most}" if most > least else f"{least}"
            why = f"with {len(named)} named, and the step takes {needs}"
        elif named and step.skill and not any(step.skill in h.skills for h in named):
            why = f"with nobody who has the skill {step.skill}"
        elif not unit.release <= slot <= unit.due:
            why = "when a gate or a coat already on does not allow it"
        elif not any(mode.may_start[slot : slot + 2].any() for mode in unit.modes):
            why = "where hours, hands or air do not allow a start"
        elif not all(hand.there[slot] for hand in named):
            why = "when a hand named is not there"
        if why is not None:
            self._pin_fails(unit, pin, why)

    def _pin_fails(self, unit: Unit, pin: Pin, why: str) -> None:
        text = (
            f"{called(unit.surface)}, {unit.step.name or unit.step.id}, is pinned to "
            f"{day_text(pin.start, self.job)}, {why}"
        )
        self.impossible.append(Reason(code="pin", text=text))

    def _pins_too_early(self, process: Process) -> None:
        """Pins that the steps before cannot make, were hands without limit."""
        ends = earliest_ends(process)
        for unit in process.units:
            if unit.pinned is None:
                continue
            slot = self.axis.slot_from(self.axis.minute_of(unit.pinned.start))
            for wait in process.before[unit.index]:
                end = ends[wait.before]
                late = end > len(wait.low) or int(wait.low[end - 1 :].min()) > slot
                if slot < len(self.axis) and late:
                    before = process.units[wait.before]
                    why = f"before {before.step.name or before.step.id} can be ready"
                    self._pin_fails(unit, unit.pinned, why)

    def _windows_never_met(self, process: Process) -> None:
        """Windows that shut, whenever the coat ends, before the next can start."""
        n = len(self.axis)
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
                text = (
                    f"{called(after.surface)}, {after.step.name or after.step.id}: the "
                    f"window of {name} shuts before it can start, whenever {name} ends "
                    f"in the next {self.days} days"
                )
                self.impossible.append(Reason(code="window", text=text))

    def _name_units(self) -> None:
        plain = [unit.id.removesuffix("/work").replace("/", "-") for unit in self.units]
        counts = Counter(plain)
        for place, (unit, name) in enumerate(zip(self.units, plain, strict=True)):
            short = name
            if counts[name] > 1 or len(name) > 35:  # room for "-test"
                digest = hashlib.sha256(unit.id.encode()).hexdigest()[:8]
                short = f"{name[:26]}-{digest}"
            self.keys[short] = unit.id
            self.units[place] = replace(unit, id=short)

    # -- rules between units -----------------------------------------------------

    def _top_before_bottom(self) -> None:
        """A lower surface's first coat waits for all work above it in the room.

        Not where a coat is on it already: then somebody has decided otherwise.
        """
        begun = {
            coat.surface
            for coat in self.job.coats
            if self._step_of(coat).material is not None
        }
        has_later = {wait.before for wait in self.waits}
        has_coat_before: set[int] = set()
        for wait in self.waits:  # in recipe order, so ancestors come first
            before = self.units[wait.before]
            if before.material is not None or wait.before in has_coat_before:
                has_coat_before.add(wait.after)
        lasts = [unit for unit in self.units if unit.index not in has_later]
        firsts = [
            unit
            for unit in self.units
            if unit.material is not None
            and unit.index not in has_coat_before
            and unit.surface.id not in begun
        ]
        n = len(self.axis)
        for first in firsts:
            for last in lasts:
                if last.surface.room == first.surface.room and last.rank < first.rank:
                    self.waits.append(
                        Wait(
                            before=last.index,
                            after=first.index,
                            stage="",
                            low=np.arange(1, n + 1, dtype=np.int64),
                            high=np.full(n, n, dtype=np.int64),
                            test=np.zeros(n, dtype=bool),
                            code="order",
                        )
                    )

    def _step_of(self, coat: Coat) -> Step:
        surface = self.job.surface(coat.surface)
        return self.job.recipe(surface.recipe).step(coat.step)

    def _aparts(self) -> Iterable[Apart]:
        rooms = {room.id: room for room in self.job.rooms}
        for maker in self.units:
            for what in maker.step.makes:
                for coat in self.units:
                    if (
                        coat.material is None
                        or coat.index == maker.index
                        or what in coat.step.makes
                        or not air_meets(
                            rooms[maker.surface.room], rooms[coat.surface.room]
                        )
                    ):
                        continue
                    clear = self.tables.clear_after(coat.surface, coat.material)
                    yield Apart(
                        maker=maker.index, coat=coat.index, what=what, clear=clear
                    )

    def _promises(self) -> Iterable[Promise]:
        axis = self.axis
        for number, wish in enumerate(self.job.dates):
            by = axis.minute_of(wish.by)
            settled = 0.0
            open_units = 0
            for surface in surfaces_of(self.job, wish):
                recipe = self.job.recipe(surface.recipe)
                last = recipe.steps[-1]
                units = self.by_place.get((surface.id, last.id), [])
                material = self.materials[last.material] if last.material else None
                stage = wish.stage or wish.promise or ""
                knows = material is not None and material.label_min(stage) is not None
                for coat in coats_done(self.job, surface, recipe).coats(last, None):
                    reached = axis.minute_of(coat.end)
                    if knows and material is not None:
                        reached = self.tables.ready_after(
                            surface, material, stage, reached
                        )
                    settled = max(settled, reached - by)
                for unit in units:
                    open_units += 1
                    ends = (axis.minute + SLOT_MIN).astype(np.float64)
                    if knows and material is not None:
                        ends = self.tables.ready(surface, material, stage)
                    late = np.maximum(ends - by, 0.0)
                    yield Promise(
                        date=number,
                        unit=unit.index,
                        wish=wish,
                        late_min=late,
                    )
            if settled > 0:
                known = settled if math.isfinite(settled) else None
                self.overdue.append((number, known))
                if wish.must and known != 0:
                    what = [called(s) for s in surfaces_of(self.job, wish)]
                    text = (
                        f"{', '.join(what)}: {stage or 'done'} must be reached by "
                        f"{day_text(wish.by, self.job)}, and the coats already on do "
                        "not reach it in this air"
                    )
                    self.impossible.append(Reason(code="date", text=text))


# -- what is done ------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Done:
    """The logged coats of one surface; steps before a logged one count as done."""

    by_step: Mapping[str, tuple[Coat, ...]]
    passed: frozenset[tuple[str, str | None]]  # step and section, None is all of it
    sections: tuple[str, ...]

    def has(self, step: Step, section: str | None) -> bool:
        """Whether this step is done on a section, or on the whole for None."""
        done = {coat.section for coat in self.by_step.get(step.id, ())}
        done |= {name for passed, name in self.passed if passed == step.id}
        if None in done:
            return True
        return section in done if section else done >= set(self.sections)

    def all_of(self, step: Step) -> bool:
        """Whether nothing of this step is left."""
        return self.has(step, None)

    def coats(self, step: Step, section: str | None) -> tuple[Coat, ...]:
        """The coats of a step that a later stint on ``section`` lies on."""
        return tuple(
            coat
            for coat in self.by_step.get(step.id, ())
            if section is None or coat.section in (None, section)
        )


def coats_done(job: Job, surface: Surface, recipe: Recipe) -> Done:
    """What the log says of one surface."""
    materials = {material.id: material for material in job.materials}
    by_step: dict[str, list[Coat]] = {}
    for coat in job.coats:
        if coat.surface == surface.id:
            by_step.setdefault(coat.step, []).append(coat)
    passed: set[tuple[str, str | None]] = set()
    for step_id, coats in by_step.items():
        wait = wait_of(recipe, recipe.step(step_id), materials)
        while wait is not None:
            passed |= {(wait.step, coat.section) for coat in coats}
            wait = wait_of(recipe, recipe.step(wait.step), materials)
    return Done(
        {step: tuple(coats) for step, coats in by_step.items()},
        frozenset(passed),
        tuple(section for section, _ in surface.sections),
    )


def _each_after_its_wait(
    recipe: Recipe, materials: Mapping[str, Material]
) -> Iterable[Step]:
    """The steps in the recipe's order, but none before the step it waits for."""
    left, given = list(recipe.steps), {""}
    while left:
        for step in left:
            wait = wait_of(recipe, step, materials)
            if wait is None or wait.step in given:
                break
        yield step
        given.add(step.id)
        left.remove(step)


def earliest_ends(process: Process) -> list[int]:
    """For each unit the first slot after its end if hands were without limit."""
    n = len(process.axis)
    ends = [n + 1] * len(process.units)
    for unit in process.in_order:
        low = unit.release
        if unit.pinned is not None:
            minute = process.axis.minute_of(unit.pinned.start)
            low = max(low, process.axis.slot_from(minute))
        for wait in process.before[unit.index]:
            before = ends[wait.before]
            if before > n:
                low = n
                break
            # A later end may be ready no later: look at every end from here on.
            low = max(low, int(wait.low[before - 1 :].min()))
        best = n + 1
        for mode in unit.modes:
            starts = np.flatnonzero(mode.may_start[low:])
            if len(starts):
                best = min(best, low + int(starts[0]) + mode.slots)
        ends[unit.index] = best
    return ends


# -- small questions -----------------------------------------------------------------


def open_needed_min(unit: Unit, hands: int) -> float:
    """Shortest open time in which ``hands`` keep a strip wide enough on this unit."""
    step, surface = unit.step, unit.surface
    pace = wet_edge.pace_min_m2(
        step.apply_min_m2, step.work_min_m2, hands, wet=step.wet
    )
    widest_m = max(share for _, share in surface.sections) * surface.width_m
    strip_m2 = min(wet_edge.NARROWEST_M, widest_m) * surface.height_m
    return pace * min(strip_m2, unit.area_m2) / wet_edge.USED_SHARE


def slots_of(step: Step, area_m2: float, hands: int) -> int:
    """Whole slots a stint takes; at least one."""
    minutes = step.minutes(area_m2, hands)
    return max(1, math.ceil(minutes / SLOT_MIN - 1e-9))


def all_of(mask: Mask, slots: int) -> Mask:
    """For each slot, whether it and the next ``slots - 1`` are all in the mask."""
    n = len(mask)
    sums = np.concatenate([[0], np.cumsum(mask)])
    found = np.zeros(n, dtype=bool)
    if slots <= n:
        found[: n - slots + 1] = sums[slots:] - sums[: n - slots + 1] == slots
    return found


def _longest_run(axis: Axis, entry: Mask, *, wet: bool) -> int:
    ends = axis.stretch_end if wet else axis.day_end
    best = run = 0
    for slot in range(len(axis)):
        run = run + 1 if entry[slot] else 0
        best = max(best, run)
        if slot + 1 >= ends[slot]:
            run = 0
    return best


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


def minutes_text(minutes: float) -> str:
    """A length of time in hours and minutes: "4 h", "6 h 10 min", "25 min"."""
    hours, rest = divmod(round(minutes), 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def day_text(moment: datetime, job: Job) -> str:
    """A moment on the site's clock with its day: "Wed 14 Oct 08:10"."""
    local = moment.astimezone(job.site.tz)
    return f"{local:%a} {local.day} {local:%b %H:%M}"
