"""The demo job: a week and a bit in the public rooms of a small hotel by the sea.

The Marram House is invented, and so are its rooms, people and weather. On Wednesday at
eleven warm sea fog comes in and stays until Thursday night; outdoor air of 17 C and
95 % then puts a room heated to 20 C at about 79 %.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from jobs import demo_materials, demo_recipes
from jobs.factories import (
    AirControlFactory,
    AirHourFactory,
    CoatFactory,
    DateWishFactory,
    GateFactory,
    HandFactory,
    HoursFactory,
    JobFactory,
    RoomFactory,
    SiteFactory,
    SurfaceFactory,
)
from scheduling.problem import (
    AirHour,
    Coat,
    DateWish,
    Hand,
    Job,
    Room,
    Site,
    Surface,
    TypicalAir,
)

JOB_ID = "marram-house"
ZONE = "Europe/Lisbon"
SATURDAY = 5  # date.weekday()

# Days after Monday, the hour it begins, and the air outdoors from then on. The days
# before are there for the coats put on then.
OUTDOORS = (
    (-4, 0, 14.0, 76.0),
    (-2, 0, 13.0, 78.0),
    (-1, 0, 14.0, 79.0),
    (0, 0, 14.0, 80.0),
    (1, 0, 15.0, 82.0),
    (2, 0, 15.0, 83.0),
    (2, 11, 17.0, 95.0),  # sea fog
    (4, 0, 15.0, 86.0),
    (5, 0, 14.0, 84.0),
    (6, 0, 13.0, 80.0),
)
LAST_DAY = 7  # the forecast ends with Sunday


def demo_monday(today: date) -> date:
    """This week's Monday; from Saturday on the next week's."""
    monday = today - timedelta(days=today.weekday())
    return monday + timedelta(days=7) if today.weekday() >= SATURDAY else monday


def marram_house(monday: date) -> Job:
    """The whole job as it stands on ``monday`` at half past seven."""
    if monday.weekday() != 0:
        raise ValueError(f"{monday} is no Monday")
    clock = _Clock(monday)
    return JobFactory(
        id=JOB_ID,
        title="The Marram House, public rooms",
        now=clock.at(0, "07:30"),
        site=_site(),
        hands=_hands(clock),
        materials=demo_materials.materials(),
        recipes=demo_recipes.recipes(),
        rooms=_rooms(),
        surfaces=_surfaces(clock),
        outdoors=tuple(_outdoors(clock)),
        coats=tuple(_coats(clock)),
        dates=_dates(clock),
    )


class _Clock:
    """Moments of the demo's weeks, counted from its Monday in site time."""

    def __init__(self, monday: date) -> None:
        self.monday = monday
        self.zone = ZoneInfo(ZONE)

    def at(self, day: int, clock_time: str) -> datetime:
        """The moment of a clock time so many days after Monday."""
        on = self.monday + timedelta(days=day)
        return datetime.combine(on, time.fromisoformat(clock_time), self.zone)

    def hours(self, start: datetime, end: datetime) -> Iterator[datetime]:
        """Every hour from ``start`` until before ``end``, right over a clock change."""
        moment = start.astimezone(UTC)
        while moment < end.astimezone(UTC):
            yield moment.astimezone(self.zone)
            moment += timedelta(hours=1)


def _site() -> Site:
    return SiteFactory(
        zone=ZONE,
        altitude_m=10.0,
        hours=(HoursFactory(),),
        typical_air=(
            TypicalAir(start="00:00", temperature_c=12.0, humidity_pct=86.0),
            TypicalAir(start="09:00", temperature_c=15.0, humidity_pct=78.0),
            TypicalAir(start="19:00", temperature_c=13.0, humidity_pct=84.0),
        ),
    )


def _hands(clock: _Clock) -> tuple[Hand, ...]:
    gone = (clock.at(2, "00:00"), clock.at(28, "00:00"))
    every = ("painting", "glazing", "lime", "graining", "marbling")
    return (
        HandFactory(id="lead-finisher", name="Lead finisher", skills=every),
        HandFactory(
            id="finisher", name="Finisher", skills=("painting", "glazing", "lime")
        ),
        HandFactory(id="applicator", name="Applicator", skills=("painting",)),
        HandFactory(
            id="carpenter",
            name="Finish carpenter",
            skills=("carpentry",),
            away=(gone,),
        ),
    )


def _rooms() -> tuple[Room, ...]:
    latch = AirControlFactory()
    bar_hours = {
        "access": (HoursFactory(days="mon-sun", breaks=()),),
        "opens": (HoursFactory(days="mon-sun", start="17:00", end="23:30", breaks=()),),
    }
    return (
        RoomFactory(id="lounge", name="Lounge", volume_m3=6.8 * 5.4 * 2.9, air=latch),
        RoomFactory(
            id="dining", name="Dining room", volume_m3=8.2 * 6 * 3.1, air=latch
        ),
        RoomFactory(
            id="bar", name="Bar", volume_m3=6.2 * 4.8 * 2.9, air=latch, **bar_hours
        ),
        RoomFactory(
            id="stair-hall",
            name="Stair hall",
            volume_m3=4.2 * 3.4 * 4.9,
            air=latch,
            # Guests arrive on Fridays: from the morning on the stair is theirs.
            access=(HoursFactory(days="mon-thu", breaks=()),),
            connected=("lobby",),
        ),
        RoomFactory(
            id="lobby",
            name="Lobby",
            volume_m3=5.2 * 4.4 * 2.9,
            air=latch,
            connected=("stair-hall",),
        ),
    )


def _wall(room: str, side: str, width_m: float, height_m: float, **values) -> Surface:
    words = {"n": "north", "e": "east", "s": "south", "w": "west"}
    return SurfaceFactory(
        id=f"{room}-{side}",
        name=f"{room.replace('-', ' ').capitalize()}, {words[side]} wall",
        room=room,
        width_m=width_m,
        height_m=height_m,
        **values,
    )


def _surfaces(clock: _Clock) -> tuple[Surface, ...]:
    lounge = {"height_m": 2.9, "recipe": "two-colour-glaze", "priority": 2}
    stair = {"height_m": 4.9, "recipe": "strie", "priority": 1}
    column = {"kind": "column", "recipe": "marble", "room": "lobby", "priority": 3}
    skirting = {"kind": "trim", "height_m": 0.18, "recipe": "skirting", "priority": 1}
    return (
        _wall("lounge", "n", 6.8, **lounge),
        _wall("lounge", "e", 5.4, openings_m2=2.06, **lounge),  # two windows
        _wall("lounge", "s", 6.8, openings_m2=6.82, **lounge),  # chimney, bay
        _wall("lounge", "w", 5.4, openings_m2=2.06, **lounge),  # two doors
        SurfaceFactory(
            id="lounge-trim",
            name="Lounge, skirting and doors",
            room="lounge",
            kind="trim",
            width_m=24.0,
            height_m=0.46,  # 24 m of skirting and two doors, 11 m2
            recipe="trim-enamel",
            priority=3,
        ),
        SurfaceFactory(
            id="dining-end",
            name="Dining room, end wall",
            room="dining",
            width_m=6.0,
            height_m=3.1,
            recipe="polished-lime",
            priority=1,
        ),
        SurfaceFactory(
            id="dining-walls",
            name="Dining room, the other walls",
            room="dining",
            width_m=8.2 + 6.0 + 8.2,
            height_m=3.1,
            openings_m2=12.44,  # windows and the double door
            stop_lines_m=(8.2, 14.2),  # the corners
            recipe="wall-paint",
            priority=1,
            gates=(
                GateFactory(
                    name="Breakfast moved out", not_before=clock.at(2, "08:00")
                ),
            ),
        ),
        SurfaceFactory(
            id="bar-front",
            name="Bar, six panels of the counter front",
            room="bar",
            kind="panel",
            width_m=6.4,
            height_m=1.0,
            stop_lines_m=(1.05, 2.1, 3.2, 4.3, 5.35),
            recipe="walnut",
            priority=2,
        ),
        _wall("stair-hall", "n", 2.9, **stair),
        _wall("stair-hall", "e", 3.37, **stair),
        _wall("stair-hall", "s", 2.31, **stair),
        SurfaceFactory(
            id="stair-skirting",
            name="Stair hall, new skirting",
            room="stair-hall",
            width_m=14.0,
            **skirting,
        ),
        SurfaceFactory(
            id="lobby-skirting",
            name="Lobby, new skirting",
            room="lobby",
            width_m=9.0,
            **skirting,
        ),
        # Worked in rings of the full girth, 0.36 m across: width runs up the shaft.
        SurfaceFactory(
            id="column-1",
            name="Lobby, left column",
            width_m=2.6,
            height_m=1.13,
            **column,
        ),
        SurfaceFactory(
            id="column-2",
            name="Lobby, right column",
            width_m=2.6,
            height_m=1.13,
            **column,
        ),
        SurfaceFactory(
            id="frieze",
            name="Lobby, stencilled frieze",
            room="lobby",
            width_m=16.0,
            height_m=0.3,
            recipe="stencil",
            priority=3,
        ),
    )


def _outdoors(clock: _Clock) -> Iterator[AirHour]:
    starts = [
        (clock.at(day, f"{hour:02}:00"), temperature_c, humidity_pct)
        for day, hour, temperature_c, humidity_pct in OUTDOORS
    ]
    ends = [*(start for start, _, _ in starts[1:]), clock.at(LAST_DAY, "00:00")]
    for (start, temperature_c, humidity_pct), end in zip(starts, ends, strict=True):
        for moment in clock.hours(start, end):
            yield AirHourFactory(
                at=moment, temperature_c=temperature_c, humidity_pct=humidity_pct
            )


def _coats(clock: _Clock) -> Iterator[Coat]:
    """Both grounds of the columns on Thursday and of the stair on Friday.

    The frieze's glaze has been on for a week.
    """
    spans = (
        ("column-1", -4, "08:00", "08:35", "13:30", "14:00"),
        ("column-2", -4, "08:00", "08:35", "13:30", "14:00"),
        ("stair-hall-n", -3, "08:00", "08:30", "13:00", "13:30"),
        ("stair-hall-e", -3, "08:30", "09:00", "13:30", "14:00"),
        ("stair-hall-s", -3, "09:00", "09:25", "14:00", "14:25"),
    )
    for surface, day, *times in spans:
        first, first_end, second, second_end = (clock.at(day, at) for at in times)
        yield CoatFactory(surface=surface, step="base-1", start=first, end=first_end)
        yield CoatFactory(surface=surface, step="base-2", start=second, end=second_end)
    yield CoatFactory(
        surface="frieze",
        step="glaze",
        start=clock.at(-7, "09:00"),
        end=clock.at(-7, "10:10"),
    )


def _dates(clock: _Clock) -> tuple[DateWish, ...]:
    """What the hotel would like; more than the week holds, and nothing a must."""
    leaves = clock.at(1, "16:30")
    tuesday = clock.at(8, "16:30")
    return (
        DateWishFactory(surface="stair-skirting", by=leaves, weight=4.0),
        DateWishFactory(surface="lobby-skirting", by=leaves, weight=4.0),
        # Breakfast: on Thursday if it can be, on Saturday with a house full of guests.
        DateWishFactory(surface="dining-walls", by=clock.at(3, "07:00")),
        DateWishFactory(room="dining", by=clock.at(5, "07:00"), weight=3.0),
        DateWishFactory(room="stair-hall", by=clock.at(4, "14:00"), weight=2.0),
        DateWishFactory(room="bar", by=clock.at(8, "17:00"), weight=2.0),
        DateWishFactory(room="lobby", by=tuesday),
        DateWishFactory(room="lounge", by=tuesday, weight=2.0),
    )
