"""Stints at fixed distances from one another, seen as one block.

Where a wait leaves its second stint a single slot, the two move together. What two such
blocks may not do is then a set of differences between their starts, known beforehand.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from scheduling.process import Process, Unit, Wait, share_wall

Block = Mapping[int, int]  # a unit and its start after that of the first unit


def fixed_blocks(process: Process) -> Sequence[Block]:
    """Every unit in one block, most alone; a block's first unit has distance 0.

    Rescues that may not be done are in none, and waits that may not hold bind nothing.
    """
    savers = {choice.saver for choice in process.choices}
    tested = {wait.after for wait in process.waits if wait.test.any()}
    blocks: list[dict[int, int]] = []
    place: dict[int, dict[int, int]] = {}
    for unit in process.in_order:
        if unit.index in savers:
            continue
        mine: dict[int, int] = {unit.index: 0}
        for wait in process.before[unit.index]:
            if wait.saver is not None or wait.before in savers:
                continue
            before = process.units[wait.before]
            ends = place[wait.before]
            distance = _distance(before, wait)
            if distance is None or {before.index, unit.index} & tested:
                continue
            if before.test_first or unit.test_first:
                continue
            mine = ends
            mine[unit.index] = ends[before.index] + distance
            break
        if len(mine) == 1:
            blocks.append(mine)
        place[unit.index] = mine
    return blocks


def _distance(before: Unit, wait: Wait) -> int | None:
    """Slots between the two starts where the wait leaves no choice, else None."""
    lengths = {mode.slots for mode in before.modes}
    if wait.stage == "" or len(lengths) != 1:
        return None
    slots = np.arange(len(wait.low))
    used = (wait.low <= wait.high) & (wait.low < len(slots))
    gaps = np.unique(
        np.concatenate([(wait.low - slots)[used], (wait.high - slots)[used]])
    )
    return int(gaps[0]) + lengths.pop() - 1 if len(gaps) == 1 else None


def taken_together(
    process: Process, one: Block, other: Block
) -> Sequence[tuple[int, int]]:
    """First and last of each run of differences (start of ``other`` less that of
    ``one``) at which some pair of their stints would need the same thing at once."""
    taken = []
    for first, first_at in one.items():
        for second, second_at in other.items():
            pair = process.units[first], process.units[second]
            lengths = [min((m.slots for m in u.modes), default=0) for u in pair]
            if all(lengths) and exclusive(process, *pair):
                gap = first_at - second_at
                taken.append((gap - lengths[1] + 1, gap + lengths[0] - 1))
    return sorted(taken)


def exclusive(process: Process, one: Unit, other: Unit) -> bool:
    """Whether hands, loads or the wall forbid the two ever to run at once."""
    if share_wall(one, other):
        return True
    fewest = [min((mode.hands for mode in u.modes), default=0) for u in (one, other)]
    if sum(fewest) > len(process.hands):
        return True
    skills = one.step.skill, other.step.skill
    if None not in skills:
        able = [{h.id for h in process.hands if s in h.skills} for s in skills]
        if all(fewest) and len(able[0] | able[1]) == 1:
            return True
    for load in process.loads:
        if one.index in load.demand and other.index in load.demand:
            least = [
                min(load.demand[u.index].values(), default=0) for u in (one, other)
            ]
            if sum(least) > load.most:
                return True
    return False
