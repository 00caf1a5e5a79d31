"""The air at every surface of a job, from the oldest coat that counts to far ahead."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from scheduling.climate import outdoor_air, room_airs, surface_air, work_water
from scheduling.corrections import standing
from scheduling.problem import AirControl, AirHour, Coat, Job
from scheduling.room_air import Drift, Floats, RoomAir
from scheduling.working_time import floor_to_slot

STEP_MIN = 5.0
BEFORE = timedelta(days=1)  # lets a room settle before the first coat
OLDEST = timedelta(days=30)  # older coats are counted in the first hour's air
AFTER_DAYS = 7  # clocks that run on after these days see the mean of the last two


@dataclass(frozen=True, slots=True, kw_only=True)
class JobAir:
    """Air by room and by surface on one grid from ``origin``; outdoors where known."""

    origin: datetime
    rooms: Mapping[str, RoomAir]
    surfaces: Mapping[str, RoomAir]
    outdoors: RoomAir | None


def air_origin(job: Job, at: datetime) -> datetime:
    """Where the air's grid starts: a day before the oldest coat that counts."""
    starts = [coat.start for coat in job.coats if coat.start > at - OLDEST]
    return floor_to_slot(min([at, *starts]) - BEFORE)


def job_air(
    job: Job,
    *,
    at: datetime,
    days: int,
    work: Iterable[Coat] = (),
    step_min: float = STEP_MIN,
) -> JobAir:
    """The air over ``days`` days from ``at``, with the water of all coats.

    ``work`` are coats planned, beside those the job has logged.
    """
    origin = air_origin(job, at)
    span = days + AFTER_DAYS + (at - origin) / timedelta(days=1)
    modelled = any(isinstance(room.air, AirControl) for room in job.rooms)
    outdoors = outdoor_air(job, origin, span, step_min) if modelled else None
    water = work_water(job, (*standing(job), *work), origin, span, step_min)
    airs = room_airs(
        job, origin, span, water=water, step_min=step_min, outdoors=outdoors
    )
    rooms = {room: _settled(air) for room, air in airs.items()}
    return JobAir(
        origin=origin,
        rooms=rooms,
        surfaces=_at_surfaces(job, rooms, outdoors),
        outdoors=outdoors,
    )


def _settled(air: RoomAir) -> RoomAir:
    """The same air, its last entry (which holds for ever) the mean of two days."""
    steps = round(2 * 24 * 60 / air.step_min)

    def mean_last(values: Floats) -> Floats:
        return np.concatenate([values[:-1], [values[-steps:].mean()]])

    return replace(
        air,
        temperature_c=mean_last(air.temperature_c),
        humidity_pct=mean_last(air.humidity_pct),
        surface_c=mean_last(air.surface_c),
    )


def _at_surfaces(
    job: Job, rooms: Mapping[str, RoomAir], outdoors: RoomAir | None
) -> dict[str, RoomAir]:
    """Surfaces alike share one object, so that their clocks are worked out once."""
    shared: dict[tuple[object, ...], RoomAir] = {}
    airs = {}
    for surface in job.surfaces:
        key: tuple[object, ...] = (surface.room, surface.sun)
        if surface.outside:
            key = (*key, surface.kind, surface.u_w_m2k)
        if key not in shared:
            shared[key] = surface_air(job, surface, rooms[surface.room], outdoors)
        airs[surface.id] = shared[key]
    return airs


def envelope(airs: Iterable[RoomAir], *, dampest: bool) -> RoomAir:
    """Step by step the dampest (or driest) of several airs on one grid.

    Temperature, surface and movement come from the same air as the humidity taken.
    """
    rows = list(airs)
    pick = np.array([air.humidity_pct for air in rows])
    chosen = pick.argmax(axis=0) if dampest else pick.argmin(axis=0)
    columns = np.arange(len(chosen))

    def take(name: str) -> Floats:
        taken: Floats = np.array([getattr(air, name) for air in rows])[chosen, columns]
        return taken

    return RoomAir(
        start=rows[0].start,
        step_min=rows[0].step_min,
        temperature_c=take("temperature_c"),
        humidity_pct=take("humidity_pct"),
        surface_c=take("surface_c"),
        moving_air_m_s=take("moving_air_m_s"),
        spread=np.max([air.spread for air in rows], axis=0),
        drift=_drift_of(rows, chosen),
    )


def _drift_of(rows: list[RoomAir], chosen: NDArray[np.intp]) -> Drift | None:
    """The drift of the air taken in each step."""
    drifts = [air.drift for air in rows if air.drift is not None]
    if len(drifts) < len(rows):
        return None
    columns = np.arange(len(chosen))
    return Drift(
        temperature_k=np.array([d.temperature_k for d in drifts])[chosen, columns],
        humidity_pct=np.array([d.humidity_pct for d in drifts])[chosen, columns],
        surface_k=np.array([d.surface_k for d in drifts])[chosen, columns],
    )


def enveloped(airs: Iterable[JobAir], *, dampest: bool) -> Mapping[str, RoomAir]:
    """By surface, the dampest or driest air of several rounds of planning."""
    rounds = list(airs)
    made: dict[tuple[int, ...], RoomAir] = {}
    chosen = {}
    for surface in rounds[0].surfaces:
        rows = [air.surfaces[surface] for air in rounds]
        key = tuple(id(row) for row in rows)
        if key not in made:
            made[key] = envelope(rows, dampest=dampest)
        chosen[surface] = made[key]
    return chosen


def air_hours(
    air: RoomAir, first: datetime, last: datetime, job: Job
) -> tuple[AirHour, ...]:
    """Hourly means for showing, from the hour of ``first`` to that of ``last``."""
    zone = job.site.tz
    moment = first.astimezone(zone).replace(minute=0, second=0, microsecond=0)
    hours = []
    per_hour = round(60 / air.step_min)
    while moment <= last:
        place = air.index(air.minute(moment))
        span = slice(place, min(place + per_hour, len(air)))
        hours.append(
            AirHour(
                at=moment,
                temperature_c=float(air.temperature_c[span].mean()),
                humidity_pct=min(100.0, float(air.humidity_pct[span].mean())),
            )
        )
        moment = (moment.astimezone(air.start.tzinfo) + timedelta(hours=1)).astimezone(
            zone
        )
    return tuple(hours)
