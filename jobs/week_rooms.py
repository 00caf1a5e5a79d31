"""A big job's rooms in parts that fit a sheet of paper and a small page.

Pure: a job and its plan in, which rooms are shown together out.
"""

from dataclasses import dataclass

from jobs.calendar_words import label
from scheduling.plan import Plan
from scheduling.problem import Job, Room

# Rows of the drawing that are still read on A4 across, at 7 mm each on A3.
MOST_ROWS = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomPart:
    """Rooms shown together; ``first`` is the id of the first of them."""

    name: str
    first: str
    rooms: frozenset[str]


def room_parts(job: Job, plan: Plan) -> tuple[RoomPart, ...]:
    """Whole rooms in the job's order, as many as have rows for one sheet.

    Rooms where nothing is planned or logged have no part.
    """
    worked = {stint.surface for stint in plan.stints}
    worked |= {coat.surface for coat in job.coats}
    rows: dict[str, int] = {}
    for surface in job.surfaces:
        if surface.id in worked:
            rows[surface.room] = rows.get(surface.room, 0) + 1
    parts: list[list[Room]] = []
    filled = 0
    for room in job.rooms:
        if room.id not in rows:
            continue
        if not parts or filled + rows[room.id] > MOST_ROWS:
            parts.append([])
            filled = 0
        parts[-1].append(room)
        filled += rows[room.id]
    return tuple(_part(rooms) for rooms in parts)


def _part(rooms: list[Room]) -> RoomPart:
    name = label(rooms[0])
    if len(rooms) > 1:
        name += f" to {label(rooms[-1])}"
    ids = frozenset(room.id for room in rooms)
    return RoomPart(name=name, first=rooms[0].id, rooms=ids)
