"""Rooms that exchange air through open doors.

As much air goes one way as the other, so a door moves heat and vapour but no volume.
Flows are a square of rooms by rooms, m3/h, the same read either way, 0 on the diagonal.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from scheduling.problem import AirControl, GivenAir, Room
from scheduling.room_air import Floats


def door_m3_h(one: Room, other: Room) -> float:
    """The air between two rooms: the larger of what the two state, 0 if unconnected.

    A connection stated by either room is one for both. Given air states no doors.
    """
    if one.id == other.id:
        return 0.0
    if other.id not in one.connected and one.id not in other.connected:
        return 0.0
    return max(_stated(one), _stated(other))


def flows_m3_h(rooms: Sequence[Room]) -> Floats | None:
    """Flows between modelled rooms; None where no two exchange air."""
    flows = np.array([[door_m3_h(one, other) for other in rooms] for one in rooms])
    return flows if flows.any() else None


def given_beside(room: Room, rooms: Sequence[Room]) -> Mapping[str, float]:
    """Air (m3/h) from each room of given air that is open to a modelled one."""
    return {
        other.id: door_m3_h(room, other)
        for other in rooms
        if isinstance(other.air, GivenAir) and door_m3_h(room, other) > 0
    }


def _stated(room: Room) -> float:
    return (room.air.doors_m3_h or 0.0) if isinstance(room.air, AirControl) else 0.0
