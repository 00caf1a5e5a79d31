"""Small jobs in still, known air, where one rule at a time can bind."""

from dataclasses import replace
from datetime import datetime, time, timedelta

from jobs.factories import (
    AirHourFactory,
    GivenAirFactory,
    HandFactory,
    HandsNeededFactory,
    HoursFactory,
    JobFactory,
    MaterialFactory,
    RecipeFactory,
    RoomFactory,
    SiteFactory,
    StepFactory,
    SurfaceFactory,
)
from scheduling.plan import Plan, Stint
from scheduling.planning import plan_job
from scheduling.problem import Job, Step

MONDAY = datetime(2026, 10, 12, tzinfo=SiteFactory().tz)
QUICK = 2.0


def at(day: int, clock: str) -> datetime:
    """A clock time so many days after Monday 12 October 2026."""
    on = (MONDAY + timedelta(days=day)).date()
    return datetime.combine(on, time.fromisoformat(clock), MONDAY.tzinfo)


def coat(step_id: str = "coat", minutes: float = 60.0, **more) -> Step:
    """A step that takes so many minutes on the walls of ``job_of`` (12.5 m2)."""
    return StepFactory(id=step_id, apply_min_m2=minutes / 12.5, **more)


def dry(step_id: str, minutes: float = 60.0, **more) -> Step:
    """A step that puts nothing on."""
    return coat(step_id, minutes, material=None, **more)


def paint(**labels):
    """The material of ``coat``: touch 60, recoat 240 min unless told."""
    return MaterialFactory(
        id="material", labels={"open": 10.0, "touch": 60.0, "recoat": 240.0} | labels
    )


def job_of(
    *recipes: tuple[Step, ...],
    hands: int | tuple = 1,
    materials=None,
    kinds: tuple[str, ...] = (),
    **more,
) -> Job:
    """One wall of 12.5 m2 for each recipe, in one room, from Monday 08:00 on."""
    crew = hands
    if isinstance(hands, int):
        crew = tuple(HandFactory(id=f"hand-{n + 1}") for n in range(hands))
    surfaces = tuple(
        SurfaceFactory(
            id=f"wall-{n + 1}",
            recipe=f"recipe-{n + 1}",
            kind=kinds[n] if kinds else "wall",
        )
        for n in range(len(recipes))
    )
    made = JobFactory(
        id="small",
        now=at(0, "08:00"),
        hands=crew,
        materials=(materials or (paint(),)),
        recipes=tuple(
            RecipeFactory(id=f"recipe-{n + 1}", steps=steps)
            for n, steps in enumerate(recipes)
        ),
        rooms=(RoomFactory(id="room"),),
        surfaces=surfaces,
        outdoors=(),
        readings=(),
        coats=(),
        dates=(),
    )
    return replace(made, **more)


def planned(job: Job, *, budget: float = QUICK, previous: Plan | None = None) -> Plan:
    """The plan of a job from its own now; the job must have one."""
    plan = plan_job(job, at=job.now, budget=budget, previous=previous)
    assert plan.outcome == "plan", plan.reasons
    return plan


def stint(plan: Plan, wall: int, step: str = "coat", kind: str = "work") -> Stint:
    """The one stint of a step on a wall."""
    (found,) = (
        s
        for s in plan.stints
        if (s.surface, s.step, s.kind) == (f"wall-{wall}", step, kind)
    )
    return found


def span(plan: Plan, wall: int, step: str = "coat") -> tuple[datetime, datetime]:
    """From and to of a stint."""
    found = stint(plan, wall, step)
    return found.start, found.end


def with_surface(job: Job, wall: int, **changes) -> Job:
    """The job with one wall changed."""
    surfaces = tuple(
        replace(s, **changes) if s.id == f"wall-{wall}" else s for s in job.surfaces
    )
    return replace(job, surfaces=surfaces)


def with_room(job: Job, **changes) -> Job:
    """The job with its (first) room changed."""
    return replace(job, rooms=(replace(job.rooms[0], **changes), *job.rooms[1:]))


def with_hours(job: Job, **changes) -> Job:
    """The job with other site hours, Monday to Friday 08:00 to 16:30 unless told."""
    return replace(job, site=replace(job.site, hours=(HoursFactory(**changes),)))


def damp(from_day: int, to_day: int, humidity_pct: float = 80.0):
    """Given air at 23 C and 50 %, damp for some whole days."""
    hours = (
        AirHourFactory(at=at(-5, "00:00")),
        AirHourFactory(at=at(from_day, "00:00"), humidity_pct=humidity_pct),
        AirHourFactory(at=at(to_day, "00:00")),
    )
    return GivenAirFactory(given=hours)


def people(least: int, most: int | None = None):
    """Hands needed."""
    return HandsNeededFactory(least=least, most=most)
