"""The clocks of a coat: early, likely and safe minutes from its end to each stage.

A label's minutes run through the air of the room step by step. Knows nothing of hands,
days or plans; ``cautions`` says whether a coat may start at all.
"""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

import numpy as np

from scheduling.cautions import Caution, cautions, margin_c, may_start
from scheduling.coats import OPEN_LONGEST, Clock, Coats, Which, Worked
from scheduling.integral import Cumulative, Places, StepByStep
from scheduling.problem import Air, Family, Label, Material
from scheduling.psychrometrics import (
    frost_point_c,
    humidity_ratio_g_kg,
    vapour_pa,
)
from scheduling.rate_laws import REFERENCE_C, REFERENCE_PCT
from scheduling.room_air import STILL_AIR_M_S, Floats, RoomAir, constant_air

__all__ = [
    "Clock",
    "Which",
    "Worked",
    "clock",
    "clocks_answer",
    "hours_in",
    "in_air",
    "progress",
    "walked",
]

_NEVER_DONE = 0.02  # drawn as left of a wait that another stage holds for ever
_NO_TIME = datetime(2000, 1, 1, tzinfo=UTC)  # steady air needs some start


def clock(
    material: Material,
    stage: str,
    air: RoomAir,
    ends_min: Floats,
    *,
    coat: float = 1.0,
    porous: bool = False,
    worked: Worked | None = None,
    early: bool = True,
) -> Clock:
    """The clock of a stage or promise for coats ended at ``ends_min`` of the air.

    ``coat`` 2.0 is twice as thick as the label's; ``porous`` shortens an open time.
    No coat overtakes an earlier one among ``ends_min``: a wait is lengthened to the end
    of the earlier coat's (running maximum over sorted ends), an open or closing time
    is cut to that of the later coat (running minimum from the right). KeyError where
    the label is silent. ``worked`` (of ``in_air``) saves working out the air again;
    ``early`` False leaves the early end of a wait as its likely one.
    """
    ends = np.asarray(ends_min, dtype=np.float64)
    worked = worked or in_air(air)
    return Coats(material, ends, coat, porous, worked, early=early).clock(stage)


def in_air(air: RoomAir, places: Places | None = None) -> Worked:
    """What many clocks in one air may share; give it to each ``clock``.

    ``places`` lets airs on the same steps share where in them the ends lie.
    """
    shared = places or Places(air.step_min, len(air))

    def made(rate: Floats, step_min: float, tilt: Floats | None) -> Cumulative:
        return Cumulative(rate, step_min, tilt, shared)

    return Worked(air, made)


def walked(air: RoomAir) -> Worked:
    """What many clocks walked in one air may share; give it to each ``hours_in``."""
    return Worked(air, StepByStep)


def hours_in(
    material: Material,
    stage: str,
    air: RoomAir,
    end_min: float,
    coat: float = 1.0,
    *,
    porous: bool = False,
    worked: Worked | None = None,
) -> Clock:
    """The clock of one coat, in minutes too, walked step by step in plain loops.

    Arrays of no dimension: ``float()`` takes them. Independent of ``clock`` in how it
    integrates, so that an audit can hold one against the other. ``worked`` (of
    ``walked``) saves working out the air again for each coat.
    """
    ends = np.array([end_min], dtype=np.float64)
    worked = worked or walked(air)
    found = Coats(material, ends, coat, porous, worked).clock(stage)
    return Clock(
        early_min=found.early_min.reshape(()),
        likely_min=found.likely_min.reshape(()),
        safe_min=found.safe_min.reshape(()),
    )


def progress(
    material: Material,
    stage: str,
    air: RoomAir,
    end_min: float,
    at_min: Floats,
    which: Which = "likely",
    *,
    coat: float = 1.0,
) -> Floats:
    """Share of the wait still left at those minutes of the air, 1 falling to 0.

    A wait that never ends keeps a share above 0.
    """
    ends = np.array([end_min], dtype=np.float64)
    coats = Coats(material, ends, coat, False, in_air(air))
    wait_min = float(coats.clock(stage).end_min(which)[0])
    at = np.maximum(np.asarray(at_min, dtype=np.float64), end_min)
    if not np.isfinite(wait_min):
        return np.maximum(1 - coats.share_done(stage, at), _NEVER_DONE)
    finish = np.array([end_min + wait_min])
    whole = float(coats.share_done(stage, finish)[0])
    done = coats.share_done(stage, np.minimum(at, finish))
    lawful = float(coats.law_min(stage)[0])
    if whole <= 0 or lawful < wait_min * (1 - 1e-9):
        # Another rule than the law ends this wait: draw it falling evenly.
        left = 1 - (at - end_min) / wait_min if wait_min > 0 else np.zeros_like(at)
    else:
        left = 1 - done / whole
    return np.clip(left, 0.0, 1.0)


Answer = dict[str, Any]


def clocks_answer(
    *,
    family: Family,
    labels: Mapping[str, Label],
    air: Air,
    label_air: Air | None = None,
    surface_c: float | None = None,
    moving_air_m_s: float = STILL_AIR_M_S,
    coat: float = 1.0,
) -> Answer:
    """Every clock of a label in steady air, as the JSON answer of ``clocks``.

    Numbers unrounded; None is never. ``labels`` may hold promises too. BadInput where
    the label's own air is one in which the stage cannot end.
    """
    surface = air.temperature_c if surface_c is None else surface_c
    usual = Air(temperature_c=REFERENCE_C, humidity_pct=REFERENCE_PCT)
    material = Material(
        id="label", family=family, label_air=label_air or usual, labels=labels
    )
    steady = constant_air(
        _NO_TIME,
        temperature_c=air.temperature_c,
        humidity_pct=air.humidity_pct,
        surface_c=surface,
        moving_air_m_s=moving_air_m_s,
    )
    found = {
        stage: clock(material, stage, steady, np.zeros(1), coat=coat)
        for stage in labels
    }
    never = tuple(s for s, c in found.items() if not np.isfinite(c.likely_min[0]))
    given = cautions(
        family,
        air,
        surface_c=surface,
        moving_air_m_s=moving_air_m_s,
        coat=coat,
        never=never,
        open_capped="open" in found and _capped(material, found["open"]),
    )
    vapour = vapour_pa(air.temperature_c, air.humidity_pct)
    margin = margin_c(air, surface)
    return {
        "air": {
            "temperature_c": air.temperature_c,
            "humidity_pct": air.humidity_pct,
            "dew_point_c": None if margin is None else frost_point_c(vapour),
            "vapour_pa": vapour,
            "humidity_ratio_g_kg": humidity_ratio_g_kg(vapour),
        },
        "surface_c": surface,
        "margin_c": margin,
        "may_start": may_start(given, family),
        "cautions": _told(given),
        "clocks": {
            stage: {
                "label_min": list(material.label_min(stage) or ()),
                "early_min": _number(c.early_min),
                "likely_min": _number(c.likely_min),
                "safe_min": _number(c.safe_min),
                "plan_min": _number(c.plan_min(stage)),
            }
            for stage, c in found.items()
        },
    }


def _capped(material: Material, found: Clock) -> bool:
    low, high = material.label_min("open") or (0.0, 0.0)
    longest = OPEN_LONGEST * (low + high) / 2
    return bool(found.likely_min[0] >= longest * (1 - 1e-12) > 0)


def _told(given: Iterable[Caution]) -> list[dict[str, str]]:
    return [{"code": c.code, "text": c.text, "source": c.source} for c in given]


def _number(value: Floats) -> float | None:
    minutes = float(value[0])
    return minutes if np.isfinite(minutes) else None
