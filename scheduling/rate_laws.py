"""How fast each family dries: a rate is 1 at 23 C, 50 %, still air and a usual coat.

Only laws of nature and their constants; what a label says and how far a clock may
stretch is decided elsewhere. Vectors in, vectors out: one value for each step of air.
"""

from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

import numpy as np

from scheduling.problem import Family
from scheduling.psychrometrics import ZERO_C_K, saturation_pa
from scheduling.room_air import STILL_AIR_M_S, Floats, RoomAir

REFERENCE_C = 23.0  # ASTM D3924: 23 C and 50 % for drying tests
REFERENCE_PCT = 50.0  # as above
GAS_KJ_MOL_K = 8.314462618e-3  # molar gas constant, CODATA 2018
WIND_PER_M_S = 0.85  # slope shared by Menzel (1954), Uno (1998) and ASHRAE's pool law
WIND_MOST_M_S = 3.0  # Assumed: no indoor draught is stronger; the law is not tested on

# How the film's surface-to-air path and its inside share the resistance: see Kiil,
# Prog. Org. Coat. 57 (2006) 236: 0.1 for a 40 um dry film, 0.3 for 2 mm of plaster.
_THIN, _PLASTER = 0.1, 0.3
# Water activity at the end of drying. Assumed from film chemistry: 0.98 a dispersion,
# 0.90 a glaze held open by glycol, 0.99 lime. Gypsum 0.995: between 0.99 and the 1 that
# fits the joint-compound chart of GA-236 best.
_DISPERSION, _GLAZE, _LIME, _GYPSUM = 0.98, 0.90, 0.99, 0.995
# Film-forming limit of architectural dispersions 10 C (50 F): USDA Wood Handbook,
# FPL-GTR-190, ch. 16. Each ramp runs from no progress to full; Assumed 2 to 5 K wide.
_FILM_C, _OIL_C, _LIME_C = (8.0, 10.0), (2.0, 5.0), (3.0, 5.0)
_SIZE_C, _TWO_PART_C = (5.0, 8.0), (5.0, 10.0)
# kJ/mol. 50 doubles the time for 10 K less, the trade's rule for reacting films.
_OXIDATION, _COALESCENCE, _TWO_PART = 50.0, 50.0, 55.0
_ALCOHOL, _WHITE_SPIRIT, _GLYCOL = 42.0, 44.0, 65.0  # heats of vaporisation at 25 C
_CARBONATION, _GYPSUM_SET = 25.0, 30.0  # Assumed: 15 to 40 are defensible
# Carbonation over humidity: greatest at 62 %, as in Langmuir (2025), 4c03811, 55-65 %.
_CARB_PEAK, _CARB_RISE, _CARB_FALL = 0.62, 3.59, 2.2
DAMP_FROM, DAMP_LEAST = 0.5, 0.5  # Assumed: hardening slows from 50 % RH, to half
OIL_DAMP_FROM, OIL_DAMP_LEAST = 0.6, 0.5  # Assumed: no measured table was found
FILM_DAMP_WIDTH = 0.15  # Assumed: a film takes up water again over 85 % RH

Kind = Literal[
    "evaporation",
    "solvent",
    "oxidation",
    "coalescence",
    "hardening",
    "reaction",
    "carbonation",
]
Column = Literal["open", "touch", "recoat", "cure"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """One part of a stage; phases follow one another. Shares of a law add up to 1.

    ``film`` is the inside's share of the resistance, ``thickness`` the power of the
    coat's thickness, ``ramp_c`` the surface temperatures of no and of full progress.
    """

    kind: Kind
    share: float = 1.0
    energy_kj_mol: float = 0.0
    activity: float = 1.0
    exponent: float = 1.0
    film: float = 0.0
    thickness: float = 0.0
    ramp_c: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """The phases of one stage of one family.

    With ``slowest`` the rate, as a share of the label's own, is kept from there to 1:
    the wait is the label's or longer, within a bound.
    """

    phases: tuple[Phase, ...]
    slowest: float | None = None


class Weather:
    """What the laws need of the air, worked out once for all stages."""

    __slots__ = ("gas", "humidity", "inverse", "surface_c", "surface_pa", "vapour_pa")

    def __init__(self, air: RoomAir) -> None:
        self.surface_c = air.surface_c
        self.humidity = air.humidity_pct / 100
        self.surface_pa = saturation_pa(air.surface_c)
        self.vapour_pa = self.humidity * saturation_pa(air.temperature_c)
        self.inverse = 1 / (air.surface_c + ZERO_C_K) - 1 / (REFERENCE_C + ZERO_C_K)
        wind = np.clip(air.moving_air_m_s, 0.0, WIND_MOST_M_S)
        if (wind == wind[0]).all():  # as in any room: one number will do
            wind = wind[:1]
        self.gas = (1 + WIND_PER_M_S * wind) / (1 + WIND_PER_M_S * STILL_AIR_M_S)


def rate(phase: Phase, weather: Weather, coat: float) -> Floats:
    """Progress of a phase in each step of the air; ``coat`` 2.0 is twice as thick."""
    if phase.kind == "evaporation":
        drive = evaporation(phase, weather)
        return np.asarray(drive / _resistance(phase, weather, coat))
    warmth = -phase.energy_kj_mol / GAS_KJ_MOL_K * weather.inverse
    result = np.asarray(np.exp(warmth), dtype=np.float64)
    if phase.ramp_c is not None:
        low, high = phase.ramp_c
        result = result * np.clip((weather.surface_c - low) / (high - low), 0.0, 1.0)
    if phase.kind == "solvent":
        return np.asarray(result / _resistance(phase, weather, coat))
    damp = _damp(phase.kind, weather.humidity)
    return np.asarray(result * damp / coat**phase.thickness)


def evaporation(phase: Phase, weather: Weather) -> Floats:
    """Drive of drying: vapour pressure over the film less that of the air.

    Zero on a surface at or below the dew point, and where it is frozen.
    """
    full_pa = (phase.activity - REFERENCE_PCT / 100) * saturation_pa(REFERENCE_C)
    drive = phase.activity * weather.surface_pa - weather.vapour_pa
    drive = np.maximum(0.0, drive) / full_pa
    if phase.exponent != 1.0:
        drive = drive**phase.exponent
    return np.where(weather.surface_c <= 0, 0.0, drive)


def _resistance(phase: Phase, weather: Weather, coat: float) -> Floats:
    return (1 - phase.film) * coat / weather.gas + phase.film * coat**2


def _damp(kind: Kind, humidity: Floats) -> Floats | float:
    if kind == "oxidation":
        return _falling(humidity, OIL_DAMP_FROM, OIL_DAMP_LEAST)
    if kind == "carbonation":
        return _carbonation(humidity) / _carbonation(np.asarray(REFERENCE_PCT / 100))
    if kind in ("coalescence", "hardening"):
        film = np.clip((1 - humidity) / FILM_DAMP_WIDTH, 0.0, 1.0)
        if kind == "hardening":
            film = film * _falling(humidity, DAMP_FROM, DAMP_LEAST)
        return np.asarray(film)
    return 1.0


def _falling(humidity: Floats, start: float, least: float) -> Floats:
    """1 up to ``start``, then in a straight line to ``least`` at saturation."""
    past = np.clip((humidity - start) / (1 - start), 0.0, 1.0)
    return np.asarray(1 - (1 - least) * past)


def _carbonation(humidity: Floats) -> Floats:
    rising = (humidity / _CARB_PEAK) ** _CARB_RISE
    falling = np.maximum(0.0, (1 - humidity) / (1 - _CARB_PEAK)) ** _CARB_FALL
    return np.asarray(rising * falling)


def column(stage: str) -> Column:
    """The law that a stage or promise runs by; a window by the law of recoat."""
    if stage == "open":
        return "open"
    if stage in ("touch", "tack", "closes"):
        return "touch"
    if stage in ("recoat", "window"):
        return "recoat"
    return "cure"


def _evap(activity: float, film: float, share: float = 1.0) -> Phase:
    return Phase(kind="evaporation", activity=activity, film=film, share=share)


def _solv(energy: float, film: float, share: float = 1.0) -> Phase:
    return Phase(kind="solvent", energy_kj_mol=energy, film=film, share=share)


def _ox(thickness: float, share: float, ramp_c: tuple[float, float] = _OIL_C) -> Phase:
    return Phase(
        kind="oxidation",
        energy_kj_mol=_OXIDATION,
        thickness=thickness,
        share=share,
        ramp_c=ramp_c,
    )


def _film(share: float) -> Phase:
    return Phase(
        kind="coalescence",
        energy_kj_mol=_COALESCENCE,
        share=share,
        thickness=1.0,  # Assumed: particles join through the depth of the film
        ramp_c=_FILM_C,
    )


_DISPERSION_CURE = (_evap(_DISPERSION, _THIN, 0.1), _film(0.9))
_GLAZE_DRY = (
    _evap(_GLAZE, _THIN, 0.4),
    replace(_solv(_GLYCOL, _THIN, 0.6), ramp_c=_FILM_C),
)
_SIZE = (_solv(_WHITE_SPIRIT, _THIN, 0.1), _ox(1.0, 0.9, _SIZE_C))
_WATER = _evap(_DISPERSION, _THIN)
_PLASTER_DRY = (_evap(_GYPSUM, _PLASTER),)
_TWO_PART_CURE = (Phase(kind="reaction", energy_kj_mol=_TWO_PART, ramp_c=_TWO_PART_C),)

# Shares of the phases: Assumed from the mechanism of each family (constant-rate
# drying then coalescence, Keddie and Routh 2010; induction then oxidation, Church).
_PHASES: dict[Family, dict[Column, tuple[Phase, ...]]] = {
    "waterborne": {
        "open": (_evap(_DISPERSION, 0.0),),
        "touch": (_WATER,),
        "recoat": (_evap(_DISPERSION, _THIN, 0.6), _film(0.4)),
        "cure": _DISPERSION_CURE,
    },
    "glaze": {
        "open": (_evap(_GLAZE, 0.0),),
        "touch": _GLAZE_DRY,
        "recoat": _GLAZE_DRY,
        "cure": _DISPERSION_CURE,
    },
    "distemper": {
        "open": (_evap(_DISPERSION, 0.0),),
        "touch": (_WATER,),
        "recoat": (_WATER,),
        "cure": (_WATER,),
    },
    "oil": {
        "open": (_ox(1.0, 1.0),),
        "touch": (_solv(_WHITE_SPIRIT, _THIN, 0.2), _ox(1.0, 0.8)),
        "recoat": (_solv(_WHITE_SPIRIT, _THIN, 0.1), _ox(1.5, 0.9)),
        "cure": (_ox(2.0, 1.0),),
    },
    "spirit": {
        "open": (_solv(_ALCOHOL, 0.0),),
        "touch": (_solv(_ALCOHOL, 0.1),),
        "recoat": (_solv(_ALCOHOL, 0.2),),
        "cure": (_solv(_ALCOHOL, 0.4),),
    },
    "lime": {
        "open": (_evap(_LIME, _PLASTER),),
        "touch": (_evap(_LIME, _PLASTER),),
        "recoat": (_evap(_LIME, _PLASTER),),
        "cure": (
            _evap(_LIME, _PLASTER, 0.1),
            Phase(
                kind="carbonation",
                energy_kj_mol=_CARBONATION,
                share=0.9,
                thickness=2.0,  # depth grows with the root of time
                ramp_c=_LIME_C,
            ),
        ),
    },
    "gypsum": {
        "open": (Phase(kind="reaction", energy_kj_mol=_GYPSUM_SET),),
        "touch": _PLASTER_DRY,
        "recoat": _PLASTER_DRY,
        "cure": _PLASTER_DRY,
    },
    "oil-size": {
        "open": _SIZE,
        "touch": _SIZE,
        "recoat": _SIZE,
        "cure": (_ox(2.0, 1.0, _SIZE_C),),
    },
    "water-size": {
        "open": (_evap(_DISPERSION, 0.0),),
        "touch": (_WATER,),
        "recoat": (_WATER,),
        "cure": (_WATER,),
    },
    "two-part": {
        "open": _TWO_PART_CURE,
        "touch": _TWO_PART_CURE,
        "recoat": _TWO_PART_CURE,
        "cure": _TWO_PART_CURE,
    },
}
# A damp wall delays the next coat of lime by half at most. Assumed: limewash is given
# a day between coats in any weather, and carbonation is not waited for.
_LIME_SLOWEST = 1 / 1.5


@cache
def law(family: Family, stage: str) -> Law:
    """The law of a stage or promise of a family, before any label is read."""
    which = column(stage)
    phases = _PHASES[family][which]
    if family in ("waterborne", "glaze") and stage in ("hard", "cured"):
        phases = tuple(
            replace(phase, kind="hardening") if phase.kind == "coalescence" else phase
            for phase in phases
        )
    slowest = _LIME_SLOWEST if family == "lime" and which == "recoat" else None
    return Law(phases=phases, slowest=slowest)
