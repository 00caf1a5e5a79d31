"""Planning a changed job again with as few stints as can be on another day or hand.

Two plans at once: all in the issued order, none before its issued day; and what can
stand standing, the rest where there is room between. The better is then improved some
days at a time by the exact model around the stints of the other days.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from time import perf_counter

import numpy as np

from scheduling.decoder import Decoder
from scheduling.placing import Placed, Placing, score
from scheduling.process import Process, Unit, Wait
from scheduling.rest import rest_of
from scheduling.solver import Effort, GoOn, Kept, Solved, solve
from scheduling.standing import clashing
from scheduling.working_time import Ints, Mask

DAYS_AT_ONCE = 2
MOST_FREE = 110  # stints planned again at once: above that a question takes too long
ASK_SHARE = 0.08  # of what is left, for one question
LEAST = 0.2  # units or seconds: too few to ask anything
ASKING = 0.004  # units that a free stint costs before its question is searched
RETRIES = 12  # orders tried anew with what found no place first
MEND_TRIES = 40  # of room made for what finds none; then too much moves anyway
LATER = 200  # slots, two working days, that stints may move behind those asked about

Judged = tuple[bool, int, float, int]  # musts missed, changes, lateness, finish


@dataclass(slots=True)
class Keeping:
    """The plan that keeps most so far; ``least``: no plan changes fewer stints."""

    best: Placing | None
    least: int
    judged: Judged
    spent: float = 0.0  # budget units, or seconds where those are told
    stopped: bool = False

    @property
    def changed(self) -> int:
        """How many stints it has on another day or with other hands."""
        return self.judged[1]


class Keeper:
    """Keeps an issued plan: ``kept`` is where its stints stood, by unit."""

    def __init__(
        self, process: Process, kept: Mapping[int, Kept], *, go_on: GoOn | None = None
    ) -> None:
        self.process, self.kept, self.go_on = process, kept, go_on
        self.issued = _issued(process, kept)
        self.days = process.axis.day
        days, first = np.unique(self.days, return_index=True)
        last = [*first[1:] - 1, len(self.days) - 1]  # days follow one another
        self.first = dict(zip(days.tolist(), first.tolist(), strict=True))
        self.last = dict(zip(days.tolist(), map(int, last), strict=True))

    def at_once(self, start: Placing | None) -> Keeping:
        """The best of a plan and the two that come at once."""
        worst: Judged = (True, len(self.process.units) + 1, np.inf, 0)
        least = least_changes(self.process, self.kept)
        now = Keeping(best=None, least=least, judged=worst)
        self._better(now, start)
        self._better(now, self.in_issued_order())
        self._better(now, self.mended())
        return now

    def improve(self, now: Keeping, *, effort: Effort) -> None:
        """Fewer changes, by planning some days at a time again around the others."""
        began = perf_counter()

        def left() -> float:
            if effort.seconds is not None:
                now.spent = perf_counter() - began
                return effort.seconds - now.spent
            return effort.budget - now.spent

        better = True
        while better and now.best is not None:
            before = now.judged
            for day in sorted({row.day for row in self.kept.values()}):
                if now.changed <= now.least or now.stopped or left() < LEAST:
                    return
                free = self._about(day, now.best)
                if free:
                    share = max(LEAST, left() * ASK_SHARE)
                    self._ask(now, free, _part(effort, share))
            better = now.judged < before

    # -- questions -----------------------------------------------------------------

    def _ask(self, now: Keeping, free: Collection[int], effort: Effort) -> None:
        """Plan some units again with fewer changes, around the rest of the best."""
        assert now.best is not None  # noqa: S101 - asked of a plan only
        rest = rest_of(self.process, now.best, free)
        place = {unit: k for k, unit in enumerate(rest.units)}
        last = max(now.best[unit].end for unit in free)
        solved: Solved = solve(
            rest.process,
            rest.own(now.best),
            effort=effort,
            kept={place[u]: row for u, row in self.kept.items() if u in place},
            horizon=min(len(self.process.axis), last + LATER),
            aims=("changes", "late", "finish"),
            go_on=self._asked(now) if self.go_on is not None else None,
        )
        now.spent += solved.spent + ASKING * len(free)
        if solved.placing is not None:
            self._better(now, rest.joined(now.best, solved.placing))

    def _asked(self, now: Keeping) -> GoOn:
        def asked(_: Placing | None) -> bool:
            assert self.go_on is not None  # noqa: S101 - asked for only where given
            now.stopped = now.stopped or not self.go_on(None)
            return not now.stopped

        return asked

    def _better(self, now: Keeping, placing: Placing | None) -> None:
        if placing is None or len(placing) < len(self.process.units):
            return
        judged = self._judged(placing)
        if judged < now.judged:
            now.best, now.judged = placing, judged
            if self.go_on is not None and not now.stopped and not judged[0]:
                now.stopped = not self.go_on(placing)

    def _judged(self, placing: Placing) -> Judged:
        scored = score(self.process, placing)
        must = not np.isfinite(scored.late)
        return (must, self.changes(placing), scored.late, scored.finish)

    # -- which stints --------------------------------------------------------------

    def _loose(self) -> frozenset[int]:
        """The units that the issued plan has not, or cannot leave where they are."""
        absent = {u.index for u in self.process.units if u.index not in self.issued}
        return clashing(self.process, self.issued) | absent

    def _about(self, day: int, placing: Placing) -> frozenset[int]:
        """Units of some days, issued or planned; none where none of them changed."""
        worked = sorted(d for d in self.first if d >= day)[:DAYS_AT_ONCE]
        issued = {u for u, row in self.kept.items() if row.day in worked}
        changed = {u for u in self.kept if self._has_changed(u, placing)}
        if not issued & changed:
            return frozenset()
        here = [u for u, p in placing.items() if int(self.days[p.start]) in worked]
        free = list(dict.fromkeys([*sorted(issued & changed), *sorted(here)]))
        near = {w.after for u in free for w in self.process.after[u]}
        near |= {w.before for u in free for w in self.process.before[u]}
        free += sorted((near & changed) - {*free})
        return frozenset(free[:MOST_FREE])

    # -- plans ---------------------------------------------------------------------

    def mended(self) -> Placing | None:
        """What can stand, stands; the rest goes where there is room between.

        What then stands in the way of the rest in its recipe, moves too.
        """
        loose = self._with_behind(self._loose())
        ahead: list[int] = []
        for _ in range(MEND_TRIES):
            rest = rest_of(self.process, self.issued, loose)
            place = {unit: k for k, unit in enumerate(rest.units)}
            kept = {place[u]: self.kept[u] for u in loose if u in self.kept}
            first = [place[u] for u in ahead]
            found, failed = self._decoded(rest.process, kept, first)
            if found is not None:
                return rest.joined(self.issued, found)
            if failed < 0:
                break
            unit = rest.units[failed]
            if unit in ahead:
                ahead.remove(unit)
            ahead.append(unit)
            loose |= self._near(unit, loose)
        return None

    def _with_behind(self, loose: Collection[int]) -> set[int]:
        """And those behind them that cannot stand however soon these are done."""
        found, n = set(loose), len(self.process.axis)
        lowest: dict[int, Ints] = {}
        ends = {unit: placed.end for unit, placed in self.issued.items()}
        for unit in self.process.in_order:
            low = unit.release
            for wait in self.process.before[unit.index]:
                table, end = _lowest(wait, lowest), ends[wait.before]
                low = max(low, n if end > n else end)
                if table is not None and low < n:
                    low = max(low, int(table[end - 1]))
            if unit.index not in found and low > self.issued[unit.index].start:
                found.add(unit.index)
            if unit.index in found:
                row = self.kept.get(unit.index)
                low = max(low, self.first.get(row.day, 0) if row is not None else 0)
                ways = [(mode.may_start, mode.slots) for mode in unit.modes]
                ends[unit.index] = _first_end(ways, min(low, n), n)
        return found

    def _near(self, unit: int, loose: set[int]) -> set[int]:
        """What could make room for a unit: behind or before it, or in its place."""
        process = self.process
        behind = _reached(unit, lambda u: [w.after for w in process.after[u]], loose)
        before = _reached(unit, lambda u: [w.before for w in process.before[u]], loose)
        if behind or before:
            return behind or before
        here = process.units[unit]
        alike: list[Callable[[Unit], bool]] = [
            lambda other: other.surface.id == here.surface.id,
            lambda other: other.surface.room == here.surface.room,
            lambda other: other.step.skill == here.step.skill,
        ]
        for like in alike:
            found = {u.index for u in process.units if like(u)} - loose
            if found:
                return found
        return set()

    def in_issued_order(self) -> Placing | None:
        """Everything as early as it can be, but on no earlier day than issued.

        What finds no place goes to the head of the order, and all again.
        """
        first: list[int] = []
        for _ in range(RETRIES):
            found, failed = self._decoded(self.process, self.kept, first)
            if found is not None or failed < 0:
                return found
            first.append(failed)
        return None

    def _decoded(
        self, process: Process, kept: Mapping[int, Kept], first: Sequence[int] = ()
    ) -> tuple[Placing | None, int]:
        """Placed in the order issued, and the unit that failed, -1 for none.

        Of those to go ``first`` the last named goes before all others.
        """
        earliest = {
            unit: self.first.get(row.day, row.start)
            for unit, row in kept.items()
            if process.units[unit].pinned is None  # a pin may be on an earlier day
        }
        decoder = Decoder(
            process,
            kept={
                unit: (row.hands, self.last[row.day])
                for unit, row in kept.items()
                if row.day in self.first
            },
        )
        n = len(process.axis)
        keys = [
            float(kept[unit.index].start) if unit.index in kept else float(n)
            for unit in process.units
        ]
        for place, unit in enumerate(first):
            keys[unit] = -1.0 - place
        if decoder.place_all(keys, earliest):
            return decoder.placing(), -1
        return None, decoder.failed.index if decoder.failed is not None else -1

    def changes(self, placing: Placing) -> int:
        """How many kept stints stand on another day or with other hands."""
        return sum(self._has_changed(unit, placing) for unit in self.kept)

    def _has_changed(self, unit: int, placing: Placing) -> bool:
        placed, row = placing.get(unit), self.kept[unit]
        if placed is None or int(self.days[placed.start]) != row.day:
            return True
        return set(placed.hands) != row.hands


def _reached(
    unit: int, onward: Callable[[int], list[int]], loose: set[int]
) -> set[int]:
    """The first units that are not loose along the waits from one."""
    found, seen, line = set(), {unit}, [unit]
    for here in line:  # grows while it is walked
        for other in onward(here):
            if other not in loose:
                found.add(other)
            elif other not in seen:
                seen.add(other)
                line.append(other)
    return found


def _issued(process: Process, kept: Mapping[int, Kept]) -> Placing:
    """The issued plan as far as the process still has its ways of doing things."""
    found = {}
    for unit, row in kept.items():
        for mode in process.units[unit].modes:
            if mode.hands == len(row.hands):
                end = row.start + row.test + mode.slots
                found[unit] = Placed(row.start, end, tuple(sorted(row.hands)), row.test)
    return found


def least_changes(process: Process, kept: Mapping[int, Kept]) -> int:
    """Changes that no plan can do without, were there hands without limit.

    Along each chain of waits the earliest end of every unit is followed for each
    number of changes before it; windows and other people's work are left out.
    """
    n = len(process.axis)
    lowest: dict[int, Ints] = {}
    ends: dict[int, list[int]] = {}  # by unit: the earliest end with so many changes
    chain: dict[int, int] = {}  # by unit: the first unit of its chain
    most: dict[int, int] = {}
    for unit in process.in_order:
        here = _ends_of(process, unit, kept.get(unit.index), ends, lowest)
        ends[unit.index] = here
        heads = [chain[wait.before] for wait in process.before[unit.index]]
        chain[unit.index] = min(heads, default=unit.index)
        needed = next((count for count, end in enumerate(here) if end <= n), 0)
        head = chain[unit.index]
        most[head] = max(most.get(head, 0), needed)
        for other in heads:  # chains that meet count once
            if other != head:
                most[head] = max(most[head], most.pop(other, 0))
    return sum(most.values())


def _ends_of(
    process: Process,
    unit: Unit,
    row: Kept | None,
    ends: Mapping[int, list[int]],
    lowest: dict[int, Ints],
) -> list[int]:
    """The earliest end of a unit, by the number of changes up to it."""
    n = len(process.axis)
    befores = [
        (ends[wait.before], _lowest(wait, lowest))
        for wait in process.before[unit.index]
    ]
    counts = max((len(known) for known, _ in befores), default=1)
    lows = []
    for count in range(counts):
        low = unit.release
        for known, table in befores:
            end = known[min(count, len(known) - 1)]
            low = max(
                low, n if end > n else end if table is None else int(table[end - 1])
            )
        lows.append(low)
    anywhere = [(mode.may_start, mode.slots) for mode in unit.modes]
    if row is None:
        return [_first_end(anywhere, low, n) for low in lows]
    own = _own_day(process, unit, row)
    here: list[int] = []
    for count in range(counts + 1):
        best = _first_end(own, lows[count], n) if count < counts else n + 1
        if count:
            best = min(best, _first_end(anywhere, lows[count - 1], n), here[-1])
        here.append(best)
    return here


def _lowest(wait: Wait, known: dict[int, Ints]) -> Ints | None:
    """The first slot open after an end in a slot or any later one; None: at once."""
    if not wait.stage:
        return None
    if id(wait.low) not in known:
        known[id(wait.low)] = np.minimum.accumulate(wait.low[::-1])[::-1]
    return known[id(wait.low)]


def _own_day(process: Process, unit: Unit, row: Kept) -> list[tuple[Mask, int]]:
    """The starts on the issued day for which its hands are there."""
    here = np.ones(len(process.axis), dtype=bool)
    for hand in row.hands:
        here &= process.hands[hand].there
    away = np.concatenate([[0], np.cumsum(~here)])
    ways = []
    for mode in unit.modes:
        if mode.hands != len(row.hands) or mode.slots > len(here):
            continue
        starts = mode.may_start & (process.axis.day == row.day)
        begins = np.flatnonzero(starts)
        begins = begins[begins + mode.slots <= len(here)]
        begins = begins[away[begins + mode.slots] == away[begins]]
        good = np.zeros(len(here), dtype=bool)
        good[begins] = True
        ways.append((good, mode.slots))
    return ways


def _first_end(ways: Iterable[tuple[Mask, int]], low: int, n: int) -> int:
    """The earliest end of those starts from ``low`` on; n + 1 without any."""
    best = n + 1
    for starts, slots in ways:
        found = np.flatnonzero(starts[low:])
        if len(found):
            best = min(best, low + int(found[0]) + slots)
    return best


def _part(effort: Effort, share: float) -> Effort:
    """So much of an effort, in its own units."""
    if effort.seconds is None:
        return replace(effort, budget=max(share, 0.05))
    return replace(effort, seconds=max(share, 0.05))
