"""What a job says that the planner does not use yet, said aloud."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from scheduling import drying
from scheduling.climate import SUN_RISE_K
from scheduling.plan import Stint
from scheduling.problem import GivenAir, Job, Surface, wait_of
from scheduling.room_air import RoomAir

LEAST_WATER_MIN = 15.0  # Assumed: less is not worth a machine or an open window
MOST_WATER_NOTES = 3
DECIDES = "Local codes and licensed practice decide."


def unused_notes(job: Job) -> Iterable[str]:
    """A sentence for each value of the job that the plan does not use, or not fully."""
    for material in job.materials:
        if any(point.air == material.label_air for point in material.points):
            name = material.name or material.id
            yield (
                f"{name}: a point at the label's own air changes nothing; to go by it, "
                "write its times into the label."
            )
    for surface in job.surfaces:
        if surface.sun:
            yield _sun_note(job, surface)
    if any(hour.wind_m_s is not None for hour in job.outdoors):
        yield "Wind outdoors is kept with the job but does not change a room's air yet."
    for hand in job.hands:
        if hand.hours and any(p.relay for rule in hand.hours for p in rule.breaks):
            yield f"{hand.name or hand.id}: own breaks in relay count as plain breaks."


def _sun_note(job: Job, surface: Surface) -> str:
    name = surface.name or surface.id
    kept = "wet work on it is planned before the sun comes round or when it has gone"
    if isinstance(job.room(surface.room).air, GivenAir):
        return f"{name}: {kept}; its air is given, so the sun does not warm it."
    return (
        f"{name}: {kept}; it is planned as up to {SUN_RISE_K:g} K warmer in those "
        "hours, as under a clear sky."
    )


def caution_notes(job: Job) -> Iterable[str]:
    """The usual caution for each material of the job that can hurt somebody."""
    used = {
        step.material
        for surface in job.surfaces
        for step in job.recipe(surface.recipe).steps
    }
    for material in job.materials:
        if material.id not in used:
            continue
        name = material.name or material.id
        if material.oily:
            yield (
                f"{name}: oily rags heat themselves. A lidded metal can or water, out "
                f"of the building every day (29 CFR 1926.252(e)). {DECIDES}"
            )
        if material.solvent:
            yield (
                f"{name}: solvent. Ignition sources off, air moving, mask, detectors "
                f"isolated and armed again at close. {DECIDES}"
            )
        if material.family == "lime":
            yield f"{name}: lime burns. Goggles, gloves, water at hand. {DECIDES}"


def water_notes(
    job: Job,
    stints: Sequence[Stint],
    wet: Mapping[str, RoomAir],
    dry: Mapping[str, RoomAir],
) -> Iterable[str]:
    """Where the work's own water keeps a stint waiting, the worst few first.

    ``wet`` and ``dry`` are the surfaces' air with the plan's water and without it.
    """
    materials = {material.id: material for material in job.materials}
    ends = {(s.surface, s.section, s.step): s for s in stints if s.kind == "work"}
    found = []
    for stint in stints:
        surface = job.surface(stint.surface)
        recipe = job.recipe(surface.recipe)
        step = recipe.step(stint.step)
        after = wait_of(recipe, step, materials)
        if stint.kind != "work" or stint.reason.code not in ("wait", "hours"):
            continue
        coat = ends.get((stint.surface, stint.section, after.step)) if after else None
        material_id = recipe.step(after.step).material if after else None
        if after is None or coat is None or material_id is None or not after.stage:
            continue
        waits = []
        for air in (wet[surface.id], dry[surface.id]):
            end = np.array([air.minute(coat.end)])
            clock = drying.clock(materials[material_id], after.stage, air, end)
            waits.append(float(clock.safe_min[0]))
        more = waits[0] - waits[1]
        ready_dry = (stint.start - coat.end).total_seconds() / 60 > waits[1]
        if LEAST_WATER_MIN <= more < np.inf and ready_dry:
            name = f"{step.name or step.id} of {surface.name or surface.id}"
            found.append((-more, name))
    for less, name in sorted(found)[:MOST_WATER_NOTES]:
        yield (
            f"The water of the work itself keeps {name} waiting {_span(-less)} longer: "
            "air the room or run a dehumidifier."
        )


def _span(minutes: float) -> str:
    hours, rest = divmod(5 * round(minutes / 5), 60)
    parts = [f"{hours} h"] if hours else []
    return " ".join([*parts, f"{rest} min"] if rest or not hours else parts)


def air_notes(job: Job, air: RoomAir | None) -> Iterable[str]:
    """How far the outdoor air given reaches."""
    if air is None or not job.outdoors:
        return
    last = max(hour.at for hour in job.outdoors).astimezone(job.site.tz)
    after = (
        "the job's typical air" if job.site.typical_air else "the last 48 h repeated"
    )
    yield f"Outdoor air is given until {last:%a %d %b %H:%M}; after it {after}."
