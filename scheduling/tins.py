"""Whole tins for so many litres: few, and little over."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil, floor, gcd

import numpy as np

_ML = 1000
# Of the largest tin, all but so many are taken at once; the rest is tried out.
_TRIED = 3
# Assumed: a tenth more in fewer tins is no waste; it is kept for touching up.
_ROUNDED = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Tins:
    """How many of one size."""

    size_l: float
    count: int


def whole_tins(need_l: float, sizes_l: Iterable[float]) -> tuple[Tins, ...]:
    """The tins to buy, the largest first; none where no size is known or needed.

    The fewest that leave at most a tenth of the need, and no largest tin, more over
    than the closest sum does; of as many, those with the least over. Sizes are taken
    in whole millilitres, rounded down, so that a purchase is never short. Where there
    is much to buy the bulk comes in the largest tins.
    """
    by_ml = {floor(size * _ML + 1e-6): size for size in sizes_l}
    sizes = sorted(by_ml, reverse=True)
    need = ceil(need_l * _ML - 1e-6)
    if not sizes or need <= 0:
        return ()
    bulk = max(0, need // sizes[0] - _TRIED)
    spare = min(need // _ROUNDED, sizes[0])
    counts = _fewest(need - bulk * sizes[0], sizes, spare)
    counts[sizes[0]] = counts.get(sizes[0], 0) + bulk
    return tuple(
        Tins(size_l=by_ml[size], count=counts[size])
        for size in sizes
        if counts.get(size)
    )


def _fewest(need: int, sizes: list[int], spare: int) -> dict[int, int]:
    """Counts by size, the fewest within ``spare`` of the least sum that is enough."""
    unit = gcd(*sizes)
    steps = [size // unit for size in sizes]
    least = -(-need // unit)
    # A largest tin more than enough is always within reach, and then what is spare.
    most = least + steps[0] + spare // unit
    fewest = np.full(most + 1, most + 1, dtype=np.int64)
    fewest[0] = 0
    for step in steps:
        for start in range(step, most + 1, step):
            end = min(start + step, most + 1)
            before = fewest[start - step : end - step]
            np.minimum(fewest[start:end], before + 1, out=fewest[start:end])
    closest = int(np.flatnonzero(fewest[least:] <= most)[0])
    last = closest + spare // unit
    total = least + closest + int(np.argmin(fewest[least + closest : least + last + 1]))
    counts: dict[int, int] = {}
    while total:
        step = next(
            step
            for step in steps
            if step <= total and fewest[total - step] == fewest[total] - 1
        )
        counts[step * unit] = counts.get(step * unit, 0) + 1
        total -= step
    return counts
