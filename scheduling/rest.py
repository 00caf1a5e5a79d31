"""Some units of a plan planned again while the others stand: the same rules, fewer.

What stands binds the rest by its waits and windows, its hands and loads, its walls,
its dust and its open coats. The exact model so plans the end of a big job again, or
the few stints that a change touches.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from scheduling.placing import Placed, Placing
from scheduling.process import (
    Load,
    Mode,
    Process,
    Unit,
    Wait,
    ancestors,
    share_wall,
)
from scheduling.working_time import Ints, Mask

Allowed = Callable[[int], Mask]  # by slots worked: the starts that are allowed


@dataclass(frozen=True, slots=True)
class Rest:
    """A process of the units that are left; ``units[k]`` is what its unit k was."""

    process: Process
    units: tuple[int, ...]

    def own(self, placing: Placing) -> Placing:
        """A plan of the whole cut to the units that are left."""
        return {
            k: placing[unit] for k, unit in enumerate(self.units) if unit in placing
        }

    def joined(self, whole: Placing, placing: Placing) -> Placing:
        """A plan of the whole with what is left as it was planned again."""
        return {**whole, **{self.units[k]: placed for k, placed in placing.items()}}


def cuts(process: Process, placing: Placing) -> list[int]:
    """Slots at which a stretch begins and no stint is under way, in order."""
    under_way = np.zeros(len(process.axis) + 1, dtype=bool)
    for placed in placing.values():
        under_way[placed.start + 1 : placed.end] = True
    return [
        int(end)
        for end in np.unique(process.axis.stretch_end)
        if end < len(process.axis) and not under_way[end]
    ]


def rest_from(process: Process, placing: Placing, begin: int) -> Rest:
    """The units that start at a cut or later, none of them to start before it."""
    left = [u.index for u in process.units if placing[u.index].start >= begin]
    return rest_of(process, placing, left, begin=begin)


def rest_of(
    process: Process, placing: Placing, left: Collection[int], *, begin: int = 0
) -> Rest:
    """The process of the units ``left``, none to start before ``begin``.

    All others stand where ``placing`` has them. The process must offer no choices.
    """
    order = sorted(left)
    new = {old: number for number, old in enumerate(order)}
    standing = {unit: placed for unit, placed in placing.items() if unit not in new}
    bound = _Bound(process, standing, begin)
    waits = tuple(
        replace(wait, before=new[wait.before], after=new[wait.after])
        for wait in process.waits
        if wait.before in new and wait.after in new
    )
    before: dict[int, list[Wait]] = {number: [] for number in new.values()}
    after: dict[int, list[Wait]] = {number: [] for number in new.values()}
    for wait in waits:
        before[wait.after].append(wait)
        after[wait.before].append(wait)
    rest = replace(
        process,
        units=tuple(bound.unit(process.units[old], new[old]) for old in order),
        waits=waits,
        aparts=tuple(
            replace(apart, maker=new[apart.maker], coat=new[apart.coat])
            for apart in process.aparts
            if apart.maker in new and apart.coat in new
        ),
        corners=tuple(
            replace(corner, one=new[corner.one], other=new[corner.other])
            for corner in process.corners
            if corner.one in new and corner.other in new
        ),
        promises=tuple(
            replace(promise, unit=new[promise.unit])
            for promise in process.promises
            if promise.unit in new
        ),
        hands=tuple(
            replace(hand, there=hand.there & ~bound.busy[number])
            for number, hand in enumerate(process.hands)
        ),
        loads=tuple(_left_of(load, standing, new, process) for load in process.loads),
        before={number: tuple(row) for number, row in before.items()},
        after={number: tuple(row) for number, row in after.items()},
    )
    return Rest(rest, tuple(order))


def _left_of(
    load: Load, standing: Placing, new: Mapping[int, int], process: Process
) -> Load:
    taken = np.zeros(len(process.axis), dtype=np.int64) + load.taken
    for unit, row in load.demand.items():
        if unit in standing:
            placed = standing[unit]
            taken[placed.start : placed.end] += row[len(placed.hands)]
    demand = {new[unit]: row for unit, row in load.demand.items() if unit in new}
    return replace(load, demand=demand, taken=taken)


class _Bound:
    """What the stints that stand leave to the others."""

    def __init__(self, process: Process, standing: Placing, begin: int) -> None:
        self.process, self.standing, self.begin = process, standing, begin
        self.n = len(process.axis)
        self.earlier = ancestors(process)
        self.busy = np.zeros((len(process.hands), self.n), dtype=bool)
        self.on: dict[str, list[int]] = {}
        for unit, placed in standing.items():
            self.on.setdefault(process.units[unit].surface.id, []).append(unit)
            for hand in placed.hands:
                self.busy[hand, placed.start : placed.end] = True
        self.makers: dict[int, list[tuple[Placed, Ints, Ints]]] = {}
        self.coats: dict[int, list[tuple[Placed, Ints, Ints]]] = {}
        for apart in process.aparts:
            row = apart.clear, apart.settled
            if apart.maker in standing:
                self.makers.setdefault(apart.coat, []).append(
                    (standing[apart.maker], *row)
                )
            if apart.coat in standing:
                self.coats.setdefault(apart.maker, []).append(
                    (standing[apart.coat], *row)
                )
        # Beside each unit the walls that stand: when they, and it, are dry to touch.
        self.corners: dict[int, list[tuple[Placed, Ints, Ints]]] = {}
        for corner in process.corners:
            one, other = corner.one, corner.other
            if one in standing:
                beside = standing[one], corner.dry_one, corner.dry_other
                self.corners.setdefault(other, []).append(beside)
            if other in standing:
                beside = standing[other], corner.dry_other, corner.dry_one
                self.corners.setdefault(one, []).append(beside)

    def unit(self, unit: Unit, index: int) -> Unit:
        """The unit with the starts, ends and tests that are left to it."""
        low, high, test = max(unit.release, self.begin), unit.due, unit.test_first
        for wait in self.process.before[unit.index]:
            placed = self.standing.get(wait.before)
            if placed is None:
                continue
            if not wait.stage:
                low = max(low, placed.end)
                continue
            low = max(low, int(wait.low[placed.last]))
            high = min(high, int(wait.high[placed.last]))
            test = test or bool(wait.test[placed.last])
        ends = self._ends(unit)
        free = self._free(unit)
        allowed = [self._starts(unit, mode, ends, free) for mode in unit.modes]
        return replace(
            unit,
            index=index,
            release=low,
            due=high,
            test_first=test,
            testable=unit.testable & free & self._test_slots(unit),
            modes=tuple(
                replace(mode, may_start=mode.may_start & starts)
                for mode, starts in zip(unit.modes, allowed, strict=True)
            ),
        )

    def _ends(self, unit: Unit) -> Mask:
        """The last slots with which what stands and waits for the unit is content."""
        slots = np.arange(self.n)
        ends = np.ones(self.n, dtype=bool)
        for wait in self.process.after[unit.index]:
            placed = self.standing.get(wait.after)
            if placed is None:
                continue
            if not wait.stage:
                ends &= slots < placed.start
                continue
            ends &= wait.low <= placed.start
            ends &= wait.high >= placed.work_start
            if not placed.test:
                ends &= ~wait.test
        return ends

    def _free(self, unit: Unit) -> Mask:
        """The slots in which nobody else is at the wall or its section."""
        free = np.ones(self.n, dtype=bool)
        for other in self.on.get(unit.surface.id, ()):
            ordered = self.earlier[unit.index] >> other & 1
            ordered |= self.earlier[other] >> unit.index & 1
            if not ordered and share_wall(unit, self.process.units[other]):
                placed = self.standing[other]
                free[placed.start : placed.end] = False
        return free

    def _starts(self, unit: Unit, mode: Mode, ends: Mask, free: Mask) -> Mask:
        """The slots in which so many hands may begin the work."""
        starts = np.zeros(self.n, dtype=bool)
        begins = np.arange(max(0, min(self.n - mode.slots + 1, self.n)))
        if not mode.slots:  # a moment ends in the slot before it
            begins = begins[1:]
        last = begins + mode.slots - 1
        taken = np.concatenate([[0], np.cumsum(~free)])
        good = ends[last] & (taken[begins + mode.slots] == taken[begins])
        for maker, clear, settled in self.makers.get(unit.index, ()):
            good &= (begins >= settled[maker.last]) | (clear[last] <= maker.start)
        for coat, clear, settled in self.coats.get(unit.index, ()):
            good &= (settled[last] <= coat.start) | (begins >= clear[coat.last])
        for beside, dry, own in self.corners.get(unit.index, ()):
            good &= (begins >= dry[beside.last]) | (own[last] <= beside.start)
        starts[begins[good]] = True
        return starts

    def _test_slots(self, unit: Unit) -> Mask:
        """The slots in which what stands lets a test be made before the work."""
        slots = np.arange(self.n)
        good = np.ones(self.n, dtype=bool)
        for maker, _, settled in self.makers.get(unit.index, ()):
            good &= (slots >= settled[maker.last]) | (slots < maker.start)
        for coat, clear, _ in self.coats.get(unit.index, ()):
            good &= (slots < coat.start) | (slots >= clear[coat.last])
        for beside, dry, _ in self.corners.get(unit.index, ()):
            good &= (slots < beside.start) | (slots >= dry[beside.last])
        return good
