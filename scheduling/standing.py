"""Whether each stint may stand where a plan has it, by a process's own rules.

For an issued plan in air that has changed: what still holds and what must move. The
audit is the judge of plans; this only finds where to begin.
"""

from collections.abc import Mapping
from itertools import pairwise

import numpy as np

from scheduling.placing import Placed, Placing
from scheduling.process import Process, Unit, Wait, share_wall


def clashing(process: Process, placing: Placing) -> frozenset[int]:
    """The units of a plan, whole or in part, that cannot stand where they are.

    Of two that cannot both stand, the later; both where a window has been missed, as
    the earlier may have to move for it.
    """
    found = {
        unit for unit, placed in placing.items() if not _fits(process, unit, placed)
    }
    for wait in process.waits:
        found |= _by_wait(wait, placing)
    for apart in process.aparts:
        maker, coat = placing.get(apart.maker), placing.get(apart.coat)
        if maker is None or coat is None:
            continue
        after = int(apart.settled[maker.last]) <= coat.start
        if not after and maker.start < int(apart.clear[coat.last]):
            found.add(apart.coat if maker.start < coat.start else apart.maker)
    for corner in process.corners:
        one, other = placing.get(corner.one), placing.get(corner.other)
        if one is None or other is None:
            continue
        after = int(corner.dry_one[one.last]) <= other.start
        if not after and one.start < int(corner.dry_other[other.last]):
            found.add(corner.other if one.start < other.start else corner.one)
    return frozenset(found | _double(process, placing) | _overdrawn(process, placing))


def _fits(process: Process, index: int, placed: Placed) -> bool:
    """Whether a unit by itself may stand there with these hands."""
    unit: Unit = process.units[index]
    mode = next((m for m in unit.modes if m.hands == len(placed.hands)), None)
    begin = placed.work_start
    if mode is None or begin >= len(process.axis) or placed.end > len(process.axis):
        return False
    rightly_long = placed.end - begin == mode.slots
    in_time = unit.release <= placed.start and begin <= unit.due
    tested = placed.test or not unit.test_first
    if not (rightly_long and in_time and tested and mode.may_start[begin]):
        return False
    hands = [process.hands[number] for number in placed.hands]
    if any(not hand.there[placed.start : placed.end].all() for hand in hands):
        return False
    skill = unit.step.skill
    if skill is not None and not any(skill in hand.skills for hand in hands):
        return False
    if unit.lead is not None and unit.lead not in placed.hands:
        return False
    if any(hand.id in unit.kept_off for hand in hands):
        return False
    if unit.pinned is None:
        return True
    named = unit.pinned.hands
    slot = process.axis.slot_from(process.axis.minute_of(unit.pinned.start))
    return slot == placed.start and not (named and {h.id for h in hands} != {*named})


def _by_wait(wait: Wait, placing: Placing) -> set[int]:
    before, after = placing.get(wait.before), placing.get(wait.after)
    if before is None or after is None:
        return set()
    if not wait.stage:
        return set() if before.end <= after.start else {wait.after}
    last = before.last
    if after.start < int(wait.low[last]) or (wait.test[last] and not after.test):
        return {wait.after}
    if after.work_start > int(wait.high[last]):
        return {wait.before, wait.after}
    return set()


def _double(process: Process, placing: Placing) -> set[int]:
    """Units that ask for a hand, or a wall, where another is at work already."""
    found = set()
    by_hand: dict[int, list[int]] = {}
    by_wall: dict[str, list[int]] = {}
    for unit in sorted(placing, key=lambda u: (placing[u].start, u)):
        for hand in placing[unit].hands:
            by_hand.setdefault(hand, []).append(unit)
        by_wall.setdefault(process.units[unit].surface.id, []).append(unit)
    for units in by_hand.values():
        for one, other in pairwise(units):
            if placing[other].start < placing[one].end:
                found.add(other)
    for units in by_wall.values():
        for k, one in enumerate(units):
            for other in units[k + 1 :]:
                if placing[other].start >= placing[one].end:
                    break
                if share_wall(process.units[one], process.units[other]):
                    found.add(other)
    return found


def _overdrawn(process: Process, placing: Placing) -> set[int]:
    """The last to start of those that draw more on a load than it has."""
    found = set()
    for load in process.loads:
        drawn = np.zeros(len(process.axis), dtype=np.int64) + load.taken
        demand: Mapping[int, Mapping[int, int]] = load.demand
        for unit in sorted(
            demand, key=lambda u: placing[u].start if u in placing else 0
        ):
            placed = placing.get(unit)
            if placed is None or len(placed.hands) not in demand[unit]:
                continue
            span = slice(placed.start, placed.end)
            drawn[span] += demand[unit][len(placed.hands)]
            if (drawn[span] > load.most).any():
                found.add(unit)
    return found
