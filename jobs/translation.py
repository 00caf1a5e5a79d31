"""Rows <-> engine values, by way of the job and plan formats; the only bilingual file.

A job's rows become the JSON of the job format and that is read like any file, so what
the planner gets has passed the same checks. Moments come back in the site's zone.
"""

import dataclasses
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, tzinfo
from typing import Any, TypeVar

from django.db import models, transaction
from django.db.models import Max
from django.utils import timezone

from jobs.models import (
    Ban,
    Coat,
    Company,
    DateWish,
    ForecastHour,
    Job,
    Material,
    MoistureReading,
    Pin,
    Plan,
    Reading,
    Recipe,
    Room,
    Step,
    Stint,
    Surface,
)
from jobs.recipe_versions import keep_old
from scheduling import plan as engine_plan
from scheduling import problem
from scheduling.errors import BadInput, bad
from scheduling.job_file import (
    FORMAT,
    read_job,
    write_job,
    write_material,
    write_recipe,
)
from scheduling.plan_file import read_plan, write_plan

Json = dict[str, Any]
_Value = TypeVar("_Value")

SITE = ("latitude", "longitude", "altitude_m")
SITE_LISTS = ("closed", "quiet", "smell_free", "typical_air")
MATERIAL = (
    *("points", "promises", "water_share", "spread_m2_per_l", "parts"),
    *("tins_l", "lead_days"),
)
MATERIAL_COLUMNS = (
    *("name", "family", "label_air", "labels", "oily", "solvent"),
    *MATERIAL,
)
STEP = (
    *("after", "rescue", "work_min_m2", "setup_min", "skill", "makes"),
    *("coat", "seals", "prefers", "same_hand"),
)
STEP_COLUMNS = (
    *("name", "material", "apply_min_m2", "hands_least", "hands_most"),
    *("wet", "splits", *STEP),
)
ROOM = (
    *("access", "opens", "connected", "hands_most"),
    *("smell_free", "others", "any_order"),
)
ROOM_COLUMNS = ("name", "volume_m3", "air", "hand_back", *ROOM)
SURFACE = (
    *("openings_m2", "stop_lines_m", "u_w_m2k", "sun", "priority", "gates"),
    *("ground", "opposite"),
)
SURFACE_COLUMNS = (
    *("name", "room", "recipe", "kind", "width_m", "height_m", "outside"),
    *SURFACE,
)


def job_json(row: Job) -> Json:
    """The job in the job format, in a fixed number of queries."""
    return write_job(job_value(row))


def job_value(row: Job) -> problem.Job:
    """The job as the planner takes it; BadInput where the rows do not make one."""
    zone = row.tz
    rooms = {room.pk: room for room in row.rooms.all()}
    surfaces = {surface.pk: surface for surface in row.surfaces.all()}
    materials = {material.pk: material for material in row.materials.all()}
    recipes = {recipe.pk: recipe for recipe in row.recipes.all()}
    steps = {step.pk: step for step in Step.objects.filter(recipe__job=row)}

    def moment(value: datetime) -> str:
        return value.astimezone(zone).isoformat()

    written = {
        "format": FORMAT,
        "id": row.key,
        "title": row.title,
        **({"now": moment(row.now)} if row.now else {}),
        **_given(row, ("waste_pct",)),
        "site": {"zone": row.zone, "hours": row.hours, **_given(row, SITE)}
        | {name: getattr(row, name) for name in SITE_LISTS},
        "hands": [
            {**_named(hand), "skills": hand.skills, "away": hand.away}
            | _given(hand, ("hours",))
            for hand in row.hands.all()
        ],
        "materials": [_material(material) for material in materials.values()],
        "recipes": [
            {
                **_named(recipe),
                "steps": [
                    _step(step, materials)
                    for step in steps.values()
                    if step.recipe_id == recipe.pk
                ],
            }
            for recipe in recipes.values()
        ],
        "rooms": [
            {
                **_named(room),
                "volume_m3": _plain(room.volume_m3),
                "air": room.air,
                **_given(room, ROOM),
                **({"hand_back": moment(room.hand_back)} if room.hand_back else {}),
            }
            for room in rooms.values()
        ],
        "surfaces": [
            {
                **_named(surface),
                "room": rooms[surface.room_id].key,
                "recipe": recipes[surface.recipe_id].key,
                "kind": surface.kind,
                "width_m": _plain(surface.width_m),
                "height_m": _plain(surface.height_m),
                "outside": surface.outside,
                **_given(surface, SURFACE),
            }
            for surface in surfaces.values()
        ],
        "outdoors": [
            {"at": moment(hour.at), **_air(hour), **_given(hour, ("wind_m_s",))}
            for hour in row.outdoors.all()
        ],
        **_outdoors_from(row, moment),
        "readings": [
            {"at": moment(reading.at), "room": rooms[reading.room_id].key}
            | {**_air(reading), **_given(reading, ("surface_c",))}
            for reading in row.readings.all()
        ],
        "moisture": [
            {"at": moment(reading.at), "moisture_pct": _plain(reading.moisture_pct)}
            | (
                {"surface": surfaces[reading.surface_id].key}
                if reading.surface_id
                else {"room": rooms[reading.room_id].key}
            )
            | _given(reading, ("of",))
            for reading in row.moisture.all()
        ],
        "coats": [
            {
                "surface": surfaces[coat.surface_id].key,
                **_given(coat, ("section",)),
                "step": steps[coat.step_id].key,
                "from": moment(coat.start),
                "to": moment(coat.end),
            }
            for coat in row.coats.all()
        ],
        "pins": [
            {
                "surface": surfaces[pin.surface_id].key,
                **_given(pin, ("section",)),
                "step": steps[pin.step_id].key,
                "hands": pin.hands,
                "from": moment(pin.start),
            }
            for pin in row.pins.all()
        ],
        "bans": [
            {
                "surface": surfaces[ban.surface_id].key,
                **_given(ban, ("section",)),
                "step": steps[ban.step_id].key,
                **(
                    {"hands": ban.hands}
                    if ban.start is None
                    else {"from": moment(ban.start), "to": moment(ban.end)}
                ),
            }
            for ban in row.bans.all()
        ],
        "dates": [
            _date(wish, row, rooms, surfaces, moment) for wish in row.dates.all()
        ],
    }
    return in_zone(read_job(written), zone)


def in_zone(value: _Value, zone: tzinfo) -> _Value:
    """The same value with every moment in it told in that zone."""
    moved: Any = value
    if isinstance(value, datetime):
        moved = value.astimezone(zone)
    elif isinstance(value, tuple):
        moved = tuple(in_zone(entry, zone) for entry in value)
    elif isinstance(value, Mapping):
        moved = {name: in_zone(entry, zone) for name, entry in value.items()}
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        changes = {
            field.name: in_zone(getattr(value, field.name), zone)
            for field in dataclasses.fields(value)
        }
        moved = dataclasses.replace(value, **changes)
    return moved


def _named(row: Any) -> Json:
    return {"id": row.key, **_given(row, ("name",))}


def _given(row: models.Model, names: Iterable[str]) -> Json:
    """The columns that hold something: neither null nor blank text."""
    values = {name: getattr(row, name) for name in names}
    return {
        name: _plain(value) for name, value in values.items() if value not in (None, "")
    }


def _plain(value: Any) -> Any:
    """A whole number without ``.0``: a column of floats has lost how it was typed."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _air(row: Reading | ForecastHour) -> Json:
    return {
        "temperature_c": _plain(row.temperature_c),
        "humidity_pct": _plain(row.humidity_pct),
    }


def _outdoors_from(row: Job, moment: Callable[[datetime], str]) -> Json:
    if row.outdoors_made is None:
        return {}
    made = moment(row.outdoors_made)
    return {"outdoors_from": {"source": row.outdoors_source, "made": made}}


def _material(row: Material) -> Json:
    return {
        **_named(row),
        "family": row.family,
        "label_air": row.label_air,
        "labels": row.labels,
        "oily": row.oily,
        "solvent": row.solvent,
        **_given(row, MATERIAL),
    }


def _step(row: Step, materials: Mapping[int, Material]) -> Json:
    most = {} if row.hands_most is None else {"most": row.hands_most}
    return {
        **_named(row),
        "material": materials[row.material_id].key if row.material_id else None,
        "apply_min_m2": _plain(row.apply_min_m2),
        "hands": {"least": row.hands_least, **most},
        "wet": row.wet,
        "splits": row.splits,
        **_given(row, STEP),
    }


def _date(
    row: DateWish,
    job: Job,
    rooms: Mapping[int, Room],
    surfaces: Mapping[int, Surface],
    moment: Callable[[datetime], str],
) -> Json:
    if row.surface_id:
        target = {"surface": surfaces[row.surface_id].key}
    elif row.room_id:
        target = {"room": rooms[row.room_id].key}
    else:
        target = {"job": job.key}
    return {
        **target,
        "by": moment(row.by),
        **_given(row, ("stage", "promise", "weight")),
        "must": row.must,
    }


@transaction.atomic
def store_job(company: Company, job: problem.Job, *, replace: bool = False) -> Job:
    """A new job of that company, or with ``replace`` new values for its old one.

    Rows whose id stays are changed in place, so that a link to a hand or a room and
    who logged a coat live on. BadInput where the id is taken.
    """
    written = write_job(in_zone(job, job.site.tz))
    site = written["site"]
    old = Job.objects.select_for_update().filter(company=company, key=job.id).first()
    if old is not None and not replace:
        raise bad("id", job.id, f"an id not yet taken; the job {old.title} has it")
    before = None if old is None else _readable(old)
    row = old or Job(company=company, key=job.id)
    row.title, row.now, row.changed_at = job.title, job.now, timezone.now()
    said = job.outdoors_from
    source, made = (said.source, said.made) if said else ("", None)
    if old is not None and (old.outdoors_source, old.outdoors_made) != (source, made):
        old.forecasts.update(taken_at=None)  # the hours are no longer a forecast's
    row.outdoors_source, row.outdoors_made = source, made
    row.waste_pct = job.waste_pct
    for name, value in _columns(Job, site, ("zone", "hours", *SITE, *SITE_LISTS)):
        setattr(row, name, value)
    row.save()
    _store_lists(row, job, _store_named(row, written))
    if before is not None:
        _keep_old_recipes(row, before, job)
    # Told in the site's zone, a moment may leave the years that the format allows.
    job_value(row)
    return row


def _readable(row: Job) -> problem.Job | None:
    """The job as it is; None where its rows cannot be read, which has no versions."""
    try:
        return job_value(row)
    except BadInput:
        return None


def _keep_old_recipes(row: Job, before: problem.Job, job: problem.Job) -> None:
    """What a job file changed of recipes and materials, as old versions."""
    for rows, old, new, write in (
        (row.recipes, before.recipes, job.recipes, write_recipe),
        (row.materials, before.materials, job.materials, write_material),
    ):
        now = {value.id: value for value in new}
        changed = {
            value.id: write(value)
            for value in old
            if value.id in now and value != now[value.id]
        }
        for kept in rows.filter(key__in=changed):
            keep_old(kept, changed[kept.key], at=row.changed_at, why="a job file")


def recipes_used(job: problem.Job) -> Json:
    """The recipes of a job's surfaces, and their materials, in the job format."""
    on = {surface.recipe for surface in job.surfaces}
    recipes = [recipe for recipe in job.recipes if recipe.id in on]
    used = {step.material for recipe in recipes for step in recipe.steps}
    return {
        "recipes": [write_recipe(recipe) for recipe in recipes],
        "materials": [write_material(row) for row in job.materials if row.id in used],
    }


def store_recipe(row: Job, recipe: problem.Recipe) -> Recipe:
    """A recipe as rows: its old ones changed in place, or new behind the others.

    Its materials must be there. Steps that it has no more go, with all that hangs on
    them.
    """
    written = write_recipe(recipe)
    stored = _one(row.recipes, written, ("name",))
    materials = {material.key: material for material in row.materials.all()}
    _keyed(stored.steps, _step_entries(written, materials), STEP_COLUMNS)
    return stored


def store_material(row: Job, material: problem.Material) -> Material:
    """A material as a row: its old one changed in place, or new behind the others."""
    return _one(row.materials, write_material(material), MATERIAL_COLUMNS)


def _one(manager: Any, written: Json, names: tuple[str, ...]) -> Any:
    """The row of that id with these values; a new one stands last."""
    stored = manager.filter(key=written["id"]).first()
    if stored is None:
        last = manager.aggregate(last=Max("position"))["last"]
        stored = manager.model(
            key=written["id"],
            position=0 if last is None else last + 1,
            **{manager.field.name: manager.instance},
        )
    for name, value in _columns(manager.model, written, names):
        setattr(stored, name, value)
    stored.save()
    return stored


def _step_entries(recipe: Json, materials: Mapping[str, Material]) -> list[Json]:
    return [
        {
            **entry,
            "material": materials.get(entry["material"]),
            "hands_least": entry["hands"]["least"],
            "hands_most": entry["hands"].get("most"),
        }
        for entry in recipe["steps"]
    ]


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class _Stored:
    """The rows that others name, by the format's ids."""

    rooms: dict[str, Room]
    surfaces: dict[str, Surface]
    steps: dict[tuple[str, str], Step]  # by surface and step


def _store_named(row: Job, written: Json) -> _Stored:
    _keyed(row.hands, written["hands"], ("name", "skills", "hours", "away"))
    materials = _keyed(
        row.materials,
        written["materials"],
        MATERIAL_COLUMNS,
        drop=False,
    )
    recipes = _keyed(row.recipes, written["recipes"], ("name",), drop=False)
    rooms = _keyed(
        row.rooms,
        written["rooms"],
        ROOM_COLUMNS,
        drop=False,
    )
    surfaces = _keyed(
        row.surfaces,
        [
            {**entry, "room": rooms[entry["room"]], "recipe": recipes[entry["recipe"]]}
            for entry in written["surfaces"]
        ],
        SURFACE_COLUMNS,
    )
    steps = {
        recipe["id"]: _keyed(
            recipes[recipe["id"]].steps,
            _step_entries(recipe, materials),
            STEP_COLUMNS,
        )
        for recipe in written["recipes"]
    }
    # These go last, when no surface and no step holds on to them any more.
    for rows, stay in ((row.recipes, recipes), (row.rooms, rooms)):
        rows.exclude(key__in=stay).delete()
    row.materials.exclude(key__in=materials).delete()
    return _Stored(
        rooms=rooms,
        surfaces=surfaces,
        steps={
            (surface["id"], key): step
            for surface in written["surfaces"]
            for key, step in steps[surface["recipe"]].items()
        },
    )


@transaction.atomic
def store_more(row: Job, job: problem.Job) -> None:
    """What that job has more than the stored one: recipes, rooms and surfaces by id.

    They come after the stored ones, which stay as they are whatever ``job`` says.
    """
    written = write_job(in_zone(job, job.site.tz))
    materials = {material.key: material for material in row.materials.all()}
    recipes = _added(row.recipes, written["recipes"], ("name",))
    for entry in written["recipes"]:
        if entry["id"] in recipes:
            _keyed(
                recipes[entry["id"]].steps,
                _step_entries(entry, materials),
                STEP_COLUMNS,
            )
    _added(row.rooms, written["rooms"], ROOM_COLUMNS)
    rooms = {room.key: room for room in row.rooms.all()}
    recipes = {recipe.key: recipe for recipe in row.recipes.all()}
    surfaces = [
        {**entry, "room": rooms[entry["room"]], "recipe": recipes[entry["recipe"]]}
        for entry in written["surfaces"]
    ]
    _added(row.surfaces, surfaces, SURFACE_COLUMNS)
    job_value(row)  # told in the site's zone, as in store_job


def _added(manager: Any, written: list[Json], names: tuple[str, ...]) -> dict[str, Any]:
    """Rows made of the entries whose id is new, behind the last, by id."""
    old = set(manager.values_list("key", flat=True))
    last = manager.aggregate(last=Max("position"))["last"]
    first = 0 if last is None else last + 1
    owner = {manager.field.name: manager.instance}
    new = [entry for entry in written if entry["id"] not in old]
    rows = [
        manager.model(
            key=entry["id"],
            position=first + place,
            **owner,
            **dict(_columns(manager.model, entry, names)),
        )
        for place, entry in enumerate(new)
    ]
    return {row.key: row for row in manager.bulk_create(rows)}


def _store_lists(row: Job, job: problem.Job, stored: _Stored) -> None:
    rooms, surfaces, steps = stored.rooms, stored.surfaces, stored.steps
    _listed(
        row.readings,
        [
            Reading(
                room=rooms[reading.room],
                at=reading.at,
                temperature_c=reading.temperature_c,
                humidity_pct=reading.humidity_pct,
                surface_c=reading.surface_c,
            )
            for reading in job.readings
        ],
        same=("room_id", "at", "temperature_c", "humidity_pct", "surface_c"),
        keep=("taken_by_id", "via"),
    )
    _listed(
        row.moisture,
        [
            MoistureReading(
                surface=surfaces[reading.surface] if reading.surface else None,
                room=rooms[reading.room] if reading.room else None,
                at=reading.at,
                moisture_pct=reading.moisture_pct,
                of=reading.of or "",
            )
            for reading in job.moisture
        ],
    )
    _listed(
        row.coats,
        [
            Coat(
                surface=surfaces[coat.surface],
                step=steps[coat.surface, coat.step],
                section=coat.section or "",
                start=coat.start,
                end=coat.end,
            )
            for coat in job.coats
        ],
        same=("surface_id", "step_id", "section", "start", "end"),
        keep=("logged_by_id", "logged_at"),
    )
    _listed(
        row.outdoors,
        [
            ForecastHour(
                at=hour.at,
                temperature_c=hour.temperature_c,
                humidity_pct=hour.humidity_pct,
                wind_m_s=hour.wind_m_s,
            )
            for hour in job.outdoors
        ],
    )
    _listed(
        row.pins,
        [
            Pin(
                surface=surfaces[pin.surface],
                step=steps[pin.surface, pin.step],
                section=pin.section or "",
                start=pin.start,
                hands=list(pin.hands),
            )
            for pin in job.pins
        ],
    )
    _listed(
        row.bans,
        [
            Ban(
                surface=surfaces[ban.surface],
                step=steps[ban.surface, ban.step],
                section=ban.section or "",
                hands=list(ban.hands),
                start=ban.start,
                end=ban.end,
            )
            for ban in job.bans
        ],
    )
    _listed(
        row.dates,
        [
            DateWish(
                surface=surfaces[wish.surface] if wish.surface else None,
                room=rooms[wish.room] if wish.room else None,
                by=wish.by,
                must=wish.must,
                stage=wish.stage or "",
                promise=wish.promise or "",
                weight=wish.weight,
            )
            for wish in job.dates
        ],
    )


def _columns(
    model: type[models.Model], written: Json, names: Iterable[str]
) -> Iterable[tuple[str, Any]]:
    """Column and value for each name; one that is not written gets the default."""
    for name in names:
        field = model._meta.get_field(name)
        value = written[name] if name in written else field.get_default()
        yield name, field.to_python(value) if name == "hand_back" else value


def _keyed(
    manager: Any, written: list[Json], names: tuple[str, ...], *, drop: bool = True
) -> dict[str, Any]:
    """Rows by id: old ones changed in place, new ones made, others dropped if asked."""
    model, owner = manager.model, {manager.field.name: manager.instance}
    old = {row.key: row for row in manager.all()}
    rows = {}
    for position, entry in enumerate(written):
        row = old.get(entry["id"]) or model(key=entry["id"], **owner)
        row.position = position
        for name, value in _columns(model, entry, names):
            setattr(row, name, value)
        rows[row.key] = row
    model.objects.bulk_create([row for row in rows.values() if row.pk is None])
    changed = [row for key, row in rows.items() if key in old]
    model.objects.bulk_update(changed, ("position", *names))
    if drop:
        manager.exclude(key__in=rows).delete()
    return rows


def _listed(
    manager: Any,
    rows: list[Any],
    *,
    same: tuple[str, ...] = (),
    keep: tuple[str, ...] = (),
) -> None:
    """These rows in place of the old ones; ``keep`` is taken over from an equal one."""
    old = {tuple(getattr(row, name) for name in same): row for row in manager.all()}
    for position, row in enumerate(rows):
        row.position = position
        setattr(row, manager.field.name, manager.instance)
        before = old.get(tuple(getattr(row, name) for name in same))
        for name in keep if before is not None else ():
            setattr(row, name, getattr(before, name))
    manager.all().delete()
    manager.model.objects.bulk_create(rows)


@transaction.atomic
def store_plan(
    job: Job,
    value: engine_plan.Plan,
    *,
    planned_at: datetime,
    planned: problem.Job | None = None,
) -> Plan:
    """The plan as the job's next number, a draft, with a row for each stint.

    ``planned`` is what the planner was given, where the rows may have changed since.
    """
    Job.objects.select_for_update().get(pk=job.pk)  # two runs, two numbers
    last = job.plans.aggregate(last=Max("number"))["last"] or 0
    value = in_zone(value, job.tz)
    planned = planned or job_value(job)
    row = Plan.objects.create(
        job=job,
        number=last + 1,
        outcome=value.outcome,
        job_sha256=value.job_sha256,
        content=write_plan(value),
        made_with=recipes_used(planned),
        finish=value.finish,
        planned_at=planned_at,
    )
    room_of = {surface.id: surface.room for surface in planned.surfaces}
    Stint.objects.bulk_create(
        Stint(
            plan=row,
            position=position,
            key=stint.id,
            kind=stint.kind,
            room_key=room_of[stint.surface],
            surface_key=stint.surface,
            section=stint.section or "",
            step_key=stint.step,
            hands=list(stint.hands),
            start=stint.start,
            end=stint.end,
            reason_code=stint.reason.code,
            reason_text=stint.reason.text,
            reason_other=stint.reason.other or "",
        )
        for position, stint in enumerate(value.stints)
    )
    return row


def plan_value(row: Plan) -> engine_plan.Plan:
    """The stored plan as the engine made it, in the site's zone."""
    return in_zone(read_plan(row.content), row.job.tz)
