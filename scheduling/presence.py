"""Who is on site on which day: what a plan asks of people beside its dates.

The later aims of a first plan: days on site and hand-days first, then visits to rooms.
"""

from dataclasses import dataclass

from scheduling.placing import Placing
from scheduling.process import Process


@dataclass(frozen=True, slots=True, kw_only=True)
class Presence:
    """Who and what is worked with on which day (its ordinal); hands by their number."""

    hands_on: frozenset[tuple[int, int]]
    rooms_on: frozenset[tuple[str, int]]

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
    def weight(self) -> int:
        """Days and hand-days in one number: each is a journey."""
        return self.days + self.hand_days


def presence(process: Process, placing: Placing) -> Presence:
    """Count a complete placing; a stint over several days counts on each of them."""
    hands: set[tuple[int, int]] = set()
    rooms: set[tuple[str, int]] = set()
    for unit in process.units:
        placed = placing[unit.index]
        for day in set(process.axis.day[placed.start : placed.end].tolist()):
            hands |= {(hand, day) for hand in placed.hands}
            rooms.add((unit.surface.room, day))
    return Presence(hands_on=frozenset(hands), rooms_on=frozenset(rooms))
