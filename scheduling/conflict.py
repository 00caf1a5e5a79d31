"""Why there is no plan: what cannot be met together."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from scheduling.plan import Reason
from scheduling.process import (
    Process,
    Promise,
    called,
    dated_text,
    day_text,
    earliest_ends,
    minutes_text,
    only_units,
)
from scheduling.solver import Effort, solve
from scheduling.working_time import SLOT_MIN

WISH_WORDS: Mapping[str, str] = {
    "open": "closed",
    "touch": "dry to touch",
    "recoat": "ready to recoat",
    "through": "dry through",
    "hard": "hard",
    "window": "past its window",
    "cured": "cured",
    "tack": "at tack",
    "closes": "closed",
    "handle": "fit to handle",
    "load": "fit to load",
    "wash": "fit to wash",
    "full": "fully cured",
}
REASONS_TOLD = 4  # of each kind: what to change, not a list of all it stops
TRIAL = Effort(budget=2.0)  # for each date left out on trial


def why_no_plan(
    process: Process, failed: str | None, effort: Effort
) -> Sequence[Reason]:
    """The smallest set of musts found that cannot all be kept, in the trade's words.

    ``failed`` is the unit that found no place, where none was found even without them.
    """
    gates = list(gates_beyond(process))
    alone = list(_impossible_alone(process))
    if gates or alone:
        return [*gates, *alone]
    musts = sorted({p.date for p in process.promises if p.wish.must})
    if musts and failed is None:  # else there is no plan even without the dates
        return list(_together(process, musts, effort))
    name = failed or "a stint"
    for unit in process.units:
        if unit.id == failed:
            name = f"{called(unit.surface)}, {unit.step.name or unit.step.id}"
    text = (
        f"{name}: no time was found that fits its waits and windows, the hands and the "
        "hours together; not proved impossible"
    )
    return [Reason(code="window", text=text)]


def gates_beyond(process: Process) -> Iterable[Reason]:
    """Gates that keep a surface's work beyond the days looked at, one a surface."""
    axis = process.axis
    left = {unit.surface.id for unit in process.units}
    for surface in process.job.surfaces:
        opened = surface.opened_by
        if surface.id not in left or opened is None:
            continue
        name, moment = opened
        if axis.slot_from(axis.minute_of(moment)) < len(axis):
            continue
        opens = dated_text(moment, process.job)
        text = f"{called(surface)}: not before {name}, {opens}"
        if len(axis):
            last = dated_text(axis.end_of(len(axis) - 1), process.job)
            text += f"; no plan looks further than {last}"
        yield Reason(code="gate", text=text)


def _impossible_alone(process: Process) -> Iterable[Reason]:
    """Dates out of reach even if every hand were free for them, by their last wall."""
    ends = earliest_ends(process)
    worst: dict[int, tuple[float, Promise, int]] = {}
    for promise in process.promises:
        end = ends[promise.unit]
        inside = end <= len(process.axis)
        late = float(promise.late_min[end - 1 :].min()) if inside else np.inf
        known = worst.get(promise.date)
        if promise.wish.must and late > 0 and (known is None or late > known[0]):
            worst[promise.date] = late, promise, end
    for _, (late, promise, end) in sorted(worst.items()):
        unit = process.units[promise.unit]
        step = f"{called(unit.surface)}, {unit.step.name or unit.step.id}"
        text = f"{_wish_text(process, promise)}; that cannot be kept"
        if end <= len(process.axis):
            ended = day_text(process.axis.end_of(end - 1), process.job)
            text += f": with hands without limit {step} ends {ended} at the earliest"
            if np.isfinite(late):
                by = process.axis.minute_of(promise.wish.by)
                moment = process.axis.moment(by + late)
                text += f" and gets there {day_text(moment, process.job)}"
            else:
                text += " and never gets there in this air"
        else:
            text += f": {step} is not finished in the time looked at"
        yield Reason(code="date", text=text)


def _together(
    process: Process, musts: Sequence[int], effort: Effort
) -> Iterable[Reason]:
    """Leave dates out one by one; keep those without which a plan would exist."""
    trial = min(effort.budget, TRIAL.budget)
    conflict = list(musts)
    proved = _infeasible(process, conflict, trial)
    if proved:
        for date in musts:
            rest = [other for other in conflict if other != date]
            if rest and _infeasible(process, rest, trial):
                conflict = rest
    if not proved:
        yield Reason(
            code="unproved",
            text="No plan was found in this time that keeps every date that must be "
            "kept; it is not proved that there is none.",
        )
    latest = 0
    for date in conflict:
        promises = [p for p in process.promises if p.date == date and p.wish.must]
        yield Reason(code="date", text=f"{_wish_text(process, promises[0])}")
        for promise in promises:
            kept = np.flatnonzero(promise.late_min <= 0)
            latest = max(latest, int(kept[-1]) + 1 if len(kept) else 0)
    bound = {p.unit for p in process.promises if p.date in conflict and p.wish.must}
    yield _hands_reason(process, bound, latest)


def _infeasible(process: Process, dates: Sequence[int], budget: float) -> bool:
    kept = tuple(p for p in process.promises if p.date in dates and p.wish.must)
    trial = replace(process, promises=kept)
    latest = max(
        (int(np.flatnonzero(p.late_min <= 0)[-1]) + 2 for p in kept), default=1
    )
    units = _needed(trial, {p.unit for p in kept})
    trial = only_units(trial, units)
    horizon = min(len(process.axis), latest)
    return (
        solve(trial, None, effort=Effort(budget=budget), horizon=horizon).outcome
        == "infeasible"
    )


def _needed(process: Process, last: set[int]) -> set[int]:
    """These units and all that they wait for."""
    needed = set(last)
    waiting = list(last)
    while waiting:
        for wait in process.before[waiting.pop()]:
            if wait.before not in needed:
                needed.add(wait.before)
                waiting.append(wait.before)
    return needed


def _wish_text(process: Process, promise: Promise) -> str:
    wish = promise.wish
    names = {room.id: room.name or room.id for room in process.job.rooms}
    names |= {s.id: called(s) for s in process.job.surfaces}
    what = "the whole job"
    if wish.job is None:
        what = names[wish.surface or wish.room or ""]
    end = WISH_WORDS.get(wish.stage or wish.promise or "", "done")
    return f"{what} must be {end} by {day_text(wish.by, process.job)}"


def _hands_reason(process: Process, last: set[int], latest: int) -> Reason:
    may = {choice.saver for choice in process.choices}  # be left out
    needed = sorted(_needed(process, last) - may)
    units = [process.units[number] for number in needed]
    work = SLOT_MIN * sum(
        min((m.slots * m.hands for m in unit.modes), default=0) for unit in units
    )
    there = sum(int(hand.there[:latest].sum()) for hand in process.hands) * SLOT_MIN
    crew = max((unit.modes[0].hands for unit in units if unit.modes), default=1)
    text = (
        f"Before that, {minutes_text(work)} of hands are needed and "
        f"{minutes_text(there)} are there; with the waits between coats they do not fit"
    )
    if crew > 1:
        most = max(units, key=lambda unit: unit.modes[0].hands if unit.modes else 0)
        text += (
            f"; {called(most.surface)}, {most.step.name or most.step.id} takes "
            f"{crew} at once"
        )
    return Reason(code="hands", text=text)


def told_short(reasons: Iterable[Reason]) -> Iterable[Reason]:
    """Of each kind the first few: what stops a room stops its every step alike."""
    by_code: dict[str, list[Reason]] = {}
    for reason in reasons:
        by_code.setdefault(reason.code, []).append(reason)
    for code, alike in by_code.items():
        yield from alike[:REASONS_TOLD]
        more = len(alike) - REASONS_TOLD
        if more > 0:
            words = "one stint more" if more == 1 else f"{more} stints more"
            yield Reason(code=code, text=f"And so are {words}, for such a reason.")
