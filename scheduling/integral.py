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

    __slots__ = ("_edges", "_rate", "_step")

    def __init__(self, rate: Floats, step_min: float) -> None:
        self._rate = rate
        self._step = step_min
        self._edges = np.zeros(rate.shape[0])
        np.cumsum(rate[:-1] * step_min, out=self._edges[1:])

    def _at(self, minute: Floats) -> Floats:
        last = self._rate.shape[0] - 1
        entry = np.clip((minute / self._step).astype(np.intp), 0, last)
        inside = (minute - entry * self._step) * self._rate[entry]
        return np.asarray(self._edges[entry] + inside)

    def until(self, start: Floats, amount: Floats) -> Floats:
        """See ``Integral``; an endless start stays endless."""
        known = np.isfinite(start) & np.isfinite(amount) & (amount > 0)
        if known.all():
            return self._until(start, amount)
        found = self._until(np.where(known, start, 0.0), np.where(known, amount, 1.0))
        return np.where(known, found, np.where(amount <= 0, start, np.inf))

    def _until(self, start: Floats, amount: Floats) -> Floats:
        entry = np.zeros(start.shape, dtype=np.intp)
        begin, need = start, amount  # one entry needs no edges: exact
        if self._rate.shape[0] > 1:
            target = self._at(start) + amount
            entry = np.maximum(np.searchsorted(self._edges, target) - 1, 0)
            begin = np.asarray(entry * self._step, dtype=np.float64)
            need = target - self._edges[entry]
        speed = self._rate[entry]
        if speed.min(initial=1.0) > 0:
            return np.maximum(begin + need / speed, start)
        going = speed > 0  # at rest only in the last entry: then for ever
        finish = begin + need / np.where(going, speed, 1.0)
        return np.where(going, np.maximum(finish, start), np.inf)

    def between(self, start: Floats, end: Floats) -> Floats:
        """See ``Integral``."""
        return np.asarray(self._at(end) - self._at(start))


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
