"""Progress added up through stepwise air, and the moment at which it is enough.

Two ways that share no code: ``Cumulative`` for many starts at once, ``StepByStep`` in
plain loops, by which an audit can tell whether the first one is right.
"""

from typing import Protocol

import numpy as np

from scheduling.room_air import Floats


class Integral(Protocol):
    """A rate per minute in equal steps; the first holds before, the last after."""

    def until(self, start: Floats, amount: Floats) -> Floats:
        """The minute at which ``amount`` has gathered since ``start``; inf if never."""

    def between(self, start: Floats, end: Floats) -> Floats:
        """What gathers from one minute to another; both finite."""


class Cumulative:
    """Prefix sums at the step edges and an exact partial step at either end."""

    __slots__ = ("_begun", "_edges", "_minutes", "_rate", "_rests", "_step")

    def __init__(self, rate: Floats, step_min: float) -> None:
        self._rate = rate
        self._step = step_min
        self._edges = np.zeros(rate.shape[0])
        np.cumsum(rate[:-1] * step_min, out=self._edges[1:])
        self._minutes = np.arange(rate.shape[0]) * step_min
        self._rests = bool((rate[:-1] <= 0).any())
        self._begun: tuple[Floats, Floats] | None = None

    def _at(self, minute: Floats) -> Floats:
        last = self._rate.shape[0] - 1
        entry = np.clip((minute / self._step).astype(np.intp), 0, last)
        inside = (minute - entry * self._step) * self._rate[entry]
        return np.asarray(self._edges[entry] + inside)

    def _from(self, start: Floats) -> Floats:
        """``_at``, remembered: all clocks of a coat are asked from the same ends."""
        if self._begun is None or self._begun[0] is not start:
            self._begun = (start, self._at(start))
        return self._begun[1]

    def until(self, start: Floats, amount: Floats) -> Floats:
        """See ``Integral``; an endless start stays endless."""
        known = np.isfinite(start) & np.isfinite(amount) & (amount > 0)
        if known.all():
            return self._until(start, amount)
        found = self._until(np.where(known, start, 0.0), np.where(known, amount, 1.0))
        return np.where(known, found, np.where(amount <= 0, start, np.inf))

    def _until(self, start: Floats, amount: Floats) -> Floats:
        speed = float(self._rate[-1])
        if self._rate.shape[0] == 1:  # one entry needs no edges: exact
            return start + amount / speed if speed > 0 else np.full_like(start, np.inf)
        target = self._from(start) + amount
        within = target
        if self._rests:
            # A hair less: what is reached before a rest is not reached after it.
            within = np.nextafter(target, -np.inf)
        found: Floats = np.interp(within, self._edges, self._minutes)
        if target.min(initial=0.0) < 0:  # before the first edge its rate holds
            first = float(self._rate[0]) or 1.0
            found = np.where(target < 0, target / first, found)
        over = target - self._edges[-1]
        if over.max(initial=0.0) > 0:  # after the last edge; at rest there, for ever
            later = np.inf if speed <= 0 else self._minutes[-1] + over / speed
            found = np.where(over > 0, later, found)
        return np.maximum(found, start)

    def between(self, start: Floats, end: Floats) -> Floats:
        """See ``Integral``."""
        return np.asarray(self._at(end) - self._from(start))


class StepByStep:
    """The same by walking from step to step, one start at a time."""

    __slots__ = ("_rate", "_step")

    def __init__(self, rate: Floats, step_min: float) -> None:
        self._rate: list[float] = rate.tolist()
        self._step = step_min

    def until(self, start: Floats, amount: Floats) -> Floats:
        """See ``Integral``."""
        pairs = zip(start.tolist(), amount.tolist(), strict=True)
        return np.array([self._walk(begin, need) for begin, need in pairs])

    def _walk(self, minute: float, need: float) -> float:
        if minute == float("inf") or need == float("inf"):
            return float("inf")
        if need <= 0:
            return minute
        last = len(self._rate) - 1
        entry = min(max(int(minute // self._step), 0), last)
        while entry < last:
            edge = (entry + 1) * self._step
            gain = (edge - minute) * self._rate[entry]
            if gain >= need:
                return minute + need / self._rate[entry]
            need -= gain
            minute = edge
            entry += 1
        speed = self._rate[last]
        return minute + need / speed if speed > 0 else float("inf")

    def between(self, start: Floats, end: Floats) -> Floats:
        """See ``Integral``."""
        pairs = zip(start.tolist(), end.tolist(), strict=True)
        return np.array([self._gather(begin, finish) for begin, finish in pairs])

    def _gather(self, minute: float, finish: float) -> float:
        last = len(self._rate) - 1
        entry = min(max(int(minute // self._step), 0), last)
        total = 0.0
        while entry < last and (entry + 1) * self._step < finish:
            edge = (entry + 1) * self._step
            total += (edge - minute) * self._rate[entry]
            minute = edge
            entry += 1
        return total + (finish - minute) * self._rate[entry]
