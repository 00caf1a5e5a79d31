"""How likely a clock has run out by some minute: early, likely and safe read as odds.

One standard normal number z stands for all that is not known about a coat: 0 is the
likely course, above 0 slower, below 0 faster. Knows nothing of plans or of drawing z.
"""

from statistics import NormalDist

import numpy as np

from scheduling.coats import Clock
from scheduling.limits import within
from scheduling.room_air import Floats

# Assumed: one coat in ten is faster than the early end, one in ten slower than the safe
# end. Not 1 in 20: ranges that people state are too narrow as a rule; experts' 80 %
# ranges held 68 % of the truths (Speirs-Bridge et al., 2010, Risk Analysis 30).
SAFE_CHANCE = 0.9
_NORMAL = NormalDist()
_SAFE_Z = _NORMAL.inv_cdf(SAFE_CHANCE)

# Below an even chance a plan would count on luck; above 99 in 100 the tail of the
# distribution, which no label speaks of, would say more than the label does.
LEAST_CHANCE, MOST_CHANCE = 0.5, 0.99


def check_chance(chance: float, field: str = "chance") -> None:
    """BadInput where nobody can plan against that chance."""
    within((field, chance, LEAST_CHANCE, MOST_CHANCE))


def minutes_at(clock: Clock, z: Floats | float) -> Floats:
    """Elapsed minutes of a clock in the case z; inf is never. Shapes broadcast.

    Log-normal in two pieces: the logarithm runs straight from likely to the safe end
    upwards and to the early end downwards, and on beyond them. An early end of 0 is
    neared in a straight line instead. Where the safe end is never, speed (one over
    time) falls straight from likely to none at the safe end; where likely is never too,
    it rises from none to the early end's.
    """
    side = np.abs(np.asarray(z, dtype=np.float64)) / _SAFE_Z
    slow = np.asarray(z) >= 0
    likely = clock.likely_min
    end = np.where(slow, clock.safe_min, clock.early_min)
    never = ~np.isfinite(likely)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        by_ratio = likely * (end / likely) ** side
        if (clock.early_min > 0).all() and np.isfinite(clock.safe_min).all():
            return by_ratio
        straight = likely + (end - likely) * side
        left = 1.0 - side
        slowing = np.where(left > 0, likely / left, np.inf)
        faster = np.where(side > 0, clock.early_min / side, np.inf)
    minutes = np.where((likely > 0) & (end > 0), by_ratio, np.maximum(straight, 0.0))
    minutes = np.where(np.isfinite(end), minutes, slowing)
    return np.where(never, np.where(slow, np.inf, faster), minutes)


def wait_min(clock: Clock, chance: float | None) -> Floats:
    """What a wait is planned with: over in that share of cases; None: the safe end."""
    if chance is None:
        return clock.safe_min
    return minutes_at(clock, _NORMAL.inv_cdf(chance))


def closing_min(clock: Clock, chance: float | None) -> Floats:
    """What an open time or a closing window is planned with; None is the early end."""
    if chance is None:
        return clock.early_min
    return minutes_at(clock, -_NORMAL.inv_cdf(chance))


def even_normals(count: int) -> Floats:
    """``count`` rising numbers at the middles of as many equal shares of the normal."""
    return np.array([_NORMAL.inv_cdf((n + 0.5) / count) for n in range(count)])


def asked_text(chance: float) -> str:
    """A chance asked for, unrounded: "9 of 10 cases", "92.5 of 100 cases"."""
    tenths = round(chance * 10, 9)
    if tenths == round(tenths):
        return f"{tenths:g} of 10 cases"
    return f"{round(chance * 100, 9):g} of 100 cases"


def cases_text(chance: float) -> str:
    """A chance found, as people say it: "9 of 10 cases", "3 of 100 cases", "no case".

    Rounded, but never to none or all.
    """
    if chance <= 0.0:
        return "no case"
    if chance >= 1.0:
        return "all cases"
    count = 10 if 0.075 <= chance <= 0.925 else 100
    cases = round(chance * count)
    if cases == 0:
        return "fewer than 1 of 100 cases"
    if cases == count:
        return "more than 99 of 100 cases"
    return f"{cases} of {count} cases"
