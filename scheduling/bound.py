"""How early a job could end at best: finishes refuted by the hands there are.

For a given finish the latest starts follow exactly from the wait tables. A finish is
refuted where, between some two slots, the work that cannot lie elsewhere takes more
hands than are there (energetic reasoning, after Baptiste, Le Pape & Nuijten 1999). Any
plan that ends by then keeps its earliest and latest starts, so what is refuted holds
for every plan. Tests, dust and people's names are left out: that only weakens it.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scheduling.placing import bits_of
from scheduling.process import Process, Unit, Wait
from scheduling.working_time import Ints

SWEEPS = 4  # over all waits; stopping sooner than nothing moves only weakens the bound


@dataclass(frozen=True, slots=True)
class Spans:
    """By unit: first slot it can start in, slot after its last it can end in."""

    start: tuple[int, ...]
    end: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Load:
    """Work that needs ``hands`` for ``slots`` of one crew, room or skill."""

    units: Ints
    hands: Ints
    slots: Ints
    there: Ints  # hands there before each slot, summed up
    least: int  # windows shorter than this prove nothing
    inset: Ints  # slots that a unit's piece lies inside the unit's own span


class Bounder:
    """Earliest starts once, latest starts and refutation for each finish."""

    def __init__(self, process: Process) -> None:
        self.process = process
        self.n = len(process.axis)
        self.starts = [
            [(bits_of(mode.may_start), mode.slots) for mode in unit.modes]
            for unit in process.units
        ]
        self.order = process.in_order
        self._tables: dict[tuple[int, str], memoryview] = {}
        self.first = self._earliest()
        self.loads = self._loads()

    # -- earliest and latest -------------------------------------------------------

    def _earliest(self) -> tuple[int, ...] | None:
        """Earliest starts, hands without limit; None where a unit has none."""
        first = [self._pinned(unit, unit.release) for unit in self.process.units]
        for _ in range(SWEEPS):
            before = list(first)
            for unit in self.order:
                low = first[unit.index]
                for wait in self.process.before[unit.index]:
                    end = self._earliest_end(wait.before, first[wait.before])
                    low = max(low, self._low_from(wait, end - 1))
                found = self._start_from(unit.index, low)
                if found is None:
                    return None
                first[unit.index] = found
            for wait in self.process.waits:  # too early an end misses its window
                if wait.stage == "":
                    continue
                after = first[wait.after]
                last = bisect_left(self._table(wait, "highest"), after)
                longest = max(slots for _, slots in self.starts[wait.before])
                first[wait.before] = max(first[wait.before], last + 1 - longest)
            if first == before:
                break
        return tuple(first)

    def spans(self, finish: int, due: Mapping[int, int] | None = None) -> Spans | None:
        """Where each unit lies in any plan that ends by ``finish``; None: nowhere.

        ``due``: slots after the last in which some units may end, for dates' sake.
        """
        if self.first is None:
            return None
        n = self.n
        last = [n] * len(self.process.units)  # latest start of the work itself
        ends = [min(finish, n)] * len(last)
        for index, latest in (due or {}).items():
            ends[index] = min(ends[index], latest)
        for _ in range(SWEEPS):
            before = list(last)
            for unit in reversed(self.order):
                index = unit.index
                end = ends[index]
                for wait in self.process.after[index]:
                    end = min(end, self._last_for(wait, last[wait.after]) + 1)
                ends[index] = end
                last[index] = self._start_until(unit, end, last[index])
                if last[index] < self.first[index]:
                    return None
            for wait in self.process.waits:  # the second of a window, by the first
                if wait.stage == "":
                    continue
                cap = self._table(wait, "highest")[ends[wait.before] - 1]
                last[wait.after] = min(last[wait.after], cap)
            if last == before:
                break
        found = []
        for unit in self.process.units:
            end_at = self._end_until(unit, ends[unit.index], last[unit.index])
            if end_at is None:
                return None
            found.append(end_at)
        return Spans(self.first, tuple(found))

    def latest_starts(
        self, finish: int, due: Mapping[int, int] | None = None
    ) -> tuple[int, ...] | None:
        """The latest start of each unit in any plan that ends by ``finish``."""
        spans = self.spans(finish, due)
        if spans is None:
            return None
        return tuple(
            end - min(slots for _, slots in ways)
            for end, ways in zip(spans.end, self.starts, strict=True)
        )

    def _pinned(self, unit: Unit, low: int) -> int:
        if unit.pinned is None:
            return low
        minute = self.process.axis.minute_of(unit.pinned.start)
        return max(low, self.process.axis.slot_from(minute))

    def _earliest_end(self, unit: int, start: int) -> int:
        """The earliest end from a start on; beyond the axis where there is none."""
        best = self.n + 1
        for starts, slots in self.starts[unit]:
            found = starts >> start << start
            if found:
                best = min(best, (found & -found).bit_length() - 1 + slots)
        return best

    def _start_from(self, unit: int, low: int) -> int | None:
        if low >= self.n:
            return None
        any_way = 0
        for starts, _ in self.starts[unit]:
            any_way |= starts >> low
        return low + (any_way & -any_way).bit_length() - 1 if any_way else None

    def _start_until(self, unit: Unit, end: int, last: int) -> int:
        """The latest start of the work up to ``last`` that ends by ``end``; or -1."""
        best = -1
        for starts, slots in self.starts[unit.index]:
            limit = min(end - slots, last, unit.due)
            if limit >= 0:
                best = max(best, (starts & (2 << limit) - 1).bit_length() - 1)
        if unit.pinned is not None:  # the test, if there is one, comes at the pin
            best = min(best, self._pinned(unit, 0) + 1)
        return best

    def _end_until(self, unit: Unit, end: int, last: int) -> int | None:
        """The latest end that any way of doing the unit has by ``end``."""
        best = None
        for starts, slots in self.starts[unit.index]:
            limit = min(end - slots, last, unit.due)
            if limit < 0:
                continue
            found = (starts & (2 << limit) - 1).bit_length() - 1
            if found >= 0 and (best is None or found + slots > best):
                best = found + slots
        return best

    def _table(self, wait: Wait, what: str) -> memoryview:
        """``lowest``: least low from each slot on; ``highest``: most high up to it."""
        table = wait.low if what == "lowest" else wait.high
        key = (id(table), what)
        if key not in self._tables:
            if what == "lowest":
                made = np.minimum.accumulate(table[::-1])[::-1]
            else:
                made = np.maximum.accumulate(table)
            small: Any = made.astype(np.int32)  # numbers in a list take ten times it
            self._tables[key] = memoryview(small)
        return self._tables[key]

    def _low_from(self, wait: Wait, last: int) -> int:
        """The first slot open after an end in slot ``last`` or any later one."""
        if last >= self.n:
            return self.n
        return last + 1 if wait.stage == "" else self._table(wait, "lowest")[last]

    def _last_for(self, wait: Wait, start: int) -> int:
        """The last slot to end in so that what waits can start by ``start``."""
        if wait.stage == "":
            return start - 1
        return bisect_right(self._table(wait, "lowest"), start) - 1

    # -- refuting --------------------------------------------------------------------

    def _loads(self) -> list[_Load]:
        """The whole crew, each skill's people, and what rooms and other loads hold."""
        process = self.process
        loads = [self._crew_load(process.units, self._present(None))]
        skills = {u.step.skill for u in process.units if u.step.skill is not None}
        for skill in sorted(skills):
            units = [u for u in process.units if u.step.skill == skill]
            shortest = [min(m.slots for m in u.modes) for u in units if u.modes]
            if len(shortest) == len(units):
                ones = np.ones(len(units), dtype=np.int64)
                there = self._present(skill)
                none = np.zeros(len(units), dtype=np.int64)
                slots = np.array(shortest)
                loads.append(_Load(_indices(units), ones, slots, there, 1, none))
        for load in process.loads:
            units = [process.units[index] for index in load.demand]
            if units:
                free = np.full(self.n, load.most, dtype=np.int64) - load.taken
                places = np.concatenate([[0], np.cumsum(np.maximum(free, 0))])
                loads.append(self._crew_load(units, places, load.demand))
        return loads

    def _present(self, skill: str | None) -> Ints:
        there = np.zeros(self.n, dtype=np.int64)
        for hand in self.process.hands:
            if skill is None or skill in hand.skills:
                there += hand.there
        return np.concatenate([[0], np.cumsum(there)])

    def _crew_load(
        self,
        units: Sequence[Unit],
        there: Ints,
        demand: Mapping[int, Mapping[int, int]] | None = None,
    ) -> _Load:
        """Hands by slots; where numbers may vary, the least work at the most hands.

        ``demand``: by unit what so many hands draw on a load, where that is asked.
        A stint of m hands that lies a slots outside takes m (d - a) inside, at least
        the least work less a times the most hands, once a window holds its longest:
        whole slots at the most hands, and what is left over in one slot more.
        """
        rows: list[tuple[int, int, int, int]] = []  # unit, hands, slots, inset
        least = 1
        for unit in units:
            drawn = [
                demand[unit.index][m.hands] if demand else m.hands for m in unit.modes
            ]
            pairs = zip(drawn, unit.modes, strict=True)
            most = max(drawn, default=0)
            work = min((count * m.slots for count, m in pairs), default=0)
            whole, rest = divmod(work, most) if most else (0, 0)
            rows.append((unit.index, most, whole, 0))
            if rest:
                rows.append((unit.index, rest, 1, whole))
            if len(unit.modes) > 1:
                least = max(least, max(m.slots for m in unit.modes))
        index, hands, slots, inset = np.array(rows, dtype=np.int64).reshape(-1, 4).T
        return _Load(index, hands, slots, there, least, inset)

    def refuted(self, finish: int, due: Mapping[int, int] | None = None) -> bool:
        """Whether it is proved that no plan ends by ``finish``."""
        spans = self.spans(finish, due)
        if spans is None:
            return True
        start = np.array(spans.start, dtype=np.int64)
        end = np.array(spans.end, dtype=np.int64)
        return any(self._overfull(load, start, end, finish) for load in self.loads)

    def _overfull(self, load: _Load, start: Ints, end: Ints, finish: int) -> bool:
        """Whether some window must hold more work than there are hands."""
        begun, ended = start[load.units] + load.inset, end[load.units] - load.inset
        last = ended - load.slots
        size = min(finish, self.n) + 2
        for a in np.unique(np.concatenate([begun, last])):
            inside = np.minimum(load.slots, begun + load.slots - a)
            keep = inside > 0
            if not keep.any():
                break
            inside, hands = inside[keep], load.hands[keep]
            rises = np.maximum(last[keep], a)
            slope = np.bincount(rises, weights=hands, minlength=size)
            slope -= np.bincount(rises + inside, weights=hands, minlength=size)
            # work[b]: what must be done from a to the start of slot b.
            work: NDArray[np.float64] = np.zeros(size + 1)
            work[1:] = np.cumsum(np.cumsum(slope))
            there = load.there[a : size - 1] - load.there[a]
            over = work[a : size - 1] > there + 1e-6
            if over[load.least :].any():
                return True
        return False

    # -- the bound -------------------------------------------------------------------

    def finish_low(
        self,
        low: int = 0,
        high: int | None = None,
        due: Mapping[int, int] | None = None,
    ) -> int:
        """The latest slot by ``high`` before which no plan ends, at least ``low``.

        ``high``: the end of a plan that is known, so that it is never refuted; the
        end of the axis unless told.
        """
        high = self.n if high is None else high
        while low < high:
            middle = (low + high) // 2
            if self.refuted(middle, due):
                low = middle + 1
            else:
                high = middle
        return low


def _indices(units: Sequence[Unit]) -> Ints:
    return np.array([unit.index for unit in units], dtype=np.int64)
