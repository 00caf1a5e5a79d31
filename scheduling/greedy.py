"""A good plan at once: steps placed one after the other at the earliest slot that fits.

Steps joined by a window go in together or not at all: if the second misses its window,
the first moves on and tries again. Several orders are tried and the best plan kept.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from scheduling.process import Load, Mode, Process, Unit, Wait, all_of
from scheduling.working_time import Ints, Mask

# Starts tried a unit in one order, all windows together: along a chain of windows the
# tries of one multiply those of the next.
TRIES_A_UNIT = 60
RETRIES = 12  # orders tried anew with the step that found no slot first


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a unit stands: slots [start, end), a test in the first slot if ``test``."""

    start: int
    end: int
    hands: tuple[int, ...]
    test: bool

    @property
    def work_start(self) -> int:
        """The slot in which the work itself begins."""
        return self.start + self.test

    @property
    def last(self) -> int:
        """The last slot worked."""
        return self.end - 1


Placing = Mapping[int, Placed]


@dataclass(frozen=True, slots=True)
class Score:
    """What a plan is judged by, in order: late (weighted minutes), finish, starts."""

    late: float
    finish: int
    starts: int

    def key(self) -> tuple[float, int, int]:
        """For comparing; smaller is better."""
        return (self.late, self.finish, self.starts)


def score(process: Process, placing: Placing) -> Score:
    """Judge a complete placing; a ``must`` date missed counts as infinitely late."""
    by_date: dict[int, float] = {}
    for promise in process.promises:
        late = float(promise.late_min[placing[promise.unit].last])
        if promise.wish.must and late > 0:
            late = np.inf
        by_date[promise.date] = max(by_date.get(promise.date, 0.0), late)
    dates = process.job.dates
    return Score(
        late=sum(dates[date].weight * late for date, late in by_date.items()),
        finish=max((placed.end for placed in placing.values()), default=0),
        starts=sum(placed.start for placed in placing.values()),
    )


@dataclass(slots=True)
class _Board:
    """What is taken so far."""

    process: Process
    free: list[Mask]
    drawn: dict[str, Ints]  # on each load, slot by slot
    walls: dict[tuple[str, str | None], Mask]
    placed: dict[int, Placed] = field(default_factory=dict)


class Greedy:
    """Places all units of a process by priority keys."""

    def __init__(self, process: Process) -> None:
        self.process = process
        self.axis = process.axis
        self.n = len(process.axis)
        self.loads: dict[int, list[Load]] = {}
        for load in process.loads:
            for index in load.demand:
                self.loads.setdefault(index, []).append(load)
        self.aparts: dict[int, list[tuple[int, bool, Ints]]] = {}
        for apart in process.aparts:
            self.aparts.setdefault(apart.maker, []).append(
                (apart.coat, True, apart.clear)
            )
            self.aparts.setdefault(apart.coat, []).append(
                (apart.maker, False, apart.clear)
            )
        self.blocks = self._blocks()
        self.failed: Unit | None = None
        self._tries = 0
        self._earliest: Mapping[int, int] = {}

    def best(
        self, previous: Mapping[int, int] | None = None, *, quick: bool = False
    ) -> Placing | None:
        """The best of several orders; ``previous`` adds the order of an earlier plan.

        ``quick`` takes the first order that works.
        """
        orders: list[Sequence[float]] = [self._latest_starts(), self._tails()]
        orders.append(
            [start / 2 + tail / 2 for start, tail in zip(*orders, strict=True)]
        )
        if previous:
            orders.append(
                [previous.get(unit.index, self.n) for unit in self.process.units]
            )
        best, best_score = None, None
        retries = RETRIES
        for keys in orders:
            placing = self._with_retries(keys, retries)
            if placing is None:
                retries = 2  # where one order fails so often the others seldom help
                continue
            judged = score(self.process, placing).key()
            if best_score is None or judged < best_score:
                best, best_score = placing, judged
            if quick:
                break
        return best

    def drawn_forward(self, placing: Placing) -> Placing:
        """The same plan with no stint later than it need be, or as it was.

        Places all again in the order of starts while that makes nothing worse.
        """
        best, judged = placing, score(self.process, placing)
        for _ in range(RETRIES):
            keys = [float(best[unit.index].start) for unit in self.process.units]
            again = self.place_all(keys)
            if again is None:
                break
            new = score(self.process, again)
            if new.late > judged.late or new.finish > judged.finish:
                break
            if new.starts >= judged.starts:
                break
            best, judged = again, new
        return best

    def _with_retries(self, keys: Sequence[float], retries: int) -> Placing | None:
        """Place all; what finds no slot goes to the head of the order, and again."""
        keys = list(keys)
        for retry in range(retries + 1):
            placing = self.place_all(keys)
            if placing is not None or self.failed is None:
                return placing
            keys[self.failed.index] = -1e6 * (retry + 1)
        return None

    def place_all(
        self, keys: Sequence[float], earliest: Mapping[int, int] | None = None
    ) -> Placing | None:
        """Place every unit, smallest key first among those whose waits are placed.

        None where some unit finds no slot; ``failed`` then names it.
        """
        process = self.process
        board = _Board(
            process,
            free=[hand.there.copy() for hand in process.hands],
            drawn={
                load.name: np.zeros(self.n, dtype=np.int64) for load in process.loads
            },
            walls={},
        )
        self._earliest = earliest or {}
        self._tries = TRIES_A_UNIT * len(process.units)
        for unit in process.units:  # pins first: everything else goes round them
            if unit.pinned is not None and self._place(board, unit, None) is not None:
                self.failed = unit
                return None
        order = sorted(
            range(len(self.blocks)),
            key=lambda number: (
                min(keys[unit] for unit in self.blocks[number]),
                number,
            ),
        )
        waiting = list(order)
        while waiting:
            for number in waiting:
                if self._eligible(board, self.blocks[number]):
                    break
            else:
                self.failed = process.units[self.blocks[waiting[0]][0]]
                return None
            waiting.remove(number)
            for index in self.blocks[number]:
                if index in board.placed:
                    continue
                unit = process.units[index]
                if self._place(board, unit, set(self.blocks[number])) is not None:
                    self.failed = unit
                    return None
        return board.placed

    # -- blocks ------------------------------------------------------------------

    def _blocks(self) -> list[list[int]]:
        """Units joined by windows, in recipe order."""
        parent = list(range(len(self.process.units)))

        def root(unit: int) -> int:
            while parent[unit] != unit:
                unit = parent[unit]
            return unit

        for wait in self.process.waits:
            if self._closes(wait):
                parent[root(wait.after)] = root(wait.before)
        blocks: dict[int, list[int]] = {}
        for unit in range(len(parent)):
            blocks.setdefault(root(unit), []).append(unit)
        return [blocks[key] for key in sorted(blocks)]

    def has_window(self, unit: Unit) -> bool:
        """Whether a window binds the unit to another."""
        return any(len(block) > 1 and unit.index in block for block in self.blocks)

    def _closes(self, wait: Wait) -> bool:
        return bool((wait.high < self.n).any())

    def _eligible(self, board: _Board, block: Iterable[int]) -> bool:
        inside = set(block)
        return all(
            wait.before in board.placed or wait.before in inside
            for unit in inside
            for wait in self.process.before[unit]
        )

    # -- placing -----------------------------------------------------------------

    def _place(self, board: _Board, unit: Unit, block: set[int] | None) -> int | None:
        """Place a unit and, in its block, all that its window binds; undo if not.

        None when placed; else the slot in which its work could start if its window
        stayed open, all it binds included; n if in none.
        """
        low, high, test = self._limits(board, unit)
        while self._tries > 0:
            self._tries -= 1
            placed = self._first(board, unit, low, high, test)
            if placed is None:
                free = self._first(board, unit, low, self.n, test)
                return self.n if free is None else free.work_start
            self._take(board, unit, placed)
            done: list[int] = []
            fits = True
            again = placed.start + 1
            for wait in self.process.after[unit.index]:
                after = self.process.units[wait.after]
                if block is None or wait.after in board.placed:
                    if block is None or self._holds(board, wait):
                        continue
                    fits = False
                    break
                if not self._closes(wait) or not self._ready(board, after):
                    continue
                missed = self._place(board, after, block)
                if missed is not None:
                    again = max(again, self._worth(wait, placed, missed))
                    fits = False
                    break
                done.append(wait.after)
            if fits:
                return None
            for index in done:
                self._give_all(board, index, block or set())
            self._give(board, unit)
            low = again
        return self.n

    def _worth(self, wait: Wait, placed: Placed, missed: int) -> int:
        """The first start worth trying when the step after could only go in ``missed``:
        so late that its window is still open then."""
        ends = np.flatnonzero(wait.high[placed.last :] >= missed)
        return placed.start + int(ends[0]) if len(ends) else self.n

    def _ready(self, board: _Board, unit: Unit) -> bool:
        return all(
            wait.before in board.placed for wait in self.process.before[unit.index]
        )

    def _holds(self, board: _Board, wait: Wait) -> bool:
        before, after = board.placed[wait.before], board.placed[wait.after]
        low, high = int(wait.low[before.last]), int(wait.high[before.last])
        return low <= after.start and after.work_start <= high

    def _give_all(self, board: _Board, index: int, block: set[int]) -> None:
        for wait in self.process.after[index]:
            if wait.after in block and wait.after in board.placed:
                self._give_all(board, wait.after, block)
        if index in board.placed:
            self._give(board, self.process.units[index])

    def _limits(self, board: _Board, unit: Unit) -> tuple[int, int, bool]:
        low, high, test = unit.release, unit.due, unit.test_first
        for wait in self.process.before[unit.index]:
            if wait.before in board.placed:
                last = board.placed[wait.before].last
                low = max(low, int(wait.low[last]))
                high = min(high, int(wait.high[last]))
                test = test or bool(wait.test[last])
        return max(low, self._earliest.get(unit.index, 0)), high, test

    def _first(
        self, board: _Board, unit: Unit, low: int, high: int, test: bool
    ) -> Placed | None:
        best: Placed | None = None
        for mode in unit.modes:
            mask = self._open_starts(board, unit, mode, test)
            mask[: max(low, 0)] = False
            mask[max(high - test + 1, 0) :] = False
            if unit.pinned is not None:
                pinned = self.axis.slot_from(self.axis.minute_of(unit.pinned.start))
                mask[:pinned] = False
                mask[pinned + 1 :] = False
            found = int(mask.argmax()) if mask.any() else -1
            if found < 0:
                continue
            end = found + mode.slots + test
            if best is None or end < best.end:
                hands = self._choose(board, unit, mode, found, end)
                best = Placed(found, end, hands, test)
        return best

    def _open_starts(self, board: _Board, unit: Unit, mode: Mode, test: bool) -> Mask:
        """Starts that hours, air, hands, loads, wall and dust allow in this mode."""
        slots = mode.slots + test
        mask = mode.may_start.copy()
        if test:  # the work starts one slot after the test, in the same stretch
            mask[:-1] = mask[1:] & (
                self.axis.stretch_end[:-1] == self.axis.stretch_end[1:]
            )
            mask[-1:] = False
        there = [all_of(free, slots) for free in board.free]
        if unit.pinned is not None and unit.pinned.hands:
            for hand, free in zip(self.process.hands, there, strict=True):
                if hand.id in unit.pinned.hands:
                    mask &= free
            if len(unit.pinned.hands) != mode.hands:
                mask[:] = False
        else:
            mask &= np.sum(there, axis=0) >= mode.hands
            skill = unit.step.skill
            if skill is not None:
                skilled = [
                    free
                    for hand, free in zip(self.process.hands, there, strict=True)
                    if skill in hand.skills
                ]
                mask &= np.any(skilled, axis=0)
        for load in self.loads.get(unit.index, ()):
            left = load.most - load.demand[unit.index][mode.hands]
            mask &= all_of(board.drawn[load.name] <= left, slots)
        mask &= all_of(self._wall_free(board, unit), slots)
        self._keep_apart(board, unit, slots, mask)
        return mask

    def _wall_free(self, board: _Board, unit: Unit) -> Mask:
        free = np.ones(self.n, dtype=bool)
        for (surface, section), taken in board.walls.items():
            same = unit.section is None or section in (None, unit.section)
            if surface == unit.surface.id and same:
                free &= ~taken
        return free

    def _keep_apart(self, board: _Board, unit: Unit, slots: int, mask: Mask) -> None:
        starts = np.arange(self.n)
        for other, makes, clear in self.aparts.get(unit.index, ()):
            placed = board.placed.get(other)
            if placed is None:
                continue
            if makes:  # this unit makes the dust, the other is a coat already placed
                clean = int(clear[placed.last])
                mask &= (starts + slots <= placed.start) | (starts >= clean)
            else:
                last = np.minimum(starts + slots - 1, self.n - 1)
                mask &= (clear[last] <= placed.start) | (starts >= placed.end)

    def _choose(
        self, board: _Board, unit: Unit, mode: Mode, start: int, end: int
    ) -> tuple[int, ...]:
        """Named hands: the one with the skill, then those with the fewest skills."""
        hands = self.process.hands
        if not mode.hands:
            return ()
        if unit.pinned is not None and unit.pinned.hands:
            return tuple(
                number
                for number, hand in enumerate(hands)
                if hand.id in unit.pinned.hands
            )
        free = [
            number
            for number in range(len(hands))
            if board.free[number][start:end].all()
        ]
        free.sort(key=lambda number: (len(hands[number].skills), number))
        skill = unit.step.skill
        lead = [n for n in free if skill is None or skill in hands[n].skills][:1]
        rest = [number for number in free if number not in lead]
        return tuple(sorted([*lead, *rest[: mode.hands - 1]]))

    def _take(self, board: _Board, unit: Unit, placed: Placed) -> None:
        span = slice(placed.start, placed.end)
        for hand in placed.hands:
            board.free[hand][span] = False
        for load in self.loads.get(unit.index, ()):
            demand = load.demand[unit.index][len(placed.hands)]
            board.drawn[load.name][span] += demand
        wall = (unit.surface.id, unit.section)
        if wall not in board.walls:
            board.walls[wall] = np.zeros(self.n, dtype=bool)
        board.walls[wall][span] = True
        board.placed[unit.index] = placed

    def _give(self, board: _Board, unit: Unit) -> None:
        placed = board.placed.pop(unit.index)
        span = slice(placed.start, placed.end)
        for hand in placed.hands:
            board.free[hand][span] = True
        for load in self.loads.get(unit.index, ()):
            demand = load.demand[unit.index][len(placed.hands)]
            board.drawn[load.name][span] -= demand
        board.walls[(unit.surface.id, unit.section)][span] = False

    # -- orders ------------------------------------------------------------------

    def _gap(self, wait: Wait) -> int:
        """Slots a wait usually takes: its median over the first half of the axis."""
        half = slice(0, max(1, self.n // 2))
        gaps = wait.low[half] - np.arange(self.n)[half] - 1
        return max(0, int(np.median(gaps)))

    def _tails(self) -> list[float]:
        """Minus the usual time from each start to the end of all that follows."""
        tails = [0.0] * len(self.process.units)
        for unit in reversed(self.process.in_order):
            length = min((mode.slots for mode in unit.modes), default=0)
            follow = [
                self._gap(wait) + tails[wait.after]
                for wait in self.process.after[unit.index]
            ]
            tails[unit.index] = length + max(follow, default=0.0)
        return [-tail for tail in tails]

    def _latest_starts(self) -> list[float]:
        """The usual latest start that keeps every date; the axis's end without one."""
        due = [float(self.n)] * len(self.process.units)
        for promise in self.process.promises:
            kept = np.flatnonzero(promise.late_min <= 0)
            last = float(kept[-1] + 1) if len(kept) else 0.0
            due[promise.unit] = min(due[promise.unit], last)
        latest = [0.0] * len(due)
        for unit in reversed(self.process.in_order):
            length = min((mode.slots for mode in unit.modes), default=0)
            follow = [
                latest[wait.after] - self._gap(wait)
                for wait in self.process.after[unit.index]
            ]
            latest[unit.index] = min(
                min([due[unit.index], *follow]) - length,
                max(
                    (int(np.flatnonzero(m.may_start)[-1]) for m in unit.modes),
                    default=0,
                ),
            )
        return latest
