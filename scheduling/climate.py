"""The air of each room and at each surface, step by step over the days of a plan.

A room's stated ``given`` air is used as it is. Any other room is a balance of heat and
water (``room_model``) driven by the outdoor air, then put right by what was measured.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from scheduling.outdoors import (
    HOUR_MIN,
    UNKNOWN_SPREAD,
    Steps,
    outdoor_air,
    within,
    working,
)
from scheduling.problem import (
    Coat,
    Family,
    GivenAir,
    Job,
    Material,
    Room,
    Surface,
)
from scheduling.psychrometrics import (
    SEA_LEVEL_PA,
    WATER_TO_AIR,
    humidity_pct_of,
    pressure_pa,
    vapour_from_ratio,
    vapour_pa,
)
from scheduling.room_air import STILL_AIR_M_S, Drift, Floats, RoomAir
from scheduling.room_doors import flows_m3_h, given_beside
from scheduling.room_model import lagging, lagging_mean, run_together
from scheduling.room_readings import (
    correction,
    put_right,
    readings_by_minute,
    steps_of,
)
from scheduling.room_water import Beside, Conditions, RoomRun, buffer_kg

__all__ = [
    "Dehumidifier",
    "coat_water_kg",
    "outdoor_air",
    "room_airs",
    "room_conditions",
    "sun_rise_k",
    "surface_air",
    "water_given_off",
    "work_water",
]

# ISO 6946 table 7: surface resistance on the room's side, m2 K/W, by the heat's way.
INNER_RESISTANCE = {"ceiling": 0.10, "floor": 0.17}
INNER_RESISTANCE_SIDEWAYS = 0.13
OUTER_WALL_U = 1.5  # Assumed where unstated: W/(m2 K), a solid wall without insulation

# The sun lifts a dark outdoor wall 10-20 K above the air (common practice, no source).
# Assumed: behind glass half of that and less, and an hour in plaster to get there. A
# cloud undoes it, so a clock's range widens by a tenth (in natural log) meanwhile.
SUN_RISE_K, SUN_LAG_H, SUN_SPREAD = 8.0, 1.0, 0.10

WATER_LEAVES_MIN = 60.0  # Assumed: a coat gives off two thirds of its water in an hour
WATER_FROM_MIN = 5.0  # Assumed: a coat has no end to the minute; the nearest of these
WATER_KG_L = 1.0  # a litre of a wet coat's water part
# Assumed where a label does not say: the usual share of water in a litre, and a spread.
WATER_SHARE: Mapping[Family, float] = {
    "waterborne": 0.5,
    "glaze": 0.5,
    "distemper": 0.5,
    "lime": 0.5,
    "gypsum": 0.5,
    "water-size": 0.5,
}
SPREAD_M2_PER_L = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Dehumidifier:
    """One set up in a room from ``start`` to ``end``, with the windows then shut.

    ``l_day`` is its rating at 30 C and 80 %. ``changes_per_h`` is what is left of the
    room's own air changes while it runs; None leaves them as they are.
    """

    l_day: float
    start: datetime | None = None
    end: datetime | None = None
    changes_per_h: float | None = None


def room_airs(
    job: Job,
    start: datetime,
    days: float,
    *,
    water: Mapping[str, Floats] | None = None,
    step_min: float = 5.0,
    dehumidifier: Mapping[str, Dehumidifier] | None = None,
    outdoors: RoomAir | None = None,
) -> Mapping[str, RoomAir]:
    """The air of every room of the job, by its id, its surfaces as warm as the air.

    ``water`` is the kg given off in each step, by room; logged coats are not added.
    ``dehumidifier`` sets one up beside what the job states. ``outdoors`` saves building
    it again and must be on the same steps.
    """
    steps = Steps.over(start, days, step_min)
    airs: dict[str, RoomAir] = {}
    balanced: dict[str, Conditions] = {}
    for room in job.rooms:
        if isinstance(room.air, GivenAir):
            airs[room.id] = _given_air(room.air, steps)
            continue
        if outdoors is None:
            outdoors = outdoor_air(job, start, days, step_min)
        balanced[room.id] = room_conditions(
            job,
            room,
            outdoors,
            water=(water or {}).get(room.id),
            dehumidifier=(dehumidifier or {}).get(room.id),
        )
    if outdoors is not None and balanced:
        flows = flows_m3_h([job.room(room_id) for room_id in balanced])
        runs = run_together(list(balanced.values()), doors_m3_h=flows)
        for (room_id, conditions), result in zip(balanced.items(), runs, strict=True):
            air = _modelled_air(conditions, result, outdoors)
            airs[room_id] = put_right(job, job.room(room_id), air)
    return airs


def room_conditions(
    job: Job,
    room: Room,
    outdoors: RoomAir,
    *,
    water: Floats | None = None,
    dehumidifier: Dehumidifier | None = None,
) -> Conditions:
    """What acts on a modelled room in each step of ``outdoors``.

    Open doors to rooms of given air are among it, those to modelled rooms are not.
    """
    control = room.air
    if isinstance(control, GivenAir):
        raise ValueError(f"{room.id} has given air, and no balance")
    steps = Steps(start=outdoors.start, step_min=outdoors.step_min, count=len(outdoors))
    if water is not None and water.shape != (steps.count,):
        raise ValueError(f"water of {room.id}: {steps.count} steps, not {water.shape}")
    changes = np.full(steps.count, float(control.changes_per_h))
    litres = np.full(steps.count, float(control.dehumidifier_l_day or 0.0))
    if dehumidifier is not None:
        on = np.ones(steps.count, dtype=np.bool_)
        if dehumidifier.start is not None:
            on &= steps.minutes >= steps.minute(dehumidifier.start)
        if dehumidifier.end is not None:
            on &= steps.minutes < steps.minute(dehumidifier.end)
        litres = litres + np.where(on, dehumidifier.l_day, 0.0)
        if dehumidifier.changes_per_h is not None:
            changes = np.where(on, dehumidifier.changes_per_h, changes)
    pressure = _pressure_pa(job)
    vapour = vapour_pa(outdoors.temperature_c, outdoors.humidity_pct)
    return Conditions(
        step_h=steps.step_min / HOUR_MIN,
        volume_m3=room.volume_m3,
        pressure_pa=pressure,
        changes_per_h=changes,
        set_point_c=np.where(working(job.site, steps), control.day_c, control.night_c),
        outdoor_c=outdoors.temperature_c,
        outdoor_ratio=WATER_TO_AIR * vapour / (pressure - vapour),
        water_kg=np.zeros(steps.count) if water is None else water,
        dehumidifier_l_day=litres,
        buffer_kg=buffer_kg(room.volume_m3),
        humidifier_l_day=control.humidifier_l_day or 0.0,
        cooling_c=np.inf if control.cooling_c is None else control.cooling_c,
        occupants_kg_h=(control.occupants_g_h or 0.0) / 1000,
        beside=_beside(job, room, steps, pressure),
    )


def _beside(job: Job, room: Room, steps: Steps, pressure: float) -> Beside | None:
    """All given air that a room's doors let in, as one flow of the mean state."""
    flows = given_beside(room, job.rooms)
    if not flows:
        return None
    total = sum(flows.values())
    warmth, ratio = np.zeros(steps.count), np.zeros(steps.count)
    for other_id, flow in flows.items():
        control = job.room(other_id).air
        if isinstance(control, GivenAir):
            air = _given_air(control, steps)
            vapour = vapour_pa(air.temperature_c, air.humidity_pct)
            warmth += flow / total * air.temperature_c
            ratio += flow / total * WATER_TO_AIR * vapour / (pressure - vapour)
    return Beside(
        changes_per_h=total / room.volume_m3, temperature_c=warmth, ratio=ratio
    )


def surface_air(
    job: Job, surface: Surface, room_air: RoomAir, outdoors: RoomAir | None
) -> RoomAir:
    """The room's air with ``surface_c`` as warm as that surface.

    An outer wall, roof or floor stands between the room and the outdoors by ISO 6946,
    any other surface is as warm as the room, and the sun warms either in its hours.
    In a room of given air every surface is as warm as the air. A reading's
    ``surface_c`` does not say which surface it was taken on, so it holds for each of
    the room's.
    """
    room = job.room(surface.room)
    if isinstance(room.air, GivenAir):
        return room_air
    warmth = room_air.temperature_c
    fall = 0.0
    if surface.outside and outdoors is not None:
        resistance = INNER_RESISTANCE.get(surface.kind, INNER_RESISTANCE_SIDEWAYS)
        u = OUTER_WALL_U if surface.u_w_m2k is None else surface.u_w_m2k
        fall = min(u * resistance, 1.0)  # never colder than outdoors
        warmth = warmth - fall * (warmth - outdoors.temperature_c)
    steps = steps_of(room_air)
    risen_k = sun_rise_k(job, surface, steps)
    warmth = warmth + risen_k
    drift = room_air.drift
    if drift is not None:
        # The outdoor air changes by jumps, between steps.
        rise = (1 - fall) * drift.temperature_k + _rise(_sun_k(job, surface, steps))
        drift = replace(drift, surface_k=rise)
    readings = readings_by_minute(job, room, steps)
    felt = {m: r.surface_c for m, r in readings.items() if r.surface_c is not None}
    warmth = warmth + correction(felt, warmth, steps.step_min)
    spread = np.minimum(
        room_air.spread + SUN_SPREAD * risen_k / SUN_RISE_K,
        np.maximum(room_air.spread, UNKNOWN_SPREAD),
    )
    return replace(room_air, surface_c=warmth, spread=spread, drift=drift)


def sun_rise_k(job: Job, surface: Surface, steps: Steps) -> Floats:
    """How far the sun has warmed a surface, its mean over each step.

    It follows the surface's hours with a lag, up and down, as under a clear sky.
    """
    step_h = steps.step_min / HOUR_MIN
    return lagging_mean(_sun_k(job, surface, steps), step_h, SUN_LAG_H)


def _sun_k(job: Job, surface: Surface, steps: Steps) -> Floats:
    """The same at each step's start."""
    if not surface.sun:
        return np.zeros(steps.count)
    goal = np.where(within(job.site, surface.sun, steps), SUN_RISE_K, 0.0)
    return lagging(goal, 0.0, steps.step_min / HOUR_MIN, SUN_LAG_H)


def coat_water_kg(material: Material, area_m2: float) -> float:
    """Water in a coat on that area; none in oil, spirit, oil size and two-part."""
    share = material.water_share
    if share is None:
        share = WATER_SHARE.get(material.family, 0.0)
    litres = area_m2 / (material.spread_m2_per_l or SPREAD_M2_PER_L)
    return litres * share * WATER_KG_L


def water_given_off(
    litres: float, water_share: float, end_min: float, step_min: float, count: int
) -> Floats:
    """Kg of water that a coat gives off in each of ``count`` steps from minute 0.

    It goes exponentially from the coat's end on, which may lie before the first step or
    between two; what had gone before, or goes after the last, is not in the sum.
    """
    edges = np.arange(count + 1) * step_min - end_min
    left = np.exp(-np.maximum(edges, 0.0) / WATER_LEAVES_MIN)
    gone: Floats = left[:-1] - left[1:]
    return gone * (litres * water_share * WATER_KG_L)


def work_water(
    job: Job, coats: Iterable[Coat], start: datetime, days: float, step_min: float = 5.0
) -> dict[str, Floats]:
    """Kg given off in each step, by room, by coats logged or planned."""
    steps = Steps.over(start, days, step_min)
    given: dict[str, Floats] = {}
    for coat in coats:
        surface = job.surface(coat.surface)
        step = job.recipe(surface.recipe).step(coat.step)
        if step.material is None:
            continue
        shares = dict(surface.sections)
        part = 1.0 if coat.section is None else shares[coat.section]
        area_m2 = surface.area_m2 * part
        kilograms = coat_water_kg(job.material(step.material), area_m2) * step.coat
        end_min = round(steps.minute(coat.end) / WATER_FROM_MIN) * WATER_FROM_MIN
        flow = water_given_off(kilograms, 1.0, end_min, step_min, steps.count)
        given[surface.room] = given.get(surface.room, 0.0) + flow
    return given


def _given_air(air: GivenAir, steps: Steps) -> RoomAir:
    entries = sorted(air.given, key=lambda entry: entry.at)
    known = np.array([steps.minute(entry.at) for entry in entries])
    row = np.maximum(np.searchsorted(known, steps.minutes, "right") - 1, 0)
    temperature = np.array([entry.temperature_c for entry in entries], float)[row]
    return RoomAir(
        start=steps.start,
        step_min=steps.step_min,
        temperature_c=temperature,
        humidity_pct=np.array([entry.humidity_pct for entry in entries], float)[row],
        surface_c=temperature,
        moving_air_m_s=np.full(steps.count, STILL_AIR_M_S),
        spread=np.zeros(steps.count),
    )


def _modelled_air(
    conditions: Conditions, result: RoomRun, outdoors: RoomAir
) -> RoomAir:
    vapour = vapour_from_ratio(result.felt_ratio * 1000, conditions.pressure_pa)
    humidity = humidity_pct_of(result.mean_c, vapour)
    begun = vapour_from_ratio(result.begun_ratio * 1000, conditions.pressure_pa)
    warmer = _rise(result.temperature_c)
    return replace(
        outdoors,
        temperature_c=result.mean_c,
        humidity_pct=np.clip(humidity, 0.0, 100.0),
        surface_c=result.mean_c,
        moving_air_m_s=np.full(len(outdoors), STILL_AIR_M_S),
        drift=Drift(
            temperature_k=warmer,
            humidity_pct=_rise(humidity_pct_of(result.temperature_c, begun)),
            surface_k=warmer,
        ),
    )


def _rise(at_starts: Floats) -> Floats:
    """What a series rises by in each step; nothing is known of the last."""
    return np.diff(at_starts, append=at_starts[-1:])


def _pressure_pa(job: Job) -> float:
    altitude = job.site.altitude_m
    return SEA_LEVEL_PA if altitude is None else pressure_pa(altitude)
