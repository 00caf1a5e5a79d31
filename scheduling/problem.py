"""What is to be planned: a whole job as frozen values, named as in the job format.

Units stand at the end of a name. Moments are aware datetimes. Nothing here reads a
file, a clock or a database; ``job_file`` reads and writes these values.
"""

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal, TypeVar
from zoneinfo import ZoneInfo

Family = Literal[
    "waterborne",
    "glaze",
    "distemper",
    "oil",
    "spirit",
    "lime",
    "gypsum",
    "oil-size",
    "water-size",
    "two-part",
]
FAMILIES: tuple[Family, ...] = (
    "waterborne",
    "glaze",
    "distemper",
    "oil",
    "spirit",
    "lime",
    "gypsum",
    "oil-size",
    "water-size",
    "two-part",
)
SIZES: tuple[Family, ...] = ("oil-size", "water-size")

# Drying stages in the words of ASTM D1640 where they exist, and a size's two.
STAGES = (
    "open",
    "touch",
    "recoat",
    "through",
    "hard",
    "window",
    "cured",
    "tack",
    "closes",
)
CLOSING = ("window", "closes")  # latest, not earliest: planned with their early end
PROMISES = ("handle", "load", "wash", "full")
KINDS = ("ceiling", "wall", "panel", "column", "door", "trim", "floor")
AIRBORNE = ("dust", "steam", "solvent")  # what spoils an open or tacky coat
MAKES = (*AIRBORNE, "noise")
GROUNDS = ("porous", "sealed")
PREFERS = ("early", "late")  # in the day
STUFFS = ("wood", "plaster")
WETTEST_PCT = 200.0  # green sapwood: USDA Wood Handbook ch. 4, table 4-1, rounded up
# A coat against the label's own thickness: beyond these no law is worth asking.
THINNEST_COAT, THICKEST_COAT = 0.1, 10.0  # Assumed
TIN_L, MOST_TINS = (0.05, 60.0), 6  # Assumed: from a sample pot to a drum
MOST_LEAD_DAYS = 365  # Assumed: more is a slip of the pen
DAY_MIN = 24 * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """The air of one place at one moment."""

    temperature_c: float
    humidity_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AirHour:
    """Air from ``at`` on, until the next entry; wind only outdoors."""

    at: datetime
    temperature_c: float
    humidity_pct: float
    wind_m_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OutdoorsFrom:
    """Whose word a job's outdoor hours are, and when it was given."""

    source: str
    made: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class TypicalAir:
    """Outdoor air of a usual day, from this time of day until the next entry."""

    start: str
    temperature_c: float
    humidity_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A hygrometer's word on one room; ``surface_c`` where a wall was measured."""

    at: datetime
    room: str
    temperature_c: float
    humidity_pct: float
    surface_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MoistureReading:
    """A moisture meter's word: of one surface, or of a room's wood or its plaster.

    ``of`` is what the meter was set to; unstated a surface's kind tells.
    """

    at: datetime
    moisture_pct: float
    surface: str | None = None
    room: str | None = None
    of: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A pause in a day. With ``relay`` the hands take it in turn.

    Then the site stays open: every second hand of the job takes it as stated, the
    others right after (common practice, no source).
    """

    start: str
    end: str
    relay: bool = False

    def span_min(self, turn: int = 0) -> tuple[int, int]:
        """Minutes after midnight of the pause, for the hands of that turn."""
        start, end = clock_min(self.start), clock_min(self.end)
        later = turn * (end - start) if self.relay else 0
        return min(start + later, DAY_MIN), min(end + later, DAY_MIN)


_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def clock_min(text: str) -> int:
    """Minutes after midnight of "08:00"; "24:00" is the day's end."""
    return int(text[:2]) * 60 + int(text[3:])


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Clock times on some days of the week, in the site's zone. ``days`` "mon-fri"."""

    days: str
    start: str
    end: str
    breaks: tuple[Break, ...] = ()

    @property
    def weekdays(self) -> frozenset[int]:
        """Weekday numbers (Monday 0) of "mon-fri" or "sat,mon-tue"; ranges wrap."""
        found: set[int] = set()
        for part in self.days.split(","):
            first, _, last = part.partition("-")
            begin = _DAYS.index(first)
            length = (_DAYS.index(last or first) - begin) % 7
            found.update((begin + i) % 7 for i in range(length + 1))
        return frozenset(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """Where the job is and when it is open."""

    zone: str
    hours: tuple[Hours, ...]
    latitude: float | None = None
    longitude: float | None = None
    altitude_m: float | None = None
    closed: tuple[date, ...] = ()
    quiet: tuple[Hours, ...] = ()
    smell_free: tuple[Hours, ...] = ()
    typical_air: tuple[TypicalAir, ...] = ()

    @property
    def tz(self) -> ZoneInfo:
        """The site's time zone."""
        return ZoneInfo(self.zone)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """A crew member. Without own ``hours`` the site's count."""

    id: str
    skills: tuple[str, ...]
    name: str | None = None
    hours: tuple[Hours, ...] | None = None
    away: tuple[tuple[datetime, datetime], ...] = ()


Label = float | tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelPoint:
    """Label times at one more condition."""

    air: Air
    labels: Mapping[str, Label]


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """What a coat is made of, as its label tells: minutes by stage at one air.

    ``tins_l`` are the tins that it, or each of its parts, is sold in; ``lead_days``
    passes between its order and its being on site.
    """

    id: str
    family: Family
    label_air: Air
    labels: Mapping[str, Label]
    name: str | None = None
    points: tuple[LabelPoint, ...] = ()
    promises: Mapping[str, Label] = field(default_factory=dict)
    water_share: float | None = None
    spread_m2_per_l: float | None = None
    parts: Mapping[str, float] = field(default_factory=dict)
    oily: bool = False
    solvent: bool = False
    tins_l: tuple[float, ...] = ()
    lead_days: int | None = None

    def label_min(self, stage: str) -> tuple[float, float] | None:
        """Low and high end of a stage's or promise's label time, None if unlabelled."""
        label = self.labels.get(stage, self.promises.get(stage))
        if label is None:
            return None
        return label if isinstance(label, tuple) else (float(label), float(label))


@dataclass(frozen=True, slots=True, kw_only=True)
class After:
    """What a step waits for: a stage of an earlier step's coat."""

    step: str
    stage: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rescue:
    """What saves a missed window: minutes a m2, then this stage of the earlier coat."""

    min_m2: float
    stage: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandsNeeded:
    """How many at the wall, at least and at most."""

    least: int
    most: int | None = None

    @property
    def counts(self) -> range:
        """Every number of hands that may do the step."""
        return range(self.least, (self.most or self.least) + 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of a recipe. Without ``material`` it puts nothing on (sanding, leaf).

    ``coat`` 2.0 is twice as thick as the label's. ``seals`` says whether a porous
    ground is sealed after it; unstated its material's family tells (``ground``).
    ``prefers`` "late" wishes the step at the end of its day: slow dryers last. With
    ``same_hand`` one hand is at it on all surfaces of a room that get the recipe.
    """

    id: str
    material: str | None
    apply_min_m2: float
    hands: HandsNeeded
    name: str | None = None
    after: After | None = None
    rescue: Rescue | None = None
    work_min_m2: float = 0.0
    setup_min: float = 0.0
    skill: str | None = None
    wet: bool = False
    splits: bool = False
    makes: tuple[str, ...] = ()
    coat: float = 1.0
    seals: bool | None = None
    prefers: str | None = None
    same_hand: bool = False

    @property
    def airborne(self) -> tuple[str, ...]:
        """What it gives to the air of the rooms about it; noise does no coat harm."""
        return tuple(what for what in self.makes if what in AIRBORNE)

    def minutes(self, area_m2: float, hands: int) -> float:
        """Hands-on minutes of ``hands`` people on an area, set-up included."""
        apply, work = self.apply_min_m2, self.work_min_m2
        if self.wet and hands > 1:  # one lays, one works: the slower sets the pace
            rate = max(apply, work, (apply + work) / hands)
        else:
            rate = (apply + work) / hands
        return self.setup_min + area_m2 * rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """The steps of a finish, in order."""

    id: str
    steps: tuple[Step, ...]
    name: str | None = None

    def step(self, step_id: str) -> Step:
        """The step of that id; KeyError where there is none."""
        for step in self.steps:
            if step.id == step_id:
                return step
        raise KeyError(step_id)


@dataclass(frozen=True, slots=True, kw_only=True)
class AirControl:
    """How a room's air is kept: air changes an hour, set points, machines, people.

    ``cooling_c`` is the highest temperature that cooling lets the room reach,
    ``occupants_g_h`` the water of people and household, and ``doors_m3_h`` the air
    exchanged with each connected room; of two rooms' word on a door the larger counts.
    """

    changes_per_h: float
    day_c: float
    night_c: float
    dehumidifier_l_day: float | None = None
    humidifier_l_day: float | None = None
    cooling_c: float | None = None
    occupants_g_h: float | None = None
    doors_m3_h: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenAir:
    """A room's air as measured or promised: used as it is, no room model."""

    given: tuple[AirHour, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trade:
    """Another trade that has a room to itself for a while, and what it makes there."""

    name: str
    start: datetime
    end: datetime
    makes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A room: its size, its air, who may be in it when.

    ``opens`` are the hours it is open to the public, ``hand_back`` the moment by which
    all work in it has ended. ``any_order`` lets a lower surface go before a higher.
    """

    id: str
    volume_m3: float
    air: AirControl | GivenAir
    name: str | None = None
    access: tuple[Hours, ...] | None = None
    opens: tuple[Hours, ...] = ()
    connected: tuple[str, ...] = ()
    hands_most: int | None = None
    hand_back: datetime | None = None
    smell_free: tuple[Hours, ...] = ()
    others: tuple[Trade, ...] = ()
    any_order: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """Something named that opens a surface, or shuts it: a scaffold up, then struck.

    At least one of the two is there.
    """

    name: str
    not_before: datetime | None = None
    not_after: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A wall, ceiling, door ... of a room, with the recipe it gets.

    ``ground`` "porous" sucks until a coat seals it; unstated it is as a label's is.
    ``opposite`` is the wall across the room; one of the two may leave it out.
    """

    id: str
    room: str
    kind: str
    width_m: float
    height_m: float
    recipe: str
    name: str | None = None
    openings_m2: float = 0.0
    stop_lines_m: tuple[float, ...] = ()
    outside: bool = False
    u_w_m2k: float | None = None
    sun: tuple[Hours, ...] = ()
    priority: int | None = None
    gates: tuple[Gate, ...] = ()
    ground: str | None = None
    opposite: str | None = None

    @property
    def opened_by(self) -> tuple[str, datetime] | None:
        """Name and moment of the gate that opens last, None where nothing is shut."""
        opens = [
            (gate.not_before, gate.name)
            for gate in self.gates
            if gate.not_before is not None
        ]
        moment, name = max(opens, default=(None, ""))
        return None if moment is None else (name, moment)

    @property
    def area_m2(self) -> float:
        """Net area: width times height less openings."""
        return self.width_m * self.height_m - self.openings_m2

    @property
    def sections(self) -> tuple[tuple[str, float], ...]:
        """Id and share of the area of each part between stop lines, left to right."""
        edges = (0.0, *self.stop_lines_m, self.width_m)
        return tuple(
            (str(number), (right - left) / self.width_m)
            for number, (left, right) in enumerate(itertools.pairwise(edges), start=1)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Coat:
    """The logged fact: this step was done on this surface, from then to then."""

    surface: str
    step: str
    start: datetime
    end: datetime
    section: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """A stint held where the lead put it; without a section the step's first."""

    surface: str
    step: str
    start: datetime
    hands: tuple[str, ...] = ()
    section: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ban:
    """Hands who may not do a step, or a time in which nobody may: one of both.

    On all of the surface where no section is named.
    """

    surface: str
    step: str
    section: str | None = None
    hands: tuple[str, ...] = ()
    start: datetime | None = None
    end: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DateWish:
    """A date for a surface, a room or the job: ``must`` be kept, or wished."""

    by: datetime
    must: bool
    surface: str | None = None
    room: str | None = None
    job: str | None = None
    stage: str | None = None
    promise: str | None = None
    weight: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A whole job: everything the planner needs to know.

    ``waste_pct`` is what is mixed and ordered beyond what lies on the walls.
    """

    id: str
    title: str
    site: Site
    hands: tuple[Hand, ...]
    materials: tuple[Material, ...]
    recipes: tuple[Recipe, ...]
    rooms: tuple[Room, ...]
    surfaces: tuple[Surface, ...]
    now: datetime | None = None
    outdoors: tuple[AirHour, ...] = ()
    outdoors_from: OutdoorsFrom | None = None
    readings: tuple[Reading, ...] = ()
    moisture: tuple[MoistureReading, ...] = ()
    coats: tuple[Coat, ...] = ()
    pins: tuple[Pin, ...] = ()
    bans: tuple[Ban, ...] = ()
    dates: tuple[DateWish, ...] = ()
    waste_pct: float | None = None

    @property
    def in_relay(self) -> bool:
        """Whether the site has breaks in relay, and hands enough to take them in turn.

        Hands with hours of their own take the breaks that these state.
        """
        stated = any(pause.relay for rule in self.site.hours for pause in rule.breaks)
        return stated and len(self._in_turn) > 1

    @property
    def _in_turn(self) -> list[str]:
        return [hand.id for hand in self.hands if hand.hours is None]

    def turn_of(self, hand_id: str) -> int:
        """Which turn of a relay a hand takes: the first, 0, or the second, 1.

        ValueError for a hand with hours of its own.
        """
        return self._in_turn.index(hand_id) % 2

    def material(self, material_id: str) -> Material:
        """The material of that id; KeyError where there is none."""
        return _by_id(self.materials, material_id)

    def recipe(self, recipe_id: str) -> Recipe:
        """The recipe of that id; KeyError where there is none."""
        return _by_id(self.recipes, recipe_id)

    def room(self, room_id: str) -> Room:
        """The room of that id; KeyError where there is none."""
        return _by_id(self.rooms, room_id)

    def step_of(self, surface_id: str, step_id: str) -> Step:
        """A step of that surface's recipe; KeyError where there is none."""
        return self.recipe(self.surface(surface_id).recipe).step(step_id)

    def surface(self, surface_id: str) -> Surface:
        """The surface of that id; KeyError where there is none."""
        return _by_id(self.surfaces, surface_id)


_Row = TypeVar("_Row", Material, Recipe, Room, Surface)


def _by_id(rows: tuple[_Row, ...], row_id: str) -> _Row:
    for row in rows:
        if row.id == row_id:
            return row
    raise KeyError(row_id)


def corners_of(job: Job) -> Mapping[str, frozenset[str]]:
    """For each wall with one across the room, the walls that it meets in a corner.

    Those of the other pairs of its room with its recipe: in a room of four walls both.
    """
    across: dict[str, str] = {}
    for surface in job.surfaces:
        if surface.opposite is not None:
            across[surface.id] = surface.opposite
            across[surface.opposite] = surface.id
    alike: dict[tuple[str, str], set[str]] = {}
    for surface in job.surfaces:
        if surface.id in across:
            alike.setdefault((surface.room, surface.recipe), set()).add(surface.id)
    return {
        wall: frozenset(walls - {wall, across[wall]})
        for walls in alike.values()
        for wall in walls
    }


def at_corner(surface: Surface, section: str | None) -> bool:
    """Whether a section reaches an end of its wall; the whole wall does."""
    names = [name for name, _ in surface.sections]
    return section is None or section in (names[0], names[-1])


def wait_of(
    recipe: Recipe, step: Step, materials: Mapping[str, Material]
) -> After | None:
    """What ``step`` waits for, stated or usual.

    Unstated it follows the step before it at ``recoat``, at ``tack`` after a size, at
    once (stage "") where that step puts nothing on. None for a first step.
    """
    if step.after is not None:
        return step.after
    position = recipe.steps.index(step)
    if position == 0:
        return None
    before = recipe.steps[position - 1]
    if before.material is None:
        return After(step=before.id, stage="")
    size = materials[before.material].family in SIZES
    return After(step=before.id, stage="tack" if size else "recoat")
