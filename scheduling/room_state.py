"""What acts on one modelled room, and how it stands."""

from dataclasses import dataclass

import numpy as np

from scheduling.psychrometrics import WATER_TO_AIR, ZERO_C_K, saturation_pa
from scheduling.room_air import Floats

DRY_AIR_J_KG_K = 287.042  # gas constant of dry air, ASHRAE Fundamentals ch. 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """Air of known state that comes in through open doors, an entry a step."""

    changes_per_h: float
    temperature_c: Floats
    ratio: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What acts on one room: arrays of one length, an entry a step.

    ``water_kg`` is what the work gives off in a step. ``outdoor_ratio`` and every other
    humidity ratio here is in kg of water to a kg of dry air. People give their water
    off warm, the work takes the heat for it out of the room.
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
    humidifier_l_day: float = 0.0
    cooling_c: float = np.inf  # the highest temperature that cooling lets it reach
    occupants_kg_h: float = 0.0
    beside: Beside | None = None

    @property
    def air_kg(self) -> float:
        """Dry air in the room, at the mean of its set points all through."""
        return self.density * self.volume_m3

    @property
    def density(self) -> float:
        """Dry air's, kg/m3, at the mean of the room's set points."""
        kelvin = float(np.mean([self.set_point_c.min(), self.set_point_c.max()]))
        return self.pressure_pa / (DRY_AIR_J_KG_K * (kelvin + ZERO_C_K))


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomState:
    """A room at one moment; ``walls`` is the buffer's humidity, 0 to 1."""

    temperature_c: float
    ratio: float
    walls: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomRun:
    """A room over time: entry i is the state at the start of step i.

    ``mean_c`` and ``mean_ratio`` are the means over step i, of what holds through it:
    second order in the step, where the state at its start would be first.
    ``begun_ratio`` and ``felt_ratio`` are the ratio at a step's start and its mean as
    if machines ran all through, not by goes between steps; to the step's next order.
    ``removed_kg`` (dehumidifier), ``cooled_kg`` (cooling coil), ``condensed_kg``,
    ``humidified_kg`` and ``doors_kg`` (in from modelled rooms) are those of step i.
    """

    temperature_c: Floats
    ratio: Floats
    walls: Floats
    removed_kg: Floats
    condensed_kg: Floats
    cooled_kg: Floats
    humidified_kg: Floats
    doors_kg: Floats
    mean_c: Floats
    mean_ratio: Floats
    begun_ratio: Floats
    felt_ratio: Floats


def humidity_slope(conditions: Conditions, temperature_c: Floats) -> Floats:
    """Relative humidity (0 to 1) to a unit of ratio.

    Nearly a constant at one temperature; taken at the outdoor ratio, which keeps the
    balance linear and errs by less than 1.5 % of the humidity the walls see.
    """
    total = WATER_TO_AIR + conditions.outdoor_ratio
    return conditions.pressure_pa / (total * saturation_pa(temperature_c))
