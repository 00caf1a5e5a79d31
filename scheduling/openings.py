"""Which hands are there and which room is open, slot by slot, and for how long."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from scheduling.bars import Bars
from scheduling.clock_tables import ClockTables
from scheduling.problem import Job, Material, Step, Surface
from scheduling.process import Bar, HandSlots, Unit, all_of, slots_of
from scheduling.working_time import Axis, Mask, hand_spans, in_spans, room_spans


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Openings:
    """The hours that units are made in, ``days`` days from ``at``."""

    axis: Axis
    at: datetime
    days: int
    hands: tuple[HandSlots, ...]
    entry: Mapping[str, Mask]  # a room's id -> slots in which it may be entered
    materials: Mapping[str, Material]
    bars: Bars

    @property
    def job(self) -> Job:
        """The job whose hours these are."""
        return self.axis.job

    def counts(self, surface: Surface, step: Step) -> list[int]:
        """Numbers of hands that may do the step and that crew and room allow."""
        most = self.job.room(surface.room).hands_most or len(self.hands)
        return [n for n in step.hands.counts if n <= min(most, len(self.hands))]

    def enough(
        self,
        surface: Surface,
        step: Step,
        area_m2: float,
        hands: int,
        lead: int | None = None,
        kept_off: frozenset[str] = frozenset(),
    ) -> Mask:
        """Starts at which so many hands, one with the skill, are there long enough.

        Where a hand must ``lead`` it, that one; hands ``kept_off`` it do not count.
        """
        slots = slots_of(step, area_m2, hands)
        there = [
            all_of(hand.there, slots) & (hand.id not in kept_off) for hand in self.hands
        ]
        skilled = [
            mask
            for number, (hand, mask) in enumerate(zip(self.hands, there, strict=True))
            if step.skill in (None, *hand.skills) and lead in (None, number)
        ]
        many: Mask = np.sum(there, axis=0) >= hands
        one: Mask = np.any(skilled, axis=0) if skilled else np.zeros_like(many)
        return self.open_for(surface, step, slots) & many & one

    def open_for(self, surface: Surface, step: Step, slots: int) -> Mask:
        """Starts that leave so many slots in the hours of the site and the room."""
        n = len(self.axis)
        if step.wet:
            ends = self.axis.stretch_end
        elif step.splits:
            ends = np.full(n, n, dtype=np.int64)
        else:
            ends = self.axis.day_end
        in_time: Mask = np.arange(n) + slots <= ends
        return in_time & all_of(self.entry[surface.room], slots)

    def fits(self, surface: Surface, step: Step, area_m2: float) -> bool:
        """Whether any number of hands finds a start for so much of a step."""
        for count in self.counts(surface, step):
            starts = self.enough(surface, step, area_m2, count)
            for bar in self.barred(surface, step, area_m2, count):
                starts &= bar.may_start
            if starts.any():
                return True
        return False

    def barred(
        self, surface: Surface, step: Step, area_m2: float, hands: int
    ) -> tuple[Bar, ...]:
        """What site, room and wall have against so many hands' stint."""
        material = self.materials[step.material] if step.material else None
        slots = slots_of(step, area_m2, hands)
        return self.bars.of(surface, step, material, slots)

    def barred_for(self, unit: Unit, hands: int) -> tuple[Bar, ...]:
        """What site, room and wall, and then the lead, have against a unit."""
        bars = self.barred(unit.surface, unit.step, unit.area_m2, hands)
        if unit.kind != "work":
            return bars
        slots = slots_of(unit.step, unit.area_m2, hands)
        banned = self.bars.forbidden(unit.surface, unit.step, unit.section, slots)
        return (*bars, *banned)

    def testable(self, surface: Surface) -> Mask:
        """Slots in which somebody may stand in the room for a test."""
        room = self.job.room(surface.room)
        return self.entry[room.id] & self.bars.free_of_trades(room)

    def longest_slots(self, surface: Surface, *, wet: bool) -> int:
        """The longest run of slots that a step in this room could ever have."""
        ends = self.axis.stretch_end if wet else self.axis.day_end
        entry = self.entry[surface.room]
        best = run = 0
        for slot in range(len(self.axis)):
            run = run + 1 if entry[slot] else 0
            best = max(best, run)
            if slot + 1 >= ends[slot]:
                run = 0
        return best


def openings_of(
    job: Job, axis: Axis, tables: ClockTables, *, at: datetime, days: int
) -> Openings:
    """The hours of a job's hands and rooms on an axis."""
    hands = tuple(
        HandSlots(
            id=hand.id,
            skills=frozenset(hand.skills),
            there=in_spans(axis.minute, hand_spans(job, hand, axis.origin, at, days)),
        )
        for hand in job.hands
    )
    return Openings(
        axis=axis,
        at=at,
        days=days,
        hands=hands,
        entry={
            room.id: in_spans(axis.minute, room_spans(job, room, axis.origin, at, days))
            for room in job.rooms
        },
        materials={material.id: material for material in job.materials},
        bars=Bars(axis=axis, tables=tables, at=at, days=days),
    )
