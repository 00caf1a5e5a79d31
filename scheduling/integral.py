"""Progress added up through stepwise air, and the moment at which it is enough.

Two ways that share no code: ``Cumulative`` for many starts at once, ``StepByStep`` in
plain loops, by which an audit can tell whether the first one is right.
"""

from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from scheduling.room_air import Floats


class Integral(Protocol):
    """A rate per minute in equal steps; the first holds before, the last after."""

    def until(self, start: Floats, amount: Floats | float) -> Floats:
        """The minute at which ``amount`` has gathered since ``start``; inf if never."""

    def between(self, start: Floats, end: Floats) -> Floats:
        """What gathers from one minute to another; both finite."""


class Places:
    """In which step each start lies: remembered, since all rates are asked from them.

    One for all airs on steps of the same length and number.
    """

    __slots__ = ("_held", "minutes", "step_min")

    def __init__(self, step_min: float, count: int) -> None:
        self.step_min = step_min
        self.minutes = np.arange(count) * step_min
        self._held: tuple[Floats, NDArray[np.intp], Floats | None] | None = None

    def of(self, start: Floats) -> tuple[NDArray[np.intp], Floats | None]:
        """The steps of the starts and the minutes into them; None for no minutes."""
        if self._held is None or self._held[0] is not start:
            entry, inside = self.find(start)
            self._held = start, entry, inside if inside.any() else None
        return self._held[1:]

    def find(self, minute: Floats) -> tuple[NDArray[np.intp], Floats]:
        """The same, not remembered."""
        entry = (minute / self.step_min).astype(np.intp)
        np.minimum(entry, self.minutes.shape[0] - 1, out=entry)
        np.maximum(entry, 0, out=entry)
        return entry, minute - entry * self.step_min


class _Begun(NamedTuple):
    """Starts, what a rate has gathered at each, and whether any is endless."""

    start: Floats
    gathered: Floats
    endless: bool


class Cumulative:
    """Prefix sums at the step edges and an exact partial step at either end."""

    __slots__ = ("_begun", "_edges", "_places", "_rate", "_rests")

    def __init__(
        self, rate: Floats, step_min: float, places: Places | None = None
    ) -> None:
        self._rate = rate
        self._places = places or Places(step_min, rate.shape[0])
        self._edges = np.zeros(rate.shape[0])
        edges = self._edges[1:]
        np.cumsum(np.multiply(rate[:-1], step_min, out=edges), out=edges)
        self._rests = bool(rate[:-1].min(initial=1.0) <= 0)
        self._begun: _Begun | None = None

    def _from(self, start: Floats) -> _Begun:
        """What has gathered at each start, remembered like the steps they lie in."""
        if self._begun is None or self._begun.start is not start:
            endless = not start.max(initial=0.0) < np.inf
            gathered = start
            if not endless:
                entry, inside = self._places.of(start)
                gathered = self._edges.take(entry)
                if inside is not None:
                    gathered += inside * self._rate.take(entry)
            self._begun = _Begun(start, gathered, endless)
        return self._begun

    def _at(self, minute: Floats) -> Floats:
        entry, inside = self._places.find(minute)
        inside *= self._rate.take(entry)
        inside += self._edges.take(entry)
        return inside

    def until(self, start: Floats, amount: Floats | float) -> Floats:
        """See ``Integral``; an endless start stays endless."""
        least = amount if isinstance(amount, float) else amount.min(initial=1.0)
        if least > 0 and not self._from(start).endless:  # false for not a number
            return self._until(start, amount)
        known = np.isfinite(start) & np.isfinite(amount) & (amount > 0)
        found = self._until(np.where(known, start, 0.0), np.where(known, amount, 1.0))
        return np.where(known, found, np.where(amount <= 0, start, np.inf))

    def _until(self, start: Floats, amount: Floats | float) -> Floats:
        speed = float(self._rate[-1])
        if self._rate.shape[0] == 1:  # one entry needs no edges: exact
            return start + amount / speed if speed > 0 else np.full_like(start, np.inf)
        target = self._from(start).gathered + amount
        within = target
        if self._rests:
            # A hair less: what is reached before a rest is not reached after it.
            within = np.nextafter(target, -np.inf)
        found: Floats = np.interp(within, self._edges, self._places.minutes)
        # Before the first edge its rate holds.
        if self._from(start).gathered.min(initial=0.0) < 0:
            first = float(self._rate[0]) or 1.0
            found = np.where(target < 0, target / first, found)
        if target.max(initial=0.0) > self._edges[-1]:
            # After the last edge; at rest there, for ever.
            over = target - self._edges[-1]
            last = self._places.minutes[-1]
            later = np.inf if speed <= 0 else last + over / speed
            found = np.where(over > 0, later, found)
        return np.maximum(found, start, out=found)

    def between(self, start: Floats, end: Floats) -> Floats:
        """See ``Integral``."""
        return np.asarray(self._at(end) - self._from(start).gathered)


class StepByStep:
    """The same by walking from step to step, one start at a time."""

    __slots__ = ("_rate", "_step")

    def __init__(self, rate: Floats, step_min: float) -> None:
        self._rate: list[float] = rate.tolist()
        self._step = step_min

    def until(self, start: Floats, amount: Floats | float) -> Floats:
        """See ``Integral``."""
        amounts = np.broadcast_to(amount, start.shape)
        pairs = zip(start.tolist(), amounts.tolist(), strict=True)
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
