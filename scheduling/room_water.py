"""The water of a well-mixed room whose walls buffer, stepped exactly.

``m dW/dt = m n (W_o - W) + G - C - K dphi/dt`` with the dry air's mass m, air changes
n, the work's water G, condensation and dehumidifier C, and one lumped node for walls,
floor and furnishings whose humidity follows the room's,
``dphi/dt = (phi_room - phi) / tau``. Heating leaves the humidity ratio W as it is
(ASHRAE Handbook - Fundamentals, ch. 16). What acts is held through a step and the two
equations are solved exactly over it, so a step change in the outdoor air is exact at
any step; the dehumidifier acts at each step's end.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scheduling.psychrometrics import WATER_TO_AIR, ZERO_C_K, saturation_pa
from scheduling.room_air import Floats

DRY_AIR_J_KG_K = 287.042  # gas constant of dry air, ASHRAE Fundamentals ch. 1

# Rode et al., Moisture Buffering of Building Materials (BYG DTU R-126, 2005): grams a
# m2 and percent of humidity over 8 h at 75 % and 16 h at 33 %; gypsum board about 0.6.
BUFFER_G_M2_PCT = 0.6
BUFFER_LAG_H = 3.0  # Assumed: bare walls and furnishings answer within a few hours
# Assumed: bare surfaces, floor and furnishings as those of a cube of that volume and a
# twentieth: 180 m2 in 152 m3.
BUFFER_M2_PER_M2 = 6.32

# Dehumidifiers are sold by litres a day at 30 C and 80 %. Assumed: in proportion to
# temperature above freezing, and to humidity above 40 %, never above the rating.
RATED_C, RATED_HUMIDITY, IDLE_HUMIDITY = 30.0, 0.80, 0.40


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What acts on one room: arrays of one length, an entry a step.

    ``water_kg`` is what the work gives off in a step. ``outdoor_ratio`` and every other
    humidity ratio here is in kg of water to a kg of dry air.
    """

    step_h: float
    volume_m3: float
    pressure_pa: float
    changes_per_h: Floats
    set_point_c: Floats
    outdoor_c: Floats
    outdoor_ratio: Floats
    water_kg: Floats
    dehumidifier_l_day: Floats
    buffer_kg: float  # water the walls take from 0 to 100 %

    @property
    def air_kg(self) -> float:
        """Dry air in the room, at the mean of its set points all through."""
        kelvin = float(np.mean([self.set_point_c.min(), self.set_point_c.max()]))
        density = self.pressure_pa / (DRY_AIR_J_KG_K * (kelvin + ZERO_C_K))
        return density * self.volume_m3


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomState:
    """A room at one moment; ``walls`` is the buffer's humidity, 0 to 1."""

    temperature_c: float
    ratio: float
    walls: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomRun:
    """A room over time: entry i is the state at the start of step i.

    ``removed_kg`` (dehumidifier) and ``condensed_kg`` are those of step i.
    """

    temperature_c: Floats
    ratio: Floats
    walls: Floats
    removed_kg: Floats
    condensed_kg: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterBalance:
    """Where a run's water came from and went, in kg, each reckoned for itself."""

    ventilated: float  # net, into the room
    given_off: float
    removed: float
    condensed: float
    held_by_air: float
    held_by_walls: float

    @property
    def missing(self) -> float:
        """Water in, less water out, less water held: nothing but rounding."""
        coming = self.ventilated + self.given_off
        going = self.removed + self.condensed
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


def settled(conditions: Conditions) -> RoomState:
    """The room as it stands after long in the mean outdoor air of the first day."""
    day = slice(0, max(1, round(24 / conditions.step_h)))
    temperature = max(conditions.set_point_c[0], conditions.outdoor_c[0])
    saturated = _saturated_ratio(np.array([temperature]), conditions.pressure_pa)[0]
    ratio = min(float(conditions.outdoor_ratio[day].mean()), float(saturated))
    slope = _humidity_slope(conditions, np.full_like(conditions.outdoor_c, temperature))
    walls = min(float(slope[0] * ratio), 1.0)
    return RoomState(temperature_c=float(temperature), ratio=ratio, walls=walls)


def water_balance(conditions: Conditions, result: RoomRun) -> WaterBalance:
    """The run's water, ventilation integrated exactly and not taken as what is left."""
    solution = _Solution.of(conditions, result.temperature_c)
    mean = solution.mean_ratio(result.ratio, result.walls)[:-1]
    drawn = conditions.changes_per_h[:-1] * (conditions.outdoor_ratio[:-1] - mean)
    return WaterBalance(
        ventilated=float(drawn.sum()) * conditions.air_kg * conditions.step_h,
        given_off=float(conditions.water_kg[:-1].sum()),
        removed=float(result.removed_kg.sum()),
        condensed=float(result.condensed_kg.sum()),
        held_by_air=float(result.ratio[-1] - result.ratio[0]) * conditions.air_kg,
        held_by_walls=float(result.walls[-1] - result.walls[0]) * conditions.buffer_kg,
    )


def step_water(
    rooms: Sequence[Conditions], begins: Sequence[RoomState], warmths: Sequence[Floats]
) -> list[RoomRun]:
    """Step all rooms at once; arrays are steps x (ratio, walls) x rooms."""
    solved = [
        _Solution.of(room, warmth) for room, warmth in zip(rooms, warmths, strict=True)
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
            _saturated_ratio(warmth, room.pressure_pa)
            for room, warmth in zip(rooms, warmths, strict=True)
        ],
        axis=1,
    )
    dry = _stacked(
        [_dehumidifier(room, t) for room, t in zip(rooms, warmths, strict=True)]
    )
    drying = any(room.dehumidifier_l_day.any() for room in rooms)
    state = np.array([[b.ratio for b in begins], [b.walls for b in begins]])
    count = saturated.shape[0]
    states = np.empty((count, *state.shape))
    removed, condensed = np.zeros_like(saturated), np.zeros_like(saturated)
    states[0] = state
    part = np.empty_like(state)
    for i in range(count - 1):
        after = states[i + 1]
        np.multiply(from_ratio[i], state[0], out=after)
        np.multiply(from_walls[i], state[1], out=part)
        after += part
        after += gain[i]
        ratio = after[0]
        if drying:
            idle, share, most = dry[i]
            taken = removed[i]
            np.subtract(ratio, idle, out=taken)
            taken *= share
            np.minimum(taken, most, out=taken)
            np.maximum(taken, 0.0, out=taken)
            ratio -= taken
        condensed[i] = ratio
        np.minimum(ratio, saturated[i + 1], out=ratio)
        state = after
    condensed[:-1] -= states[1:, 0]
    return [
        RoomRun(
            temperature_c=warmths[k],
            ratio=states[:, 0, k],
            walls=states[:, 1, k],
            removed_kg=removed[:, k] * rooms[k].air_kg,
            condensed_kg=condensed[:, k] * rooms[k].air_kg,
        )
        for k in range(len(rooms))
    ]


def _saturated_ratio(temperature_c: Floats, pressure_pa: float) -> Floats:
    saturated = saturation_pa(temperature_c)
    return WATER_TO_AIR * saturated / np.maximum(pressure_pa - saturated, 1.0)


def _humidity_slope(conditions: Conditions, temperature_c: Floats) -> Floats:
    """Relative humidity (0 to 1) to a unit of ratio.

    Nearly a constant at one temperature; taken at the outdoor ratio, which keeps the
    balance linear and errs by less than 1.5 % of the humidity the walls see.
    """
    total = WATER_TO_AIR + conditions.outdoor_ratio
    return conditions.pressure_pa / (total * saturation_pa(temperature_c))


@dataclass(frozen=True, slots=True)
class _Solution:
    """``x' = A x + u`` for x = (ratio, walls), u = (drive, 0), solved over a step."""

    a: Floats
    b: Floats
    c: Floats
    d: float
    drive: Floats
    step_h: float

    @classmethod
    def of(cls, conditions: Conditions, temperature_c: Floats) -> "_Solution":
        slope = _humidity_slope(conditions, temperature_c)
        exchange = conditions.buffer_kg / BUFFER_LAG_H / conditions.air_kg
        drawn = conditions.changes_per_h * conditions.outdoor_ratio
        given = conditions.water_kg / conditions.step_h / conditions.air_kg
        return cls(
            a=-(conditions.changes_per_h + exchange * slope),
            b=np.full_like(slope, exchange),
            c=slope / BUFFER_LAG_H,
            d=-1 / BUFFER_LAG_H,
            drive=drawn + given,
            step_h=conditions.step_h,
        )

    def matrix(self, order: int) -> tuple[Floats, Floats, Floats, Floats]:
        """exp(A t) for order 0, its integral over the step for 1, that one's for 2."""
        middle = (self.a + self.d) / 2
        apart = np.sqrt(((self.a - self.d) / 2) ** 2 + self.b * self.c)
        apart = np.maximum(apart, 1e-4)  # equal roots: a derivative by differences
        upper = _exponential(middle + apart, self.step_h, order)
        lower = _exponential(middle - apart, self.step_h, order)
        mean, slope = (upper + lower) / 2, (upper - lower) / (2 * apart)
        return (
            mean + slope * (self.a - middle),
            slope * self.b,
            slope * self.c,
            mean + slope * (self.d - middle),
        )

    def mean_ratio(self, ratio: Floats, walls: Floats) -> Floats:
        """The ratio's mean over each step that begins at these states."""
        own, from_walls, _, _ = self.matrix(1)
        driven = self.matrix(2)[0]
        total = own * ratio + from_walls * walls + driven * self.drive
        return total / self.step_h


def _exponential(rate: Floats, t: float, order: int) -> Floats:
    """Exp(rate t), integrated ``order`` times from 0 to t."""
    x = rate * t
    if order == 0:
        return np.exp(x)
    small = np.abs(x) < 1e-3  # series where the difference would lose digits
    safe = np.where(small, 1.0, x)
    if order == 1:
        return t * np.where(small, 1 + x / 2 + x**2 / 6, np.expm1(safe) / safe)
    series = 0.5 + x / 6 + x**2 / 24
    return t**2 * np.where(small, series, (np.expm1(safe) - safe) / safe**2)


def _stacked(rows: Sequence[tuple[Floats, ...]]) -> Floats:
    """Steps x parts x rooms, from each room's parts over the steps."""
    return np.ascontiguousarray(np.array(rows).transpose(2, 1, 0))


def _dehumidifier(
    conditions: Conditions, temperature_c: Floats
) -> tuple[Floats, Floats, Floats]:
    """Ratio where it idles, share of the excess it takes in a step, most it takes."""
    idle_pa = IDLE_HUMIDITY * saturation_pa(temperature_c)
    idle = WATER_TO_AIR * idle_pa / (conditions.pressure_pa - idle_pa)
    warmth = np.clip(temperature_c / RATED_C, 0.0, 1.0)
    rated = conditions.dehumidifier_l_day / 24 * warmth / conditions.air_kg
    slope = _humidity_slope(conditions, temperature_c)
    rate = rated / (RATED_HUMIDITY - IDLE_HUMIDITY) * slope
    return idle, -np.expm1(-rate * conditions.step_h), rated * conditions.step_h
