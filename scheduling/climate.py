"""The air of each room and at each surface, step by step over the days of a plan.

A room's stated ``given`` air is used as it is. Any other room is a balance of heat and
water (``room_model``) driven by the outdoor air, then put right by what was measured.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from scheduling.outdoors import HOUR_MIN, UNKNOWN_SPREAD, Steps, outdoor_air, working
from scheduling.problem import (
    Coat,
    Family,
    GivenAir,
    Job,
    Material,
    Reading,
    Room,
    Surface,
)
from scheduling.psychrometrics import (
    SEA_LEVEL_PA,
    WATER_TO_AIR,
    humidity_pct_of,
    pressure_pa,
    saturation_pa,
    vapour_from_ratio,
    vapour_pa,
)
from scheduling.room_air import STILL_AIR_M_S, Floats, RoomAir
from scheduling.room_model import run_together
from scheduling.room_water import Conditions, RoomRun, buffer_kg

__all__ = [
    "Dehumidifier",
    "coat_water_kg",
    "outdoor_air",
    "room_airs",
    "room_conditions",
    "surface_air",
    "water_given_off",
    "work_water",
]

# ISO 6946 table 7: surface resistance on the room's side, m2 K/W, by the heat's way.
INNER_RESISTANCE = {"ceiling": 0.10, "floor": 0.17}
INNER_RESISTANCE_SIDEWAYS = 0.13
OUTER_WALL_U = 1.5  # Assumed where unstated: W/(m2 K), a solid wall without insulation

READING_FADES_H = 6.0  # Assumed: a reading's correction falls to a third in this time
# Assumed: half-width in natural log that a room never measured adds to a clock's range,
# and the time in which it comes back after a reading.
ROOM_SPREAD, ROOM_SPREAD_H = 0.03, 24.0

WATER_LEAVES_MIN = 60.0  # Assumed: a coat gives off two thirds of its water in an hour
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
        runs = run_together(list(balanced.values()))
        for (room_id, conditions), result in zip(balanced.items(), runs, strict=True):
            air = _modelled_air(conditions, result, outdoors)
            airs[room_id] = _measured(job, job.room(room_id), air)
    return airs


def room_conditions(
    job: Job,
    room: Room,
    outdoors: RoomAir,
    *,
    water: Floats | None = None,
    dehumidifier: Dehumidifier | None = None,
) -> Conditions:
    """What acts on a modelled room in each step of ``outdoors``."""
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
    )


def surface_air(
    job: Job, surface: Surface, room_air: RoomAir, outdoors: RoomAir | None
) -> RoomAir:
    """The room's air with ``surface_c`` as warm as that surface.

    An outer wall, roof or floor stands between the room and the outdoors by ISO 6946,
    any other surface is as warm as the room, and so is every one in a room of given
    air. A reading's ``surface_c`` does not say which surface it was taken on, so it
    holds for each of the room's.
    """
    room = job.room(surface.room)
    if isinstance(room.air, GivenAir):
        return room_air
    warmth = room_air.temperature_c
    if surface.outside and outdoors is not None:
        resistance = INNER_RESISTANCE.get(surface.kind, INNER_RESISTANCE_SIDEWAYS)
        u = OUTER_WALL_U if surface.u_w_m2k is None else surface.u_w_m2k
        fall = min(u * resistance, 1.0)  # never colder than outdoors
        warmth = warmth - fall * (warmth - outdoors.temperature_c)
    steps = _steps_of(room_air)
    readings = _readings(job, room, steps)
    felt = {i: r.surface_c for i, r in readings.items() if r.surface_c is not None}
    warmth = warmth + _correction(felt, warmth, steps.step_min)
    return replace(room_air, surface_c=warmth)


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
        material_id = job.recipe(surface.recipe).step(coat.step).material
        if material_id is None:
            continue
        shares = dict(surface.sections)
        part = 1.0 if coat.section is None else shares[coat.section]
        kilograms = coat_water_kg(job.material(material_id), surface.area_m2 * part)
        flow = water_given_off(
            kilograms, 1.0, steps.minute(coat.end), step_min, steps.count
        )
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
    vapour = vapour_from_ratio(result.ratio * 1000, conditions.pressure_pa)
    humidity = humidity_pct_of(result.temperature_c, vapour)
    return replace(
        outdoors,
        temperature_c=result.temperature_c,
        humidity_pct=np.clip(humidity, 0.0, 100.0),
        surface_c=result.temperature_c,
        moving_air_m_s=np.full(len(outdoors), STILL_AIR_M_S),
    )


def _measured(job: Job, room: Room, air: RoomAir) -> RoomAir:
    """The modelled air put right by readings, and its range by their age."""
    readings = _readings(job, room, _steps_of(air))
    temperature = air.temperature_c + _correction(
        {i: reading.temperature_c for i, reading in readings.items()},
        air.temperature_c,
        air.step_min,
    )
    vapour = vapour_pa(air.temperature_c, air.humidity_pct)
    vapour = vapour + _correction(
        {i: vapour_pa(r.temperature_c, r.humidity_pct) for i, r in readings.items()},
        vapour,
        air.step_min,
    )
    saturated = saturation_pa(temperature)
    humidity = np.clip(100 * vapour / saturated, 0.0, 100.0)
    return replace(
        air,
        temperature_c=temperature,
        humidity_pct=humidity,
        surface_c=temperature,
        spread=np.minimum(air.spread + _age_spread(readings, air), UNKNOWN_SPREAD),
    )


def _readings(job: Job, room: Room, steps: Steps) -> dict[int, Reading]:
    """A room's readings by the step they fall in, oldest first; of two the later."""
    taken = sorted(
        (reading for reading in job.readings if reading.room == room.id),
        key=lambda reading: reading.at,
    )
    by_step = {int(steps.minute(r.at) // steps.step_min): r for r in taken}
    return {i: reading for i, reading in by_step.items() if i < steps.count}


def _correction(
    measured: Mapping[int, float], model: Floats, step_min: float
) -> Floats:
    """What to add to a model's series so that it meets what was measured.

    Nothing before the first measurement, a straight line between two, and fading after
    the last. One from before the first step is held against that step.
    """
    at = np.arange(model.shape[0], dtype=np.float64)
    if not measured:
        return np.zeros_like(at)
    taken = np.array(list(measured), dtype=np.float64)
    off = np.array([value - model[max(i, 0)] for i, value in measured.items()])
    correction = np.interp(at, taken, off, left=0.0)
    since_h = np.maximum(at - taken[-1], 0.0) * step_min / HOUR_MIN
    faded: Floats = correction * np.exp(-since_h / READING_FADES_H)
    return faded


def _age_spread(readings: Mapping[int, Reading], air: RoomAir) -> Floats:
    at = np.arange(len(air))
    if not readings:
        return np.full(len(air), ROOM_SPREAD)
    taken = np.array(list(readings))
    latest = np.searchsorted(taken, at, "right") - 1
    age_h = (at - taken[latest]) * air.step_min / HOUR_MIN
    grown = -ROOM_SPREAD * np.expm1(-age_h / ROOM_SPREAD_H)
    return np.where(latest < 0, ROOM_SPREAD, grown)


def _steps_of(air: RoomAir) -> Steps:
    return Steps(start=air.start, step_min=air.step_min, count=len(air))


def _pressure_pa(job: Job) -> float:
    altitude = job.site.altitude_m
    return SEA_LEVEL_PA if altitude is None else pressure_pa(altitude)
