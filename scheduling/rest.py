"""What is left of a job behind the stints that stand: the same rules, fewer units.

The end of a plan of a big job is planned again by the exact model this way. Stints
that stand bind the rest by their waits, their dust and their open coats, never by
hands: the cut lies where nobody is at work.
"""

from dataclasses import dataclass, replace

import numpy as np

from scheduling.placing import Placing
from scheduling.process import Process, Unit, Wait


@dataclass(frozen=True, slots=True)
class Rest:
    """A process of the units that are left; ``units[k]`` is what its unit k was."""

    process: Process
    units: tuple[int, ...]


def cuts(process: Process, placing: Placing) -> list[int]:
    """Slots at which a stretch begins and no stint is under way, in order."""
    under_way = np.zeros(len(process.axis) + 1, dtype=bool)
    for placed in placing.values():
        under_way[placed.start + 1 : placed.end] = True
    return [
        int(end)
        for end in np.unique(process.axis.stretch_end)
        if end < len(process.axis) and not under_way[end]
    ]


def rest_from(process: Process, placing: Placing, begin: int) -> Rest:
    """The units that start at a cut or later, none of them to start before it."""
    left = [unit for unit in process.units if placing[unit.index].start >= begin]
    new = {unit.index: number for number, unit in enumerate(left)}
    low = dict.fromkeys(new, begin)
    for apart in process.aparts:  # dust and coats before the cut
        if apart.coat in new and apart.maker not in new:
            settled = int(apart.settled[placing[apart.maker].last])
            low[apart.coat] = max(low[apart.coat], settled)
        if apart.maker in new and apart.coat not in new:
            clear = int(apart.clear[placing[apart.coat].last])
            low[apart.maker] = max(low[apart.maker], clear)
    waits = [
        replace(wait, before=new[wait.before], after=new[wait.after])
        for wait in process.waits
        if wait.before in new and wait.after in new
    ]
    before: dict[int, list[Wait]] = {number: [] for number in new.values()}
    after: dict[int, list[Wait]] = {number: [] for number in new.values()}
    for wait in waits:
        before[wait.after].append(wait)
        after[wait.before].append(wait)
    rest = replace(
        process,
        units=tuple(
            _bound(process, placing, unit, new[unit.index], low[unit.index], begin)
            for unit in left
        ),
        waits=tuple(waits),
        aparts=tuple(
            replace(apart, maker=new[apart.maker], coat=new[apart.coat])
            for apart in process.aparts
            if apart.maker in new and apart.coat in new
        ),
        promises=tuple(
            replace(promise, unit=new[promise.unit])
            for promise in process.promises
            if promise.unit in new
        ),
        loads=tuple(
            replace(
                load, demand={new[i]: row for i, row in load.demand.items() if i in new}
            )
            for load in process.loads
        ),
        before={number: tuple(row) for number, row in before.items()},
        after={number: tuple(row) for number, row in after.items()},
    )
    return Rest(rest, tuple(unit.index for unit in left))


def _bound(
    process: Process, placing: Placing, unit: Unit, index: int, low: int, begin: int
) -> Unit:
    """A unit that is left, held by the stints before the cut that it waits for."""
    high, test = unit.due, unit.test_first
    low = max(low, unit.release)
    for wait in process.before[unit.index]:
        if placing[wait.before].start >= begin:
            continue
        last = placing[wait.before].last
        low = max(low, int(wait.low[last]))
        if wait.stage:
            high = min(high, int(wait.high[last]))
            test = test or bool(wait.test[last])
    return replace(unit, index=index, release=low, due=high, test_first=test)
