"""The heat of a room, and room and dehumidifier together.

A room is heated to its set point but never cooled: where the outdoor air, or the heat
of a dehumidifier, would carry it higher, it floats. ``room_water`` steps its water.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from scheduling.room_air import Floats
from scheduling.room_water import Conditions, RoomRun, RoomState, settled, step_water

LATENT_J_KG = 2.45e6  # water at about 20 C, ASHRAE Fundamentals ch. 1
AIR_J_M3_K = 1206.0  # heat to warm a cubic metre of air, 1.2 kg at 1005 J/(kg K)

THERMAL_LAG_H = 1.5  # Assumed: first-order, heating with radiators in a built room
FABRIC_W_M3_K = 0.6  # Assumed: heat lost through walls and glass, a m3 of room
DEHUMIDIFIER_J_KG = 1.8e6  # Assumed: half a kilowatt-hour of electricity a litre
CUT_OUT_C = 40.0  # Assumed: a dehumidifier switches off in hotter air
_HEAT_ROUNDS = 2  # its heat shifts its own yield; what is left is under 0.02 K


def run(conditions: Conditions, begin: RoomState | None = None) -> RoomRun:
    """The room through all steps, from ``begin`` or else from its settled state."""
    begin = begin or settled(conditions)
    return run_together([conditions], [begin])[0]


def run_together(
    rooms: Sequence[Conditions], begins: Sequence[RoomState] | None = None
) -> list[RoomRun]:
    """Rooms of the same steps, each for itself; many cost little more than one."""
    begins = begins or [settled(room) for room in rooms]
    heats = [np.zeros_like(room.outdoor_c) for room in rooms]
    drying = [k for k, room in enumerate(rooms) if room.dehumidifier_l_day.any()]
    if drying:
        warmed = _dehumidifier_heats_w(
            [rooms[k] for k in drying], [begins[k] for k in drying]
        )
        for k, heat_w in zip(drying, warmed, strict=True):
            heats[k] = heat_w
    return step_water(rooms, begins, _temperatures(rooms, begins, heats))


def _temperatures(
    rooms: Sequence[Conditions], begins: Sequence[RoomState], heats_w: Sequence[Floats]
) -> list[Floats]:
    """Heated to the set point but never cooled; first-order lag."""
    return [
        _temperature(room, begin.temperature_c, heat_w)
        for room, begin, heat_w in zip(rooms, begins, heats_w, strict=True)
    ]


def _temperature(room: Conditions, begin_c: float, heat_w: Floats) -> Floats:
    lost_w_m3_k = AIR_J_M3_K / 3600 * room.changes_per_h + FABRIC_W_M3_K
    afloat = room.outdoor_c + heat_w / (lost_w_m3_k * room.volume_m3)
    # Devices cut out when hot, so their own heat takes no room beyond that.
    afloat = np.minimum(afloat, np.maximum(room.outdoor_c, CUT_OUT_C))
    goal = np.maximum(room.set_point_c, afloat)
    # T' = goal + (T - goal) left, summed in blocks short enough for left to a power.
    block = max(1, int(20 * THERMAL_LAG_H / room.step_h))
    left = float(np.exp(-room.step_h / THERMAL_LAG_H))
    powers = left ** np.arange(1, block + 1)
    values = np.empty(goal.shape[0] + 1)
    values[0] = begin_c
    for first in range(0, goal.shape[0], block):
        part = goal[first : first + block]
        power = powers[: part.shape[0]]
        drawn = np.cumsum((1 - left) * part / power)
        values[first + 1 : first + 1 + part.shape[0]] = power * (values[first] + drawn)
    return values[:-1]


def _dehumidifier_heats_w(
    rooms: Sequence[Conditions], begins: Sequence[RoomState]
) -> list[Floats]:
    """Heat of dehumidifiers: electricity, and of condensing what came in as vapour.

    Water that work and walls give off in the room has taken that heat there first. A
    quarter of an hour is fine enough: the fabric, not modelled, evens out the rest.
    """
    steps = max(1, round(0.25 / rooms[0].step_h))
    lumped = [_lumped(room, steps) for room in rooms]
    heats = [np.zeros_like(room.outdoor_c) for room in lumped]
    for _ in range(_HEAT_ROUNDS):
        runs = step_water(lumped, begins, _temperatures(lumped, begins, heats))
        for k, (room, result) in enumerate(zip(lumped, runs, strict=True)):
            released = -np.diff(result.walls, append=result.walls[-1]) * room.buffer_kg
            risen = np.maximum(released + room.water_kg, 0.0)
            brought_in = np.maximum(result.removed_kg - risen, 0.0)
            joules = brought_in * LATENT_J_KG + result.removed_kg * DEHUMIDIFIER_J_KG
            heats[k] = joules / (room.step_h * 3600)
    count = rooms[0].outdoor_c.shape[0]
    return [np.repeat(heat, steps)[:count] for heat in heats]


def _lumped(room: Conditions, steps: int) -> Conditions:
    """The same room with that many steps made one; a last part is filled up."""
    count = -(-room.outdoor_c.shape[0] // steps)

    def mean(values: Floats) -> Floats:
        filling = count * steps - values.shape[0]
        rows = np.pad(values, (0, filling), mode="edge").reshape(count, steps)
        return np.asarray(rows.mean(axis=1))

    return replace(
        room,
        step_h=room.step_h * steps,
        changes_per_h=mean(room.changes_per_h),
        set_point_c=mean(room.set_point_c),
        outdoor_c=mean(room.outdoor_c),
        outdoor_ratio=mean(room.outdoor_ratio),
        water_kg=mean(room.water_kg) * steps,
        dehumidifier_l_day=mean(room.dehumidifier_l_day),
    )
