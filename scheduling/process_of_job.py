"""Makes the process of a job: units step by step, then the rules that bind them."""

import hashlib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Literal

from scheduling.bans import kept_off
from scheduling.clock_tables import ClockTables
from scheduling.done import Done, coats_done
from scheduling.ground import laid_on
from scheduling.leads import Leads, leads_of
from scheduling.modes import modes_of, too_short_text, wet_modes
from scheduling.openings import Openings, openings_of
from scheduling.parts import Part, parts_of, steps_left
from scheduling.pins import pins_on, pins_too_early, why_not_there
from scheduling.plan import Reason
from scheduling.problem import After, Job, Pin, Recipe, wait_of
from scheduling.process import (
    Choice,
    Process,
    Unit,
    Wait,
    called_step,
    dated_text,
    day_text,
)
from scheduling.rules import (
    Limits,
    barred_for_ever,
    before_opening,
    gate_slot,
    kept_apart,
    late_already,
    logged_limits,
    must_be_missed,
    plain_order,
    promises_of,
    room_heads,
    tacky_at_opening,
    top_before_bottom,
    wait_between,
    wet_corners,
    window_shut,
    windows_never_met,
    without_window,
)
from scheduling.working_time import Axis

NAME_MOST = 35  # letters of a unit's name, so that "-test" fits an id of 40


def make_process(
    job: Job,
    axis: Axis,
    tables: ClockTables,
    *,
    at: datetime,
    days: int,
    rescued: frozenset[str] = frozenset(),
    offered: bool = False,
) -> Process:
    """Units, waits and rules of a job from ``at`` on, ``days`` days ahead.

    ``rescued`` names units whose window is given up: their rescue is planned. With
    ``offered`` it is left open for each window that a rescue could save whether it is.
    """
    openings = openings_of(job, axis, tables, at=at, days=days)
    leads = leads_of(openings)
    draft = _Draft(openings, tables, rescued, leads, offered)
    draft.notes += draft.leads.notes
    draft.notes += tacky_at_opening(openings, tables)
    for surface in job.surfaces:
        recipe = job.recipe(surface.recipe)
        done = coats_done(job, surface, recipe)
        for step in steps_left(openings, recipe, done):
            for part in parts_of(openings, surface, step, done):
                draft.plan_part(recipe, part, done)
    names = _names(draft.units)
    units = tuple(
        replace(unit, id=name) for unit, name in zip(draft.units, names, strict=True)
    )
    waits = (*draft.waits, *top_before_bottom(axis, units, draft.waits))
    overdue = tuple(late_already(openings, tables))
    missed = [
        must_be_missed(job, job.dates[date])
        for date, _ in overdue
        if job.dates[date].must
    ]
    process = Process(
        job=job,
        axis=axis,
        units=units,
        waits=waits,
        aparts=tuple(kept_apart(job, tables, units)),
        promises=tuple(promises_of(openings, tables, draft.places)),
        hands=openings.hands,
        loads=tuple(room_heads(job, units)),
        overdue=overdue,
        impossible=(*draft.impossible, *missed),
        notes=tuple(dict.fromkeys(draft.notes)),
        keys=dict(zip(names, (unit.id for unit in draft.units), strict=True)),
        before=_by_unit(units, waits, "after"),
        after=_by_unit(units, waits, "before"),
        choices=tuple(draft.choices),
        corners=tuple(wet_corners(job, tables, units)),
    )
    if process.impossible:
        return process
    never = (
        *pins_too_early(process),
        *windows_never_met(process, days),
        *barred_for_ever(process),
    )
    return replace(process, impossible=never)


@dataclass(slots=True)
class _Draft:
    """Units and the waits of their recipes so far, and what there is to say of them."""

    openings: Openings
    tables: ClockTables
    rescued: frozenset[str]
    leads: Leads
    offered: bool = False
    choices: list[Choice] = field(default_factory=list)
    units: list[Unit] = field(default_factory=list)
    waits: list[Wait] = field(default_factory=list)
    places: dict[tuple[str, str], list[Unit]] = field(default_factory=dict)
    impossible: list[Reason] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def plan_part(self, recipe: Recipe, part: Part, done: Done) -> None:
        """Add a part's unit behind what it waits for, its rescue before it if need be.

        A step's parts come one after the other.
        """
        wait = wait_of(recipe, part.step, self.openings.materials)
        limits = logged_limits(self.openings, self.tables, recipe, part, done)
        place = self.places.setdefault((part.surface.id, part.step.id), [])
        closed = limits.due < limits.release
        given_up = part.key in self.rescued and not self.offered
        missed = closed or given_up
        chosen = None
        if wait is not None and part.step.rescue is not None and not missed:
            chosen = self._with_choice(recipe, part, wait, limits)
        if chosen is not None:
            unit = chosen
        elif wait is not None and part.step.rescue is not None and missed:
            unit = self._after_rescue(recipe, part, wait, limits)
        else:
            if closed:
                self.impossible.append(_window_closed(self.openings, part, limits))
            unit = self._add(part, limits)
            shut = window_shut(self.openings, unit)
            if shut is not None and part.step.rescue is None:
                self.impossible.append(shut)
            if wait is not None:
                for earlier in self._under(part, wait):
                    self._wait(earlier, unit, wait.stage)
        if part.number > 1:
            self.waits.append(plain_order(self._axis, place[-1], unit))
        place.append(unit)

    @property
    def _axis(self) -> Axis:
        return self.openings.axis

    def _under(self, part: Part, wait: After) -> Sequence[Unit]:
        """The planned units of the step before that a part lies on."""
        return [
            earlier
            for earlier in self.places.get((part.surface.id, wait.step), ())
            if part.section is None or earlier.section in (None, part.section)
        ]

    def _wait(
        self,
        before: Unit,
        after: Unit,
        stage: str,
        *,
        saver: int | None = None,
        saved: bool = False,
    ) -> Wait:
        wait = wait_between(self._axis, self.tables, before, after, stage)
        wait = before_opening(self.openings, before, after, wait)
        self.waits.append(replace(wait, saver=saver, saved=saved))
        return wait

    def _after_rescue(
        self, recipe: Recipe, part: Part, wait: After, limits: Limits
    ) -> Unit:
        """The part behind what saves its window: a scuff, or the earlier coat again."""
        assert part.step.rescue is not None  # noqa: S101 - asked by the caller
        saver = self._saver(recipe, part, wait, limits)
        gates = gate_slot(self._axis, part.surface)
        unit = self._add(part, Limits(release=gates, due=len(self._axis)))
        self._wait(saver, unit, part.step.rescue.stage or "")
        return unit

    def _saver(
        self,
        recipe: Recipe,
        part: Part,
        wait: After,
        limits: Limits,
        *,
        optional: bool = False,
    ) -> Unit:
        """The rescue before a part, behind the coats whose window is given up."""
        step, rescue, n = part.step, part.step.rescue, len(self._axis)
        assert rescue is not None  # noqa: S101 - asked by the caller
        saving = replace(
            step,
            name=f"rescue before {step.name or step.id}",
            material=recipe.step(wait.step).material if rescue.stage else None,
            apply_min_m2=rescue.min_m2,
            work_min_m2=0.0,
            setup_min=0.0,
            wet=False,
            makes=(),
            coat=recipe.step(wait.step).coat,
            prefers=None,
        )
        saver = self._add(
            replace(part, step=saving, kind="rescue"),
            replace(limits, due=n, test_first=False),
            shuts=limits.due if limits.due < n else None,
        )
        number = saver.index if optional else None
        for earlier in self._under(part, wait):
            window = wait_between(self._axis, self.tables, earlier, saver, wait.stage)
            untested = without_window(self._axis, window)
            waiting = before_opening(self.openings, earlier, saver, untested)
            missed = window.high if (window.high < n).any() else None
            self.waits.append(
                replace(waiting, saver=number, saved=optional, missed=missed)
            )
        return saver

    def _with_choice(
        self, recipe: Recipe, part: Part, wait: After, limits: Limits
    ) -> Unit | None:
        """The part with a rescue before it that may be done or not.

        None where nothing is offered, no window can shut, or nobody could do it.
        """
        n, rescue = len(self._axis), part.step.rescue
        assert rescue is not None  # noqa: S101 - asked by the caller
        if not self.offered or part.number or limits.test_first:
            return None
        units, waits = len(self.units), len(self.waits)
        faults, notes = len(self.impossible), len(self.notes)
        saver = self._saver(recipe, part, wait, limits, optional=True)
        shuts = any(row.missed is not None for row in self.waits[waits:])
        if len(self.impossible) > faults or not (shuts or limits.due < n):
            del self.units[units:], self.waits[waits:]
            del self.impossible[faults:], self.notes[notes:]
            return None
        unit = self._add(part, replace(limits, due=n))
        for earlier in self._under(part, wait):
            self._wait(earlier, unit, wait.stage, saver=saver.index)
        stage = rescue.stage or ""
        self._wait(saver, unit, stage, saver=saver.index, saved=True)
        self.choices.append(Choice(saver=saver.index, unit=unit.index, due=limits.due))
        return unit

    def _add(self, part: Part, limits: Limits, *, shuts: int | None = None) -> Unit:
        material = part.step.material
        unit = Unit(
            index=len(self.units),
            id=part.key,
            surface=part.surface,
            step=part.step,
            material=self.openings.materials[material] if material else None,
            section=part.section,
            area_m2=part.area_m2,
            modes=(),
            release=limits.release,
            due=limits.due,
            test_first=limits.test_first,
            laid=laid_on(self.openings.job, part.surface, part.step),
            testable=self.openings.testable(part.surface),
            kind=part.kind,
            part=part.number,
            pinned=self._pin(part) if part.kind == "work" else None,
            kept_off=self._kept_off(part) if part.kind == "work" else frozenset(),
            logged=limits.logged,
            shuts=shuts,
        )
        if part.kind == "work" and not (unit.pinned and unit.pinned.hands):
            unit = replace(unit, lead=self.leads.of(part.surface, part.step))
        modes = modes_of(self.openings, self.tables, unit)
        if isinstance(modes, Reason):
            self.impossible.append(modes)
        else:
            wet = wet_modes(self.tables, unit, modes)
            if not wet:
                self.notes.append(too_short_text(unit))
            unit = replace(unit, modes=wet or modes)
        fails = why_not_there(self.openings, unit)
        if fails is not None:
            self.impossible.append(fails)
        self.units.append(unit)
        return unit

    def _kept_off(self, part: Part) -> frozenset[str]:
        return kept_off(self.openings.job, part.surface, part.step, part.section)

    def _pin(self, part: Part) -> Pin | None:
        """The section's pin, or the step's for the first of its parts or sections."""
        if part.number > 1:
            return None
        job, surface, step = self.openings.job, part.surface, part.step
        first = not self.places.get((surface.id, step.id))
        for pin in pins_on(job, surface, step, part.section, first=first):
            if pin.start >= self.openings.at:
                return pin
            self.notes.append(
                f"The pin on {called_step(part.surface, part.step)}, lies in the past "
                "and no coat was logged: it is planned anew"
            )
        return None


def _by_unit(
    units: Sequence[Unit], waits: Sequence[Wait], end: Literal["before", "after"]
) -> Mapping[int, tuple[Wait, ...]]:
    """For each unit the waits that have it at this end."""
    rows: dict[int, list[Wait]] = {unit.index: [] for unit in units}
    for wait in waits:
        rows[getattr(wait, end)].append(wait)
    return {unit: tuple(found) for unit, found in rows.items()}


def _window_closed(openings: Openings, part: Part, limits: Limits) -> Reason:
    """What keeps a step past the window of a coat already on."""
    axis, name = openings.axis, called_step(part.surface, part.step)
    opened = part.surface.opened_by
    gates = gate_slot(axis, part.surface)
    if opened is None or limits.due < 0 or limits.release > gates:
        text = (
            f"{name}: the window of the coat before has closed, and the recipe states "
            "no rescue"
        )
        return Reason(code="window", text=text)
    gate, moment = opened
    closes = day_text(axis.start_of(limits.due), openings.job)
    text = (
        f"{name}: not before {gate}, {dated_text(moment, openings.job)}, but the "
        f"window of the coat before closes {closes}, and the recipe states no rescue"
    )
    return Reason(code="gate", text=text)


def _names(units: Sequence[Unit]) -> list[str]:
    """Short names for the units' keys, a digest in those too long or not alone."""
    plain = [unit.id.removesuffix("/work").replace("/", "-") for unit in units]
    counts = Counter(plain)
    names = []
    for unit, name in zip(units, plain, strict=True):
        short = name
        if counts[name] > 1 or len(name) > NAME_MOST:
            digest = hashlib.sha256(unit.id.encode()).hexdigest()[:8]
            short = f"{name[:26]}-{digest}"
        names.append(short)
    return names
