"""Serial placing: every unit at the earliest slot that fits, in the order of its key.

Slots are the bits of Python integers: what is free for a stint of d slots is found by
shifting and ANDing, the earliest start is the lowest bit that is left. Steps joined by
a window go in together or not at all: if the second misses its window, the first moves
on and tries again. Integers never change, so taking back is putting the old one back.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from typing import Any

import numpy as np

from scheduling.placing import Placing, bits_of, hand_classes, with_names
from scheduling.process import Process, Unit, Wait, ancestors, share_wall
from scheduling.working_time import Ints

# Starts tried a unit in one order, all windows together: along a chain of windows the
# tries of one multiply those of the next.
TRIES_A_UNIT = 60
WIDE = 90  # Assumed: slots, about a day, in which a step rarely finds no place
SOONER = 12  # Assumed: slots before a wide window's last start that it turns urgent
# Slots looked at first: most stints find room within a few days, and short integers
# are quick.
NEAR = 300

Table = Any  # a memoryview of whole numbers: reading one costs no numpy scalar


@dataclass(frozen=True, slots=True)
class _Way:
    """A number of hands with its slots and starts; ``tested`` one slot sooner."""

    hands: int
    slots: int
    starts: int
    tested: int


@dataclass(frozen=True, slots=True)
class _Link:
    """A wait to another unit; None where a table says nothing."""

    other: int
    low: Table | None  # None: the slot after the other's last
    high: Table | None  # None: no window
    highest: Table | None  # the running maximum of ``high``
    test: memoryview | None


@dataclass(frozen=True, slots=True)
class _Place:
    """What a unit takes and has to keep clear of, as places in the board's lists."""

    loads: tuple[tuple[int, Mapping[int, int]], ...]  # and what it draws by hands
    wall: int
    walls: tuple[int, ...]  # its own and those it overlaps, where order is open
    puts_wet: tuple[int, ...]
    meets_wet: tuple[int, ...]
    puts_dust: tuple[int, ...]
    meets_dust: tuple[int, ...]
    clear: Table | None
    highest_clear: Table | None  # the running maximum of ``clear``
    # Units on walls that it meets: when they are dry, and it at the latest so far.
    corners: tuple[tuple[int, Table, Table], ...]


def _view(array: Any) -> Table:
    return memoryview(array)


def free_runs(bits: int, slots: int) -> int:
    """The bits from which ``slots`` bits in a row are set."""
    got = 1
    while got * 2 <= slots:
        bits &= bits >> got
        got *= 2
    if got < slots:
        bits &= bits >> (slots - got)
    return bits


def joined(process: Process, closing: Mapping[int, bool], wide: int) -> list[list[int]]:
    """Units joined by windows that may last less than ``wide``, in recipe order."""
    parent = list(range(len(process.units)))

    def root(unit: int) -> int:
        while parent[unit] != unit:
            unit = parent[unit]
        return unit

    for wait in process.waits:
        if closing[id(wait)] and _narrowest(wait) < wide:
            parent[root(wait.after)] = root(wait.before)
    blocks: dict[int, list[int]] = {}
    for unit in range(len(parent)):
        blocks.setdefault(root(unit), []).append(unit)
    return [blocks[key] for key in sorted(blocks)]


def _narrowest(wait: Wait) -> int:
    """The fewest slots a window is open, wherever its coat ends on the axis."""
    n = len(wait.low)
    ends = (wait.low < n) & (wait.high < n)
    return int((wait.high - wait.low)[ends].min()) if ends.any() else n


def closing_waits(process: Process) -> dict[int, bool]:
    """By identity of each wait: whether it has a latest end anywhere on the axis."""
    n = len(process.axis)
    known: dict[int, bool] = {}
    found = {}
    for wait in process.waits:
        if wait.stage == "":
            found[id(wait)] = False
            continue
        if id(wait.high) not in known:
            known[id(wait.high)] = bool((wait.high < n).any())
        found[id(wait)] = known[id(wait.high)]
    return found


class Decoder:
    """Places all units of a process by priority keys; every rule of the process holds.

    After ``place_all`` the lists ``start``, ``end`` and ``test`` hold the plan, by
    unit; ``failed`` names the unit that found no slot.
    """

    def __init__(
        self,
        process: Process,
        *,
        loose: bool = False,
        kept: Mapping[int, tuple[frozenset[int], int]] | None = None,
    ) -> None:
        """``loose``: only tight windows bind; what a wide one closes goes in later.

        ``kept``: the hands, by number, that units should have again where they can end
        by a slot; else, and with others, they go where they end soonest.
        """
        self.process = process
        self.n = len(process.axis)
        self.full = (1 << self.n) - 1
        self.closing = closing_waits(process)
        self.blocks = joined(process, self.closing, WIDE if loose else self.n + 1)
        self.block_of = {u: b for b, block in enumerate(self.blocks) for u in block}
        self.failed: Unit | None = None
        self._peaks: dict[int, Table] = {}
        units = process.units
        self.start, self.end = [-1] * len(units), [-1] * len(units)
        self.test = [False] * len(units)
        self.counts: list[tuple[int, ...]] = [()] * len(units)
        self.classes = sorted(
            hand_classes(process, alone=bool(kept)),
            key=lambda members: (len(process.hands[members[0]].skills), members[0]),
        )
        self._tables()
        self._crew()
        self.again = self._kept_hands(kept or {})
        self._places()
        self._log: list[tuple[list[Any], int, Any]] = []
        self._tries = 0
        self._earliest: Mapping[int, int] = {}
        self._wishes: Sequence[float] | None = None

    # -- the process as lists ------------------------------------------------------

    def _tables(self) -> None:
        process, axis = self.process, self.process.axis
        same = np.zeros(self.n, dtype=bool)  # the next slot lies in the same stretch
        same[:-1] = axis.stretch_end[:-1] == axis.stretch_end[1:]
        unbroken = bits_of(same)
        self.ways = []
        for unit in process.units:
            ways = []
            for mode in unit.modes:
                starts = bits_of(mode.may_start)
                tested = (starts >> 1) & unbroken & bits_of(unit.testable)
                ways.append(_Way(mode.hands, mode.slots, starts, tested))
            self.ways.append(ways)
        links = {id(wait): self._link(wait, wait.before) for wait in process.waits}
        back = {id(wait): self._link(wait, wait.after) for wait in process.waits}
        count = range(len(process.units))
        self.before = [[links[id(w)] for w in process.before[u]] for u in count]
        self.after = [[back[id(w)] for w in process.after[u]] for u in count]
        self.pin = [
            None
            if unit.pinned is None
            else axis.slot_from(axis.minute_of(unit.pinned.start))
            for unit in process.units
        ]

    def _link(self, wait: Wait, other: int) -> _Link:
        if wait.stage == "":
            return _Link(other, None, None, None, None)
        window = self.closing[id(wait)]
        return _Link(
            other,
            _view(wait.low),
            _view(wait.high) if window else None,
            self._highest(wait.high) if window else None,
            _view(wait.test) if window and wait.test.any() else None,
        )

    def _highest(self, table: Ints) -> Table:
        """The running maximum of a table, made once for all units that share it."""
        if id(table) not in self._peaks:
            self._peaks[id(table)] = _view(np.maximum.accumulate(table))
        return self._peaks[id(table)]

    def _crew(self) -> None:
        """Rows of "at least k of the class are free", and who may lead each unit."""
        hands = self.process.hands
        self.fresh_levels = [
            (bits_of(hands[members[0]].there),) * len(members)
            for members in self.classes
        ]
        skills = {unit.step.skill for unit in self.process.units}
        able = {
            skill: tuple(
                number
                for number, members in enumerate(self.classes)
                if skill is None or skill in hands[members[0]].skills
            )
            for skill in skills
        }
        own = {
            members[0]: number
            for number, members in enumerate(self.classes)
            if len(members) == 1
        }
        self.kept_off = [
            frozenset(
                number
                for number, members in enumerate(self.classes)
                if hands[members[0]].id in unit.kept_off
            )
            for unit in self.process.units
        ]
        self.able = [
            tuple(
                number
                for number in (
                    able[unit.step.skill] if unit.lead is None else (own[unit.lead],)
                )
                if number not in self.kept_off[unit.index]
            )
            for unit in self.process.units
        ]
        self.named: list[tuple[int, ...] | None] = [
            None
            if unit.pinned is None or not unit.pinned.hands
            else tuple(
                sum(hands[n].id in unit.pinned.hands for n in members)
                for members in self.classes
            )
            for unit in self.process.units
        ]
        self.fresh_loads = [
            tuple(
                bits_of(np.full(self.n, load.most) - load.taken > k)
                for k in range(load.most)
            )
            for load in self.process.loads
        ]

    def _kept_hands(
        self, kept: Mapping[int, tuple[frozenset[int], int]]
    ) -> dict[int, tuple[tuple[int, ...], int]]:
        """By unit how many of each class to keep and the last slot for it."""
        found = {}
        for unit, (hands, last) in kept.items():
            counts = tuple(
                sum(number in hands for number in members) for members in self.classes
            )
            able = not hands or any(counts[number] for number in self.able[unit])
            able = able and not any(counts[number] for number in self.kept_off[unit])
            if able and self.named[unit] is None:
                found[unit] = counts, last
        return found

    def _places(self) -> None:
        """Rooms, walls and what keeps apart, each by its number in a list."""
        process = self.process
        makes: dict[tuple[int, str], set[int]] = {}  # maker, what: the coats' rooms
        meets: dict[int, set[tuple[str, str]]] = {}  # coat: makers' rooms, what
        clear: dict[int, Ints] = {}
        settled: dict[str, Ints] = {}
        for apart in process.aparts:
            clear[apart.coat] = apart.clear
            settled[apart.what] = apart.settled
            makes.setdefault((apart.maker, apart.what), set()).add(apart.coat)
            room = process.units[apart.maker].surface.room
            meets.setdefault(apart.coat, set()).add((room, apart.what))
        keys: dict[tuple[str, str], int] = {}

        def number(room: str, what: str) -> int:
            return keys.setdefault((room, what), len(keys))

        puts_wet: dict[int, set[int]] = {}
        meets_wet: dict[int, set[int]] = {}
        puts_dust: dict[int, set[int]] = {}
        for (maker, what), coats in makes.items():
            own = process.units[maker].surface.room
            puts_dust.setdefault(maker, set()).add(number(own, what))
            for coat in coats:
                place = number(process.units[coat].surface.room, what)
                puts_wet.setdefault(coat, set()).add(place)
                meets_wet.setdefault(maker, set()).add(place)
        corners: dict[int, list[tuple[int, Table, Table]]] = {}
        for corner in process.corners:
            one, other = _view(corner.dry_one), _view(corner.dry_other)
            highest = self._highest(corner.dry_one), self._highest(corner.dry_other)
            corners.setdefault(corner.one, []).append((corner.other, other, highest[0]))
            corners.setdefault(corner.other, []).append((corner.one, one, highest[1]))
        walls, overlaps = self._walls()
        self.places = []
        for unit in process.units:
            u = unit.index
            table = clear.get(u)
            self.places.append(
                _Place(
                    loads=tuple(
                        (number, load.demand[u])
                        for number, load in enumerate(process.loads)
                        if u in load.demand
                    ),
                    wall=walls[unit.surface.id, unit.section],
                    walls=overlaps[u],
                    puts_wet=tuple(sorted(puts_wet.get(u, ()))),
                    meets_wet=tuple(sorted(meets_wet.get(u, ()))),
                    puts_dust=tuple(sorted(puts_dust.get(u, ()))),
                    meets_dust=tuple(sorted(number(*k) for k in meets.get(u, ()))),
                    clear=None if table is None else _view(table),
                    highest_clear=None if table is None else self._highest(table),
                    corners=tuple(corners.get(u, ())),
                )
            )
        self.wall_count, self.key_count = len(walls), len(keys)
        self.settled = [_view(settled[what]) for _, what in keys]

    def _walls(
        self,
    ) -> tuple[dict[tuple[str, str | None], int], list[tuple[int, ...]]]:
        """A number for each surface or section, and which to look at for each unit."""
        walls: dict[tuple[str, str | None], int] = {}
        on: dict[str, list[Unit]] = {}
        for unit in self.process.units:
            walls.setdefault((unit.surface.id, unit.section), len(walls))
            on.setdefault(unit.surface.id, []).append(unit)
        earlier = ancestors(self.process)
        overlaps: list[tuple[int, ...]] = [()] * len(self.process.units)
        for units in on.values():
            for unit in units:
                found = {
                    walls[other.surface.id, other.section]
                    for other in units
                    if other is not unit
                    and share_wall(unit, other)
                    and not earlier[unit.index] >> other.index & 1
                    and not earlier[other.index] >> unit.index & 1
                }  # fmt: skip
                overlaps[unit.index] = tuple(sorted(found))
        return walls, overlaps

    # -- placing -------------------------------------------------------------------

    def place_all(
        self,
        keys: Sequence[float],
        earliest: Mapping[int, int] | None = None,
        *,
        as_slots: bool = False,
    ) -> bool:
        """Place every unit, smallest key first among those whose waits are placed.

        ``as_slots``: keys are slots, and what a window binds goes in no sooner than its
        own where it can, so that it does not take the place of more urgent work. False
        where some unit finds no slot; ``failed`` then names it.
        """
        self._wishes = keys if as_slots else None
        units = self.process.units
        count = len(units)
        self.start, self.end = [-1] * count, [-1] * count
        self.test, self.counts = [False] * count, [()] * count
        self.levels = list(self.fresh_levels)
        self.loads = list(self.fresh_loads)
        self.walls = [0] * self.wall_count
        self.wet = [0] * self.key_count
        self.dust: list[tuple[tuple[int, int], ...]] = [()] * self.key_count
        self._log.clear()
        self._earliest = earliest or {}
        self._tries = TRIES_A_UNIT * count
        self.failed = None
        for unit in units:  # pins first: everything else goes round them
            if unit.pinned is not None and self._place(unit.index, None) is not None:
                self.failed = unit
                return False
        return self._place_blocks(keys)

    def _place_blocks(self, keys: Sequence[float]) -> bool:
        missing = [0] * len(self.blocks)
        for unit, links in enumerate(self.before):
            own = self.block_of[unit]
            for link in links:
                if self.block_of[link.other] != own and self.start[link.other] < 0:
                    missing[own] += 1
        waiting = [min(keys[index] for index in block) for block in self.blocks]
        ready = [(waiting[b], b) for b in range(len(self.blocks)) if not missing[b]]
        heapify(ready)
        done = 0
        while ready:
            _, number = heappop(ready)
            done += 1
            block = self.blocks[number]
            fresh = [index for index in block if self.start[index] < 0]
            for index in block:
                if self.start[index] < 0 and self._place(index, number) is not None:
                    self.failed = self.process.units[index]
                    return False
            for index in fresh:
                for link in self.after[index]:
                    other = self.block_of[link.other]
                    if other != number:
                        missing[other] -= 1
                        if not missing[other]:
                            heappush(ready, (self._urgent(other, waiting), other))
            self._log.clear()
        if done < len(self.blocks):
            left = [b for b, count in enumerate(missing) if count]
            first = min(left, key=lambda b: (waiting[b], b))
            self.failed = self.process.units[self.blocks[first][0]]
            return False
        return True

    def _urgent(self, block: int, waiting: Sequence[float]) -> float:
        """A block's key, or sooner where a wide window is about to close on it."""
        key = waiting[block]
        if self._wishes is None:
            return key
        for unit in self.blocks[block]:
            for link in self.before[unit]:
                if link.high is not None and self.end[link.other] >= 0:
                    slots = self.ways[unit][0].slots + SOONER
                    key = min(key, link.high[self.end[link.other] - 1] - slots)
        return key

    def _place(self, unit: int, block: int | None) -> int | None:
        """Place a unit and, in its block, all that its window binds; None if it fits.

        Else all is as before, and the slot told is the first in which its work could
        be tried, were its own windows wider; n if there is none.
        """
        low, high, test = self._limits(unit)
        while self._tries > 0:
            self._tries -= 1
            found = self._wished(unit, low, high, test)
            if found is None:
                wider = self._first(unit, low, self.n, test) if high < self.n else None
                return wider[0] + test if wider is not None else self.n
            mark = len(self._log)
            self._take(unit, test, *found)
            if block is None:
                return None
            again = self._place_bound(unit, block)
            if again is None:
                return None
            self._give_back(mark)
            low = again
        return self.n

    def _wished(
        self, unit: int, low: int, high: int, test: bool
    ) -> tuple[int, int, _Way] | None:
        """``_first``, from a bound unit's own key on where that leaves room."""
        if self._wishes is not None and self.blocks[self.block_of[unit]][0] != unit:
            wish = int(self._wishes[unit])
            if low < wish <= high:
                found = self._first(unit, wish, high, test)
                if found is not None:
                    return found
        return self._first(unit, low, high, test)

    def _place_bound(self, unit: int, block: int) -> int | None:
        """Place what windows bind to a placed unit; else the next start to try."""
        start, last = self.start[unit], self.end[unit] - 1
        for link in self.after[unit]:
            other = link.other
            if self.start[other] >= 0:
                low = last + 1 if link.low is None else link.low[last]
                if low > self.start[other]:
                    return self.n  # to move on makes it no better
                if link.high is not None and (
                    self.start[other] + self.test[other] > link.high[last]
                ):
                    return start + 1
                continue
            if self.block_of[other] != block:
                continue
            if link.highest is None or any(
                self.start[before.other] < 0 for before in self.before[other]
            ):
                continue
            wanted = self._place(other, block)
            if wanted is not None:
                # The first end that holds the window open until then.
                later = bisect_left(link.highest, wanted, lo=last)
                return max(start + 1, start + later - last)
        return None

    def _limits(self, unit: int) -> tuple[int, int, bool]:
        """First and last slot that waits, gates and logged coats allow; if to test."""
        here = self.process.units[unit]
        low, high, test = here.release, here.due, here.test_first
        for link in self.before[unit]:
            end = self.end[link.other]
            if end < 0:
                continue
            ready = end if link.low is None else link.low[end - 1]
            if ready > low:
                low = ready
            if link.high is not None and link.high[end - 1] < high:
                high = link.high[end - 1]
            if link.test is not None and link.test[end - 1]:
                test = True
        if self._earliest:
            low = max(low, self._earliest.get(unit, 0))
        return low, high, test

    def _first(
        self, unit: int, low: int, high: int, test: bool
    ) -> tuple[int, int, _Way] | None:
        """Start, end and way of the earliest end from ``low`` to ``high``.

        With the hands to be kept, where there is room for them by their slot.
        """
        again = self.again.get(unit)
        if again is not None:
            counts, last = again
            found = self._with(unit, low, min(high, last), test, counts)
            if found is not None and found[1] <= last + 1:
                return found
        return self._with(unit, low, high, test, self.named[unit])

    def _with(
        self, unit: int, low: int, high: int, test: bool, named: tuple[int, ...] | None
    ) -> tuple[int, int, _Way] | None:
        """The same with so many of each class, or with any for None."""
        if low >= self.n or high - test < low:
            return None
        best = None
        for width in (NEAR, self.n):
            for way in self.ways[unit]:
                slots = way.slots + test
                starts = (way.tested if test else way.starts) >> low
                starts &= (1 << min(high - test - low + 1, width)) - 1
                pinned = self.pin[unit]
                if pinned is not None:
                    starts &= 1 << pinned - low if pinned >= low else 0
                if starts:
                    starts = self._open_starts(
                        unit, way, slots, starts, low, width, named
                    )
                if starts:
                    start = low + (starts & -starts).bit_length() - 1
                    if best is None or start + slots < best[1]:
                        best = start, start + slots, way
            if best is not None:
                break
        return best

    def _open_starts(
        self,
        unit: int,
        way: _Way,
        slots: int,
        starts: int,
        low: int,
        width: int,
        named: tuple[int, ...] | None,
    ) -> int:
        """Those starts that hands, loads, walls and dust allow, bit 0 at ``low``.

        Only what ends within ``width`` slots is found.
        """
        if not slots:
            return starts  # a moment takes nothing
        place = self.places[unit]
        near = (1 << width) - 1
        taken = 0
        for wall in place.walls:
            taken |= self.walls[wall]
        for key in place.meets_wet:
            taken |= self.wet[key]
        free = ~(taken >> low) & near
        for number, demand in place.loads:
            drawn = demand[way.hands]
            if drawn:
                levels = self.loads[number]
                free &= levels[drawn - 1] >> low if drawn <= len(levels) else 0
        if place.loads or taken:
            starts &= free_runs(free, slots)
        if place.highest_clear is not None:
            for key in place.meets_dust:
                for begun, ended in self.dust[key]:
                    if ended <= low:
                        continue
                    # Too early by so much that it is still wet when the dust comes.
                    first = bisect_right(place.highest_clear, begun) - slots + 1
                    if first < ended:
                        starts &= ~((1 << ended - low) - (1 << max(first - low, 0)))
        for other, dry, highest in place.corners:
            ended = self.end[other]
            if ended >= 0 and (wet := dry[ended - 1]) > low:
                # From the first start that is still wet when the other begins.
                begun = self.start[other]
                first = bisect_right(highest, begun) - slots + 1
                if first < wet:
                    starts &= ~((1 << wet - low) - (1 << max(first - low, 0)))
        if not starts:
            return 0
        return self._staffed(unit, way.hands, slots, starts, low, near, named)

    def _staffed(
        self,
        unit: int,
        hands: int,
        slots: int,
        starts: int,
        low: int,
        near: int,
        named: tuple[int, ...] | None,
    ) -> int:
        """Those starts for which enough hands are free, one of them with the skill."""
        if named is not None:
            if sum(named) != hands:
                return 0
            for levels, count in zip(self.levels, named, strict=True):
                if count:
                    starts &= free_runs(levels[count - 1] >> low & near, slots)
            return starts
        if not hands:
            return starts
        able = self.able[unit]
        if hands == 1:
            free = 0
            for number in able:
                free |= free_runs(self.levels[number][0] >> low & near, slots)
            return starts & free
        enough = [starts] + [0] * hands  # starts at which k hands are free
        skilled = 0
        off = self.kept_off[unit]
        for number, levels in enumerate(self.levels):
            for k, level in enumerate(levels[:hands] if number not in off else ()):
                free = free_runs(level >> low & near, slots) & starts
                if not free:
                    break
                if not k and number in able:
                    skilled |= free
                for more in range(hands, 0, -1):
                    enough[more] |= enough[more - 1] & free
        return enough[hands] & skilled

    def _choose(self, unit: int, hands: int, span: int) -> tuple[int, ...]:
        """How many of each class: one with the skill, then those with fewest skills."""
        named = self.named[unit]
        if named is not None:
            return named
        again = self.again.get(unit)
        if again is not None and sum(again[0]) == hands:
            rows = zip(self.levels, again[0], strict=True)
            if all(not count or row[count - 1] & span == span for row, count in rows):
                return again[0]
        counts = [0] * len(self.levels)
        for number in self.able[unit] if hands else ():
            if self.levels[number][0] & span == span:
                counts[number] = 1
                break
        left, off = hands - 1, self.kept_off[unit]
        for number, levels in enumerate(self.levels):
            while (
                left > 0
                and number not in off
                and counts[number] < len(levels)
                and levels[counts[number]] & span == span
            ):
                counts[number] += 1
                left -= 1
        return tuple(counts)

    def _take(self, unit: int, test: bool, start: int, end: int, way: _Way) -> None:
        log, place = self._log, self.places[unit]
        span = (1 << end) - (1 << start)
        counts = self._choose(unit, way.hands, span)
        for number, count in enumerate(counts):
            if count:
                levels = self.levels[number]
                log.append((self.levels, number, levels))
                self.levels[number] = _lowered(levels, count, span)
        for load, demand in place.loads:
            levels = self.loads[load]
            log.append((self.loads, load, levels))
            self.loads[load] = _lowered(levels, demand[way.hands], span)
        log.append((self.walls, place.wall, self.walls[place.wall]))
        self.walls[place.wall] |= span
        if place.clear is not None:
            until = 1 << place.clear[end - 1]
            for key in place.puts_wet:
                log.append((self.wet, key, self.wet[key]))
                # From the first slot whose dust would not have settled by the start.
                unsettled = bisect_right(self.settled[key], start)
                self.wet[key] |= until - (1 << unsettled)
        for key in place.puts_dust:
            log.append((self.dust, key, self.dust[key]))
            over = (start, self.settled[key][end - 1])
            self.dust[key] = (*self.dust[key], over)
        log.append((self.start, unit, -1))
        log.append((self.end, unit, -1))
        self.start[unit], self.end[unit] = start, end
        self.test[unit], self.counts[unit] = test, counts

    def _give_back(self, mark: int) -> None:
        while len(self._log) > mark:
            held, key, old = self._log.pop()
            held[key] = old

    # -- what came of it -----------------------------------------------------------

    @property
    def tried(self) -> int:
        """How many starts the last placing tried."""
        return TRIES_A_UNIT * len(self.process.units) - self._tries

    def placing(self) -> Placing:
        """The plan last placed, with people named."""
        spans = {
            unit: (self.start[unit], self.end[unit], self.counts[unit], self.test[unit])
            for unit in range(len(self.start))
        }
        return with_names(self.process, self.classes, spans)


def _lowered(levels: tuple[int, ...], count: int, span: int) -> tuple[int, ...]:
    """Rows of "at least k free" after ``count`` more are taken over a span."""
    rest = len(levels) - count
    moved = [
        level ^ ((level ^ higher) & span)
        for level, higher in zip(levels, levels[count:], strict=False)
    ]
    moved += [level ^ (level & span) for level in levels[rest:]]
    return tuple(moved)
