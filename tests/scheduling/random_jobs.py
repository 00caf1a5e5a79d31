"""Hypothesis: small jobs with every rule that a job can state."""

from dataclasses import replace
from datetime import timedelta

from hypothesis import strategies as st

from jobs.factories import (
    AirControlFactory,
    AirHourFactory,
    BanFactory,
    BreakFactory,
    CoatFactory,
    DateWishFactory,
    GateFactory,
    GivenAirFactory,
    HandFactory,
    HoursFactory,
    MaterialFactory,
    PinFactory,
    RoomFactory,
    TradeFactory,
)
from scheduling.problem import AIRBORNE, KINDS, MAKES, After, Job, Rescue
from tests.scheduling.planning_jobs import at, coat, dry, job_of, people

SKILLED = ("finisher",)
FAMILIES = ("waterborne", "glaze", "oil", "lime", "spirit")


def rarely(strategy, usual=None):
    """The usual value three times in four."""
    return st.one_of(st.just(usual), st.just(usual), st.just(usual), strategy)


def spans(days="mon-sun"):
    """Hours of a day that leave some of it."""
    starts = st.sampled_from(["06:00", "07:30", "09:30", "12:00", "14:00"])
    return starts.map(
        lambda start: (
            HoursFactory(days=days, start=start, end=_later(start, 3), breaks=()),
        )
    )


def _later(clock: str, hours: int) -> str:
    return f"{int(clock[:2]) + hours:02d}{clock[2:]}"


@st.composite
def labels(draw):
    touch = draw(st.integers(5, 300))
    recoat = touch + draw(st.integers(0, 900))
    stages = {"open": min(touch, draw(st.integers(3, 60))), "touch": touch}
    stages["recoat"] = draw(st.sampled_from([recoat, (recoat, recoat * 1.5)]))
    if draw(st.booleans()):
        stages["window"] = recoat * 1.5 + draw(st.integers(30, 3000))
    return stages


@st.composite
def materials(draw):
    if draw(rarely(st.just(True), False)):
        tack = draw(st.integers(30, 900))
        label = {"tack": tack, "closes": tack + draw(st.integers(120, 2000))}
        return MaterialFactory(id="material", family="oil-size", labels=label)
    return MaterialFactory(
        id="material",
        family=draw(st.sampled_from(FAMILIES)),
        labels=draw(labels()),
        solvent=draw(st.booleans()),
    )


@st.composite
def steps(draw, stage):
    """One to three steps; ``stage`` is one that the material's label has."""
    made = []
    for number in range(draw(st.integers(1, 3))):
        least = draw(st.integers(1, 2))
        more = {
            "hands": people(least, draw(st.sampled_from([None, least + 1]))),
            "wet": draw(st.booleans()),
            "skill": draw(st.sampled_from([None, None, "finisher"])),
            "makes": draw(rarely(st.sampled_from(MAKES).map(lambda m: (m,)), ())),
            "prefers": draw(rarely(st.sampled_from(["early", "late"]))),
            "same_hand": draw(st.booleans()),
            "setup_min": draw(st.sampled_from([0.0, 15.0])),
        }
        minutes = draw(st.integers(5, 200))
        if not draw(st.booleans()):
            splits = draw(st.booleans()) and not more["wet"]
            made.append(dry(f"s{number}", minutes, splits=splits, **more))
            continue
        if number and draw(st.booleans()):
            more["rescue"] = Rescue(
                min_m2=draw(st.floats(0.5, 4)),
                stage=draw(st.sampled_from([None, stage])),
            )
        more["coat"] = draw(rarely(st.sampled_from([0.5, 2.0]), 1.0))
        more["work_min_m2"] = draw(st.sampled_from([0.0, 2.0]))
        made.append(coat(f"s{number}", minutes, **more))
    coats = [step for step in made if step.material]
    if len(made) > 1 and coats and coats[0] is not made[-1]:
        after = draw(rarely(st.just(After(step=coats[0].id, stage=stage))))
        made[-1] = replace(made[-1], after=after)
    return tuple(made)


@st.composite
def airs(draw):
    if draw(st.booleans()):
        return AirControlFactory(
            dehumidifier_l_day=draw(st.sampled_from([None, 20.0])),
        )
    return GivenAirFactory(
        given=tuple(
            AirHourFactory(
                at=at(day, "00:00"),
                temperature_c=draw(st.floats(8, 28)),
                humidity_pct=draw(st.floats(30, 88)),
            )
            for day in range(-1, 4)
        )
    )


@st.composite
def rooms(draw, number):
    trade = TradeFactory(
        name="carpenter",
        start=at(draw(st.integers(0, 2)), "08:00"),
        end=at(3, "12:00"),
        makes=draw(st.sampled_from([(), ("dust",), AIRBORNE])),
    )
    return RoomFactory(
        id="room" if not number else "hall",
        air=draw(airs()),
        access=draw(rarely(spans("mon-fri"))),
        opens=draw(rarely(spans("mon-thu"), ())),
        smell_free=draw(rarely(spans("tue"), ())),
        hands_most=draw(rarely(st.integers(1, 2))),
        hand_back=draw(rarely(st.integers(4, 12).map(lambda day: at(day, "16:00")))),
        others=(trade,) if draw(rarely(st.just(True), False)) else (),
        any_order=draw(st.booleans()),
        connected=("hall",) if not number and draw(st.booleans()) else (),
    )


@st.composite
def hands(draw):
    return tuple(
        HandFactory(
            id=f"h{number}",
            skills=draw(st.sampled_from([("finisher",), ()])) if number else SKILLED,
            hours=draw(rarely(spans("mon-sat"))),
            away=draw(rarely(st.just(((at(1, "00:00"), at(2, "00:00")),)), ())),
        )
        for number in range(draw(st.sampled_from([1, 2, 3, 3, 4])))
    )


@st.composite
def gates(draw):
    opens = at(draw(st.integers(0, 3)), "10:00")
    shuts = draw(rarely(st.integers(5, 12).map(lambda day: at(day, "10:00"))))
    return (GateFactory(name="tower", not_before=opens, not_after=shuts),)


@st.composite
def jobs(draw) -> Job:
    """One to three walls in one or two rooms, some with part of the work done."""
    count = draw(st.integers(1, 3))
    material = draw(materials())
    stage = "tack" if "tack" in material.labels else "touch"
    kinds = draw(st.lists(st.sampled_from(KINDS), min_size=count, max_size=count))
    job = job_of(
        *(draw(steps(stage)) for _ in range(count)),
        hands=draw(hands()),
        kinds=tuple(kinds),
        materials=(material,),
    )
    surfaces = tuple(
        replace(
            surface,
            room=draw(st.sampled_from(["room", "hall"])),
            recipe=draw(st.sampled_from([surface.recipe, "recipe-1"])),
            stop_lines_m=draw(rarely(st.just((2.0,)), ())),
            sun=draw(rarely(spans(), ())),
            gates=draw(rarely(gates(), ())),
            priority=draw(rarely(st.just(1))),
            ground=draw(rarely(st.sampled_from(["porous", "sealed"]))),
        )
        for surface in job.surfaces
    )
    surfaces = draw(with_corners(surfaces))
    lunch = BreakFactory(start="12:00", end="12:30", relay=draw(st.booleans()))
    site = replace(
        job.site,
        hours=(HoursFactory(breaks=(lunch,)),),
        closed=draw(rarely(st.just((at(2, "00:00").date(),)), ())),
        quiet=draw(rarely(spans(), ())),
    )
    outdoors = tuple(
        AirHourFactory(
            at=at(day, "00:00"),
            temperature_c=draw(st.floats(4, 24)),
            humidity_pct=draw(st.floats(40, 98)),
        )
        for day in range(-4, 4)
    )
    both = draw(rooms(0)), draw(rooms(1))
    job = replace(job, site=site, surfaces=surfaces, rooms=both, outdoors=outdoors)
    return replace(
        job,
        dates=draw(rarely(dates(job, stage), ())),
        coats=draw(rarely(logged(job), ())),
        pins=draw(rarely(pins(job), ())),
        bans=draw(rarely(bans(job), ())),
    )


@st.composite
def with_corners(draw, surfaces):
    """Now and then four walls of one room, with one recipe, in two pairs or one."""
    if not draw(rarely(st.just(True), False)):
        return surfaces
    first = replace(surfaces[0], kind="wall", gates=(), sun=())
    pairs = {"wall-n": "wall-s", "wall-e": draw(st.sampled_from(["wall-w", None]))}
    return tuple(
        replace(first, id=side, opposite=pairs.get(side))
        for side in ("wall-n", "wall-e", "wall-s", "wall-w")
    )


@st.composite
def dates(draw, job, stage):
    wish = DateWishFactory(
        job=job.id,
        by=at(draw(st.integers(0, 9)), "12:00"),
        stage=stage,
        must=draw(st.booleans()),
    )
    return (wish,)


@st.composite
def logged(draw, job):
    """The first step of a wall, done on the Friday before or an hour ago."""
    wall = draw(st.sampled_from(job.surfaces))
    end = draw(st.sampled_from([at(-3, "15:00"), at(0, "07:00")]))
    first = job.recipe(wall.recipe).steps[0].id
    return (
        CoatFactory(
            surface=wall.id, step=first, start=end - timedelta(hours=1), end=end
        ),
    )


@st.composite
def pins(draw, job):
    wall = draw(st.sampled_from(job.surfaces))
    step = draw(st.sampled_from(job.recipe(wall.recipe).steps))
    start = at(draw(st.integers(0, 4)), draw(st.sampled_from(["08:00", "13:00"])))
    return (PinFactory(surface=wall.id, step=step.id, start=start, hands=()),)


@st.composite
def bans(draw, job):
    """A hand kept off a step, or two hours or days in which nobody may do it."""
    wall = draw(st.sampled_from(job.surfaces))
    step = draw(st.sampled_from(job.recipe(wall.recipe).steps)).id
    if draw(st.booleans()):
        hand = draw(st.sampled_from(job.hands)).id
        return (BanFactory(surface=wall.id, step=step, hands=(hand,)),)
    start = at(draw(st.integers(0, 2)), draw(st.sampled_from(["08:00", "11:03"])))
    end = start + timedelta(hours=draw(st.sampled_from([2, 48])))
    return (BanFactory(surface=wall.id, step=step, hands=(), start=start, end=end),)
