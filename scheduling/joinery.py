"""Moisture of joinery: where wood settles in a room's air, and how long that takes.

The isotherm is published (``psychrometrics.wood_moisture_pct``); the pace is not. It is
Assumed of first order: the surface fibres follow the air within minutes, a whole piece
over weeks, its lag growing with the square of the thickness as diffusion does. Bare
wood with air on all sides; painted or stacked wood takes longer.
"""

from dataclasses import dataclass
from math import inf, log

import numpy as np

from scheduling.cautions import Caution
from scheduling.limits import within
from scheduling.problem import WETTEST_PCT, Air
from scheduling.psychrometrics import wood_moisture_pct
from scheduling.room_air import RoomAir

INTERIOR_MOST_PCT = 12.0  # UFGS 09 90 00: wood 12 % (ASTM D4444); from memory
SETTLED_PCT = 1.0  # the isotherm itself is no better: Glass, FPL-GTR-229
BOARD_MM = 20.0  # the board that the lag below is of
LAG_DAYS = 7.0  # Assumed: a whole 20 mm board takes weeks to come to its air
_THICK_MM = (1.0, 200.0)  # Assumed: veneer to a newel post

_SOURCE = "UFGS 09 90 00; USDA Wood Handbook eq. 4-5; the days are judgement"


@dataclass(frozen=True, slots=True, kw_only=True)
class Acclimatising:
    """Wood on its way to the air. Days may be inf: never in this air.

    ``paintable_days`` until it is dry enough to be painted, ``settled_days`` until it
    is within a point of ``settles_at_pct`` and no longer shrinks or swells.
    """

    settles_at_pct: float
    paintable_days: float
    settled_days: float


def acclimatising(
    air: Air, moisture_pct: float, *, thickness_mm: float = BOARD_MM
) -> Acclimatising:
    """How wood of that moisture comes to that air, were it steady."""
    within(
        ("temperature_c", air.temperature_c, -30, 60),
        ("humidity_pct", air.humidity_pct, 0, 100),
        ("moisture_pct", moisture_pct, 0, WETTEST_PCT),
        ("thickness_mm", thickness_mm, *_THICK_MM),
    )
    end_pct = wood_moisture_pct(air.temperature_c, air.humidity_pct)
    lag_days = LAG_DAYS * (thickness_mm / BOARD_MM) ** 2
    away_pct = moisture_pct - end_pct

    def days(left_pct: float) -> float:
        """Until so little of the way is left."""
        if abs(away_pct) <= left_pct:
            return 0.0
        return lag_days * log(abs(away_pct) / left_pct) if left_pct > 0 else inf

    wet = moisture_pct > INTERIOR_MOST_PCT
    return Acclimatising(
        settles_at_pct=end_pct,
        paintable_days=days(max(0.0, INTERIOR_MOST_PCT - end_pct)) if wet else 0.0,
        settled_days=days(SETTLED_PCT),
    )


def joinery_caution(
    air: Air, moisture_pct: float | None = None, *, thickness_mm: float = BOARD_MM
) -> Caution | None:
    """What to mind before finish carpentry is painted; None where nothing speaks.

    Without a measured moisture only the air can be judged: whether wood left in it
    comes to be too moist.
    """
    if moisture_pct is None:
        found = acclimatising(air, 0.0, thickness_mm=thickness_mm)
        if found.settles_at_pct <= INTERIOR_MOST_PCT:
            return None
        text = (
            f"In this air wood settles at {found.settles_at_pct:.1f} %; at most "
            f"{INTERIOR_MOST_PCT:.0f} % to be painted: dry the air, measure the wood."
        )
        return Caution(code="moist-ground", text=text, source=_SOURCE)
    found = acclimatising(air, moisture_pct, thickness_mm=thickness_mm)
    if moisture_pct > INTERIOR_MOST_PCT:
        text = f"Wood {moisture_pct:.1f} %; at most {INTERIOR_MOST_PCT:.0f} %. "
        if found.paintable_days == inf:
            text += (
                f"It settles at {found.settles_at_pct:.1f} % in this air and never "
                "comes to it: dry the air first."
            )
        else:
            text += (
                f"About {_days(found.paintable_days)} in this air, where it settles "
                f"at {found.settles_at_pct:.1f} %."
            )
        return Caution(code="moist-ground", text=text, source=_SOURCE)
    if found.settles_at_pct > INTERIOR_MOST_PCT:
        text = (
            f"Wood {moisture_pct:.1f} %, but in this air it settles at "
            f"{found.settles_at_pct:.1f} %; at most {INTERIOR_MOST_PCT:.0f} %: "
            "paint it soon or dry the air."
        )
        return Caution(code="moist-ground", text=text, source=_SOURCE)
    return None


def unsettled_caution(
    air: Air, moisture_pct: float, *, thickness_mm: float = BOARD_MM
) -> Caution | None:
    """What to mind while wood has not come to its room's air; None when it has."""
    found = acclimatising(air, moisture_pct, thickness_mm=thickness_mm)
    if found.settled_days <= 0:
        return None
    does = "swells" if found.settles_at_pct > moisture_pct else "shrinks"
    text = (
        f"Wood {moisture_pct:.1f} %, and this air takes it to "
        f"{found.settles_at_pct:.1f} %: it {does} for about "
        f"{_days(found.settled_days)} yet."
    )
    return Caution(code="joinery", text=text, source=_SOURCE)


def moisture_then_pct(
    air: RoomAir,
    moisture_pct: float,
    from_min: float,
    to_min: float,
    *,
    thickness_mm: float = BOARD_MM,
) -> float:
    """What wood of that moisture comes to between two minutes of a room's air.

    Exact for the first-order pace in air of steps; never backwards in time.
    """
    lag_min = LAG_DAYS * 1440 * (thickness_mm / BOARD_MM) ** 2
    if to_min <= from_min:
        return moisture_pct
    edges = np.arange(len(air) + 1) * air.step_min
    edges[0], edges[-1] = -inf, inf
    edges = np.clip(edges, from_min, to_min)
    settles = wood_moisture_pct(air.temperature_c, air.humidity_pct)
    left = np.exp((edges - to_min) / lag_min)
    return float(moisture_pct * left[0] + (settles * np.diff(left)).sum())


def _days(days: float) -> str:
    whole = max(1, round(days))
    return "a day" if whole == 1 else f"{whole} days"
