"""A good plan at once: steps placed one after the other at the earliest slot that fits.

Several orders are tried and the best plan kept.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from scheduling.decoder import Decoder
from scheduling.placing import Placing, score
from scheduling.process import Process, Unit, Wait

RETRIES = 12  # orders tried anew with the step that found no slot first


class Greedy:
    """Places all units of a process by priority keys."""

    def __init__(self, process: Process) -> None:
        self.process = process
        self.n = len(process.axis)
        self.decoder = Decoder(process)
        self.failed: Unit | None = None

    def best(
        self, previous: Mapping[int, int] | None = None, *, quick: bool = False
    ) -> Placing | None:
        """The best of several orders; ``previous`` adds the order of an earlier plan.

        ``quick`` takes the first order that works.
        """
        orders: list[Sequence[float]] = [self._latest_starts(), self._tails()]
        orders.append(
            [start / 2 + tail / 2 for start, tail in zip(*orders, strict=True)]
        )
        if previous:
            orders.append(
                [previous.get(unit.index, self.n) for unit in self.process.units]
            )
        best, best_score = None, None
        retries = RETRIES
        for keys in orders:
            placing = self._with_retries(keys, retries)
            if placing is None:
                retries = 2  # where one order fails so often the others seldom help
                continue
            judged = score(self.process, placing).key()
            if best_score is None or judged < best_score:
                best, best_score = placing, judged
            if quick:
                break
        return best

    def drawn_forward(self, placing: Placing) -> Placing:
        """The same plan with no stint later than it need be, or as it was.

        Places all again in the order of starts while that makes nothing worse.
        """
        best, judged = placing, score(self.process, placing)
        for _ in range(RETRIES):
            keys = [float(best[unit.index].start) for unit in self.process.units]
            again = self.place_all(keys)
            if again is None:
                break
            new = score(self.process, again)
            if new.late > judged.late or new.finish > judged.finish:
                break
            if new.starts >= judged.starts:
                break
            best, judged = again, new
        return best

    def _with_retries(self, keys: Sequence[float], retries: int) -> Placing | None:
        """Place all; what finds no slot goes to the head of the order, and again."""
        keys = list(keys)
        for retry in range(retries + 1):
            placing = self.place_all(keys)
            if placing is not None or self.failed is None:
                return placing
            keys[self.failed.index] = -1e6 * (retry + 1)
        return None

    def place_all(
        self, keys: Sequence[float], earliest: Mapping[int, int] | None = None
    ) -> Placing | None:
        """Place every unit, smallest key first among those whose waits are placed.

        None where some unit finds no slot; ``failed`` then names it.
        """
        placed = self.decoder.place_all(keys, earliest)
        self.failed = self.decoder.failed
        return self.decoder.placing() if placed else None

    def has_window(self, unit: Unit) -> bool:
        """Whether a window binds the unit to another."""
        return len(self.decoder.blocks[self.decoder.block_of[unit.index]]) > 1

    # -- orders ------------------------------------------------------------------

    def _gap(self, wait: Wait) -> int:
        """Slots a wait usually takes: its median over the first half of the axis."""
        half = slice(0, max(1, self.n // 2))
        gaps = wait.low[half] - np.arange(self.n)[half] - 1
        return max(0, int(np.median(gaps)))

    def _tails(self) -> list[float]:
        """Minus the usual time from each start to the end of all that follows."""
        tails = [0.0] * len(self.process.units)
        for unit in reversed(self.process.in_order):
            length = min((mode.slots for mode in unit.modes), default=0)
            follow = [
                self._gap(wait) + tails[wait.after]
                for wait in self.process.after[unit.index]
            ]
            tails[unit.index] = length + max(follow, default=0.0)
        return [-tail for tail in tails]

    def _latest_starts(self) -> list[float]:
        """The usual latest start that keeps every date; the axis's end without one."""
        due = [float(self.n)] * len(self.process.units)
        for promise in self.process.promises:
            kept = np.flatnonzero(promise.late_min <= 0)
            last = float(kept[-1] + 1) if len(kept) else 0.0
            due[promise.unit] = min(due[promise.unit], last)
        latest = [0.0] * len(due)
        for unit in reversed(self.process.in_order):
            length = min((mode.slots for mode in unit.modes), default=0)
            follow = [
                latest[wait.after] - self._gap(wait)
                for wait in self.process.after[unit.index]
            ]
            latest[unit.index] = min(
                min([due[unit.index], *follow]) - length,
                max(
                    (int(np.flatnonzero(m.may_start)[-1]) for m in unit.modes),
                    default=0,
                ),
            )
        return latest
