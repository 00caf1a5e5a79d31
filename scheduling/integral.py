"""Progress added up through stepwise air, and the moment at which it is enough.

Two ways that share no code: ``Cumulative`` for many starts at once, ``StepByStep`` in
plain loops, by which an audit can tell whether the first one is right.
"""

from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from scheduling.room_air import Floats

_HALVINGS = 50  # of a step of minutes: to the last digit

_NONE_BENT = np.zeros(0, dtype=np.intp), np.zeros(0)


class Integral(Protocol):
    """A rate per minute in equal steps; the first holds before, the last after.

    Each step has its mean and, where there is a tilt, what its rate rises by in it,
    straight from start to end: at most twice the mean, and none in the two ends.
    """

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

    __slots__ = ("_begun", "_edges", "_places", "_rate", "_rests", "_tilt")

    def __init__(
        self,
        rate: Floats,
        step_min: float,
        tilt: Floats | None = None,
        places: Places | None = None,
    ) -> None:
        self._rate = rate
        self._tilt = tilt
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
                    gathered += self._inside(entry, inside)
            self._begun = _Begun(start, gathered, endless)
        return self._begun

    def _at(self, minute: Floats) -> Floats:
        entry, inside = self._places.find(minute)
        return np.asarray(self._edges.take(entry) + self._inside(entry, inside))

    def _inside(self, entry: NDArray[np.intp], inside: Floats) -> Floats:
        """What gathers in those steps in their first ``inside`` minutes."""
        gathered = inside * self._rate.take(entry)
        bent, rise = self._bent(entry)
        if bent.size:
            step, into = self._places.step_min, inside[bent]
            gathered[bent] -= rise * into * (step - into) / (2 * step)
        return gathered

    def _bent(self, entry: NDArray[np.intp]) -> tuple[NDArray[np.intp], Floats]:
        """Which of those steps have a tilt, few as a rule, and theirs."""
        if self._tilt is None:
            return _NONE_BENT
        tilt = self._tilt.take(entry)
        bent = tilt.nonzero()[0]
        return bent, tilt[bent]

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
        if self._tilt is not None:
            self._straighten(found)
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

    def _straighten(self, found: Floats) -> None:
        """Put right moments that were found as if a step had its mean all through."""
        step = self._places.step_min
        entry = (found / step).astype(np.intp)
        bent, rise = self._bent(entry)
        if not bent.size:
            return
        entry = entry[bent]
        begin, mean = entry * step, self._rate.take(entry)
        # need = first x + rise x^2 / (2 step): the root without a difference
        need = np.maximum(found[bent] - begin, 0.0) * mean
        first = mean - rise / 2
        root = np.sqrt(np.maximum(first * first + 2 * rise / step * need, 0.0))
        under = np.maximum(first + root, 1e-300)  # 0 only where nothing is needed
        found[bent] = begin + np.minimum(2 * need / under, step)

    def between(self, start: Floats, end: Floats) -> Floats:
        """See ``Integral``."""
        return np.asarray(self._at(end) - self._from(start).gathered)


class StepByStep:
    """The same by walking from step to step, one start at a time."""

    __slots__ = ("_rate", "_step", "_tilt")

    def __init__(
        self, rate: Floats, step_min: float, tilt: Floats | None = None
    ) -> None:
        self._rate: list[float] = rate.tolist()
        self._step = step_min
        self._tilt: list[float] = [0.0] * len(rate) if tilt is None else tilt.tolist()

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
            if self._tilt[entry]:
                gain = self._gain(entry, minute, edge)
            if gain >= need:
                return minute + self._minutes(entry, minute, need)
            need -= gain
            minute = edge
            entry += 1
        speed = self._rate[last]
        return minute + need / speed if speed > 0 else float("inf")

    def _gain(self, entry: int, minute: float, finish: float) -> float:
        """What gathers inside one step: minutes times the rate half way."""
        halfway = (minute + finish) / 2
        return (finish - minute) * self._speed(entry, halfway)

    def _speed(self, entry: int, minute: float) -> float:
        middle = (entry + 0.5) * self._step
        return self._rate[entry] + self._tilt[entry] * (minute - middle) / self._step

    def _minutes(self, entry: int, minute: float, need: float) -> float:
        """How long a step takes from ``minute`` on to give ``need``, by halving."""
        if self._tilt[entry] == 0.0:
            return need / self._rate[entry]
        low, high = 0.0, (entry + 1) * self._step - minute
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            if self._gain(entry, minute, minute + middle) < need:
                low = middle
            else:
                high = middle
        return high

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
            total += self._gain(entry, minute, edge)
            minute = edge
            entry += 1
        return total + self._gain(entry, minute, finish)
