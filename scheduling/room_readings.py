"""A modelled room's air put right by what was measured in it."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from scheduling.outdoors import HOUR_MIN, UNKNOWN_SPREAD, Steps
from scheduling.problem import Job, Reading, Room
from scheduling.psychrometrics import saturation_pa, vapour_pa
from scheduling.room_air import Floats, RoomAir

READING_FADES_H = 6.0  # Assumed: a reading's correction falls to a third in this time
# Assumed: half-width in natural log that a room never measured adds to a clock's range,
# and the time in which it comes back after a reading.
ROOM_SPREAD, ROOM_SPREAD_H = 0.03, 24.0


def put_right(job: Job, room: Room, air: RoomAir) -> RoomAir:
    """The modelled air put right by readings, and its range by their age."""
    readings = readings_by_step(job, room, steps_of(air))
    temperature = air.temperature_c + correction(
        {i: reading.temperature_c for i, reading in readings.items()},
        air.temperature_c,
        air.step_min,
    )
    vapour = vapour_pa(air.temperature_c, air.humidity_pct)
    vapour = vapour + correction(
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


def readings_by_step(job: Job, room: Room, steps: Steps) -> dict[int, Reading]:
    """A room's readings by the step they fall in, oldest first; of two the later."""
    taken = sorted(
        (reading for reading in job.readings if reading.room == room.id),
        key=lambda reading: reading.at,
    )
    by_step = {int(steps.minute(r.at) // steps.step_min): r for r in taken}
    return {i: reading for i, reading in by_step.items() if i < steps.count}


def correction(measured: Mapping[int, float], model: Floats, step_min: float) -> Floats:
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


def steps_of(air: RoomAir) -> Steps:
    """The steps that an air is on."""
    return Steps(start=air.start, step_min=air.step_min, count=len(air))
