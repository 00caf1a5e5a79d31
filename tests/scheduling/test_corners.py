"""Opposite walls first, so that no wet edges meet in a corner. Common practice."""

from dataclasses import replace

import numpy as np

from jobs.factories import CoatFactory
from scheduling.air_of_job import job_air
from scheduling.clock_tables import ClockTables
from scheduling.greedy import Greedy
from scheduling.levers import levers
from scheduling.planning import plan_job
from scheduling.problem import corners_of
from scheduling.process_of_job import make_process
from scheduling.readiness import ready
from scheduling.rest import rest_of
from scheduling.risk import chances
from scheduling.solver import Effort, solve
from scheduling.standing import clashing
from scheduling.working_time import make_axis
from tests.scheduling.planning_jobs import (
    QUICK,
    at,
    coat,
    job_of,
    paint,
    planned,
)
from tests.scheduling.test_audit import broken_rules, sound
from tests.scheduling.test_what_if import in_damp_weather

DRAG = coat("drag", wet=True)  # an hour, touch-dry an hour after it
PAIRS = {"n": "s", "e": "w"}
SIDES = ("n", "e", "s", "w")


def room_of_four(step=DRAG, pairs=PAIRS, hands=1, **more):
    """Four walls of one room with one recipe, named by their side."""
    job = job_of((step,), hands=hands, materials=(paint(touch=60.0),))
    walls = tuple(
        replace(job.surfaces[0], id=side, opposite=pairs.get(side)) for side in SIDES
    )
    return replace(job, surfaces=walls, **more)


def process_of(job):
    air = job_air(job, at=job.now, days=7)
    axis = make_axis(job, air.origin, job.now, 7)
    tables = ClockTables(axis, air.surfaces)
    return make_process(job, axis, tables, at=job.now, days=7)


def order(stints):
    """The sides in the order of their starts."""
    return [stint.surface for stint in sorted(stints, key=lambda stint: stint.start)]


def test_walls_meet_those_of_the_other_pair_though_one_side_alone_names_it():
    meets = corners_of(room_of_four())
    assert meets == {
        "n": {"e", "w"},
        "s": {"e", "w"},
        "e": {"n", "s"},
        "w": {"n", "s"},
    }
    assert corners_of(room_of_four(pairs={})) == {}


def test_the_two_opposite_walls_come_first_and_then_the_other_two():
    stints = sound(room_of_four())
    first, second = set(order(stints)[:2]), set(order(stints)[2:])
    assert {frozenset(first), frozenset(second)} == {
        frozenset({"n", "s"}),
        frozenset({"e", "w"}),
    }


def test_two_hands_do_not_lay_two_walls_that_meet_at_once():
    """Without the pairs four hands would lay all four walls together."""
    together = planned(room_of_four(pairs={}, hands=4))
    assert {stint.start for stint in together.stints} == {at(0, "08:00")}
    stints = sound(room_of_four(hands=4))
    starts = sorted(stint.start for stint in stints)
    assert starts == [at(0, "08:00")] * 2 + [at(0, "10:00")] * 2


def test_the_wall_that_waits_for_a_corner_says_so():
    stints = sound(room_of_four(hands=4))
    later = [stint for stint in stints if stint.start > at(0, "08:00")]
    assert {stint.reason.code for stint in later} == {"corner"}
    assert all(
        "in a corner, which is wet until Mon 12 Oct 10:00: opposite walls first."
        in stint.reason.text
        for stint in later
    )
    holders = {stint.reason.other for stint in later}
    assert holders <= {stint.id for stint in stints if stint not in later}


def test_the_exact_model_and_the_placing_both_keep_the_corner():
    process = process_of(room_of_four(hands=4))
    assert len(process.corners) == 4
    free = replace(process, corners=())
    ends = []
    for one in (process, free):
        found = solve(one, None, effort=Effort(budget=2.0))
        assert found.placing is not None
        ends.append(max(placed.end for placed in found.placing.values()))
    assert ends[0] > ends[1]


def test_a_wall_that_stands_keeps_those_beside_it_off():
    process = process_of(room_of_four(hands=4))
    plan = Greedy(process).best()
    assert clashing(process, plan) == frozenset()
    corner = process.corners[0]
    first, later = sorted((corner.one, corner.other), key=lambda u: plan[u].start)
    length = plan[later].end - plan[later].start
    early = replace(plan[later], start=plan[first].end, end=plan[first].end + length)
    assert later in clashing(process, {**plan, later: early})
    rest = rest_of(process, plan, [later])
    (unit,) = rest.process.units
    starts = np.flatnonzero(unit.modes[0].may_start)
    dry = corner.dry_one if corner.one == first else corner.dry_other
    assert starts[0] == dry[plan[first].last]


def test_the_audit_names_a_wall_begun_beside_a_wet_one():
    job = room_of_four(hands=4)
    stints = sound(job)
    early = tuple(
        replace(stint, start=at(0, "08:00"), end=at(0, "09:00"), hands=(f"hand-{n}",))
        for n, stint in enumerate(stints, start=1)
    )
    assert broken_rules(job, early) == {"corner"}


def test_a_wall_that_needs_no_wet_edge_waits_for_no_corner():
    plain = sound(room_of_four(coat("coat"), hands=4))
    assert {stint.start for stint in plain} == {at(0, "08:00")}


def test_a_coat_already_on_holds_the_walls_beside_it_and_not_the_one_across():
    on = CoatFactory(surface="n", step="drag", start=at(0, "06:30"), end=at(0, "07:30"))
    stints = {s.surface: s for s in sound(room_of_four(hands=3, coats=(on,)))}
    assert stints["s"].start == at(0, "08:00")
    for side in ("e", "w"):
        assert stints[side].start >= at(0, "08:30")
    alone = room_of_four(hands=3, coats=(on,))
    gone = replace(
        alone, surfaces=tuple(w for w in alone.surfaces if w.id in ("n", "e", "w"))
    )
    gone = replace(
        gone,
        surfaces=tuple(
            replace(w, opposite="w" if w.id == "e" else None) for w in gone.surfaces
        ),
    )
    assert {s.start for s in sound(gone)} == {at(0, "08:00")}


def test_a_held_wall_beside_a_logged_coat_names_it():
    on = CoatFactory(surface="n", step="drag", start=at(0, "06:30"), end=at(0, "07:30"))
    also = replace(on, surface="s")
    stints = sound(room_of_four(hands=3, coats=(on, also)))
    assert {stint.surface for stint in stints} == {"e", "w"}
    for stint in stints:
        assert stint.start == at(0, "08:30")
        assert stint.reason.code == "corner"
        assert "drag in a corner, which is wet until Mon 12 Oct 08:30" in (
            stint.reason.text
        )


def test_the_list_of_what_is_ready_holds_the_walls_beside_a_wet_one():
    on = CoatFactory(surface="n", step="drag", start=at(0, "06:30"), end=at(0, "07:30"))
    job = room_of_four(coats=(on,))
    states = {row.surface.id: row for row in ready(job, at=at(0, "08:00"))}
    for side in ("e", "w"):
        (held,) = states[side].held_by
        assert held.code == "corner"
        assert held.until.safe == at(0, "08:30")
        assert "Meets n, drag in a corner, which is wet" in held.text
    assert states["s"].held_by == ()
    later = {row.surface.id: row for row in ready(job, at=at(0, "08:30"))}
    assert later["e"].held_by == ()


def test_how_likely_a_wall_is_dry_in_time_for_the_one_beside_it_is_told():
    unsure = paint(touch=(60.0, 120.0))
    job = room_of_four(hands=4, materials=(unsure,))
    plan = plan_job(job, at=job.now, budget=QUICK, chance=0.5)
    found = chances(job, plan, at=job.now)
    weak = [gate for gate in found.weak if gate.code == "corner"]
    assert weak
    assert all("when the wall beside it is laid wet" in gate.text for gate in weak)


def test_what_dries_the_wall_that_holds_a_corner_is_offered_as_a_lever():
    job = in_damp_weather(room_of_four(hands=4))
    plan = planned(job)
    last = max(plan.stints, key=lambda stint: stint.start)
    assert last.reason.code == "corner"
    codes = {lever.code for lever in levers(job, plan, surface=last.surface)}
    assert "dehumidifier" in codes


def in_parts(section):
    """The north wall in three parts, of which one is on since half past seven."""
    job = room_of_four()
    walls = tuple(
        replace(wall, stop_lines_m=(1.0, 2.0)) if wall.id == "n" else wall
        for wall in job.surfaces
    )
    on = CoatFactory(
        surface="n", section=section, step="drag",
        start=at(0, "06:30"), end=at(0, "07:30"),
    )  # fmt: skip
    return replace(
        job, surfaces=walls, coats=(on,), hands=job_of((DRAG,), hands=3).hands
    )


def test_only_the_ends_of_a_wall_in_parts_meet_a_corner():
    process = process_of(in_parts("1"))
    found = {
        process.units[number].section
        for corner in process.corners
        for number in (corner.one, corner.other)
        if process.units[number].surface.id == "n"
    }
    assert found == {"3"}
    held = {
        section: [s for s in sound(in_parts(section)) if s.surface in ("e", "w")]
        for section in ("1", "2")
    }
    assert min(s.start for s in held["1"]) >= at(0, "08:30")
    assert process_of(in_parts("1")).units[-1].logged is not None
    assert process_of(in_parts("2")).units[-1].logged is None


def test_rooms_are_kept_apart_by_their_own_corners_alone():
    job = room_of_four()
    hall = tuple(
        replace(
            wall,
            id=f"hall-{wall.id}",
            room="hall",
            opposite=wall.opposite and f"hall-{wall.opposite}",
        )
        for wall in job.surfaces
    )
    hall_room = replace(job.rooms[0], id="hall")
    both = replace(job, rooms=(*job.rooms, hall_room), surfaces=(*job.surfaces, *hall))
    process = process_of(both)
    rooms = [
        {process.units[c.one].surface.room, process.units[c.other].surface.room}
        for c in process.corners
    ]
    assert len(rooms) == 8
    assert all(len(pair) == 1 for pair in rooms)
