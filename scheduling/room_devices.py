"""What machines take out of a room's air or put into it, by the air's state.

Each answers with three arrays over the steps: the humidity ratio at which it idles, the
share of the distance to it that it goes in a step, and the most it moves in a step.
``drawn_h`` is how fast all else draws the air to its own level, an hour.
"""

import numpy as np

from scheduling.psychrometrics import WATER_TO_AIR, saturation_pa
from scheduling.room_air import Floats

Pull = tuple[Floats, Floats, Floats]

# Dehumidifiers are sold by litres a day at 30 C and 80 %. Assumed: in proportion to
# temperature above freezing, and to humidity above 40 %, never above the rating.
RATED_C, RATED_HUMIDITY, IDLE_HUMIDITY = 30.0, 0.80, 0.40

# Assumed: a humidifier gives its rating up to 40 %, then less in a straight line, and
# nothing from 95 % on, where air takes up hardly any more.
FULL_HUMIDITY, WET_HUMIDITY = 0.40, 0.95

# Assumed: the coil of a cooling machine, as cold in a room as chilled water or a small
# split unit makes it. Air that passes it leaves at this temperature, at most saturated.
COIL_C = 12.0
AIR_J_KG_K = 1006.0  # dry air, ASHRAE Fundamentals ch. 1


def dehumidifier(
    temperature_c: Floats,
    slope: Floats,
    kg_h: Floats,
    *,
    pressure_pa: float,
    step_h: float,
    drawn_h: Floats | float = 0.0,
) -> Pull:
    """Of a machine rated at ``kg_h`` a kg of the room's dry air.

    ``slope`` is the relative humidity (0 to 1) to a unit of ratio.
    """
    idle = ratio_at(temperature_c, IDLE_HUMIDITY, pressure_pa)
    warmth = np.clip(temperature_c / RATED_C, 0.0, 1.0)
    rated = kg_h * warmth
    rate = rated / (RATED_HUMIDITY - IDLE_HUMIDITY) * slope
    return idle, _share(rate, step_h, drawn_h), rated * step_h


def humidifier(
    temperature_c: Floats,
    slope: Floats,
    kg_h: float,
    *,
    pressure_pa: float,
    step_h: float,
    drawn_h: Floats | float = 0.0,
) -> Pull:
    """Of a machine rated at ``kg_h`` a kg of the room's dry air; it heats no room."""
    full = ratio_at(temperature_c, WET_HUMIDITY, pressure_pa)
    rate = kg_h / (WET_HUMIDITY - FULL_HUMIDITY) * slope
    return full, _share(rate, step_h, drawn_h), np.full_like(full, kg_h * step_h)


def coil(
    changes_per_h: Floats,
    *,
    pressure_pa: float,
    step_h: float,
    drawn_h: Floats | float = 0.0,
) -> Pull:
    """Of a cooling coil that so many of the room's air volumes pass in an hour."""
    cold = ratio_at(np.full_like(changes_per_h, COIL_C), 1.0, pressure_pa)
    return cold, _share(changes_per_h, step_h, drawn_h), np.full_like(cold, np.inf)


def coil_kg_h(surplus_w: Floats, room_c: float) -> Floats:
    """Dry air that must pass the coil to carry off that much heat."""
    return surplus_w * 3600 / (AIR_J_KG_K * max(room_c - COIL_C, 1.0))


def ratio_at(temperature_c: Floats, humidity: float, pressure_pa: float) -> Floats:
    """Humidity ratio, kg/kg, at a relative humidity of 0 to 1."""
    pressed = humidity * saturation_pa(temperature_c)
    return WATER_TO_AIR * pressed / np.maximum(pressure_pa - pressed, 1.0)


def _share(rate_h: Floats, step_h: float, drawn_h: Floats | float) -> Floats:
    """Of the distance to its idle point, what a machine goes in one go for a step.

    With z = rate x step the bare share is 1 - exp(-z). A machine in turn with the rest
    would then settle (z + d) / 12 of a step's yield off the balance of both at once, d
    for the rest being z's like: the rate is put right by that, to the next order.
    """
    z = rate_h * step_h
    return np.asarray(-np.expm1(-z * (1 + z * (z + drawn_h * step_h) / 12)))
