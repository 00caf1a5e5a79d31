"""Who is on site on which day: what a plan asks of people beside its dates.

The later aims of a first plan: days on site and hand-days first, then visits to rooms,
then steps at the end of the day that their recipe prefers.
"""

from dataclasses import dataclass

import numpy as np

from scheduling.placing import Placed, Placing
from scheduling.process import Process, Unit
from scheduling.working_time import Axis


@dataclass(frozen=True, slots=True, kw_only=True)
class Presence:
    """Who and what is worked with on which day (its ordinal); hands by their number.

    ``off_hours`` are slots between stints and the end of their day that they prefer.
    """

    hands_on: frozenset[tuple[int, int]]
    rooms_on: frozenset[tuple[str, int]]
    off_hours: int

    @property
    def days(self) -> int:
        """Days on which anybody works."""
        return len({day for _, day in self.rooms_on})

    @property
    def hand_days(self) -> int:
        """Hands summed over those days."""
        return len(self.hands_on)

    @property
    def visits(self) -> int:
        """Rooms summed over those days."""
        return len(self.rooms_on)

    @property
    def asked(self) -> tuple[int, int, int]:
        """What the aims after the finish count, in their order."""
        return self.weight, self.visits, self.off_hours

    @property
    def weight(self) -> int:
        """Days and hand-days in one number: each is a journey."""
        return self.days + self.hand_days


def presence(process: Process, placing: Placing) -> Presence:
    """Count a complete placing; a stint over several days counts on each of them.

    A unit that stands nowhere is a rescue not done.
    """
    hands: set[tuple[int, int]] = set()
    rooms: set[tuple[str, int]] = set()
    placed_units = [unit for unit in process.units if unit.index in placing]
    for unit in placed_units:
        placed = placing[unit.index]
        for day in set(process.axis.day[placed.start : placed.end].tolist()):
            hands |= {(hand, day) for hand in placed.hands}
            rooms.add((unit.surface.room, day))
    off = sum(_off_hours(process.axis, row, placing[row.index]) for row in placed_units)
    return Presence(hands_on=frozenset(hands), rooms_on=frozenset(rooms), off_hours=off)


def _off_hours(axis: Axis, unit: Unit, placed: Placed) -> int:
    if unit.step.prefers is None or unit.pinned is not None:
        return 0
    end = int(axis.day_end[placed.start])
    if unit.step.prefers == "late":
        return max(0, end - placed.end)
    return placed.start - int(np.searchsorted(axis.day, axis.day[placed.start]))
