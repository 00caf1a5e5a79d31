"""The heat of a room, and rooms, their machines and the doors between them together.

A room is heated to its set point and, where it has cooling, kept from going beyond its
highest temperature; between the two it floats with the outdoor air, the heat of a
dehumidifier and what comes through open doors. ``room_water`` steps its water.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from scheduling.room_air import Floats
from scheduling.room_devices import coil_kg_h, ratio_at
from scheduling.room_solution import between_kg_h
from scheduling.room_water import (
    Beside,
    Conditions,
    RoomRun,
    RoomState,
    humidity_slope,
    step_water,
)

LATENT_J_KG = 2.45e6  # water at about 20 C, ASHRAE Fundamentals ch. 1
AIR_J_M3_K = 1206.0  # heat to warm a cubic metre of air, 1.2 kg at 1005 J/(kg K)
AIR_W_H_M3_K = AIR_J_M3_K / 3600  # the same for a flow in cubic metres an hour

THERMAL_LAG_H = 1.5  # Assumed: first-order, heating with radiators in a built room
FABRIC_W_M3_K = 0.6  # Assumed: heat lost through walls and glass, a m3 of room
DEHUMIDIFIER_J_KG = 1.8e6  # Assumed: half a kilowatt-hour of electricity a litre
CUT_OUT_C = 40.0  # Assumed: a dehumidifier switches off in hotter air
_SETTLING_ROUNDS, _SETTLED_K = 500, 1e-4  # of warmth through doors, at the beginning
_HEAT_ROUNDS = 2  # its heat shifts its own yield; what is left is under 0.02 K


def run(conditions: Conditions, begin: RoomState | None = None) -> RoomRun:
    """The room through all steps, from ``begin`` or else from its settled state."""
    return run_together([conditions], None if begin is None else [begin])[0]


def run_together(
    rooms: Sequence[Conditions],
    begins: Sequence[RoomState] | None = None,
    *,
    doors_m3_h: Floats | None = None,
) -> list[RoomRun]:
    """Rooms of the same steps; many cost little more than one.

    ``doors_m3_h`` is the air they exchange (``room_doors``); without it each is for
    itself.
    """
    begins = begins or settled(rooms, doors_m3_h)
    heats = [np.zeros_like(room.outdoor_c) for room in rooms]
    drying = [k for k, room in enumerate(rooms) if room.dehumidifier_l_day.any()]
    if drying:
        if doors_m3_h is not None:  # then the others matter to them
            drying = list(range(len(rooms)))
        warmed = _dehumidifier_heats_w(
            [rooms[k] for k in drying], [begins[k] for k in drying], doors_m3_h
        )
        for k, heat_w in zip(drying, warmed, strict=True):
            heats[k] = heat_w
    return _stepped(rooms, begins, heats, doors_m3_h)


def settled(
    rooms: Sequence[Conditions], doors_m3_h: Floats | None = None
) -> list[RoomState]:
    """The rooms as they stand after long in the mean outdoor air of the first day.

    People and open doors count; machines have not run yet.
    """
    first = [_Warmth.of(_first_step(room), np.zeros(1)) for room in rooms]
    warm_c = np.array([warmth.goal_c()[0] for warmth in first])
    if doors_m3_h is not None:
        kept = doors_m3_h.sum(axis=1) * AIR_W_H_M3_K
        for _ in range(_SETTLING_ROUNDS):
            before_c, came_w = warm_c, doors_m3_h @ warm_c * AIR_W_H_M3_K
            goals = [w.goal_c(came_w[k], kept[k])[0] for k, w in enumerate(first)]
            warm_c = np.array(goals)
            if np.abs(warm_c - before_c).max() < _SETTLED_K:
                break
    ratios = _settled_ratios(rooms, doors_m3_h)
    states = []
    for room, temperature, ratio in zip(rooms, warm_c, ratios, strict=True):
        level = np.full_like(room.outdoor_c, temperature)
        full = float(ratio_at(level[:1], 1.0, room.pressure_pa)[0])
        held = min(float(ratio), full)
        walls = min(float(humidity_slope(room, level)[0] * held), 1.0)
        states.append(
            RoomState(temperature_c=float(temperature), ratio=held, walls=walls)
        )
    return states


def _settled_ratios(rooms: Sequence[Conditions], doors_m3_h: Floats | None) -> Floats:
    day = slice(0, max(1, round(24 / rooms[0].step_h)))
    outdoors = np.array([room.outdoor_ratio[day].mean() for room in rooms])
    alone = all(not room.occupants_kg_h and room.beside is None for room in rooms)
    if alone and doors_m3_h is None:
        return outdoors
    # kg/h: what flows in by each way must flow out. No room is quite shut for ever.
    changes = np.array([max(room.changes_per_h[day].mean(), 1e-3) for room in rooms])
    air_kg = np.array([room.air_kg for room in rooms])
    drawn = changes * air_kg
    gain = drawn * outdoors + np.array([room.occupants_kg_h for room in rooms])
    losing = np.diag(drawn)
    for k, room in enumerate(rooms):
        if room.beside is not None:
            beside = room.beside.changes_per_h * room.air_kg
            losing[k, k] += beside
            gain[k] += beside * room.beside.ratio[day].mean()
    if doors_m3_h is not None:
        between = between_kg_h(rooms, doors_m3_h)
        losing += np.diag(between.sum(axis=1)) - between
    found: Floats = np.linalg.solve(losing, gain)
    return found


def _first_step(room: Conditions) -> Conditions:
    """The room's first step alone."""
    beside = room.beside
    if beside is not None:
        beside = replace(
            beside, temperature_c=beside.temperature_c[:1], ratio=beside.ratio[:1]
        )
    return replace(
        room,
        changes_per_h=room.changes_per_h[:1],
        set_point_c=room.set_point_c[:1],
        outdoor_c=room.outdoor_c[:1],
        beside=beside,
    )


def _stepped(
    rooms: Sequence[Conditions],
    begins: Sequence[RoomState],
    heats_w: Sequence[Floats],
    doors_m3_h: Floats | None,
) -> list[RoomRun]:
    warmths = [
        _Warmth.of(room, heat_w) for room, heat_w in zip(rooms, heats_w, strict=True)
    ]
    begin_c = [begin.temperature_c for begin in begins]
    if doors_m3_h is None:
        door_w_k = np.zeros((len(rooms), len(rooms)))
    else:
        door_w_k = doors_m3_h * AIR_W_H_M3_K
    open_rooms = [k for k in range(len(rooms)) if door_w_k[k].any()]
    temperatures = [
        lagging(warmth.goal_c(), begin, warmth.step_h, THERMAL_LAG_H)
        if k not in open_rooms
        else warmth.goal_c()
        for k, (warmth, begin) in enumerate(zip(warmths, begin_c, strict=True))
    ]
    came_w = np.zeros((temperatures[0].shape[0], len(rooms)))
    if open_rooms:
        columns = _lagging_together(
            [warmths[k] for k in open_rooms],
            np.array([begin_c[k] for k in open_rooms]),
            door_w_k[np.ix_(open_rooms, open_rooms)],
        )
        for place, k in enumerate(open_rooms):
            temperatures[k] = columns[:, place]
    step_h = rooms[0].step_h
    means_c = [lagging_mean(warm, step_h, THERMAL_LAG_H) for warm in temperatures]
    if open_rooms:
        came_w = np.stack(means_c, axis=1) @ door_w_k
    return step_water(
        rooms,
        begins,
        temperatures,
        means_c,
        coil_kg_h=[
            warmth.coil_kg_h(came_w[:, k], float(door_w_k[k].sum()))
            for k, warmth in enumerate(warmths)
        ],
        doors_m3_h=doors_m3_h,
    )


@dataclass(frozen=True, slots=True)
class _Warmth:
    """What a room's temperature follows: arrays over the steps."""

    outdoor_c: Floats
    gained_w: Floats  # at the outdoor temperature: machines, rooms of given air
    lost_w_k: Floats
    set_point_c: Floats
    hottest_c: Floats  # machines cut out there
    cooling_c: float
    step_h: float

    @classmethod
    def of(cls, room: Conditions, heat_w: Floats) -> "_Warmth":
        lost = (AIR_W_H_M3_K * room.changes_per_h + FABRIC_W_M3_K) * room.volume_m3
        gained = heat_w
        hottest = np.maximum(room.outdoor_c, CUT_OUT_C)
        if room.beside is not None:
            door = AIR_W_H_M3_K * room.beside.changes_per_h * room.volume_m3
            gained = gained + door * (room.beside.temperature_c - room.outdoor_c)
            lost = lost + door
            hottest = np.maximum(hottest, room.beside.temperature_c)
        return cls(
            outdoor_c=room.outdoor_c,
            gained_w=gained,
            lost_w_k=lost,
            set_point_c=room.set_point_c,
            hottest_c=hottest,
            cooling_c=room.cooling_c,
            step_h=room.step_h,
        )

    def goal_c(self, came_w: Floats | float = 0.0, kept_w_k: float = 0.0) -> Floats:
        """Where the room would come to rest; ``came_w`` through doors at 0 C."""
        afloat = self.afloat_c(came_w, kept_w_k)
        heated = np.maximum(self.set_point_c, afloat)
        return np.asarray(np.minimum(heated, self.cooling_c))

    def afloat_c(self, came_w: Floats | float, kept_w_k: float) -> Floats:
        """The same without heating and cooling."""
        gained = self.gained_w + (came_w - kept_w_k * self.outdoor_c)
        afloat = self.outdoor_c + gained / (self.lost_w_k + kept_w_k)
        return np.asarray(np.minimum(afloat, self.hottest_c))

    def coil_kg_h(self, came_w: Floats, kept_w_k: float) -> Floats:
        """Air through the cooling coil, by the heat that it must carry off."""
        if not np.isfinite(self.cooling_c):
            return np.zeros_like(self.gained_w)
        over_k = np.maximum(self.afloat_c(came_w, kept_w_k) - self.cooling_c, 0.0)
        return coil_kg_h((self.lost_w_k + kept_w_k) * over_k, self.cooling_c)


def lagging(goal_c: Floats, begin_c: float, step_h: float, lag_h: float) -> Floats:
    """What follows ``goal_c`` with a first-order lag, at each step's start."""
    # T' = goal + (T - goal) left, summed in blocks short enough for left to a power.
    block = max(1, int(20 * lag_h / step_h))
    left = float(np.exp(-step_h / lag_h))
    powers = left ** np.arange(1, block + 1)
    values = np.empty(goal_c.shape[0] + 1)
    values[0] = begin_c
    for first in range(0, goal_c.shape[0], block):
        part = goal_c[first : first + block]
        power = powers[: part.shape[0]]
        drawn = np.cumsum((1 - left) * part / power)
        values[first + 1 : first + 1 + part.shape[0]] = power * (values[first] + drawn)
    return values[:-1]


def lagging_mean(values: Floats, step_h: float, lag_h: float) -> Floats:
    """The mean over each step of what ``lagging`` answers; the last entry as it is."""
    step = step_h / lag_h
    gone = -float(np.expm1(-step))
    mean = values.copy()
    mean[:-1] += (1 - gone / step) / gone * np.diff(values)
    return mean


def _lagging_together(
    warmths: Sequence[_Warmth], begin_c: Floats, door_w_k: Floats
) -> Floats:
    """Rooms open to each other, steps x rooms: each follows where the others draw it.

    Exponential stepping of second order (Cox and Matthews 2002, ETD2RK).
    """
    gained = np.stack([w.gained_w + w.lost_w_k * w.outdoor_c for w in warmths], axis=1)
    lost = np.stack([w.lost_w_k for w in warmths], axis=1) + door_w_k.sum(axis=1)
    least = np.stack([w.set_point_c for w in warmths], axis=1)
    hottest = np.stack([w.hottest_c for w in warmths], axis=1)
    # A neighbour may be hotter than where machines cut out, and warms as it is.
    hottest = np.maximum(hottest, least.max(axis=1, keepdims=True))
    cooling = np.array([w.cooling_c for w in warmths])
    share = 1 / lost
    step = warmths[0].step_h / THERMAL_LAG_H
    left = float(np.exp(-step))
    corrected = 1 - (1 - left) / step
    values = np.empty_like(gained)
    values[0] = now = begin_c

    def goal(i: int, temperature_c: Floats) -> Floats:
        rest = door_w_k @ temperature_c
        rest += gained[i]
        rest *= share[i]
        np.minimum(rest, hottest[i], out=rest)
        np.maximum(rest, least[i], out=rest)
        return np.asarray(np.minimum(rest, cooling, out=rest))

    for i in range(gained.shape[0] - 1):
        first = goal(i, now)
        guess = left * now + (1 - left) * first
        now = values[i + 1]
        now[:] = guess + corrected * (goal(i, guess) - first)
    return values


def _dehumidifier_heats_w(
    rooms: Sequence[Conditions],
    begins: Sequence[RoomState],
    doors_m3_h: Floats | None,
) -> list[Floats]:
    """Heat of dehumidifiers: electricity, and of condensing what came in as vapour.

    Water that work and walls give off in the room has taken that heat there first. A
    quarter of an hour is fine enough: the fabric, not modelled, evens out the rest.
    """
    steps = max(1, round(0.25 / rooms[0].step_h))
    lumped = [_lumped(room, steps) for room in rooms]
    heats = [np.zeros_like(room.outdoor_c) for room in lumped]
    for _ in range(_HEAT_ROUNDS):
        runs = _stepped(lumped, begins, heats, doors_m3_h)
        for k, (room, result) in enumerate(zip(lumped, runs, strict=True)):
            released = -np.diff(result.walls, append=result.walls[-1]) * room.buffer_kg
            risen = np.maximum(released + room.water_kg + result.humidified_kg, 0.0)
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

    beside = room.beside
    return replace(
        room,
        step_h=room.step_h * steps,
        changes_per_h=mean(room.changes_per_h),
        set_point_c=mean(room.set_point_c),
        outdoor_c=mean(room.outdoor_c),
        outdoor_ratio=mean(room.outdoor_ratio),
        water_kg=mean(room.water_kg) * steps,
        dehumidifier_l_day=mean(room.dehumidifier_l_day),
        beside=None if beside is None else _lumped_beside(beside, mean),
    )


def _lumped_beside(beside: Beside, mean: Callable[[Floats], Floats]) -> Beside:
    return replace(
        beside, temperature_c=mean(beside.temperature_c), ratio=mean(beside.ratio)
    )
