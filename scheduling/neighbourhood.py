"""Better orders for big jobs: late acceptance on the keys of the serial placing.

The keys of a plan are changed a little and all is placed again. What is kept is judged
by how far stints start behind the latest start of the next better plan, so that a plan
as good as the last may still be nearer to a better one (late acceptance, after Burke &
Bykov 2017). A seed and a count of placings make it repeatable.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from operator import mul
from time import perf_counter

import numpy as np

from scheduling.bound import Bounder
from scheduling.decoder import Decoder
from scheduling.placing import Placing
from scheduling.process import Process

# Stints tried in a unit of budget, about a second: measured on two cores in 2026.
TRIES_A_UNIT_OF_BUDGET = 30_000
HISTORY = 30  # passes back that a plan is compared with
IDLE = 600  # passes without a better plan before starting from the best again
ASK_EVERY = 20  # passes between two questions whether to go on
LATE_SHARE = 0.5  # of the effort, while dates are missed
DENSE = 1.0  # weight of the mean start, by work, beside that of being behind
SEED = 20_261
SOONER = 24  # slots, two hours, that a better plan is asked to end sooner

Goodness = tuple[float, float, int]  # minutes past musts, weighted lateness, finish
GoOn = Callable[[Placing | None], bool]


@dataclass(slots=True)
class _Target:
    """Latest starts of a plan better than the best; ``for_dates``: better on dates."""

    latest: Sequence[int]
    for_dates: bool


class KeySearch:
    """Improves a plan; ``best`` is the best so far, ``proved``: none ends sooner."""

    def __init__(
        self,
        process: Process,
        start: Placing,
        go_on: GoOn | None = None,
        *,
        bounder: Bounder | None = None,
    ) -> None:
        self.process, self.go_on = process, go_on
        self.decoder = Decoder(process, loose=True)
        self.bounder = bounder or Bounder(process)
        self.random = np.random.default_rng(SEED)
        self.best = start
        self.late = [
            (p.date, p.unit, p.wish.must, p.late_min) for p in process.promises
        ]
        self.weights = [wish.weight for wish in process.job.dates]
        self.start = [start[unit.index].start for unit in process.units]
        ends = [start[unit.index].end for unit in process.units]
        self.goodness = self._goodness(ends)
        work = [min(m.hands * m.slots for m in unit.modes) for unit in process.units]
        scale = len(work) / max(sum(work), 1)
        self.work = [scale * each for each in work]
        rooms: dict[str, list[int]] = {}
        for unit in process.units:
            rooms.setdefault(unit.surface.room, []).append(unit.index)
        self.rooms = list(rooms.values())
        self.tries = self.passes = 0
        self.proved = self.stopped = False
        self.dates_left = True
        self.target: _Target | None = None
        self.low: int | None = None  # no plan as good on dates ends sooner

    def run(self, *, budget: float, seconds: float | None = None) -> Placing:
        """The best plan within a budget of units, or of wall seconds where told."""
        most = max(budget * TRIES_A_UNIT_OF_BUDGET, 1.0)
        begun = perf_counter()

        def spent() -> float:
            if seconds is not None:  # a wall limit is not repeatable, and says so
                return (perf_counter() - begun) / seconds
            return self.tries / most

        self._aim()
        keys = self._opening(spent)
        while self.target is not None and not self.stopped and spent() < 1:
            keys = self._accept(keys, spent)
            if self.dates_left and self.goodness[1] > 0 and spent() > LATE_SHARE:
                self.dates_left = False
                self._aim()
        return self.best

    # -- the walk ------------------------------------------------------------------

    def _opening(self, spent: Callable[[], float]) -> list[float]:
        """The best keys among the plan's own starts and mixes of early and late."""
        own = [float(start) for start in self.start]
        if self.target is None or self.bounder.first is None:
            return own
        early, late = self.bounder.first, self.target.latest
        best, cost = own, self._cost(self.start)
        for share in (0.0, 0.3, 0.5, 0.7, 1.0):
            keys = [
                share * a + (1 - share) * b for a, b in zip(early, late, strict=True)
            ]
            found = self._pass(keys)
            if found is not None and found < cost:
                best, cost = keys, found
            if self.stopped or self.target is None or spent() >= 1:
                break
        return best

    def _accept(self, keys: list[float], spent: Callable[[], float]) -> list[float]:
        """One round of late acceptance, until idle too long or a better target."""
        cost = self._pass(keys)
        cost = float("inf") if cost is None else cost
        starts, target = list(self.decoder.start), self.target
        history = [cost] * HISTORY
        idle = 0
        while idle < IDLE and not self.stopped and spent() < 1:
            moved = self._moved(keys, starts)
            found = self._pass(moved)
            if self.target is not target:
                return moved
            place = self.passes % HISTORY
            if found is not None and (found <= history[place] or found <= cost):
                idle = 0 if found < cost else idle + 1
                keys, cost, starts = moved, found, list(self.decoder.start)
            else:
                idle += 1
            history[place] = min(history[place], cost) if cost else cost
            if self.dates_left and self.goodness[1] > 0 and spent() > LATE_SHARE:
                break
        return [float(start) for start in self.start]

    def _pass(self, keys: Sequence[float]) -> float | None:
        """Place all by keys, keep what is better; the cost, None without a plan."""
        decoder = self.decoder
        placed = decoder.place_all(keys, as_slots=True)
        self.tries += decoder.tried
        self.passes += 1
        if placed:
            goodness = self._goodness(decoder.end)
            if goodness < self.goodness:
                self.goodness, self.best = goodness, decoder.placing()
                self.start = list(decoder.start)
                if self.go_on is not None and not goodness[0]:
                    self.stopped = not self.go_on(self.best)
                self._aim()
        if self.passes % ASK_EVERY == 0 and self.go_on is not None:
            self.stopped = self.stopped or not self.go_on(None)
        return self._cost(decoder.start) if placed else None

    def _goodness(self, ends: Sequence[int]) -> Goodness:
        must, late = self._lateness(ends)
        wished = sum(self.weights[date] * minutes for date, minutes in late.items())
        return (must, wished, max(ends, default=0))

    def _lateness(self, ends: Sequence[int]) -> tuple[float, dict[int, float]]:
        """Minutes past all dates that must be kept, and minutes late by other date."""
        must, late = 0.0, dict[int, float]()
        for date, unit, musts, late_min in self.late:
            minutes = float(late_min[ends[unit] - 1])
            if musts:
                must += minutes
            elif minutes > late.get(date, 0.0):
                late[date] = minutes
        return must, late

    def _cost(self, starts: Sequence[int]) -> float:
        if self.target is None:
            return 0.0
        latest = self.target.latest
        behind = sum(
            start - last
            for start, last in zip(starts, latest, strict=True)
            if start > last
        )
        dense = float(sum(map(mul, self.work, starts)))
        return float(behind) + DENSE * dense

    # -- what a better plan would be -------------------------------------------------

    def _aim(self) -> None:
        """Latest starts of a plan better by a little; None where there is none."""
        must, late, finish = self.goodness
        n = len(self.process.axis)
        if self.dates_left and (must > 0 or late > 0):
            latest = self.bounder.latest_starts(n, self._due(0.9))
            if latest is not None:
                self.target = _Target(latest, True)
                return
            self.dates_left = False
        due = self._due(1.0)
        if self.low is None:
            self.low = self.bounder.finish_low(0, finish, due)
        self.proved = self.low >= finish
        # Some hours sooner, not a slot: nights make ends alike that are far from alike.
        latest = self.bounder.latest_starts(max(self.low, finish - SOONER), due)
        enough = latest is None or self.proved
        self.target = None if enough or latest is None else _Target(latest, False)

    def _due(self, share: float) -> Mapping[int, int]:
        """The end each dated unit may have: not later, or later by a share of now."""
        _, late = self._lateness(
            [placed.end for _, placed in sorted(self.best.items())]
        )
        due: dict[int, int] = {}
        for date, unit, musts, late_min in self.late:
            allowed = 0.0 if musts else late.get(date, 0.0) * share
            kept = np.flatnonzero(late_min <= allowed + 1e-6)
            end = int(kept[-1]) + 1 if len(kept) else 0
            due[unit] = min(due.get(unit, end), end)
        return {unit: end for unit, end in due.items() if end > 0}

    # -- moves -----------------------------------------------------------------------

    def _moved(self, keys: Sequence[float], starts: Sequence[int]) -> list[float]:
        """Other keys near these, in one of four ways."""
        moved, draw = list(keys), self.random
        finish = self.goodness[2]
        kind = draw.random()
        if kind < 0.45:
            self._pull(moved, starts)
        elif kind < 0.75:
            share = draw.uniform(0.01, 0.1)
            size = (0.02, 0.1)[draw.integers(2)] * finish
            for _ in range(max(1, int(share * len(moved)))):
                moved[draw.integers(len(moved))] += draw.normal(0.0, size)
        elif kind < 0.9:
            by = draw.normal(0.0, 0.08 * finish)
            for index in self.rooms[draw.integers(len(self.rooms))]:
                moved[index] += by
        else:
            size = (5.0, 20.0, 60.0)[draw.integers(3)]
            moved = [start + draw.uniform(-size, size) for start in starts]
        return moved

    def _pull(self, keys: list[float], starts: Sequence[int]) -> None:
        """Some stint that is behind, and what it waits for, before others."""
        assert self.target is not None  # noqa: S101 - asked only with a target
        latest = self.target.latest
        behind = [u for u, start in enumerate(starts) if start > latest[u]]
        if not behind:
            return
        unit = behind[self.random.integers(len(behind))]
        by = (starts[unit] - latest[unit]) * self.random.uniform(0.5, 3.0) + 1
        by += self.random.uniform(0.0, 60.0)
        while True:
            keys[unit] = min(keys[unit], float(starts[unit])) - by
            befores = self.decoder.before[unit]
            if not befores or self.random.random() < 0.15:
                return
            unit = max(befores, key=lambda link: starts[link.other]).other
