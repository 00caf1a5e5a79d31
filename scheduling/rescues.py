"""Windows given up for a rescue where the plan is better so.

A rescue (a scuff, the coat before once more) costs its own time and wait, and frees
the step behind it of its window. A process that offers rescues leaves each open; the
exact model decides them, big jobs try some one by one. What is decided is planned as a
process of its own, so that nothing but the model need know of choices.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from scheduling.greedy import Greedy
from scheduling.placing import Placing, score
from scheduling.process import Mode, Process, Unit, only_units

Judged = tuple[float, int, int]
# Stints placed while rescues are tried one by one: some tenths of a second.
STINTS_TRIED = 1_500


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """A process whose rescues are decided, and a plan of it."""

    process: Process
    placing: Placing


def relaxed(process: Process) -> Process:
    """No rescue costs anything and no window that one could save binds.

    Whatever rescues a plan makes, it is a plan of this one: so bounds hold for all.
    """
    savers = {choice.saver for choice in process.choices}
    if not savers:
        return process
    n = len(process.axis)
    never, untested = np.full(n, n, dtype=np.int64), np.zeros(n, dtype=bool)
    waits = tuple(
        wait if wait.saver is None else replace(wait, high=never, test=untested)
        for wait in process.waits
        if not {wait.before, wait.after} & savers
    )
    return replace(
        process,
        units=tuple(
            _free(unit, n) if unit.index in savers else unit for unit in process.units
        ),
        waits=waits,
        loads=tuple(
            replace(
                load,
                demand={u: row for u, row in load.demand.items() if u not in savers},
            )
            for load in process.loads
        ),
        aparts=tuple(
            row for row in process.aparts if not {row.maker, row.coat} & savers
        ),
        before={
            unit.index: tuple(w for w in waits if w.after == unit.index)
            for unit in process.units
        },
        after={
            unit.index: tuple(w for w in waits if w.before == unit.index)
            for unit in process.units
        },
        choices=(),
    )


def decided(process: Process, made: frozenset[int]) -> Process:
    """The process with these rescues made, by number, and the others not there."""
    spared = {choice.saver for choice in process.choices} - made
    due = {c.unit: c.due for c in process.choices if c.saver in spared}
    waits = tuple(
        replace(wait, saver=None)
        for wait in process.waits
        if wait.saver is None or wait.saved == (wait.saver in made)
    )
    units = tuple(
        replace(unit, due=due.get(unit.index, unit.due)) for unit in process.units
    )
    whole = replace(process, units=units, waits=waits, choices=())
    return only_units(whole, {unit.index for unit in units} - spared)


def _free(unit: Unit, n: int) -> Unit:
    anywhere = np.arange(n) > 0
    mode = Mode(hands=0, slots=0, may_start=anywhere, unbarred=anywhere)
    return replace(unit, modes=(mode,), release=0)


def carried(placing: Placing, one: Process, other: Process) -> Placing | None:
    """A plan of one process as a plan of another that has all its stints, else None."""
    places = {other.keys[unit.id]: unit.index for unit in other.units}
    keys = {index: one.keys[one.units[index].id] for index in placing}
    if not places.keys() >= set(keys.values()):
        return None
    return {places[keys[index]]: placed for index, placed in placing.items()}


def settled(offered: Process, placing: Placing) -> Settled:
    """The process with the rescues that a plan makes, less those that save nothing."""
    spare = _needless(offered, placing)
    kept = {index: placed for index, placed in placing.items() if index not in spare}
    process = decided(offered, frozenset(c.saver for c in offered.choices) & set(kept))
    carried_over = carried(kept, offered, process)
    assert carried_over is not None  # noqa: S101 - both name their stints alike
    return Settled(process=process, placing=carried_over)


def _needless(process: Process, placing: Placing) -> set[int]:
    """Rescues of stints that stand inside their window anyway."""
    spare = set()
    for choice in process.choices:
        placed = placing[choice.unit]
        if choice.saver not in placing or placed.work_start > choice.due:
            continue
        inside = True
        for wait in process.before[choice.unit]:
            if wait.saver == choice.saver and not wait.saved:
                last = placing[wait.before].last
                inside &= not wait.test[last]
                inside &= int(wait.low[last]) <= placed.start
                inside &= placed.work_start <= int(wait.high[last])
        if inside:
            spare.add(choice.saver)
    return spare


def by_trying(
    start: Settled, offered: Process, go_on: Callable[[], bool] = lambda: True
) -> Settled:
    """Make or leave out one rescue after the other while the plan gets better.

    Each is judged by a constructive plan: lateness, finish, rescues, in this order.
    """
    tries = max(1, STINTS_TRIED // max(1, len(start.process.units)))
    best, judged = start, _judged(start, offered)
    made = _made(start.process, offered)
    savers = _by_urgency(start, offered)
    while tries > 0:
        better = False
        for saver in savers[:tries]:
            tries -= 1
            if not go_on():
                return best
            process = decided(offered, made ^ {saver})
            placing = Greedy(process).best()
            if placing is None:
                continue
            found = Settled(process=process, placing=placing)
            new = _judged(found, offered)
            if new < judged:
                best, judged, made, better = found, new, made ^ {saver}, True
        if not better:
            break
    return best


def _made(process: Process, offered: Process) -> frozenset[int]:
    """The rescues of a process among those that are open to choice."""
    names = set(process.keys.values())
    return frozenset(
        choice.saver
        for choice in offered.choices
        if offered.keys[offered.units[choice.saver].id] in names
    )


def _judged(plan: Settled, offered: Process) -> Judged:
    whole = score(plan.process, plan.placing)
    return whole.late, whole.finish, len(_made(plan.process, offered))


def _by_urgency(plan: Settled, offered: Process) -> list[int]:
    """Rescues open to choice: those made, then of the windows with least left."""
    own = {
        plan.process.keys[unit.id]: plan.placing[unit.index]
        for unit in plan.process.units
    }
    made = _made(plan.process, offered)
    left: dict[int, int] = {}
    for choice in offered.choices:
        if choice.saver in made:
            left[choice.saver] = -1
            continue
        key = offered.keys[offered.units[choice.unit].id]
        start, shuts = own[key].work_start, choice.due
        for wait in offered.before[choice.unit]:
            if wait.saver == choice.saver and not wait.saved:
                before = own[offered.keys[offered.units[wait.before].id]]
                shuts = min(shuts, int(wait.high[before.last]))
        left[choice.saver] = shuts - start
    return sorted(left, key=lambda saver: (left[saver], saver))
