"""The job format ``coat-by-coat/1``: read, check, write, and its JSON Schema.

Reads parsed JSON, not text, and refuses with every fault at once. Keys outside the
format are refused, so that nothing a person wrote is dropped in silence.
"""

import hashlib
import itertools
import json
import re
from collections.abc import Collection, Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

from scheduling.calibration import label_air_faults
from scheduling.errors import BadInput, Fault
from scheduling.job_upgrades import brought_up_to_date
from scheduling.problem import (
    AIRBORNE,
    FAMILIES,
    GROUNDS,
    KINDS,
    MAKES,
    MOST_LEAD_DAYS,
    MOST_TINS,
    PREFERS,
    PROMISES,
    STAGES,
    STUFFS,
    THICKEST_COAT,
    THINNEST_COAT,
    TIN_L,
    WETTEST_PCT,
    After,
    Air,
    AirControl,
    AirHour,
    Ban,
    Break,
    Coat,
    DateWish,
    Gate,
    GivenAir,
    Hand,
    HandsNeeded,
    Hours,
    Job,
    LabelPoint,
    Material,
    MoistureReading,
    OutdoorsFrom,
    Pin,
    Reading,
    Recipe,
    Rescue,
    Room,
    Site,
    Step,
    Surface,
    Trade,
    TypicalAir,
    wait_of,
)
from scheduling.shapes import (
    WRONG,
    Choice,
    Day,
    Either,
    Flag,
    Json,
    Key,
    ListOf,
    MapOf,
    Moment,
    NullOr,
    Number,
    PairOf,
    Record,
    Shape,
    Text,
    Zone,
    clock_time,
    ident,
    week_days,
)

FORMAT = "coat-by-coat/1"
_MOMENT = re.compile(r"^[12]\d{3}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?[+-]\d\d:\d\d$")

# Earth's records are -89 and 57 C; a drying room may be warmer, nothing planned is.
TEMPERATURE = Number(-60, 70)
HUMIDITY = Number(0, 100)
MINUTES = Number(0, 5_256_000, above=True)  # ten years
RATE = Number(0, 10_000)


def _need(**keys: Shape) -> dict[str, Key]:
    return {name: Key(shape) for name, shape in keys.items()}


def _may(shape: Shape, default: Any = None, attribute: str = "") -> Key:
    return Key(shape, attribute=attribute, optional=True, default=default)


def _span(shape: Shape) -> dict[str, Key]:
    return {"from": Key(shape, "start"), "to": Key(shape, "end")}


def _check_span(value: Any, path: str, faults: list[Fault]) -> None:
    if not value.start < value.end:
        faults.append(Fault(f"{path}.to", value.end, f"later than {value.start}"))


_break = Either(
    first=Record(
        Break,
        {**_span(clock_time()), "relay": _may(Flag(), default=False)},
        _check_span,
    ),
    second=PairOf(clock_time()),
    is_first=lambda value: isinstance(value, dict),
    is_first_value=lambda value: value.relay,
)


class _Breaks:
    """Breaks as ["12:00", "12:30"] pairs or as objects with from, to, relay."""

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        rows = ListOf(_break).read(value, path, faults)
        if rows is WRONG:
            return WRONG
        return tuple(
            row if isinstance(row, Break) else Break(start=row[0], end=row[1])
            for row in rows
        )

    def write(self, value: Any) -> Json:
        return [
            _break.write(row) if row.relay else [row.start, row.end] for row in value
        ]

    def schema(self) -> dict[str, Json]:
        return ListOf(_break).schema()


def _check_hours(hours: Hours, path: str, faults: list[Fault]) -> None:
    _check_span(hours, path, faults)
    for number, pause in enumerate(hours.breaks):
        if not hours.start <= pause.start < pause.end <= hours.end:
            allowed = f"inside {hours.start} to {hours.end}"
            faults.append(
                Fault(f"{path}.breaks[{number}]", [pause.start, pause.end], allowed)
            )


_hours = Record(
    Hours,
    {
        "days": Key(week_days()),
        **_span(clock_time()),
        "breaks": _may(_Breaks(), default=()),
    },
    _check_hours,
)


class _HoursList:
    """Hours as objects; a bare ["14:00", "17:00"] pair stands for every day."""

    def __init__(self, least: int = 0) -> None:
        self.least = least

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        pairs = Either(
            _hours,
            PairOf(clock_time()),
            is_first=lambda row: not isinstance(row, list),
            is_first_value=lambda row: isinstance(row, Hours),
        )
        rows = ListOf(pairs, least=self.least).read(value, path, faults)
        if rows is WRONG:
            return WRONG
        return tuple(
            row
            if isinstance(row, Hours)
            else Hours(days="mon-sun", start=row[0], end=row[1])
            for row in rows
        )

    def write(self, value: Any) -> Json:
        return [_hours.write(row) for row in value]

    def schema(self) -> dict[str, Json]:
        row = {"anyOf": [_hours.schema(), PairOf(clock_time()).schema()]}
        return {"type": "array", "items": row, "minItems": self.least}


_air = Record(Air, _need(temperature_c=TEMPERATURE, humidity_pct=HUMIDITY))
_air_hour = Record(
    AirHour, _need(at=Moment(), temperature_c=TEMPERATURE, humidity_pct=HUMIDITY)
)
_outdoor_hour = Record(AirHour, {**_air_hour.keys, "wind_m_s": _may(Number(0, 120))})
_outdoors_from = Record(OutdoorsFrom, _need(source=Text(most=100), made=Moment()))
_typical_hour = Record(
    TypicalAir,
    {
        "from": Key(clock_time(), "start"),
        **_need(temperature_c=TEMPERATURE, humidity_pct=HUMIDITY),
    },
)
_reading = Record(
    Reading,
    {
        **_need(
            at=Moment(), room=ident(), temperature_c=TEMPERATURE, humidity_pct=HUMIDITY
        ),
        "surface_c": _may(TEMPERATURE),
    },
)


def _check_moisture(row: MoistureReading, path: str, faults: list[Fault]) -> None:
    given = [name for name in ("surface", "room") if getattr(row, name) is not None]
    if len(given) != 1:
        faults.append(Fault(path, given, "exactly one of surface, room"))
    elif row.surface is None and row.of is None:
        allowed = f"one of {', '.join(STUFFS)}, since the reading is of a room"
        faults.append(Fault(f"{path}.of", None, allowed))


_moisture = Record(
    MoistureReading,
    {
        "at": Key(Moment()),
        "surface": _may(ident()),
        "room": _may(ident()),
        "moisture_pct": Key(Number(0, WETTEST_PCT)),
        "of": _may(Choice(STUFFS)),
    },
    _check_moisture,
)
_site = Record(
    Site,
    {
        "zone": Key(Zone()),
        "latitude": _may(Number(-90, 90)),
        "longitude": _may(Number(-180, 180)),
        "altitude_m": _may(Number(-500, 6000)),
        "hours": Key(_HoursList(least=1)),
        "closed": _may(ListOf(Day()), default=()),
        "quiet": _may(_HoursList(), default=()),
        "smell_free": _may(_HoursList(), default=()),
        "typical_air": _may(ListOf(_typical_hour), default=()),
    },
)
_hand = Record(
    Hand,
    {
        "id": Key(ident()),
        "name": _may(Text()),
        "skills": Key(ListOf(ident())),
        "hours": _may(_HoursList(least=1)),
        "away": _may(ListOf(PairOf(Moment())), default=()),
    },
)


class _Label:
    """Minutes, or [low, high] minutes."""

    def read(self, value: Json, path: str, faults: list[Fault]) -> Any:
        if not isinstance(value, list):
            return MINUTES.read(value, path, faults)
        if len(value) != 2:
            faults.append(Fault(path, value, "minutes, or [low, high] minutes"))
            return WRONG
        low = MINUTES.read(value[0], f"{path}[0]", faults)
        high = MINUTES.read(value[1], f"{path}[1]", faults)
        if low is WRONG or high is WRONG:
            return WRONG
        if low > high:
            faults.append(Fault(path, value, "the low end first"))
            return WRONG
        return (low, high)

    def write(self, value: Any) -> Json:
        return list(value) if isinstance(value, tuple) else value

    def schema(self) -> dict[str, Json]:
        pair = {
            "type": "array",
            "items": MINUTES.schema(),
            "minItems": 2,
            "maxItems": 2,
        }
        return {"anyOf": [MINUTES.schema(), pair]}


# A later stage may not be labelled earlier than a stage it passes through.
STAGE_ORDER = (
    ("open", "touch"),
    ("open", "recoat"),
    ("touch", "recoat"),
    ("touch", "through"),
    ("touch", "hard"),
    ("recoat", "hard"),
    ("recoat", "window"),
    ("hard", "cured"),
    ("recoat", "cured"),
    ("tack", "closes"),
)


def label_faults(labels: Mapping[str, Any], path: str) -> Iterable[Fault]:
    """Stages whose label time is shorter than that of a stage before them."""
    ends = {
        stage: label if isinstance(label, tuple) else (label, label)
        for stage, label in labels.items()
    }
    for early, late in STAGE_ORDER:
        if early in ends and late in ends:
            (low, high), (late_low, late_high) = ends[early], ends[late]
            if low > late_low or high > late_high:
                written = _Label().write(labels[late])
                least = f"{low:g}" if low == high else f"{low:g} and {high:g}"
                allowed = f"no less than {early}, which is {least} minutes"
                yield Fault(f"{path}.{late}", written, allowed)


def _check_labels(material: Any, path: str, faults: list[Fault]) -> None:
    faults.extend(label_faults(material.labels, f"{path}.labels"))


def _check_material(material: Material, path: str, faults: list[Fault]) -> None:
    before = len(faults)
    _check_labels(material, path, faults)
    if len(faults) == before:
        faults.extend(label_air_faults(material, path))


_labels = MapOf(_Label(), names=STAGES)
_label_point = Record(LabelPoint, _need(air=_air, labels=_labels), _check_labels)
_material = Record(
    Material,
    {
        "id": Key(ident()),
        "name": _may(Text()),
        "family": Key(Choice(FAMILIES)),
        "label_air": Key(_air),
        "labels": Key(_labels),
        "points": _may(ListOf(_label_point), default=()),
        "promises": _may(MapOf(_Label(), names=PROMISES), default={}),
        "water_share": _may(Number(0, 1)),
        "spread_m2_per_l": _may(Number(0, 1000, above=True)),
        "parts": _may(MapOf(Number(0, 10_000, above=True)), default={}),
        "oily": _may(Flag(), default=False),
        "solvent": _may(Flag(), default=False),
        "tins_l": _may(ListOf(Number(*TIN_L), most=MOST_TINS), default=()),
        "lead_days": _may(Number(0, MOST_LEAD_DAYS, whole=True)),
    },
    _check_material,
)


def _check_hands(needed: HandsNeeded, path: str, faults: list[Fault]) -> None:
    if needed.most is not None and needed.most < needed.least:
        fault = Fault(f"{path}.most", needed.most, f"{needed.least} or more")
        faults.append(fault)


_people = Number(1, 50, whole=True)
_hands_needed = Record(
    HandsNeeded, {"least": Key(_people), "most": _may(_people)}, _check_hands
)


def _check_step(step: Step, path: str, faults: list[Fault]) -> None:
    if step.material is None and step.coat != 1.0:
        allowed = "left out, since the step puts no material on"
        faults.append(Fault(f"{path}.coat", step.coat, allowed))


_step = Record(
    Step,
    {
        "id": Key(ident()),
        "name": _may(Text()),
        "material": Key(NullOr(ident())),
        "after": _may(Record(After, _need(step=ident(), stage=Choice(STAGES)))),
        "rescue": _may(
            Record(Rescue, {"min_m2": Key(RATE), "stage": _may(NullOr(Choice(STAGES)))})
        ),
        "apply_min_m2": Key(RATE),
        "work_min_m2": _may(RATE, default=0.0),
        "setup_min": _may(Number(0, 1440), default=0.0),
        "hands": Key(_hands_needed),
        "skill": _may(ident()),
        "wet": _may(Flag(), default=False),
        "splits": _may(Flag(), default=False),
        "makes": _may(ListOf(Choice(MAKES)), default=()),
        "coat": _may(Number(THINNEST_COAT, THICKEST_COAT), default=1.0),
        "seals": _may(Flag()),
        "prefers": _may(Choice(PREFERS)),
        "same_hand": _may(Flag(), default=False),
    },
    _check_step,
)
_recipe = Record(
    Recipe,
    {
        "id": Key(ident()),
        "name": _may(Text()),
        "steps": Key(ListOf(_step, least=1, unique=True)),
    },
)


def _check_air(air: AirControl, path: str, faults: list[Fault]) -> None:
    warmest = max(air.day_c, air.night_c)
    if air.cooling_c is not None and air.cooling_c < warmest:
        allowed = f"at least the warmer set point, which is {warmest:g}"
        faults.append(Fault(f"{path}.cooling_c", air.cooling_c, allowed))


_room_air = Either(
    first=Record(GivenAir, _need(given=ListOf(_air_hour, least=1))),
    second=Record(
        AirControl,
        {
            "changes_per_h": Key(Number(0, 100)),
            "day_c": Key(Number(-30, 50)),
            "night_c": Key(Number(-30, 50)),
            "dehumidifier_l_day": _may(Number(0, 1000)),
            "humidifier_l_day": _may(Number(0, 1000)),
            "cooling_c": _may(Number(16, 50)),
            "occupants_g_h": _may(Number(0, 100_000)),
            "doors_m3_h": _may(Number(0, 100_000)),
        },
        _check_air,
    ),
    is_first=lambda value: isinstance(value, dict) and "given" in value,
    is_first_value=lambda value: isinstance(value, GivenAir),
)
_trade = Record(
    Trade,
    {
        "name": Key(Text()),
        **_span(Moment()),
        "makes": _may(ListOf(Choice(AIRBORNE)), default=()),
    },
    _check_span,
)
_room = Record(
    Room,
    {
        "id": Key(ident()),
        "name": _may(Text()),
        "volume_m3": Key(Number(0, 1_000_000, above=True)),
        "air": Key(_room_air),
        "access": _may(_HoursList()),
        "opens": _may(_HoursList(), default=()),
        "connected": _may(ListOf(ident()), default=()),
        "hands_most": _may(_people),
        "hand_back": _may(Moment()),
        "smell_free": _may(_HoursList(), default=()),
        "others": _may(ListOf(_trade), default=()),
        "any_order": _may(Flag(), default=False),
    },
)


def _check_surface(surface: Surface, path: str, faults: list[Fault]) -> None:
    if surface.area_m2 <= 0:
        gross = surface.width_m * surface.height_m
        allowed = f"less than width times height, which is {gross:g}"
        faults.append(Fault(f"{path}.openings_m2", surface.openings_m2, allowed))
    edges = (0.0, *surface.stop_lines_m, surface.width_m)
    if any(right <= left for left, right in itertools.pairwise(edges)):
        allowed = f"rising, between 0 and the width of {surface.width_m:g}"
        faults.append(
            Fault(f"{path}.stop_lines_m", list(surface.stop_lines_m), allowed)
        )


def _check_gate(gate: Gate, path: str, faults: list[Fault]) -> None:
    opens, shuts = gate.not_before, gate.not_after
    if opens is None and shuts is None:
        faults.append(Fault(path, gate.name, "not_before, not_after or both"))
    elif opens is not None and shuts is not None and not opens < shuts:
        allowed = f"later than not_before, which is {opens.isoformat()}"
        faults.append(Fault(f"{path}.not_after", shuts.isoformat(), allowed))


_gate = Record(
    Gate,
    {
        "name": Key(Text()),
        "not_before": _may(Moment()),
        "not_after": _may(Moment()),
    },
    _check_gate,
)
_size = Number(0, 1000, above=True)
_surface = Record(
    Surface,
    {
        "id": Key(ident()),
        "name": _may(Text()),
        "room": Key(ident()),
        "kind": Key(Choice(KINDS)),
        "width_m": Key(_size),
        "height_m": Key(_size),
        "openings_m2": _may(Number(0, 1_000_000), default=0.0),
        "stop_lines_m": _may(ListOf(Number(0, 1000)), default=()),
        "outside": _may(Flag(), default=False),
        "u_w_m2k": _may(Number(0, 10, above=True)),
        "sun": _may(_HoursList(), default=()),
        "recipe": Key(ident()),
        "priority": _may(Number(-1000, 1000, whole=True)),
        "gates": _may(ListOf(_gate), default=()),
        "ground": _may(Choice(GROUNDS)),
        "opposite": _may(ident()),
    },
    _check_surface,
)


def _check_coat(coat: Coat, path: str, faults: list[Fault]) -> None:
    if coat.end < coat.start:
        faults.append(Fault(f"{path}.to", coat.end.isoformat(), "no earlier than from"))


_coat = Record(
    Coat,
    {
        "surface": Key(ident()),
        "section": _may(ident()),
        "step": Key(ident()),
        **_span(Moment()),
    },
    _check_coat,
)
_pin = Record(
    Pin,
    {
        **_need(surface=ident(), step=ident()),
        "section": _may(ident()),
        "hands": _may(ListOf(ident()), default=()),
        "from": Key(Moment(), "start"),
    },
)


def _check_ban(ban: Ban, path: str, faults: list[Fault]) -> None:
    given = [
        name
        for name, value in (("hands", ban.hands), ("from", ban.start), ("to", ban.end))
        if value
    ]
    if given not in (["hands"], ["from", "to"]):
        faults.append(Fault(path, given, "either hands, or from and to"))
    elif ban.start is not None and ban.end is not None and ban.end <= ban.start:
        faults.append(Fault(f"{path}.to", ban.end.isoformat(), "later than from"))


_ban = Record(
    Ban,
    {
        **_need(surface=ident(), step=ident()),
        "section": _may(ident()),
        "hands": _may(ListOf(ident()), default=()),
        "from": _may(Moment(), attribute="start"),
        "to": _may(Moment(), attribute="end"),
    },
    _check_ban,
)


def _check_date(wish: DateWish, path: str, faults: list[Fault]) -> None:
    for names in (("surface", "room", "job"), ("stage", "promise")):
        given = [name for name in names if getattr(wish, name) is not None]
        if len(given) != 1:
            faults.append(Fault(path, given, "exactly one of " + ", ".join(names)))


_date = Record(
    DateWish,
    {
        **{name: _may(ident()) for name in ("surface", "room", "job")},
        "by": Key(Moment()),
        "stage": _may(Choice(STAGES)),
        "promise": _may(Choice(PROMISES)),
        "must": Key(Flag()),
        "weight": _may(Number(0, 1000, above=True), default=1.0),
    },
    _check_date,
)


def _make_job(format: str, **values: Any) -> Job:
    return Job(**values)


_job = Record(
    _make_job,
    {
        "format": Key(Choice((FORMAT,))),
        "id": Key(ident()),
        "title": Key(Text()),
        "now": _may(Moment()),
        "waste_pct": _may(Number(0, 100)),
        "site": Key(_site),
        "hands": Key(ListOf(_hand, unique=True)),
        "materials": Key(ListOf(_material, unique=True)),
        "recipes": Key(ListOf(_recipe, unique=True)),
        "rooms": Key(ListOf(_room, unique=True)),
        "surfaces": Key(ListOf(_surface, unique=True)),
        # Lists of what has happened may be missing: then nothing has.
        "outdoors": Key(ListOf(_outdoor_hour), optional=True, default=WRONG),
        "outdoors_from": _may(_outdoors_from),
        "readings": Key(ListOf(_reading), optional=True, default=WRONG),
        "moisture": _may(ListOf(_moisture), default=()),
        "coats": Key(ListOf(_coat), optional=True, default=WRONG),
        "pins": _may(ListOf(_pin), default=()),
        "bans": _may(ListOf(_ban), default=()),
        "dates": Key(ListOf(_date), optional=True, default=WRONG),
    },
)


def read_job(value: Json) -> Job:
    """The job in parsed JSON, of this version or older; BadInput with every fault."""
    faults: list[Fault] = []
    job = _job.read(brought_up_to_date(value, to=FORMAT), "", faults)
    if not faults:
        faults.extend(reference_faults(job))
    if faults:
        raise BadInput(faults)
    assert isinstance(job, Job)  # noqa: S101 - no fault means a job
    return job


def read_entry(part: str, value: Json) -> Any:
    """One entry of a list of the job, such as "rooms", by itself; BadInput with faults.

    Paths start at the entry; whether what it names is there is not looked at.
    """
    faults: list[Fault] = []
    rows = _job.keys[part].shape
    assert isinstance(rows, ListOf)  # noqa: S101 - only lists have entries
    entry = rows.of.read(value, "", faults)
    if faults:
        raise BadInput(faults)
    return entry


def write_job(job: Job) -> dict[str, Json]:
    """The job as JSON values, keys in the format's order."""
    written = {"format": FORMAT}
    for name, key in _job.keys.items():
        if name == "format":
            continue
        value = getattr(job, key.attribute or name)
        if not (key.optional and value == key.default):
            written[name] = key.shape.write(value)
    return written


def write_recipe(recipe: Recipe) -> dict[str, Json]:
    """A recipe as JSON values, as it stands in the format's list."""
    written: dict[str, Json] = _recipe.write(recipe)
    return written


def write_material(material: Material) -> dict[str, Json]:
    """A material as JSON values, as it stands in the format's list."""
    written: dict[str, Json] = _material.write(material)
    return written


def job_sha256(job: Job) -> str:
    """SHA-256 of the job's canonical JSON: keys sorted, no spaces, UTF-8.

    Equal values give equal digests: 5.0 counts as 5, moments are taken in UTC.
    """
    canonical = json.dumps(
        _canonical(write_job(job)),
        sort_keys=True,
        separators=(",", ":"),
        ensure_ascii=False,
    )
    return hashlib.sha256(canonical.encode()).hexdigest()


def _canonical(value: Json) -> Json:
    if isinstance(value, dict):
        return {name: _canonical(entry) for name, entry in value.items()}
    if isinstance(value, list):
        return [_canonical(entry) for entry in value]
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, str) and _MOMENT.match(value):
        return datetime.fromisoformat(value).astimezone(UTC).isoformat()
    return value


def job_schema() -> dict[str, Json]:
    """JSON Schema (2020-12) of the format; references between rows stand in prose."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A decorative finishing job, coat-by-coat/1",
        "description": (
            "Ids are unique in their list; rooms, recipes, steps, materials, hands and "
            "surfaces named elsewhere must exist. Times are minutes, sizes metres."
        ),
        **_job.schema(),
    }


def reference_faults(job: Job) -> Iterable[Fault]:
    """Names that refer to nothing, circular orders, and air that is missing."""
    materials = {material.id: material for material in job.materials}
    known = _known_faults
    rooms = {room.id: room for room in job.rooms}
    recipes = {recipe.id: recipe for recipe in job.recipes}
    hands = {hand.id: hand for hand in job.hands}
    for number, recipe in enumerate(job.recipes):
        yield from _recipe_faults(recipe, f"recipes[{number}]", materials)
    for number, room in enumerate(job.rooms):
        for place, other in enumerate(room.connected):
            yield from known(f"rooms[{number}].connected[{place}]", other, rooms)
        if isinstance(room.air, AirControl) and not (
            job.outdoors or job.site.typical_air
        ):
            allowed = f"at least one hour, since room {room.id} has no given air"
            yield Fault("outdoors", [], allowed)
    for number, surface in enumerate(job.surfaces):
        yield from known(f"surfaces[{number}].room", surface.room, rooms)
        yield from known(f"surfaces[{number}].recipe", surface.recipe, recipes)
    yield from _opposite_faults(job)
    for number, reading in enumerate(job.readings):
        yield from known(f"readings[{number}].room", reading.room, rooms)
    surfaces = {surface.id: surface for surface in job.surfaces}
    for number, meter in enumerate(job.moisture):
        if meter.surface is not None:
            yield from known(f"moisture[{number}].surface", meter.surface, surfaces)
        if meter.room is not None:
            yield from known(f"moisture[{number}].room", meter.room, rooms)
    steps = {
        recipe.id: {step.id: step for step in recipe.steps} for recipe in job.recipes
    }
    sections = {surface.id: dict(surface.sections) for surface in job.surfaces}
    on_walls: list[tuple[str, Coat | Pin | Ban]] = [
        *((f"coats[{number}]", coat) for number, coat in enumerate(job.coats)),
        *((f"pins[{number}]", pin) for number, pin in enumerate(job.pins)),
        *((f"bans[{number}]", ban) for number, ban in enumerate(job.bans)),
    ]
    for path, row in on_walls:
        yield from known(f"{path}.surface", row.surface, surfaces)
        on = surfaces.get(row.surface)
        if on is None or on.recipe not in recipes:
            continue
        yield from known(f"{path}.step", row.step, steps[on.recipe])
        if row.section is not None:
            yield from known(f"{path}.section", row.section, sections[on.id])
        for place, hand in enumerate(() if isinstance(row, Coat) else row.hands):
            yield from known(f"{path}.hands[{place}]", hand, hands)
    for number, wish in enumerate(job.dates):
        path = f"dates[{number}]"
        if wish.surface is not None:
            yield from known(f"{path}.surface", wish.surface, surfaces)
        if wish.room is not None:
            yield from known(f"{path}.room", wish.room, rooms)
        if wish.job is not None:
            yield from known(f"{path}.job", wish.job, [job.id])


def _opposite_faults(job: Job) -> Iterable[Fault]:
    """Walls said to be across the room from what cannot be there."""
    surfaces = {surface.id: surface for surface in job.surfaces}
    named: dict[str, str] = {}  # a wall: the one that named it first
    for number, surface in enumerate(job.surfaces):
        if surface.opposite is None:
            continue
        path, other = f"surfaces[{number}].opposite", surfaces.get(surface.opposite)
        if surface.kind != "wall":
            allowed = f"left out, since {surface.id} is no wall but a {surface.kind}"
            yield Fault(path, surface.opposite, allowed)
            continue
        across = [
            row.id
            for row in job.surfaces
            if row.id != surface.id
            and (row.kind, row.room, row.recipe)
            == ("wall", surface.room, surface.recipe)
        ]
        if other is None or other.id not in across:
            listed = ", ".join(across) or "there is none"
            allowed = f"another wall of its room with the same recipe: {listed}"
            yield Fault(path, surface.opposite, allowed)
        elif other.opposite not in (None, surface.id):
            theirs = other.opposite
            allowed = f"a wall that is across from it; {other.id} names {theirs}"
            yield Fault(path, surface.opposite, allowed)
        elif named.setdefault(other.id, surface.id) != surface.id:
            allowed = f"a wall that no other names; {named[other.id]} names it"
            yield Fault(path, surface.opposite, allowed)


def _known_faults(path: str, name: str, known: Collection[str]) -> Iterable[Fault]:
    if name not in known:
        listed = ", ".join(itertools.islice(known, 20)) or "none is given"
        yield Fault(path, name, f"one of {listed}")


def _recipe_faults(
    recipe: Recipe, path: str, materials: Mapping[str, Material]
) -> Iterable[Fault]:
    steps = {step.id: step for step in recipe.steps}
    waits = {}
    sound = True
    for number, step in enumerate(recipe.steps):
        at = f"{path}.steps[{number}]"
        if step.material is not None and step.material not in materials:
            sound = False
            yield from _known_faults(f"{at}.material", step.material, materials)
        if step.after is not None and step.after.step not in steps:
            sound = False
            yield from _known_faults(f"{at}.after.step", step.after.step, steps)
    if not sound:
        return
    for number, step in enumerate(recipe.steps):
        at = f"{path}.steps[{number}]"
        wait = wait_of(recipe, step, materials)
        if wait is None:
            continue
        waits[step.id] = wait.step
        before = steps[wait.step]
        if wait.stage == "":
            continue
        if before.material is None:
            allowed = f"a step with a material; {before.id} puts nothing on"
            yield Fault(f"{at}.after.step", before.id, allowed)
        elif wait.stage not in materials[before.material].labels:
            labels = ", ".join(materials[before.material].labels) or "none"
            allowed = (
                f"a stage that the label of {before.material} (step {before.id}) "
                f"knows: {labels}"
            )
            yield Fault(f"{at}.after.stage", wait.stage, allowed)
    sound_or_told: set[str] = set()  # each circle is told once
    for number, step in enumerate(recipe.steps):
        seen = {step.id: None}  # in order
        last = step.id
        while last not in sound_or_told and (earlier := waits.get(last)) is not None:
            if earlier in seen:
                circle = " after ".join([*seen, earlier])
                allowed = f"an order without a circle; now {circle}"
                yield Fault(f"{path}.steps[{number}].after", step.id, allowed)
                break
            seen[earlier] = None
            last = earlier
        sound_or_told.update(seen)
