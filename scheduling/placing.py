"""Where each unit stands, what a plan is judged by, and who works where."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scheduling.process import Process
from scheduling.working_time import Mask


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a unit stands: slots [start, end), a test in the first slot if ``test``."""

    start: int
    end: int
    hands: tuple[int, ...]
    test: bool

    @property
    def work_start(self) -> int:
        """The slot in which the work itself begins."""
        return self.start + self.test

    @property
    def last(self) -> int:
        """The last slot worked."""
        return self.end - 1


Placing = Mapping[int, Placed]


@dataclass(frozen=True, slots=True)
class Score:
    """What a plan is judged by, in order: late (weighted minutes), finish, starts."""

    late: float
    finish: int
    starts: int

    def key(self) -> tuple[float, int, int]:
        """For comparing; smaller is better."""
        return (self.late, self.finish, self.starts)


def score(process: Process, placing: Placing) -> Score:
    """Judge a complete placing; a ``must`` date missed counts as infinitely late."""
    by_date: dict[int, float] = {}
    for promise in process.promises:
        late = float(promise.late_min[placing[promise.unit].last])
        if promise.wish.must and late > 0:
            late = np.inf
        by_date[promise.date] = max(by_date.get(promise.date, 0.0), late)
    dates = process.job.dates
    return Score(
        late=sum(dates[date].weight * late for date, late in by_date.items()),
        finish=max((placed.end for placed in placing.values()), default=0),
        starts=sum(placed.start for placed in placing.values()),
    )


def bits_of(mask: Mask) -> int:
    """A mask as one integer, slot 0 its lowest bit."""
    return int.from_bytes(np.packbits(mask, bitorder="little").tobytes(), "little")


def hand_classes(process: Process, *, alone: bool = False) -> list[list[int]]:
    """Hands that differ in nothing the planner sees, as one class each.

    ``alone``: each by itself, where who did what in an issued plan is to be kept.

    Somebody who leads a step is nobody's like, nor is somebody named in a pin or kept
    off a step: with one
    stint given away beforehand a class may hold enough people at every moment and yet
    nobody free for a whole stint.
    """
    if alone:
        return [[number] for number in range(len(process.hands))]
    named = {
        name
        for unit in process.units
        if unit.pinned is not None
        for name in unit.pinned.hands
    }
    named |= {process.hands[u.lead].id for u in process.units if u.lead is not None}
    named |= {name for unit in process.units for name in unit.kept_off}
    classes: dict[tuple[frozenset[str], bytes, str], list[int]] = {}
    for number, hand in enumerate(process.hands):
        own = hand.id if hand.id in named else ""
        key = (hand.skills, np.packbits(hand.there).tobytes(), own)
        classes.setdefault(key, []).append(number)
    return list(classes.values())


def with_names(
    process: Process,
    classes: Sequence[Sequence[int]],
    spans: Mapping[int, tuple[int, int, Sequence[int], bool]],
) -> Placing:
    """Give each stint people: first the pinned, then whoever of the class is free.

    ``spans``: by unit its start, its end, how many of each class, whether tested.
    """
    busy = dict.fromkeys((n for members in classes for n in members), 0)
    named: dict[int, list[int]] = {}

    def pinned(index: int) -> tuple[str, ...]:
        pin = process.units[index].pinned
        return () if pin is None else pin.hands

    for index in sorted(spans, key=lambda i: (not pinned(i), spans[i][0], i)):
        start, end, counts, _ = spans[index]
        span = (1 << end) - (1 << start)
        wanted = pinned(index)
        hands: list[int] = []
        for count, members in zip(counts, classes, strict=True):
            if wanted:
                able = [n for n in members if process.hands[n].id in wanted]
            elif count:
                able = [n for n in members if not busy[n] & span]
            else:
                continue
            hands += able[:count]
        for hand in hands:
            busy[hand] |= span
        named[index] = sorted(hands)
    return {
        index: Placed(start, end, tuple(named[index]), test)
        for index, (start, end, _, test) in spans.items()
    }
