"""Who is on site on which day: what a plan asks of people beside its dates.

The later aims of a first plan: days on site and hand-days first, then visits to rooms.
"""

from dataclasses import dataclass

from scheduling.placing import Placing
from scheduling.process import Process


@dataclass(frozen=True, slots=True, kw_only=True)
class Presence:
    """Days on which anybody works, hands summed over those days, rooms likewise."""

    days: int
    hand_days: int
    visits: int

    @property
    def weight(self) -> int:
        """Days and hand-days in one number: each is a journey."""
        return self.days + self.hand_days


def presence(process: Process, placing: Placing) -> Presence:
    """Count a complete placing; a stint over several days counts on each of them."""
    days: set[int] = set()
    hands: set[tuple[int, int]] = set()
    rooms: set[tuple[str, int]] = set()
    for unit in process.units:
        placed = placing[unit.index]
        for day in set(process.axis.day[placed.start : placed.end].tolist()):
            days.add(day)
            hands |= {(hand, day) for hand in placed.hands}
            rooms.add((unit.surface.room, day))
    return Presence(days=len(days), hand_days=len(hands), visits=len(rooms))
