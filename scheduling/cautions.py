"""What speaks against starting a coat in this air, and what only wants care.

A caution bears its source. ``may_start`` is the one rule that stops a coat; ``blocked``
is the same rule for every step of a room's air at once.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import ceil

import numpy as np
from numpy.typing import NDArray

from scheduling.problem import Air, Family
from scheduling.psychrometrics import frost_point_c, vapour_pa
from scheduling.rate_laws import Weather, evaporation, law
from scheduling.room_air import STILL_AIR_M_S, Floats, RoomAir, constant_air

Flags = NDArray[np.bool_]
_NO_TIME = datetime(2000, 1, 1, tzinfo=UTC)  # steady air needs some start

DEW_MARGIN_C = 3.0  # practice with ISO 8502-4; UFC 3-190-06 has 5 F
HUMID_PCT = 85.0  # practice with ISO 12944-7
BLUSH_STOP_PCT, BLUSH_PCT = 75.0, 65.0  # common practice, no source
HOTTEST_C = (90 - 32) / 1.8  # 90 F, UFC 3-190-06, 7.4.1
LIME_HOT_C, LIME_DRY_PCT = 25.0, 40.0  # Assumed: limewash dusts when it dries first
LIME_WIND_M_S = 0.5  # Assumed: as above
TOO_DRY_PCT = 20.0  # common practice, no source
TOO_FAST = 2.5  # Assumed: drying this many times faster than at 23 C and 50 %
AHEAD_MIN = 24 * 60.0  # the day that the Wood Handbook asks for
# After clean-down, common practice, no source: 30 to 60 min. Stokes' law agrees: in an
# hour grains of quartz of 3 um and more fall through a room 2.5 m high.
DUST_SETTLES_MIN = 60.0
TRUSTED_C, TRUSTED_PCT = (5.0, 35.0), (20.0, 95.0)  # Assumed: reach of the laws
TRUSTED_WIND_M_S, TRUSTED_COAT = 1.0, (0.5, 3.0)  # Assumed: as above

# Lowest temperature of air and surface, now and for a day.
COLDEST_C: dict[Family, float] = {
    "waterborne": 10.0,  # USDA Wood Handbook ch. 16: 50 F
    "glaze": 10.0,  # a dispersion too
    "distemper": 10.0,  # Assumed: kept with the other water paints
    "water-size": 10.0,  # a dispersion too
    "oil": 5.0,  # Wood Handbook: 40 F; UFC 3-190-06: 45 F; between them
    "oil-size": 5.0,  # as oil
    "spirit": 5.0,  # Assumed; UFC 3-190-06 lets lacquers go to 35 F
    "lime": 5.0,  # common practice, no source
    "gypsum": 5.0,  # Assumed: as lime
    "two-part": 10.0,  # common practice, no source
}
_WATER_BASED = ("waterborne", "glaze", "distemper", "water-size", "lime", "gypsum")

_ISO_8502 = "ISO 8502-4 practice; UFC 3-190-06, 9.6.6"
_ISO_12944 = "ISO 12944-7 practice"
_UFC_HEAT = "UFC 3-190-06, 7.4.1"
_UFC_BLUSH = "UFC 3-190-06, 7.4.2; 65 and 75 % common practice"
_WOOD = "USDA Wood Handbook (FPL-GTR-190), ch. 16"
_JUDGEMENT = "judgement"
_PRACTICE = "common practice"
_COLD_SOURCE: dict[Family, str] = {
    "waterborne": _WOOD,
    "glaze": _WOOD,
    "water-size": _WOOD,
    "oil": f"{_WOOD}; {_UFC_HEAT}",
    "oil-size": f"{_WOOD}; {_UFC_HEAT}",
    "lime": _PRACTICE,
    "two-part": _PRACTICE,
}

STOPPING = (
    "dew-margin",
    "humid",
    "cold",
    "cold-ahead",
    "hot",
    "frozen",
    "blush",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One thing to mind: what it is, and who says so. ``stops``: no coat starts."""

    code: str
    text: str
    source: str
    stops: bool = False


def may_start(given: Iterable[Caution | str], family: Family) -> bool:
    """Whether a coat may start under these cautions.

    A bare code counts as stopping where its kind can; a ``Caution`` knows (blush is a
    caution from 65 % and stops over 75 %). Damp air alone never stops lime.
    """
    for caution in given:
        if not isinstance(caution, str):
            if caution.stops:
                return False
        elif caution in STOPPING and not (family == "lime" and caution == "humid"):
            return False
    return True


def margin_c(air: Air, surface_c: float) -> float | None:
    """Degrees of the surface over the dew (below 0 C frost) point; None if bone dry."""
    if air.humidity_pct <= 0:
        return None
    return surface_c - frost_point_c(vapour_pa(air.temperature_c, air.humidity_pct))


def cautions(
    family: Family,
    air: Air,
    *,
    surface_c: float,
    coldest_ahead_c: float | None = None,
    moving_air_m_s: float = STILL_AIR_M_S,
    coat: float = 1.0,
    open_min: float | None = None,
    needed_min: float | None = None,
    open_capped: bool = False,
    never: Sequence[str] = (),
    moist_ground: bool = False,
    not_hard: bool = False,
) -> tuple[Caution, ...]:
    """Everything to mind about a coat in this air, what stops it first.

    ``coldest_ahead_c``: lowest of air and surface in the next 24 hours. ``open_min``
    and ``needed_min``: how long the wet edge lasts and how long it is needed.
    ``never``: stages that cannot end. The rest is said by whoever knows it.
    """
    found = list(_stops(family, air, surface_c, coldest_ahead_c))
    found += _blush(family, air.humidity_pct, stops=False)
    found += _too_fast(family, air, surface_c, moving_air_m_s)
    if open_min is not None and needed_min is not None and open_min < needed_min:
        text = f"The edge stays wet {open_min:.0f} min; {needed_min:.0f} are needed."
        found.append(Caution(code="too-fast", text=text, source=_PRACTICE))
    found += _too_dry(family, air.humidity_pct, moving_air_m_s)
    if never:
        text = f"In this air it never reaches: {', '.join(never)}."
        found.append(
            Caution(
                code="never-ends",
                text=text,
                source="laws of evaporation and film forming",
            )
        )
    if open_capped:
        text = "Stays open longer than 1.5 times the label; count on no more."
        found.append(Caution(code="open-capped", text=text, source=_JUDGEMENT))
    found += _outside(air, surface_c, moving_air_m_s, coat)
    if moist_ground:
        text = "The ground is moist: tape a sheet over it for a day and look for damp."
        found.append(Caution(code="moist-ground", text=text, source="ASTM D4263"))
    if not_hard:
        text = "The coat below is dry but not hard; tape and solvent may lift it."
        found.append(Caution(code="not-hard", text=text, source=_PRACTICE))
    return tuple(found)


def _stops(
    family: Family, air: Air, surface_c: float, coldest_ahead_c: float | None
) -> Iterable[Caution]:
    margin = margin_c(air, surface_c)
    if margin is not None and _wet(family, margin):
        if family == "lime":
            text = f"The wall sweats: {-margin:.1f} K below the dew point."
        else:
            text = f"Surface {margin:.1f} K over the dew point; at least 3.0 K needed."
        yield _stop("dew-margin", text, _ISO_8502)
    if air.humidity_pct > HUMID_PCT and family != "lime":
        text = f"Humidity {air.humidity_pct:.0f} %; at most 85 %."
        yield _stop("humid", text, _ISO_12944)
    limit = COLDEST_C[family]
    source = _COLD_SOURCE.get(family, _JUDGEMENT)
    lowest = min(air.temperature_c, surface_c)
    if lowest < limit:
        yield _stop("cold", f"{lowest:.1f} C; at least {limit:.0f} C needed.", source)
    if coldest_ahead_c is not None and coldest_ahead_c < limit:
        text = f"Falls to {coldest_ahead_c:.1f} C within a day; {limit:.0f} C needed."
        yield _stop("cold-ahead", text, source)
    highest = max(air.temperature_c, surface_c)
    if highest > HOTTEST_C:
        text = f"{highest:.1f} C; at most {HOTTEST_C:.0f} C."
        yield _stop("hot", text, _UFC_HEAT)
    elif family == "lime" and highest > LIME_HOT_C and air.humidity_pct < LIME_DRY_PCT:
        text = f"Hot and dry: {highest:.0f} C, {air.humidity_pct:.0f} %. Lime dusts."
        yield _stop("hot", text, _PRACTICE)
    if family in _WATER_BASED and surface_c <= 0:
        text = f"Surface {surface_c:.1f} C: the water freezes."
        yield _stop("frozen", text, "freezing point of water")
    yield from _blush(family, air.humidity_pct, stops=True)


def _wet(family: Family, margin: float) -> bool:
    return margin <= 0 if family == "lime" else margin < DEW_MARGIN_C


def _stop(code: str, text: str, source: str) -> Caution:
    return Caution(code=code, text=text, source=source, stops=True)


def _blush(family: Family, humidity_pct: float, *, stops: bool) -> list[Caution]:
    if family != "spirit" or humidity_pct < BLUSH_PCT:
        return []
    if (humidity_pct > BLUSH_STOP_PCT) is not stops:
        return []
    if stops:
        text = f"Humidity {humidity_pct:.0f} %: the film blushes over 75 %."
    else:
        text = f"Humidity {humidity_pct:.0f} %: the film may blush; test first."
    return [Caution(code="blush", text=text, source=_UFC_BLUSH, stops=stops)]


def _too_fast(
    family: Family, air: Air, surface_c: float, moving_air_m_s: float
) -> Iterable[Caution]:
    if family not in _WATER_BASED:
        return
    steady = Weather(
        constant_air(
            _NO_TIME,
            temperature_c=air.temperature_c,
            humidity_pct=air.humidity_pct,
            surface_c=surface_c,
            moving_air_m_s=moving_air_m_s,
        )
    )
    phase = law("waterborne", "open").phases[0]
    times = float((evaporation(phase, steady) * steady.gas)[0])
    if times > TOO_FAST:
        text = f"Water leaves {times:.1f} times faster than usual: laps and cracks."
        source = "UFC 3-190-06, 7.4.1; the limit is judgement"
        yield Caution(code="too-fast", text=text, source=source)


def _too_dry(
    family: Family, humidity_pct: float, moving_air_m_s: float
) -> Iterable[Caution]:
    if family == "lime" and (
        humidity_pct < LIME_DRY_PCT or moving_air_m_s > LIME_WIND_M_S
    ):
        text = (
            f"Humidity {humidity_pct:.0f} %, air {moving_air_m_s:.1f} m/s: damp down."
        )
        yield Caution(code="too-dry", text=text, source=_PRACTICE)
    elif family in _WATER_BASED and humidity_pct < TOO_DRY_PCT:
        text = f"Humidity {humidity_pct:.0f} %: under 20 % a draught spoils the edge."
        yield Caution(code="too-dry", text=text, source=_PRACTICE)


def _outside(
    air: Air, surface_c: float, moving_air_m_s: float, coat: float
) -> Iterable[Caution]:
    outside = [
        f"{name} {value:g} {unit} (trusted {low:g} {unit} to {high:g} {unit})"
        for name, value, unit, (low, high) in (
            ("air", air.temperature_c, "C", TRUSTED_C),
            ("humidity", air.humidity_pct, "%", TRUSTED_PCT),
            ("surface", surface_c, "C", TRUSTED_C),
            ("moving air", moving_air_m_s, "m/s", (0.0, TRUSTED_WIND_M_S)),
            ("coat", coat, "times", TRUSTED_COAT),
        )
        if not low <= value <= high
    ]
    if outside:
        text = f"Outside the range of the laws: {'; '.join(outside)}."
        yield Caution(code="outside-range", text=text, source=_JUDGEMENT)


def blocked(family: Family, air: RoomAir) -> Flags:
    """For each step of the air, whether no coat of that family may start in it."""
    lowest = np.minimum(air.temperature_c, air.surface_c)
    highest = np.maximum(air.temperature_c, air.surface_c)
    limit = COLDEST_C[family]
    result = (lowest < limit) | (coldest_ahead_c(air) < limit) | (highest > HOTTEST_C)
    vapour = vapour_pa(air.temperature_c, np.maximum(air.humidity_pct, 1e-9))
    margin = air.surface_c - frost_point_c(vapour)
    humidity = air.humidity_pct
    if family == "lime":
        hot_and_dry = (highest > LIME_HOT_C) & (humidity < LIME_DRY_PCT)
        result = result | (margin <= 0) | hot_and_dry
    else:
        result = result | (margin < DEW_MARGIN_C) | (humidity > HUMID_PCT)
    if family == "spirit":
        result = result | (humidity > BLUSH_STOP_PCT)
    if family in _WATER_BASED:
        result = result | (air.surface_c <= 0)
    return np.asarray(result, dtype=np.bool_)


def coldest_ahead_c(air: RoomAir) -> Floats:
    """Lowest of air and surface from each step through the following 24 hours."""
    lowest = np.minimum(air.temperature_c, air.surface_c)
    wanted = min(ceil(AHEAD_MIN / air.step_min) + 1, len(air))
    reach = 1
    while reach < wanted:  # each round looks up to twice as far
        shift = min(reach, wanted - reach)
        later = np.concatenate([lowest[shift:], np.full(shift, lowest[-1])])
        lowest = np.minimum(lowest, later)
        reach += shift
    return lowest


def blocked_by(family: Family, air: RoomAir, index: int) -> tuple[Caution, ...]:
    """What stops a coat of that family in one step of the air; empty if nothing."""
    now = Air(
        temperature_c=float(air.temperature_c[index]),
        humidity_pct=float(air.humidity_pct[index]),
    )
    ahead = index + ceil(AHEAD_MIN / air.step_min) + 1
    coldest = min(
        float(np.min(air.temperature_c[index:ahead])),
        float(np.min(air.surface_c[index:ahead])),
    )
    return tuple(_stops(family, now, float(air.surface_c[index]), coldest))
