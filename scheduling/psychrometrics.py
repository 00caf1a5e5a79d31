"""Moist air: vapour pressure, dew point, humidity ratio, and wood's answer to it.

Every function takes floats or arrays and gives back the same kind. Humidity is relative
humidity over liquid water at every temperature, as weather services report it
(WMO-No. 8, Guide to Instruments and Methods of Observation, ch. 4), so air at -5 C and
100 % stands above saturation over ice.

The relations are those of the ASHRAE Handbook - Fundamentals (2017), ch. 1, with moist
air as an ideal gas; real air holds 0.4 to 0.5 % more water for the same humidity.
"""

from typing import TypeVar, cast, overload

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Value = TypeVar("Value", float, Floats)

ZERO_C_K = 273.15  # definition of the Celsius scale
SEA_LEVEL_PA = 101325.0  # standard atmosphere
WATER_TO_AIR = 0.621945  # ratio of molar masses, ASHRAE ch. 1 eq. 20
LOWEST_C = -100.0  # lower end of ASHRAE ch. 1 eq. 5; dew points are not sought below

# Hyland and Wexler (1983) as in ASHRAE ch. 1: eq. 6 over water, eq. 5 over ice.
# Coefficients of 1/T, 1, T, T^2, T^3, T^4 and ln T, T in kelvin, result ln Pa.
_Coefficients = tuple[float, float, float, float, float, float, float]
_WATER: _Coefficients = (
    -5.8002206e3,
    1.3914993,
    -4.8640239e-2,
    4.1764768e-5,
    -1.4452093e-8,
    0.0,
    6.5459673,
)
_ICE: _Coefficients = (
    -5.6745359e3,
    6.3925247,
    -9.677843e-3,
    6.2215701e-7,
    2.0747825e-9,
    -9.484024e-13,
    4.1635019,
)
# Magnus form of Alduchov and Eskridge (1996); only the first guess of an inversion.
_MAGNUS_PA, _MAGNUS_A, _MAGNUS_B_C = 610.94, 17.625, 243.04
_NEWTON_ROUNDS = 6  # quadratic from a guess within 3 K: 1e-10 K after four


def saturation_pa(temperature_c: Value) -> Value:
    """Vapour pressure of air saturated over liquid water, supercooled below 0 C."""
    return cast(Value, _plain(np.exp(_ln_saturation(temperature_c, _WATER))))


def saturation_ice_pa(temperature_c: Value) -> Value:
    """Vapour pressure of air saturated over ice; meant for -100 to 0 C."""
    return cast(Value, _plain(np.exp(_ln_saturation(temperature_c, _ICE))))


@overload
def vapour_pa(temperature_c: float, humidity_pct: float) -> float: ...
@overload
def vapour_pa(temperature_c: Floats, humidity_pct: Floats | float) -> Floats: ...
@overload
def vapour_pa(temperature_c: float, humidity_pct: Floats) -> Floats: ...
def vapour_pa(
    temperature_c: Floats | float, humidity_pct: Floats | float
) -> Floats | float:
    """Partial pressure of the water vapour in air of that humidity."""
    saturated = np.exp(_ln_saturation(temperature_c, _WATER))
    return _plain(saturated * np.asarray(humidity_pct) / 100)


@overload
def humidity_pct_of(temperature_c: float, vapour_pa: float) -> float: ...
@overload
def humidity_pct_of(temperature_c: Floats, vapour_pa: Floats | float) -> Floats: ...
@overload
def humidity_pct_of(temperature_c: float, vapour_pa: Floats) -> Floats: ...
def humidity_pct_of(
    temperature_c: Floats | float, vapour_pa: Floats | float
) -> Floats | float:
    """Relative humidity of air with that vapour pressure.

    Not capped: over 100 % the vapour would condense.
    """
    saturated = np.exp(_ln_saturation(temperature_c, _WATER))
    return _plain(100 * np.asarray(vapour_pa) / saturated)


def dew_point_c(vapour_pa: Value) -> Value:
    """Temperature at which that vapour is saturated over liquid water.

    Dry air has no dew point; anything below -100 C is answered as -100 C.
    """
    return cast(Value, _plain(_inverted(vapour_pa, _WATER)))


def frost_point_c(vapour_pa: Value) -> Value:
    """Temperature at which frost forms, or dew where that is above 0 C."""
    dew = _inverted(vapour_pa, _WATER)
    return cast(Value, _plain(np.where(dew < 0, _inverted(vapour_pa, _ICE), dew)))


def humidity_ratio_g_kg(vapour_pa: Value, pressure_pa: float = SEA_LEVEL_PA) -> Value:
    """Grams of water to a kilogram of dry air."""
    vapour = np.asarray(vapour_pa, dtype=np.float64)
    return cast(Value, _plain(1000 * WATER_TO_AIR * vapour / (pressure_pa - vapour)))


def vapour_from_ratio(ratio_g_kg: Value, pressure_pa: float = SEA_LEVEL_PA) -> Value:
    """Vapour pressure in Pa of air with that humidity ratio."""
    ratio = np.asarray(ratio_g_kg, dtype=np.float64) / 1000
    return cast(Value, _plain(pressure_pa * ratio / (WATER_TO_AIR + ratio)))


def pressure_pa(altitude_m: float) -> float:
    """Air pressure in the standard atmosphere, ASHRAE ch. 1 eq. 3; -5 to 11 km."""
    return float(SEA_LEVEL_PA * (1 - 2.25577e-5 * altitude_m) ** 5.2559)


@overload
def wood_moisture_pct(temperature_c: float, humidity_pct: float) -> float: ...
@overload
def wood_moisture_pct(
    temperature_c: Floats, humidity_pct: Floats | float
) -> Floats: ...
@overload
def wood_moisture_pct(temperature_c: float, humidity_pct: Floats) -> Floats: ...
def wood_moisture_pct(
    temperature_c: Floats | float, humidity_pct: Floats | float
) -> Floats | float:
    """Moisture content that wood comes to in steady air, percent of its dry mass.

    Hailwood and Horrobin's isotherm with the constants of the USDA Wood Handbook
    (FPL-GTR-190, eq. 4-5; Simpson, FPL-RN-0268). Good to about 1 % moisture content
    (Glass, FPL-GTR-229).
    """
    t = np.asarray(temperature_c, dtype=np.float64)
    h = np.asarray(humidity_pct, dtype=np.float64) / 100
    weight = 349 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    bound = k1 * k * h + 2 * k1 * k2 * k**2 * h**2
    share = bound / (1 + k1 * k * h + k1 * k2 * k**2 * h**2)
    return _plain(1800 / weight * (k * h / (1 - k * h) + share))


def celsius_from_fahrenheit(temperature_f: Value) -> Value:
    """A temperature, not a difference of two."""
    return (temperature_f - 32) / 1.8


def fahrenheit_from_celsius(temperature_c: Value) -> Value:
    """A temperature, not a difference of two."""
    return temperature_c * 1.8 + 32


def _ln_saturation(temperature_c: Floats | float, form: _Coefficients) -> Floats:
    t = np.asarray(temperature_c, dtype=np.float64) + ZERO_C_K
    inverse, constant, first, second, third, fourth, logarithm = form
    powers = constant + t * (first + t * (second + t * (third + t * fourth)))
    return inverse / t + powers + logarithm * np.log(t)


def _slope(temperature_c: Floats, form: _Coefficients) -> Floats:
    """Derivative of ln p by temperature."""
    t = temperature_c + ZERO_C_K
    inverse, _, first, second, third, fourth, logarithm = form
    powers = first + t * (2 * second + t * (3 * third + t * 4 * fourth))
    return -inverse / t**2 + powers + logarithm / t


def _inverted(vapour_pa: Floats | float, form: _Coefficients) -> Floats:
    """Temperature where ``form`` gives that pressure, by Newton's rule on ln p."""
    lowest = np.exp(_ln_saturation(LOWEST_C, form))
    target = np.log(np.maximum(np.asarray(vapour_pa, dtype=np.float64), lowest))
    ratio = (target - np.log(_MAGNUS_PA)) / _MAGNUS_A
    t: Floats = np.maximum(_MAGNUS_B_C * ratio / (1 - ratio), LOWEST_C)
    for _ in range(_NEWTON_ROUNDS):
        t = t - (_ln_saturation(t, form) - target) / _slope(t, form)
    return t


def _plain(values: Floats) -> Floats | float:
    """A float for a single value, so that results print and encode as numbers."""
    return float(values) if np.ndim(values) == 0 else values
