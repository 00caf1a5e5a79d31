"""The water of a well-mixed room whose walls buffer, stepped exactly.

``m dW/dt = m n (W_o - W) + G - C - K dphi/dt`` with the dry air's mass m, air changes
n, the work's water G, condensation and dehumidifier C, and one lumped node for walls,
floor and furnishings whose humidity follows the room's,
``dphi/dt = (phi_room - phi) / tau``. Heating leaves the humidity ratio W as it is
(ASHRAE Handbook - Fundamentals, ch. 16). What acts is held through a step and the two
equations are solved exactly over it, so a step change in the outdoor air is exact at
any step. Machines act between steps, for half of either, so that the mean over a step
is right to the square of the step. Where doors are open, all that goes in and
out by air is solved for the rooms together, half before and half after the walls'
exchange (Strang 1968), which errs with the square of the step and loses no water.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scheduling.room_air import Floats
from scheduling.room_devices import coil, dehumidifier, humidifier, ratio_at
from scheduling.room_solution import (
    BUFFER_LAG_H,
    Exchange,
    Solution,
    changes_and_drive,
)
from scheduling.room_state import (
    Beside,
    Conditions,
    RoomRun,
    RoomState,
    humidity_slope,
)

__all__ = [
    "BUFFER_LAG_H",
    "Beside",
    "Conditions",
    "RoomRun",
    "RoomState",
    "WaterBalance",
    "buffer_kg",
    "humidity_slope",
    "step_water",
    "water_balance",
]

# Rode et al., Moisture Buffering of Building Materials (BYG DTU R-126, 2005): grams a
# m2 and percent of humidity over 8 h at 75 % and 16 h at 33 %; gypsum board about 0.6.
BUFFER_G_M2_PCT = 0.6
# Assumed: bare surfaces, floor and furnishings as those of a cube of that volume and a
# twentieth: 180 m2 in 152 m3.
BUFFER_M2_PER_M2 = 6.32


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterBalance:
    """Where a run's water came from and went, in kg, each reckoned for itself."""

    ventilated: float  # net, into the room
    through_doors: float  # net, into the room
    given_off: float  # by the work and by people
    humidified: float
    removed: float
    cooled: float
    condensed: float
    held_by_air: float
    held_by_walls: float

    @property
    def missing(self) -> float:
        """Water in, less water out, less water held: nothing but rounding."""
        coming = self.ventilated + self.through_doors + self.given_off + self.humidified
        going = self.removed + self.cooled + self.condensed
        return coming - going - self.held_by_air - self.held_by_walls


def buffer_kg(
    volume_m3: float,
    *,
    g_m2_pct: float = BUFFER_G_M2_PCT,
    area_m2: float | None = None,
) -> float:
    """Water that a room's surfaces take up from 0 to 100 % humidity.

    The node's capacity is larger than the moisture buffer value, by the share of a
    lagging node's swing that the published cycle of 8 h and 16 h brings out.
    """
    area = BUFFER_M2_PER_M2 * volume_m3 ** (2 / 3) if area_m2 is None else area_m2
    damp, dry = np.exp(-8 / BUFFER_LAG_H), np.exp(-16 / BUFFER_LAG_H)
    swing = float((1 - damp) * (1 - dry) / (1 - damp * dry))
    return g_m2_pct / swing * area * 100 / 1000


def water_balance(conditions: Conditions, result: RoomRun) -> WaterBalance:
    """The run's water, ventilation integrated exactly and not taken as what is left."""
    mean = result.mean_ratio[:-1]
    drawn = conditions.changes_per_h[:-1] * (conditions.outdoor_ratio[:-1] - mean)
    beside = conditions.beside
    entered = 0.0
    if beside is not None:
        entered = float((beside.changes_per_h * (beside.ratio[:-1] - mean)).sum())
    hours = conditions.step_h * mean.shape[0]
    given = float(conditions.water_kg[:-1].sum()) + conditions.occupants_kg_h * hours
    air_kg_h = conditions.air_kg * conditions.step_h
    return WaterBalance(
        ventilated=float(drawn.sum()) * air_kg_h,
        through_doors=entered * air_kg_h + float(result.doors_kg.sum()),
        given_off=given,
        humidified=float(result.humidified_kg.sum()),
        removed=float(result.removed_kg.sum()),
        cooled=float(result.cooled_kg.sum()),
        condensed=float(result.condensed_kg.sum()),
        held_by_air=float(result.ratio[-1] - result.ratio[0]) * conditions.air_kg,
        held_by_walls=float(result.walls[-1] - result.walls[0]) * conditions.buffer_kg,
    )


def step_water(
    rooms: Sequence[Conditions],
    begins: Sequence[RoomState],
    warmths: Sequence[Floats],
    means_c: Sequence[Floats],
    *,
    coil_kg_h: Sequence[Floats] | None = None,
    doors_m3_h: Floats | None = None,
) -> list[RoomRun]:
    """Step all rooms at once; arrays are steps x (ratio, walls) x rooms.

    ``warmths`` are each room's temperatures at the start of each step, ``means_c``
    those that count through it; ``coil_kg_h`` the air that passes its cooling coil.
    """
    given = (rooms, begins, warmths, means_c, coil_kg_h, doors_m3_h)
    runs = _stepped(*given, dripping=False)
    if any(run.condensed_kg.any() for run in runs):
        runs = _stepped(*given, dripping=True)
    return runs


def _stepped(
    rooms: Sequence[Conditions],
    begins: Sequence[RoomState],
    warmths: Sequence[Floats],
    means_c: Sequence[Floats],
    coil_kg_h: Sequence[Floats] | None,
    doors_m3_h: Floats | None,
    *,
    dripping: bool,
) -> list[RoomRun]:
    """With ``dripping`` walls do not drink in a step what condenses at its end.

    Only then does it cost anything, and a room that stays dry comes out the same.
    """
    solved = [
        Solution.of(room, mean_c, walls_only=doors_m3_h is not None)
        for room, mean_c in zip(rooms, means_c, strict=True)
    ]
    forward = [solution.matrix(0) for solution in solved]
    by_drive = [solution.matrix(1) for solution in solved]
    from_ratio = _stacked([(own, to_walls) for own, _, to_walls, _ in forward])
    from_walls = _stacked([(to_ratio, own) for _, to_ratio, _, own in forward])
    drives = [solution.drive for solution in solved]
    gain = _stacked(
        [(m[0] * u, m[2] * u) for m, u in zip(by_drive, drives, strict=True)]
    )
    saturated = np.stack(
        [
            ratio_at(warmth, 1.0, room.pressure_pa)
            for room, warmth in zip(rooms, warmths, strict=True)
        ],
        axis=1,
    )
    drawn_h = [-solution.a for solution in solved]
    if doors_m3_h is not None:
        for k, room in enumerate(rooms):
            through = doors_m3_h[k].sum() / room.volume_m3
            drawn_h[k] = drawn_h[k] + changes_and_drive(room)[0] + through
    machines = _Machines.of(rooms, warmths, coil_kg_h, drawn_h)
    thirst = np.stack([solution.c * solution.step_h / 2 for solution in solved], axis=1)
    spilt = np.zeros_like(saturated)
    exchange = None if doors_m3_h is None else Exchange.of(rooms, doors_m3_h)
    state = np.array([[b.ratio for b in begins], [b.walls for b in begins]])
    count = saturated.shape[0]
    states = np.empty((count, *state.shape))
    condensed = np.zeros_like(saturated)
    second = pushed = np.zeros((0, len(rooms)))
    if exchange is not None:
        second, pushed = np.zeros_like(saturated), exchange.pushed()
    states[0] = state
    turns = (machines.running, machines.running[::-1])  # none always has the first go
    part, begin = np.empty_like(state), np.empty_like(state[0])
    for i in range(count - 1):
        after = states[i + 1]
        ratio = after[0]
        if exchange is None:
            begin = state[0]
        else:
            own = exchange.own[exchange.kind[i]]
            np.dot(own, state[0], out=begin)
            begin += pushed[i]
        np.multiply(from_ratio[i], begin, out=after)
        np.multiply(from_walls[i], state[1], out=part)
        after += part
        if exchange is None:
            after += gain[i]
        else:
            second[i] = ratio
            np.dot(own, second[i], out=ratio)
            ratio += pushed[i]
        for idle, share, most, moved, way in turns[i % 2]:
            taken = moved[i]
            np.subtract(ratio, idle[i], out=taken)
            taken *= share[i]
            np.minimum(taken, most[i], out=taken)
            np.maximum(taken, 0.0, out=taken)
            if way > 0:
                ratio -= taken
            else:
                ratio += taken
        condensed[i] = ratio
        np.minimum(ratio, saturated[i + 1], out=ratio)
        if dripping:
            # Over the step the air stood past saturation by half of what drips.
            over = (condensed[i] - ratio) * thirst[i]
            after[1] -= over
            spilt[i] = over
        state = after
    condensed[:-1] -= states[1:, 0]
    doors_kg = np.zeros_like(saturated)
    if exchange is None:
        each = enumerate(solved)
        means = [s.mean_ratio(states[:, 0, k], states[:, 1, k]) for k, s in each]
    else:
        second[-1] = states[-1, 0]
        mean = exchange.mean(states[:, 0], second)
        doors_kg = exchange.through_doors_kg(mean)
        doors_kg[-1] = 0.0
        means = list(mean.T)
    taken = machines.removed + machines.cooled - machines.humidified
    before, more = _between(taken)
    return [
        RoomRun(
            temperature_c=warmths[k],
            ratio=states[:, 0, k],
            walls=states[:, 1, k],
            removed_kg=machines.removed[:, k] * rooms[k].air_kg,
            condensed_kg=condensed[:, k] * rooms[k].air_kg
            + spilt[:, k] * rooms[k].buffer_kg,
            cooled_kg=machines.cooled[:, k] * rooms[k].air_kg,
            humidified_kg=machines.humidified[:, k] * rooms[k].air_kg,
            doors_kg=doors_kg[:, k],
            mean_c=means_c[k],
            mean_ratio=means[k],
            begun_ratio=states[:, 0, k] + before[:, k] / 2,
            felt_ratio=means[k] - more[:, k] / 6,
        )
        for k in range(len(rooms))
    ]


@dataclass(frozen=True, slots=True)
class _Machines:
    """What machines moved (steps x rooms, kg a kg of air), and those that run at all.

    Each acts at a step's end for half of it and half of the next, in the warmth there.
    Of each: where it idles, its share, its most, what it moved, and its way: 1 takes
    out, -1 puts in and has its share so signed.
    """

    removed: Floats
    cooled: Floats
    humidified: Floats
    running: list[tuple[Floats, Floats, Floats, Floats, float]]

    @classmethod
    def of(
        cls,
        rooms: Sequence[Conditions],
        warmths: Sequence[Floats],
        coil_kg_h: Sequence[Floats] | None,
        drawn_h: Sequence[Floats],
    ) -> "_Machines":
        warmths = [np.append(warmth[1:], warmth[-1]) for warmth in warmths]
        shape = (warmths[0].shape[0], len(rooms))
        removed, cooled, humidified = (np.zeros(shape) for _ in range(3))
        running: list[tuple[Floats, Floats, Floats, Floats, float]] = []
        if any(room.dehumidifier_l_day.any() for room in rooms):
            pulls = [
                dehumidifier(
                    warmth,
                    humidity_slope(room, warmth),
                    _at_ends(room.dehumidifier_l_day) / 24 / room.air_kg,
                    pressure_pa=room.pressure_pa,
                    step_h=room.step_h,
                    drawn_h=drawn,
                )
                for room, warmth, drawn in zip(rooms, warmths, drawn_h, strict=True)
            ]
            idle, share, most = _by_step(pulls)
            running.append((idle, share, most, removed, 1.0))
        if coil_kg_h is not None and any(flow.any() for flow in coil_kg_h):
            pulls = [
                coil(
                    _at_ends(flow) / room.air_kg,
                    pressure_pa=room.pressure_pa,
                    step_h=room.step_h,
                    drawn_h=drawn,
                )
                for room, flow, drawn in zip(rooms, coil_kg_h, drawn_h, strict=True)
            ]
            idle, share, most = _by_step(pulls)
            running.append((idle, share, most, cooled, 1.0))
        if any(room.humidifier_l_day for room in rooms):
            pulls = [
                humidifier(
                    warmth,
                    humidity_slope(room, warmth),
                    room.humidifier_l_day / 24 / room.air_kg,
                    pressure_pa=room.pressure_pa,
                    step_h=room.step_h,
                    drawn_h=drawn,
                )
                for room, warmth, drawn in zip(rooms, warmths, drawn_h, strict=True)
            ]
            idle, share, most = _by_step(pulls)
            running.append((idle, -share, most, humidified, -1.0))
        return cls(removed, cooled, humidified, running)


def _between(taken: Floats) -> tuple[Floats, Floats]:
    """What machines took right before each step, and how much more right after it.

    Half of the go before a step is part of what they take in it. In a step the air
    goes from w = s + k / 2 to w' = s + g - k' / 2, where s is its state after the go k,
    g what comes in meanwhile and k' the next go. Its mean is (w + w') / 2 less
    h^2 w'' / 12 with h w'' = (k - k') / h, which is s + g / 2 less (k' - k) / 6.
    """
    before = np.zeros_like(taken)
    before[1:] = taken[:-1]
    more = taken - before
    more[-1] = 0.0  # the last step goes nowhere
    return before, more


def _at_ends(values: Floats) -> Floats:
    """At each step's end the mean of that step and the next."""
    return np.asarray((values + np.append(values[1:], values[-1])) / 2)


def _by_step(pulls: Sequence[tuple[Floats, Floats, Floats]]) -> list[Floats]:
    """Each part of the machines' answers as steps x rooms."""
    return [np.stack(parts, axis=1) for parts in zip(*pulls, strict=True)]


def _stacked(rows: Sequence[tuple[Floats, ...]]) -> Floats:
    """Steps x parts x rooms, from each room's parts over the steps."""
    return np.ascontiguousarray(np.array(rows).transpose(2, 1, 0))
