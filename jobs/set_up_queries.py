"""Reads of setting up: what a job has, and what a plan of it still wants."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from jobs.models import (
    Coat,
    CoatTest,
    Company,
    DateWish,
    Hand,
    Job,
    MoistureReading,
    Pin,
    Recipe,
    Room,
    Step,
    Surface,
)
from jobs.starting_recipes import Book
from jobs.translation import job_value

OFFERED_JOBS = 4  # Assumed: a lead takes the recipes of a late job, not of any


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Something that keeps a plan from being made: in words, and which page mends it.

    ``page`` is the name of an address; ``room`` its room, where it is about one.
    """

    text: str
    button: str
    page: str
    room: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSetUp:
    """A room with its surfaces; areas in m2, net and with the openings counted in."""

    room: Room
    surfaces: list[Surface]

    @property
    def material_m2(self) -> float:
        """What is covered."""
        return sum(surface.area_m2 for surface in self.surfaces)

    @property
    def labour_m2(self) -> float:
        """What is masked and cut in round as well."""
        return sum(surface.labour_m2 for surface in self.surfaces)


@dataclass(frozen=True, slots=True, kw_only=True)
class GateSetUp:
    """A gate with the surfaces it is on; ``of`` and ``n`` find it on one of them."""

    name: str
    not_before: datetime | None
    not_after: datetime | None
    surfaces: list[str]
    of: str
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """A whole job as the page shows it."""

    rooms: list[RoomSetUp]
    hands: list[Hand]
    gates: list[GateSetUp]
    dates: list[DateWish]
    recipe_count: int
    has_outdoors: bool
    wanted: list[Wanted]
    hints: list[str]

    @property
    def surface_count(self) -> int:
        """Surfaces of all rooms."""
        return sum(len(row.surfaces) for row in self.rooms)


def jobs_with_recipes(company: Company) -> dict[str, str]:
    """Title by id of the company's late jobs that have recipes, the latest first."""
    rows = Job.objects.filter(company=company, recipes__isnull=False).distinct()
    late = rows.order_by("-changed_at", "-pk")[:OFFERED_JOBS]
    return {job.key: job.title for job in late}


def book_of(job: Job) -> Book:
    """A job's recipes and materials; BadInput where its rows do not make a job."""
    value = job_value(job)
    return Book(materials=value.materials, recipes=value.recipes)


def set_up_of(job: Job) -> SetUp:
    """All of it, in a fixed number of queries."""
    rooms = list(job.rooms.all())
    surfaces = list(job.surfaces.select_related("recipe"))
    hands = list(job.hands.all())
    by_room: dict[int, list[Surface]] = {room.pk: [] for room in rooms}
    for surface in surfaces:
        by_room[surface.room_id].append(surface)
    used = {surface.recipe_id: surface.recipe for surface in surfaces}
    steps = Step.objects.filter(recipe__in=used).order_by("position", "pk")
    recipe_count = job.recipes.count()
    outdoors = job.outdoors.exists()
    wanted = [
        *_without_rooms(rooms, surfaces),
        *([] if recipe_count else [_NO_RECIPES]),
        *([_NO_HANDS] if not hands else _without_hands(hands, used, steps)),
        *_without_air(job, rooms, outdoors),
    ]
    hints = [
        f"{room} has no surface yet, so nothing is planned in it."
        for room in rooms
        if surfaces and not by_room[room.pk]
    ]
    return SetUp(
        rooms=[RoomSetUp(room=room, surfaces=by_room[room.pk]) for room in rooms],
        hands=hands,
        gates=_gates(surfaces),
        dates=list(job.dates.select_related("surface", "room")),
        recipe_count=recipe_count,
        has_outdoors=outdoors,
        wanted=wanted,
        hints=hints,
    )


def _gates(surfaces: list[Surface]) -> list[GateSetUp]:
    """Each gate once, however many surfaces it is on."""
    found: dict[tuple[str, str, str], GateSetUp] = {}
    for surface in surfaces:
        for number, gate in enumerate(surface.gates):
            ends = (gate.get("not_before", ""), gate.get("not_after", ""))
            row = found.setdefault(
                (gate["name"], *ends),
                GateSetUp(
                    name=gate["name"],
                    not_before=_moment(ends[0]),
                    not_after=_moment(ends[1]),
                    surfaces=[],
                    of=surface.key,
                    n=number,
                ),
            )
            row.surfaces.append(surface.label)
    return list(found.values())


def _moment(text: str) -> datetime | None:
    return datetime.fromisoformat(text) if text else None


_NO_RECIPES = Wanted(text="No recipe: bring in a job file that has them.",
                     button="Bring in a job file", page="import-job")  # fmt: skip
_NO_HANDS = Wanted(text="Nobody is on the job.", button="Add a hand", page="new-hand")


def _without_rooms(rooms: list[Room], surfaces: list[Surface]) -> Iterable[Wanted]:
    if not rooms:
        yield Wanted(text="No room yet.", button="Add a room", page="new-room")
    elif not surfaces:
        yield Wanted(
            text=f"{rooms[0]} has no surface yet.",
            button="Add a surface",
            page="new-surface",
            room=rooms[0].key,
        )


def _without_hands(
    hands: list[Hand], used: dict[int, Recipe], steps: Iterable[Step]
) -> Iterable[Wanted]:
    """Skills that a recipe in use asks for and nobody has; too few at one wall."""
    skills = {skill for hand in hands for skill in hand.skills}
    lacking: dict[str, str] = {}
    most, asks = 0, ""
    for step in steps:
        recipe = used[step.recipe_id].label
        if step.skill and step.skill not in skills:
            lacking.setdefault(step.skill, recipe)
        if step.hands_least > most:
            most, asks = step.hands_least, recipe
    for skill, recipe in sorted(lacking.items()):
        yield Wanted(
            text=f"{recipe} asks for {skill}, and nobody has it.",
            button="Add a hand",
            page="new-hand",
        )
    if most > len(hands):
        yield Wanted(
            text=f"{asks} wants {most} at the wall; {len(hands)} on the job.",
            button="Add a hand",
            page="new-hand",
        )


def _without_air(job: Job, rooms: list[Room], outdoors: bool) -> Iterable[Wanted]:
    given = all("given" in room.air for room in rooms)
    if not (outdoors or job.typical_air or given):
        yield Wanted(
            text="No air outdoors is stated.", button="Outdoors", page="set-up-air"
        )


def recipes_by_kind(job: Job) -> dict[str, str]:
    """By kind of surface the id of the recipe chosen last, else of a usual one."""
    known = set(job.recipes.values_list("key", flat=True))
    usual = {kind: key for kind, key in USUAL_RECIPES.items() if key in known}
    chosen = job.surfaces.order_by("pk").values_list("kind", "recipe__key")
    return usual | dict(chosen)


def skills_of(job: Job) -> list[str]:
    """Skills that the job's recipes ask for and that its hands have, in order."""
    asked = Step.objects.filter(recipe__job=job).exclude(skill="")
    in_order = asked.order_by("recipe__position", "position")
    skills = dict.fromkeys(in_order.values_list("skill", flat=True))
    for hand in job.hands.all():
        skills |= dict.fromkeys(hand.skills)
    return list(skills)


def hands_elsewhere(job: Job) -> list[Hand]:
    """Hands of the company's other jobs who are not on this one, as they were last."""
    here = set(job.hands.values_list("key", flat=True))
    rows = Hand.objects.filter(job__company=job.company_id).exclude(job=job)
    late = {row.key: row for row in rows.order_by("job__changed_at", "pk")}
    found = (row for key, row in late.items() if key not in here)
    return sorted(found, key=lambda row: row.label.casefold())


def lost_with_room(room: Room) -> list[str]:
    """What goes for good with a room, a line each."""
    surfaces = list(room.surfaces.all())
    names = ", ".join(surface.label for surface in surfaces[:SAID])
    more = f" and {len(surfaces) - SAID} more" if len(surfaces) > SAID else ""
    said = [f"{counted(len(surfaces), 'surface')}: {names}{more}"] if surfaces else []
    return [*said, *_logged(surfaces), *_counts(_of_room(room))]


def lost_with_surface(surface: Surface) -> list[str]:
    """What goes for good with a surface, a line each."""
    return _logged([surface])


# Common practice, no source: what such a surface gets where nobody says otherwise.
USUAL_RECIPES = {
    "wall": "wall-paint",
    "ceiling": "wall-paint",
    "door": "trim-enamel",
    "trim": "trim-enamel",
}
SAID = 6  # names in a line, before "and 3 more"


def counted(number: int, what: str) -> str:
    """ "1 coat", "2 coats"."""
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _of_room(room: Room) -> dict[str, int]:
    return {
        "logged reading": room.readings.count(),
        "moisture reading": room.moisture.count(),
        "date of the room": room.dates.count(),
        "day of another trade": len(room.others),
    }


def _logged(surfaces: list[Surface]) -> list[str]:
    numbers = {
        what: rows.objects.filter(surface__in=surfaces).count()
        for what, rows in {
            "logged coat": Coat,
            "logged test": CoatTest,
            "moisture reading of a surface": MoistureReading,
            "held stint": Pin,
            "date of a surface": DateWish,
        }.items()
    }
    return _counts(numbers)


def _counts(numbers: dict[str, int]) -> list[str]:
    said = []
    for what, number in numbers.items():
        head, of, tail = what.partition(" of ")
        if number:
            said.append(f"{counted(number, head)}{of}{tail}")
    return said
