"""Clocks as lookup tables over the working axis.

For every slot a coat may end in: the first slot that may follow, and the last.
Wall-clock integration happens once for each air, material and stage, in ``drying``;
the planner then only looks up.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from scheduling import cautions, drying
from scheduling.chance import closing_min, wait_min
from scheduling.ground import AS_LABELLED, Laid
from scheduling.integral import Places
from scheduling.problem import SIZES, Family, Material, Surface
from scheduling.room_air import RoomAir
from scheduling.working_time import SLOT_MIN, Axis, Ints, Mask

Floats = NDArray[np.float64]
T = TypeVar("T")

# About 6 MB each over 42 days. 40 rooms: 240 MB less at the height, no slower.
AIRS_KEPT = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gate:
    """First and last slot that may follow a coat ending in slot l; high is n for ever.

    ``test[l]``: only the likely range of the clocks leaves room, so the step is planned
    inside it with a test first.
    """

    low: Ints
    high: Ints
    test: Mask


def window_stage(material: Material) -> str | None:
    """The stage that ends a coat's window, None where it has none."""
    stage = "closes" if material.family in SIZES else "window"
    return stage if stage in material.labels else None


def clear_stage(material: Material) -> str | None:
    """The stage from which dust does a coat no harm; a size stays tacky to the end."""
    usual = (
        ("closes", "tack") if material.family in SIZES else ("touch", "recoat", "open")
    )
    return next((stage for stage in usual if stage in material.labels), None)


class ClockTables:
    """Tables made when first asked for, shared by surfaces in the same air.

    ``wait_air`` is the air that waits are counted in, ``open_air`` the air for open
    times and closing windows; usually the same. Waits count to the safe end and open
    times and windows to the early one, or to the ends that hold with ``chance``.
    """

    def __init__(
        self,
        axis: Axis,
        wait_air: Mapping[str, RoomAir],
        open_air: Mapping[str, RoomAir] | None = None,
        *,
        chance: float | None = None,
    ) -> None:
        self.axis = axis
        self.chance = chance
        self.wait_air = wait_air
        self.open_air = open_air or wait_air
        # One array for all tables: what is worked out for its ends is kept by them.
        self._end_minutes = (axis.minute + SLOT_MIN).astype(np.float64)
        self._start_minutes = axis.minute.astype(np.float64)
        self._made: dict[tuple[object, ...], object] = {}
        self._worked: dict[int, drying.Worked] = {}
        self._places: dict[tuple[float, int], Places] = {}

    def gate(
        self,
        surface: Surface,
        material: Material,
        stage: str,
        laid: Laid = AS_LABELLED,
    ) -> Gate:
        """Where the next step may start, for each slot the coat may end in."""
        key = ("gate", self._air_key(surface), material.id, stage, laid)
        return self._once(
            key,
            lambda: self._gate(surface, material, stage, self._ends(), laid),
        )

    def gate_after(
        self,
        surface: Surface,
        material: Material,
        stage: str,
        end_min: float,
        laid: Laid = AS_LABELLED,
    ) -> tuple[int, int, bool]:
        """The same for one coat already on, ended at ``end_min``."""
        gate = self._gate(surface, material, stage, np.array([end_min]), laid)
        return int(gate.low[0]), int(gate.high[0]), bool(gate.test[0])

    def ready(
        self,
        surface: Surface,
        material: Material,
        stage: str,
        laid: Laid = AS_LABELLED,
    ) -> Floats:
        """Minute at which a coat ending in slot l counts as at a stage or promise."""
        ends = self._ends()
        key = ("ready", self._air_key(surface), material.id, stage, laid)
        return self._once(
            key, lambda: ends + self._wait(surface, material, stage, ends, laid)
        )

    def ready_after(
        self,
        surface: Surface,
        material: Material,
        stage: str,
        end_min: float,
        laid: Laid = AS_LABELLED,
    ) -> float:
        """The same for one coat already on."""

        def make() -> float:
            wait = self._wait(surface, material, stage, np.array([end_min]), laid)
            return end_min + float(wait[0])

        key = ("after", self._air_key(surface), material.id, stage, end_min, laid)
        return self._once(key, make)

    def clear_after(
        self, surface: Surface, material: Material, laid: Laid = AS_LABELLED
    ) -> Ints:
        """First slot in which dust may be made after a coat ending in slot l."""
        stage = clear_stage(material)
        if stage is None:
            return np.arange(1, len(self.axis) + 1, dtype=np.int64)
        key = ("clear", self._air_key(surface), material.id, laid)
        return self._once(
            key,
            lambda: self.axis.slots_from(self.ready(surface, material, stage, laid)),
        )

    def settled_after(self, what: str) -> Ints:
        """First slot in which a coat may start after this was made until slot l."""
        if what != "dust":
            return np.arange(1, len(self.axis) + 1, dtype=np.int64)
        return self._once(
            ("settled",),
            lambda: self.axis.slots_from(self._ends() + cautions.DUST_SETTLES_MIN),
        )

    def open_min(
        self, surface: Surface, material: Material, laid: Laid = AS_LABELLED
    ) -> Floats:
        """Open time to count on for a coat laid at the start of each slot."""
        air = self.open_air[surface.id]
        key = ("open", id(air), material.id, laid)
        starts = self._start_minutes
        return self._once(
            key,
            lambda: closing_min(
                self._in_air(material, "open", air, starts, laid), self.chance
            ),
        )

    def may_start(self, surface: Surface, family: Family) -> Mask:
        """Slots in whose air a coat of this family may be begun."""
        key = ("start", self._air_key(surface), family)

        def make() -> Mask:
            free = np.ones(len(self.axis), dtype=bool)
            for air in {id(a): a for a in self._airs(surface)}.values():
                place = (self.axis.minute // air.step_min).astype(np.int64)
                blocked = cautions.blocked(family, air)
                free &= ~blocked[np.clip(place, 0, len(air) - 1)]
            return free

        return self._once(key, make)

    def _gate(
        self,
        surface: Surface,
        material: Material,
        stage: str,
        ends: Floats,
        laid: Laid,
    ) -> Gate:
        opens = self._clock(surface, material, stage, ends, laid)
        opens_min = wait_min(opens, self.chance)
        low = self.axis.slots_from(ends + opens_min)
        closing = window_stage(material)
        if closing is None or closing == stage:
            high, test = self._endless(len(ends))  # all slots or one coat
            return Gate(low=low, high=high, test=test)
        closes = self._in_air(material, closing, self.open_air[surface.id], ends, laid)
        closes_min = closing_min(closes, self.chance)
        high = self._last_slot(ends + closes_min)
        # Safe opening after early closing: plan inside the likely window, with a test.
        test = opens_min > closes_min
        if not test.any():
            return Gate(low=low, high=high, test=test)
        likely_low = self.axis.slots_from(ends + opens.likely_min)
        likely_high = self._last_slot(ends + closes.likely_min)
        return Gate(
            low=np.where(test, likely_low, low),
            high=np.where(test, likely_high, high),
            test=test,
        )

    def _endless(self, count: int) -> tuple[Ints, Mask]:
        """No latest slot and no test, the same arrays for all tables."""
        n = len(self.axis)
        return self._once(
            ("endless", count),
            lambda: (np.full(count, n, dtype=np.int64), np.zeros(count, dtype=bool)),
        )

    def _ends(self) -> Floats:
        """Minute at which each slot ends."""
        return self._end_minutes

    def _last_slot(self, minutes: Floats) -> Ints:
        found = self.axis.slots_until(minutes)
        if len(self.axis):
            beyond = minutes >= self.axis.minute[-1] + SLOT_MIN
            found = np.where(beyond, len(self.axis), found)
        return found

    def _wait(
        self,
        surface: Surface,
        material: Material,
        stage: str,
        ends: Floats,
        laid: Laid,
    ) -> Floats:
        clock = self._clock(surface, material, stage, ends, laid)
        return wait_min(clock, self.chance)

    def _clock(
        self,
        surface: Surface,
        material: Material,
        stage: str,
        ends: Floats,
        laid: Laid,
    ) -> drying.Clock:
        return self._in_air(material, stage, self.wait_air[surface.id], ends, laid)

    def _in_air(
        self,
        material: Material,
        stage: str,
        air: RoomAir,
        ends: Floats,
        laid: Laid,
    ) -> drying.Clock:
        # The tables hold the air: ids stay its own. What is worked out is large, and
        # walls of one room come one after the other: only the last few are kept.
        worked = self._worked.pop(id(air), None)
        if worked is None:
            steps = air.step_min, len(air)
            places = self._places.setdefault(steps, Places(*steps))
            worked = drying.in_air(air, places)
        self._worked[id(air)] = worked
        if len(self._worked) > AIRS_KEPT:
            del self._worked[next(iter(self._worked))]
        return drying.clock(
            material,
            stage,
            air,
            ends,
            coat=laid.coat,
            porous=laid.porous,
            worked=worked,
            early=False,  # no wait is planned below an even chance
        )

    def _airs(self, surface: Surface) -> tuple[RoomAir, RoomAir]:
        return self.wait_air[surface.id], self.open_air[surface.id]

    def _air_key(self, surface: Surface) -> tuple[int, int]:
        wait, opened = self._airs(surface)
        return id(wait), id(opened)

    def _once(self, key: tuple[object, ...], make: Callable[[], T]) -> T:
        if key not in self._made:
            self._made[key] = make()
        return self._made[key]  # type: ignore[return-value]
