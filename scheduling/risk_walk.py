"""A plan walked through, case by case: who must wait starts late, and so do the next.

Nothing starts before its planned moment, and nothing changes its place in the order or
its hands. A late stint takes the first start that hours, hands and air allow.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from scheduling.clock_tables import ClockTables
from scheduling.process import all_of
from scheduling.risk_draws import Draws
from scheduling.risk_facts import Laid, Rest
from scheduling.room_air import Floats
from scheduling.working_time import (
    SLOT_MIN,
    Axis,
    Ints,
    Mask,
    hand_spans,
    in_spans,
    room_spans,
)

JOT_MIN = 1e-6  # as finely as ``working_time`` tells minutes apart


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walked:
    """By place, the minute of start and end in each case; inf is beyond the days.

    ``kept`` are the cases in which no window closed before its stint came. A window
    missed costs no time here: what to do then is for people to decide.
    """

    starts: Sequence[Floats]
    ends: Sequence[Floats]
    kept: Mask


class Walk:
    """Walks the stints of a plan in the hours of one axis."""

    def __init__(
        self, axis: Axis, draws: Draws, tables: ClockTables, at: datetime, days: int
    ) -> None:
        self.axis, self.draws, self.tables = axis, draws, tables
        self._at, self._days = at, days
        self._rooms: dict[str, Mask] = {}
        self._hands: dict[str, Mask] = {}
        self._firsts: dict[tuple[object, ...], Ints] = {}

    def through(self, rests: Sequence[Rest]) -> Walked:
        """All stints in turn."""
        count = self.draws.count
        starts: list[Floats] = []
        ends: list[Floats] = []
        kept = np.ones(count, dtype=bool)
        reached: dict[tuple[str, str], Floats] = {}
        for rest in rests:
            low = np.full(count, -np.inf)
            for place in rest.after:
                low = np.maximum(low, ends[place])
            for need in rest.needs:
                key = (need.coat.key, need.stage)
                if key not in reached:
                    laid = self._ended(need.coat, ends)
                    reached[key] = self.draws.reached(need.coat, need.stage, laid)
                low = np.maximum(low, reached[key])
            start, end = self._placed(rest, low)
            for need in rest.needs:
                if need.closing is not None:
                    laid = self._ended(need.coat, ends)
                    shut = self.draws.reached(need.coat, need.closing, laid)
                    opens = reached[need.coat.key, need.stage]
                    kept &= start <= np.maximum(shut, opens) + JOT_MIN
            starts.append(start)
            ends.append(end)
        return Walked(starts=starts, ends=ends, kept=kept)

    def _ended(self, coat: Laid, ends: Sequence[Floats]) -> Floats:
        if coat.place is not None:
            return ends[coat.place]
        return np.full(self.draws.count, self.axis.minute_of(coat.end))

    def _placed(self, rest: Rest, low: Floats) -> tuple[Floats, Floats]:
        planned = self.axis.minute_of(rest.stint.start)
        start = np.full(low.shape, planned)
        end = np.full(low.shape, self.axis.minute_of(rest.stint.end))
        late = low > planned + JOT_MIN
        if late.any():
            slots = self._slots(rest)
            first = self._first(rest, slots)[self.axis.slots_from(low[late])]
            found = first < len(self.axis)
            # Where no start is left, any slot stands in until inf is put there.
            place = np.where(found, first, 0)
            last = np.where(found, first + slots - 1, 0)
            start[late] = np.where(found, self.axis.minute[place], np.inf)
            end[late] = np.where(found, self.axis.minute[last] + SLOT_MIN, np.inf)
        return start, end

    def _slots(self, rest: Rest) -> int:
        """Working slots the stint takes; by its length where it lies off the axis."""
        first = self.axis.slot_from(self.axis.minute_of(rest.stint.start))
        after = self.axis.slot_from(self.axis.minute_of(rest.stint.end))
        if after > first:
            return after - first
        length = rest.stint.end - rest.stint.start
        return max(1, -int(-length.total_seconds() // (60 * SLOT_MIN)))

    def start_from(self, rest: Rest, minute: float) -> datetime | None:
        """The first start of a stint at or after a minute; None where none is left."""
        if not np.isfinite(minute):
            return None
        slot = self._first(rest, self._slots(rest))[self.axis.slot_from(minute)]
        return self.axis.start_of(int(slot)) if slot < len(self.axis) else None

    def _first(self, rest: Rest, slots: int) -> Ints:
        """For each slot, and for none left, the first start at it or after."""
        family = rest.lays.material.family if rest.lays is not None else None
        room = rest.surface.room
        wet = rest.step.wet and rest.stint.kind == "work"
        air = self.tables.wait_air[rest.surface.id]
        key = (room, rest.stint.hands, slots, wet, family, id(air))
        if key not in self._firsts:
            n = len(self.axis)
            ends = self.axis.stretch_end if wet else self.axis.day_end
            free = np.arange(n) + slots <= ends
            for hours in (self._room(room), *map(self._hand, rest.stint.hands)):
                free &= all_of(hours, slots)
            if family is not None:
                free &= self.tables.may_start(rest.surface, family)
            place = np.where(free, np.arange(n), n)
            first = np.minimum.accumulate(place[::-1])[::-1]
            self._firsts[key] = np.append(first, n).astype(np.int64)
        return self._firsts[key]

    def _room(self, room_id: str) -> Mask:
        if room_id not in self._rooms:
            job, origin = self.axis.job, self.axis.origin
            spans = room_spans(job, job.room(room_id), origin, self._at, self._days)
            self._rooms[room_id] = in_spans(self.axis.minute, spans)
        return self._rooms[room_id]

    def _hand(self, hand_id: str) -> Mask:
        if hand_id not in self._hands:
            job, origin = self.axis.job, self.axis.origin
            hand = next(hand for hand in job.hands if hand.id == hand_id)
            spans = hand_spans(job, hand, origin, self._at, self._days)
            self._hands[hand_id] = in_spans(self.axis.minute, spans)
        return self._hands[hand_id]
