"""Seeded finishing jobs for measuring: given air, lunch, week-ends, dust, windows.

Rates, waits and windows are common practice, no source, inside the ranges the trade
gives. Air is given hour by hour, so that search is measured apart from room physics.
"""

import math
import random
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from scheduling.problem import (
    After,
    Air,
    AirHour,
    Break,
    GivenAir,
    Hand,
    HandsNeeded,
    Hours,
    Job,
    Material,
    Recipe,
    Room,
    Site,
    Step,
    Surface,
)

ZONE = ZoneInfo("Europe/Lisbon")
BEGIN = datetime(2026, 10, 12, 8, tzinfo=ZONE)
AIR_DAYS = 90
SEEDS = tuple(range(1, 11))
LABEL_AIR = Air(temperature_c=23.0, humidity_pct=50.0)
DAY = 24 * 60.0


@dataclass(frozen=True, slots=True)
class Size:
    """How much there is to do; ``least_steps`` is what the job must hold.

    ``larger`` draws its areas out: few rooms dry longer than they keep a crew busy.
    """

    rooms: int
    hands: int
    least_steps: int
    larger: float = 1.0


SMALL = Size(4, 2, 110, 1.15)
MIDDLE = Size(12, 4, 300)
LARGE = Size(40, 8, 1_050)
SIZES = (SMALL, MIDDLE, LARGE)


def finishing_job(size: Size, seed: int) -> Job:
    """The job of a size and a seed; the same two give the same job."""
    draw = random.Random(f"{size.rooms}/{size.hands}/{seed}")
    rooms = tuple(_room(number, size, draw) for number in range(size.rooms))
    surfaces = tuple(
        surface for number, room in enumerate(rooms)
        for surface in _surfaces(room.id, number, size.larger, draw)
    )  # fmt: skip
    return Job(
        id=f"finishing-{size.rooms}-{size.hands}-{seed}",
        title=f"{size.rooms} rooms, {size.hands} hands, seed {seed}",
        now=BEGIN,
        site=Site(
            zone="Europe/Lisbon",
            hours=(
                Hours(
                    days="mon-fri",
                    start="08:00",
                    end="16:30",
                    breaks=(Break(start="12:00", end="12:30"),),
                ),
            ),
        ),
        hands=_hands(size.hands),
        materials=MATERIALS,
        recipes=RECIPES,
        rooms=rooms,
        surfaces=surfaces,
    )


def _hands(count: int) -> tuple[Hand, ...]:
    """Everybody paints, every other one finishes, every fourth grains and gilds."""
    skills = {0: ("painting", "finishing", "gilding"), 2: ("painting", "finishing")}
    return tuple(
        Hand(id=f"hand-{n + 1}", skills=skills.get(n % 4, ("painting",)))
        for n in range(count)
    )


# -- air -----------------------------------------------------------------------------


def _room(number: int, size: Size, draw: random.Random) -> Room:
    name = f"room-{number + 1}"
    pair = number ^ 1  # rooms open to each other two by two
    return Room(
        id=name,
        volume_m3=draw.uniform(30.0, 80.0),
        air=GivenAir(given=_air(draw)),
        connected=(f"room-{pair + 1}",) if pair < size.rooms and number % 2 else (),
        hands_most=2,
    )


def _air(draw: random.Random) -> tuple[AirHour, ...]:
    """Warm afternoons, damp mornings, and a front now and then for a day or two."""
    warmth = draw.uniform(-1.5, 1.5)
    humidity = draw.uniform(-5.0, 5.0)
    front, until = 0.0, 0
    hours = []
    for hour in range(AIR_DAYS * 24):
        if hour >= until:
            damp = draw.random() < 0.3
            front = draw.uniform(8.0, 20.0) if damp else draw.uniform(-6.0, 4.0)
            until = hour + draw.randint(18, 60)
        phase = math.cos((hour % 24 - 15) / 24 * 2 * math.pi)
        hours.append(
            AirHour(
                at=BEGIN.replace(hour=0) + timedelta(hours=hour),
                temperature_c=20.0 + warmth + 2.0 * phase - 0.05 * front,
                humidity_pct=min(52.0 + humidity - 5.0 * phase + front, 84.0),
            )
        )
    return tuple(hours)


def damper(job: Job, *, start: datetime, days: int = 3, by_pct: float = 22.0) -> Job:
    """The job with every room damper for some days, at most 95 %."""
    end = start + timedelta(days=days)
    rooms = []
    for room in job.rooms:
        assert isinstance(room.air, GivenAir)
        given = tuple(
            AirHour(
                at=hour.at,
                temperature_c=hour.temperature_c,
                humidity_pct=min(hour.humidity_pct + by_pct, 95.0),
            )
            if start <= hour.at < end
            else hour
            for hour in room.air.given
        )
        rooms.append(
            Room(
                id=room.id,
                volume_m3=room.volume_m3,
                air=GivenAir(given=given),
                connected=room.connected,
                hands_most=room.hands_most,
            )
        )
    return Job(
        id=job.id,
        title=job.title,
        now=job.now,
        site=job.site,
        hands=job.hands,
        materials=job.materials,
        recipes=job.recipes,
        rooms=tuple(rooms),
        surfaces=job.surfaces,
        coats=job.coats,
        dates=job.dates,
    )


# -- materials and recipes -------------------------------------------------------------


def _material(name: str, family: str, **labels: object) -> Material:
    return Material(
        id=name,
        family=family,  # type: ignore[arg-type]
        label_air=LABEL_AIR,
        labels=labels,  # type: ignore[arg-type]
    )


MATERIALS = (
    _material("primer", "waterborne", open=15.0, touch=60.0, recoat=(120.0, 240.0)),
    _material("wall-paint", "waterborne", open=15.0, touch=60.0, recoat=(120.0, 240.0)),
    _material(
        "eggshell",
        "waterborne",
        open=15.0,
        touch=60.0,
        recoat=(180.0, 240.0),
        hard=(1.0 * DAY, 1.5 * DAY),
    ),
    _material("glaze", "glaze", open=40.0, touch=180.0, recoat=(720.0, DAY)),
    _material(
        "clear",
        "waterborne",
        open=10.0,
        touch=60.0,
        recoat=(120.0, 180.0),
        window=2 * DAY,
    ),
    _material("enamel", "waterborne", open=12.0, touch=90.0, recoat=(240.0, 360.0)),
    _material(
        "undercoat",
        "oil",
        open=25.0,
        touch=360.0,
        recoat=(720.0, 960.0),
        window=9 * DAY,
    ),
    _material(
        "oil-enamel",
        "oil",
        open=25.0,
        touch=420.0,
        recoat=(960.0, DAY),
        window=6 * DAY,
    ),
    _material("figure", "distemper", open=8.0, touch=30.0, recoat=(30.0, 60.0)),
    _material(
        "isolator",
        "spirit",
        open=5.0,
        touch=15.0,
        recoat=(30.0, 60.0),
        window=1.5 * DAY,
    ),
    _material(
        "oil-varnish",
        "oil",
        open=25.0,
        touch=180.0,
        recoat=(720.0, 960.0),
        window=4 * DAY,
    ),
    _material("size", "oil-size", open=40.0, tack=(600.0, 720.0), closes=DAY),
    _material(
        "floor-varnish", "waterborne", open=10.0, touch=60.0, recoat=(180.0, 240.0)
    ),
)


def _step(
    name: str,
    material: str | None,
    rate: float,
    *,
    work: float = 0.0,
    hands: tuple[int, int | None] = (1, None),
    skill: str | None = "painting",
    setup: float = 5.0,
    dust: bool = False,
    after: After | None = None,
    wet: bool = False,
) -> Step:
    return Step(
        id=name,
        material=material,
        apply_min_m2=rate,
        work_min_m2=work,
        hands=HandsNeeded(least=hands[0], most=hands[1]),
        skill=skill,
        setup_min=setup,
        makes=("dust",) if dust else (),
        after=after,
        wet=wet,
    )


RECIPES = (
    Recipe(
        id="ceiling",
        steps=(
            _step("fill", None, 1.5, setup=10.0, dust=True),
            _step("prime", "primer", 3.0, setup=15.0),
            _step("coat-1", "wall-paint", 4.0),
            _step("coat-2", "wall-paint", 3.5),
        ),
    ),
    Recipe(
        id="plain-walls",
        steps=(
            _step("sand", None, 1.5, setup=10.0, dust=True),
            _step("prime", "primer", 3.0),
            _step("coat-1", "wall-paint", 4.0, hands=(1, 2)),
            _step("coat-2", "wall-paint", 3.5, hands=(1, 2)),
        ),
    ),
    Recipe(
        id="glazed-walls",
        steps=(
            _step("base-1", "eggshell", 4.5, setup=10.0),
            _step("base-2", "eggshell", 4.0),
            _step(
                "glaze", "glaze", 4.0, work=6.0,
                hands=(2, None), skill="finishing", setup=20.0,
                after=After(step="base-2", stage="hard"),
            ),
            _step("clear-1", "clear", 2.5),
            _step("clear-2", "clear", 2.5),
        ),
    ),
    Recipe(
        id="trim-water",
        steps=(
            _step("sand", None, 8.0, setup=10.0, dust=True),
            _step("prime", "primer", 6.0),
            _step("coat-1", "enamel", 8.0),
            _step("de-nib", None, 2.0, setup=0.0, dust=True),
            _step("coat-2", "enamel", 7.0),
        ),
    ),
    Recipe(
        id="trim-oil",
        steps=(
            _step("sand", None, 8.0, setup=10.0, dust=True),
            _step("undercoat", "undercoat", 8.0),
            _step("enamel-1", "oil-enamel", 9.0),
            _step("de-nib", None, 2.0, setup=0.0, dust=True),
            _step("enamel-2", "oil-enamel", 8.0),
        ),
    ),
    Recipe(
        id="graining",
        steps=(
            _step("ground-1", "eggshell", 8.0),
            _step("ground-2", "eggshell", 7.0),
            _step(
                "figure", "figure", 4.0, work=14.0, skill="finishing", setup=20.0,
                after=After(step="ground-2", stage="hard"),
            ),
            _step("isolate", "isolator", 4.0),
            _step("overgrain", "figure", 4.0, work=12.0, skill="finishing"),
            _step("varnish-1", "oil-varnish", 6.0),
            _step("varnish-2", "oil-varnish", 6.0),
        ),
    ),
    Recipe(
        id="gilding",
        steps=(
            _step("abrade", None, 10.0, dust=True),
            _step("seal", "isolator", 5.0),
            _step("size", "size", 15.0, skill="gilding"),
            _step("leaf", None, 60.0, skill="gilding"),
            _step("fault", None, 15.0, skill="gilding", setup=0.0),
        ),
    ),
    Recipe(
        id="floor",
        steps=(
            _step("sand", None, 4.0, setup=15.0, dust=True),
            _step("varnish-1", "floor-varnish", 3.0),
            _step("varnish-2", "floor-varnish", 3.0),
            _step("varnish-3", "floor-varnish", 3.0),
        ),
    ),
)  # fmt: skip


def _surfaces(
    room: str, number: int, larger: float, draw: random.Random
) -> list[Surface]:
    """A ceiling, plain and glazed walls, trim, one special piece and a floor a room."""
    plan_m2 = larger * draw.uniform(14.0, 28.0)
    height = draw.uniform(2.5, 3.1)

    def one(kind: str, recipe: str, area_m2: float, high: float = height) -> Surface:
        return Surface(
            id=f"{room}-{recipe}",
            room=room,
            kind=kind,
            width_m=round(area_m2 / high, 2),
            height_m=round(high, 2),
            recipe=recipe,
        )

    trim = "trim-oil" if draw.random() < 0.4 else "trim-water"
    special = "gilding" if number % 2 else "graining"
    area = draw.uniform(2.0, 4.0) if special == "gilding" else draw.uniform(5.0, 9.0)
    return [
        one("ceiling", "ceiling", plan_m2, 3.0),
        one("wall", "plain-walls", larger * draw.uniform(20.0, 34.0)),
        one("wall", "glazed-walls", larger * draw.uniform(14.0, 24.0)),
        one("trim", trim, larger * draw.uniform(8.0, 14.0), 1.0),
        one("panel", special, area, 1.0),
        one("floor", "floor", plan_m2, 3.0),
    ]
