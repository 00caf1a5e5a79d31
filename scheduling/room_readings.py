"""A modelled room's air put right by what was measured in it."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from scheduling.outdoors import HOUR_MIN, UNKNOWN_SPREAD, Steps
from scheduling.problem import Job, Reading, Room
from scheduling.psychrometrics import saturation_pa, vapour_pa
from scheduling.room_air import Floats, RoomAir

READING_MIN = 5.0  # Assumed: read off once, it stands for the mean of five minutes
READING_FADES_H = 6.0  # Assumed: a reading's correction falls to a third in this time
# Assumed: half-width in natural log that a room never measured adds to a clock's range,
# and the time in which it comes back after a reading.
ROOM_SPREAD, ROOM_SPREAD_H = 0.03, 24.0


def put_right(job: Job, room: Room, air: RoomAir) -> RoomAir:
    """The modelled air put right by readings, and its range by their age."""
    readings = readings_by_minute(job, room, steps_of(air))
    temperature = air.temperature_c + correction(
        {m: reading.temperature_c for m, reading in readings.items()},
        air.temperature_c,
        air.step_min,
    )
    vapour = vapour_pa(air.temperature_c, air.humidity_pct)
    vapour = vapour + correction(
        {m: vapour_pa(r.temperature_c, r.humidity_pct) for m, r in readings.items()},
        vapour,
        air.step_min,
    )
    saturated = saturation_pa(temperature)
    humidity = np.clip(100 * vapour / saturated, 0.0, 100.0)
    drift = air.drift
    if drift is not None and readings:
        # Put right by nearly the same all through a step: its water drifts as it did.
        model_c, half_c = air.temperature_c, drift.temperature_k / 2
        half_pct = drift.humidity_pct / 2
        risen = vapour_pa(model_c + half_c, air.humidity_pct + half_pct)
        risen -= vapour_pa(model_c - half_c, air.humidity_pct - half_pct)
        ending = (vapour + risen / 2) / saturation_pa(temperature + half_c)
        begun = (vapour - risen / 2) / saturation_pa(temperature - half_c)
        drift = replace(drift, humidity_pct=100 * (ending - begun))
    return replace(
        air,
        temperature_c=temperature,
        humidity_pct=humidity,
        surface_c=temperature,
        spread=np.minimum(air.spread + _age_spread(readings, air), UNKNOWN_SPREAD),
        drift=drift,
    )


def readings_by_minute(job: Job, room: Room, steps: Steps) -> dict[float, Reading]:
    """A room's readings, oldest first, by the minute from which they hold.

    Each holds for the five minutes (or the longer step) it falls in; of two the later.
    """
    held_min = _held_min(steps.step_min)
    taken = sorted(
        (reading for reading in job.readings if reading.room == room.id),
        key=lambda reading: reading.at,
    )
    by_minute = {steps.minute(r.at) // held_min * held_min: r for r in taken}
    end_min = steps.count * steps.step_min
    return {minute: r for minute, r in by_minute.items() if minute < end_min}


def correction(
    measured: Mapping[float, float], model: Floats, step_min: float
) -> Floats:
    """What to add to a model's series so that it meets what was measured.

    Nothing before the first measurement, a straight line between two, and fading after
    the last. ``measured`` is by the minute from which it holds; one from before the
    first step is held against that step.
    """
    amid = (np.arange(model.shape[0]) + 0.5) * step_min
    if not measured:
        return np.zeros_like(amid)
    held_min = _held_min(step_min)
    taken = np.array(list(measured), dtype=np.float64)
    held = [_steps_in(minute, held_min, step_min) for minute in measured]
    values = zip(measured.values(), held, strict=True)
    off = np.array([value - model[steps].mean() for value, steps in values])
    correction = np.interp(amid, taken + held_min / 2, off)
    correction[amid < taken[0]] = 0.0
    since_h = np.maximum(amid - taken[-1] - held_min / 2, 0.0) / HOUR_MIN
    faded: Floats = correction * np.exp(-since_h / READING_FADES_H)
    for steps, there, minute in zip(held, off, taken, strict=True):
        if minute >= 0:
            faded[steps] = there
    return faded


def _held_min(step_min: float) -> float:
    return max(READING_MIN, step_min)


def _steps_in(minute: float, held_min: float, step_min: float) -> slice:
    """The steps that a reading holds for; the first where it is from before."""
    first = max(int(minute // step_min), 0)
    last = int(np.ceil((minute + held_min) / step_min))
    return slice(first, max(last, first + 1))


def _age_spread(readings: Mapping[float, Reading], air: RoomAir) -> Floats:
    at = np.arange(len(air)) * air.step_min
    if not readings:
        return np.full(len(air), ROOM_SPREAD)
    taken = np.array(list(readings))
    latest = np.searchsorted(taken, at, "right") - 1
    age_h = (at - taken[latest]) / HOUR_MIN
    grown = -ROOM_SPREAD * np.expm1(-age_h / ROOM_SPREAD_H)
    return np.where(latest < 0, ROOM_SPREAD, grown)


def steps_of(air: RoomAir) -> Steps:
    """The steps that an air is on."""
    return Steps(start=air.start, step_min=air.step_min, count=len(air))
