"""One hand on all walls that should look alike. Common practice, no source."""

from dataclasses import replace

from jobs.factories import (
    BreakFactory,
    HandFactory,
    HoursFactory,
    PinFactory,
    RoomFactory,
)
from scheduling.planning import plan_job
from tests.scheduling.planning_jobs import (
    at,
    coat,
    dry,
    job_of,
    people,
    planned,
    with_hours,
    with_room,
)
from tests.scheduling.test_audit import broken_rules, sound

DRAG = coat("drag", wet=True)
ALIKE = replace(DRAG, same_hand=True)


def two_walls(step, **more):
    """Two walls of one room with one recipe, two hands."""
    job = job_of((step,), hands=2)
    again = replace(job.surfaces[0], id="wall-2")
    return replace(job, surfaces=(*job.surfaces, again), **more)


def hands_at(stints):
    return {stint.surface: stint.hands for stint in stints}


def test_walls_that_should_look_alike_come_from_one_hand_though_it_takes_longer():
    either = planned(two_walls(DRAG))
    assert {s.start for s in either.stints} == {at(0, "08:00")}
    job = two_walls(ALIKE)
    stints = sound(job)
    assert len(set(hands_at(stints).values())) == 1
    assert sorted(s.start for s in stints) == [at(0, "08:00"), at(0, "09:00")]
    later = max(stints, key=lambda s: s.start)
    assert later.reason.code == "hands"
    assert "who does it on every wall here" in later.reason.text


def test_the_audit_names_walls_that_no_hand_has_in_common():
    job = two_walls(ALIKE)
    first, second = sound(job)
    swapped = ({"hand-1", "hand-2"} - set(first.hands)).pop()
    assert broken_rules(job, (first, replace(second, hands=(swapped,)))) == {
        "same-hand"
    }


def test_another_hand_may_help_where_two_are_at_the_wall():
    pair = replace(ALIKE, hands=people(2), work_min_m2=ALIKE.apply_min_m2)
    job = two_walls(pair)
    job = replace(job, hands=(*job.hands, HandFactory(id="third")))
    first, second = (set(s.hands) for s in sound(job))
    assert first & second


def test_rooms_are_shared_out_between_the_hands():
    job = two_walls(ALIKE)
    hall = tuple(
        replace(wall, id=f"hall-{n}", room="hall")
        for n, wall in enumerate(job.surfaces, start=1)
    )
    rooms = (*job.rooms, RoomFactory(id="hall"))
    job = replace(job, rooms=rooms, surfaces=(*job.surfaces, *hall))
    stints = sound(job)
    leads = {s.surface.split("-")[0]: s.hands for s in stints}
    assert leads["wall"] != leads["hall"]
    assert max(s.end for s in stints) == at(0, "10:00")


def test_the_hand_that_leads_has_the_skill_and_is_there():
    crew = (HandFactory(id="able", skills=("dragging",)), HandFactory(id="other"))
    job = replace(two_walls(replace(ALIKE, skill="dragging")), hands=crew)
    assert {s.hands for s in sound(job)} == {("able",)}
    gone = replace(crew[0], away=((at(0, "00:00"), at(1, "00:00")),))
    job = replace(job, hands=(gone, crew[1]))
    assert {s.start.date() for s in sound(job)} == {at(1, "08:00").date()}


def test_a_pin_that_names_a_hand_says_who_does_the_others():
    pin = PinFactory(
        surface="wall-2", step="drag", start=at(0, "08:00"), hands=("hand-2",)
    )
    stints = sound(two_walls(ALIKE, pins=(pin,)))
    assert set(hands_at(stints).values()) == {("hand-2",)}


def test_pins_that_name_different_hands_are_left_and_said():
    pins = tuple(
        PinFactory(
            surface=f"wall-{n}", step="drag", start=at(0, "08:00"), hands=(f"hand-{n}",)
        )
        for n in (1, 2)
    )
    job = two_walls(ALIKE, pins=pins)
    plan = planned(job)
    assert hands_at(plan.stints) == {"wall-1": ("hand-1",), "wall-2": ("hand-2",)}
    assert any("pins name different hands" in note for note in plan.notes)


def test_a_later_plan_keeps_the_same_hand_when_one_wall_is_done():
    job = two_walls(ALIKE)
    plan = planned(job)
    again = plan_job(job, at=job.now, budget=1, previous=plan)
    assert again.changes == ()


def test_one_wall_done_in_parts_is_one_hands_as_well():
    long = dry("long", 300.0, splits=True, same_hand=True)
    tuesday = ((at(1, "00:00"), at(2, "00:00")),)
    crew = (HandFactory(id="hand-1", away=tuesday), HandFactory(id="hand-2"))
    whole = with_room(
        job_of((long,), hands=crew),
        access=(HoursFactory(start="14:00", end="17:00", breaks=()),),
    )
    job = with_hours(
        whole, breaks=(BreakFactory(start="12:00", end="12:30", relay=True),)
    )
    stints = sound(job)
    assert len(stints) > 1
    assert len({s.hands for s in stints}) == 1
    other = ({"hand-1", "hand-2"} - set(stints[0].hands)).pop()
    swapped = (stints[0], replace(stints[1], hands=(other,)), *stints[2:])
    assert "same-hand" in broken_rules(job, swapped)
