"""Slots turned back into stints on the site's clock, each coat with its own clocks."""

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from scheduling import drying
from scheduling.chance import wait_min
from scheduling.clock_tables import window_stage
from scheduling.ground import Laid
from scheduling.placing import Placed, Placing
from scheduling.plan import Range, Reason, Stint
from scheduling.problem import CLOSING, Coat, Job, Material
from scheduling.process import Process, Unit, day_text
from scheduling.roles import roles_at
from scheduling.room_air import RoomAir

NO_REASON = Reason(code="start", text="As early as it can be.")


def make_stints(
    process: Process,
    placing: Placing,
    wait_air: Mapping[str, RoomAir],
    open_air: Mapping[str, RoomAir],
    reasons: Mapping[int, Reason],
) -> tuple[Stint, ...]:
    """All stints of a placing by their start; ``reasons`` by unit."""
    stints: list[Stint] = []
    ends: dict[str, str] = {}  # the stint that ends each unit's work
    taken = {unit.id for unit in process.units}
    for unit in process.units:
        placed = placing[unit.index]
        reason = reasons.get(unit.index, NO_REASON)
        hands = tuple(process.hands[number].id for number in placed.hands)
        if placed.test:
            name = _longer(unit.id, "test", taken)
            stints.append(_test(process, unit, placed, hands[:1], reason, name))
        spans = _spans(process, unit, placed)
        for number, (first, last) in enumerate(spans, start=1):
            made = Stint(
                id=(
                    unit.id if len(spans) == 1 else _longer(unit.id, str(number), taken)
                ),
                kind=unit.kind,
                surface=unit.surface.id,
                section=unit.section,
                step=unit.step.id,
                hands=hands,
                start=process.axis.start_of(first),
                end=process.axis.end_of(last),
                reason=reason,
                roles=_roles(process, unit, hands),
            )
            if number == len(spans) and unit.material is not None:
                surface = unit.surface.id
                made = _with_clocks(
                    process,
                    unit.material,
                    unit.laid,
                    made,
                    wait_air[surface],
                    open_air[surface],
                )
            if number > 1:
                made = replace(made, reason=_goes_on(process.job, stints[-1]))
            stints.append(made)
            ends[unit.id] = made.id
    stints = [_naming(stint, ends) for stint in stints]
    # By the second, not by the face of the clock, which shows an hour of autumn twice.
    return tuple(sorted(stints, key=lambda s: (s.start.timestamp(), s.id)))


def _roles(process: Process, unit: Unit, hands: tuple[str, ...]) -> Mapping[str, str]:
    lead = None if unit.lead is None else process.hands[unit.lead].id
    return roles_at(process.job, unit.step, hands, lead)


def _goes_on(job: Job, before: Stint) -> Reason:
    text = f"Goes on from {day_text(before.end, job)}."
    return Reason(code="order", text=text, other=before.id)


def _longer(unit_id: str, tail: str, taken: Collection[str]) -> str:
    """A unit's id with a tail, told from a unit that bears this very id."""
    name = f"{unit_id}-{tail}"
    return name if name not in taken else f"{unit_id[:33]}-x{tail}"


def _naming(stint: Stint, ends: Mapping[str, str]) -> Stint:
    """The stint with its reason naming a stint, where the planner named a unit."""
    other = stint.reason.other
    if other is None or ends.get(other, other) == other:
        return stint
    return replace(stint, reason=replace(stint.reason, other=ends[other]))


def planned_coats(process: Process, placing: Placing) -> tuple[Coat, ...]:
    """The coats a placing puts on, as if logged."""
    return tuple(
        Coat(
            surface=unit.surface.id,
            section=unit.section,
            step=unit.step.id,
            start=process.axis.start_of(placing[unit.index].work_start),
            end=process.axis.end_of(placing[unit.index].last),
        )
        for unit in process.units
        if unit.material is not None and unit.kind == "work"
    )


def asked_moment(clock: Range, end: datetime, chance: float | None) -> datetime | None:
    """When a stage counts as reached: its safe end, or in that share of cases."""
    if chance is None:
        return clock.safe
    early, likely, safe = (
        np.array([math.inf if m is None else (m - end).total_seconds() / 60])
        for m in (clock.early, clock.likely, clock.safe)
    )
    ends = drying.Clock(early_min=early, likely_min=likely, safe_min=safe)
    minutes = float(wait_min(ends, chance)[0])
    return end + timedelta(minutes=minutes) if math.isfinite(minutes) else None


def _test(
    process: Process,
    unit: Unit,
    placed: Placed,
    hands: tuple[str, ...],
    reason: Reason,
    name: str,
) -> Stint:
    text = "The clocks' safe ends leave no room here: test first, then decide."
    return Stint(
        id=name,
        kind="test",
        surface=unit.surface.id,
        section=unit.section,
        step=unit.step.id,
        hands=hands,
        start=process.axis.start_of(placed.start),
        end=process.axis.end_of(placed.start),
        reason=Reason(code=reason.code, text=text, other=reason.other),
    )


def _spans(process: Process, unit: Unit, placed: Placed) -> list[tuple[int, int]]:
    """First and last slot of each stint: one, or one a day for work that splits."""
    spans = []
    first = placed.work_start
    while first < placed.end:
        end = placed.end
        if unit.step.splits:
            end = min(end, int(process.axis.day_end[first]))
        spans.append((first, end - 1))
        first = end
    return spans


def _with_clocks(
    process: Process,
    material: Material,
    laid: Laid,
    stint: Stint,
    wait: RoomAir,
    opened: RoomAir,
) -> Stint:
    def of(stage: str, air: RoomAir) -> Range:
        end = air.minute(stint.end)
        clock = drying.clock(
            material, stage, air, np.array([end]), coat=laid.coat, porous=laid.porous
        )
        return Range(
            early=_moment(process, stint, float(clock.early_min[0]), math.floor),
            likely=_moment(process, stint, float(clock.likely_min[0]), round),
            safe=_moment(process, stint, float(clock.safe_min[0]), math.ceil),
        )

    closing = window_stage(material)
    return replace(
        stint,
        open=of("open", opened) if "open" in material.labels else None,
        ready={
            stage: of(stage, wait)
            for stage in material.labels
            if stage != "open" and stage not in CLOSING
        },
        closes=of(closing, opened) if closing else None,
        promises={name: of(name, wait) for name in material.promises},
    )


def _moment(
    process: Process, stint: Stint, minutes: float, whole: Callable[[float], int]
) -> datetime | None:
    """A moment to the second: early ends rounded down, safe ends up."""
    if not math.isfinite(minutes):
        return None
    seconds = whole(round(minutes * 60, 3))
    utc = stint.end.astimezone(process.axis.origin.tzinfo) + timedelta(seconds=seconds)
    return utc.astimezone(process.job.site.tz)
