"""How many hands may do a unit and where they may start, or why there is no start."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from scheduling import wet_edge
from scheduling.bars import why_never
from scheduling.clock_tables import ClockTables
from scheduling.openings import Openings
from scheduling.plan import Reason
from scheduling.process import (
    Mode,
    Unit,
    minutes_text,
    open_needed_min,
    slots_of,
)
from scheduling.working_time import SLOT_MIN, Mask

# Assumed: a wet edge that holds in fewer of the hours than this is nothing to plan on;
# the wall is planned all the same and the plan says so.
OFTEN = 0.25


def modes_of(
    openings: Openings, tables: ClockTables, unit: Unit
) -> tuple[Mode, ...] | Reason:
    """The numbers of hands that find a start in hours and air; a reason if none does.

    The wet edge is not looked at; see ``wet_modes``.
    """
    step, surface = unit.step, unit.surface
    if openings.hands and not any(
        step.skill in (None, *hand.skills) for hand in openings.hands
    ):
        text = f"{unit.called}: needs the skill {step.skill}, which no hand has"
        return Reason(code="hands", text=text)
    air = np.ones(len(openings.axis), dtype=bool)
    if unit.material is not None:
        air = tables.may_start(surface, unit.material.family)
    modes = []
    for count in openings.counts(surface, step):
        there = _enough(openings, unit, count)
        unbarred = there & air
        bars = openings.barred_for(unit, count)
        may_start = unbarred.copy()
        for bar in bars:
            may_start &= bar.may_start
        if may_start.any():
            modes.append(
                Mode(
                    hands=count,
                    slots=slots_of(step, unit.area_m2, count),
                    may_start=may_start,
                    unbarred=unbarred,
                    bars=bars,
                )
            )
    return tuple(modes) or _why_nowhere(openings, unit, air)


def wet_modes(
    tables: ClockTables, unit: Unit, modes: Sequence[Mode]
) -> tuple[Mode, ...]:
    """Keep, hour by hour, the numbers of hands that hold the wet edge; () if none."""
    step, surface = unit.step, unit.surface
    if not step.wet or unit.material is None or "open" not in unit.material.labels:
        return tuple(modes)
    open_min = tables.open_min(surface, unit.material, unit.laid)
    kept = []
    for mode in modes:
        needed = open_needed_min(step, surface, unit.area_m2, mode.hands)
        holds = mode.may_start & (open_min >= needed)
        if holds.sum() >= OFTEN * mode.may_start.sum():
            kept.append(replace(mode, may_start=holds))
    return tuple(kept)


def too_short_text(unit: Unit) -> str:
    """The remark on a unit planned although no number of hands holds its wet edge."""
    assert unit.material is not None  # noqa: S101 - only what is wet dries too soon
    return (
        f"{unit.called}: the open time of "
        f"{unit.material.name or unit.material.id} is mostly too short for a strip "
        f"of {wet_edge.NARROWEST_M:g} m with {unit.step.hands.counts[-1]} at the wall; "
        "planned all the same: add a hand, a slower medium or a stop line"
    )


def _enough(openings: Openings, unit: Unit, hands: int) -> Mask:
    """Starts at which so many of those who may do the unit are there."""
    return openings.enough(
        unit.surface, unit.step, unit.area_m2, hands, unit.lead, unit.kept_off
    )


def _why_nowhere(openings: Openings, unit: Unit, air: Mask) -> Reason:
    step, surface, name = unit.step, unit.surface, unit.called
    counts = openings.counts(surface, step)
    most = openings.job.room(surface.room).hands_most
    if not counts and most is not None and most < step.hands.least:
        return Reason(
            code="room",
            text=f"{name}: needs {wet_edge.people(step.hands.least)} at once; "
            f"room {surface.room} holds {most}",
        )
    if not counts:
        return Reason(
            code="hands",
            text=f"{name}: needs {wet_edge.people(step.hands.least)} at once; "
            f"the job has {len(openings.hands)}",
        )
    slots = min(slots_of(step, unit.area_m2, count) for count in counts)
    hours = openings.open_for(surface, step, slots)
    time = minutes_text(slots * SLOT_MIN)
    if not hours.any():
        kind = "unbroken stretch" if step.wet else "day's hours"
        best = openings.longest_slots(surface, wet=step.wet)
        return Reason(
            code="hours",
            text=f"{name}: needs {time} in one {kind}; the longest in room "
            f"{surface.room} is {minutes_text(best * SLOT_MIN)}",
        )
    if not (hours & air).any():
        return Reason(
            code="air",
            text=f"{name}: no coat of {step.material} may start in this air in any "
            f"working hour of the next {openings.days} days",
        )
    for count in counts:
        starts = _enough(openings, unit, count) & air
        if not starts.any():
            continue
        for bar in openings.barred_for(unit, count):
            starts &= bar.may_start
            if not starts.any():
                return Reason(code=bar.code, text=f"{name}: {why_never(bar)}")
    if unit.kept_off and any(
        (openings.enough(surface, step, unit.area_m2, count) & air).any()
        for count in counts
    ):
        text = (
            f"{name}: of those not kept off it too few are there, or without its skill"
        )
        return Reason(code="ban", text=text)
    skill = f" with the skill {step.skill}" if step.skill else ""
    if step.hands.least == 1:
        text = f"needs a hand{skill} for {time}; none is ever there that long"
    else:
        one = f", one{skill}," if skill else ""
        text = (
            f"needs {wet_edge.people(step.hands.least)}{one} for {time} at once; they "
            "are never there together that long"
        )
    return Reason(code="hands", text=f"{name}: {text}")
