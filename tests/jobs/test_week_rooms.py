"""A big job's rooms in parts: whole rooms, as many as one sheet has rows for."""

from dataclasses import replace

import pytest

from jobs.factories import small_job
from jobs.week_rooms import MOST_ROWS, room_parts
from scheduling.plan import Plan
from scheduling.problem import Job
from tests.jobs.page_cast import plan_value


def job_of(*walls: int) -> Job:
    """A room for each number, with so many walls."""
    job = small_job()
    rooms = [replace(job.rooms[0], id=f"r{n}", name=None) for n in range(len(walls))]
    surfaces = [
        replace(job.surfaces[0], id=f"r{n}-w{k}", room=f"r{n}")
        for n, count in enumerate(walls)
        for k in range(count)
    ]
    return replace(job, rooms=tuple(rooms), surfaces=tuple(surfaces))


def plan_of(job: Job, *left_out: str) -> Plan:
    (first,) = plan_value(job).stints
    stints = (
        replace(first, id=f"{wall.id}-coat-1", surface=wall.id)
        for wall in job.surfaces
        if wall.room not in left_out
    )
    return replace(plan_value(job), stints=tuple(stints))


@pytest.mark.parametrize(
    ("walls", "names"),
    [
        ((1,), ["r0"]),
        ((10, 14), ["r0 to r1"]),
        ((10, 15), ["r0", "r1"]),
        ((30, 1), ["r0", "r1"]),
        ((8, 8, 8, 8), ["r0 to r2", "r3"]),
    ],
)
def test_rooms_stay_whole_and_fill_a_sheet(
    walls: tuple[int, ...], names: list[str]
) -> None:
    job = job_of(*walls)
    parts = room_parts(job, plan_of(job))
    assert [part.name for part in parts] == names
    assert sorted(room for part in parts for room in part.rooms) == [
        room.id for room in job.rooms
    ]


def test_a_room_without_work_has_no_part() -> None:
    job = job_of(MOST_ROWS, 2, 2)
    parts = room_parts(job, plan_of(job, "r1"))
    assert [part.rooms for part in parts] == [{"r0"}, {"r2"}]
