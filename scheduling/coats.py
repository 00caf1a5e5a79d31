"""Coats of one material in one air: what the label says, run through that air.

Here stand the judgements that lie over the laws: how wide a range is, how long an open
time may grow, that lime waits for its label, and that stages keep their order.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scheduling.calibration import Calibrated, calibrated
from scheduling.integral import Integral
from scheduling.problem import CLOSING, Family, Material
from scheduling.rate_laws import Law, Phase, Weather, column, rate
from scheduling.room_air import Floats, RoomAir

Which = Literal["early", "likely", "safe"]
_MakeIntegral = Callable[[Floats, float, Floats | None], Integral]

# Assumed: how far from the label's air a clock can be trusted. The caps follow the
# scatter of evaporation, 40 % (Hover, ACI SP-338, 2020), wider where chemistry rules.
RANGE_POWER = 0.3
_WATER_CAP, _OIL_CAP, _LIME_CURE_CAP = 1.4, 1.5, 2.0
OPEN_LONGEST = 1.5  # Assumed: no measured curve says that damp air gives more
POROUS_OPEN = 0.7  # Assumed: ASTM D1640 is for ground that does not suck

# Assumed: a rate that rises by less than this share within a step, or in air that
# changes by so little, counts as even: at most 0.4 s of a step of 5 minutes.
EVEN, EVEN_PCT, EVEN_K = 0.01, 0.05, 0.01
_LOOKS = 16  # inside a step in which a rate comes to rest, for its mean

_EARLY_STAGES = ("open", *CLOSING)
# Of two stages the later word never comes first, where the label has them in order.
_COMES_AFTER = {
    "touch": ("open",),
    "recoat": ("open", "touch"),
    "through": ("open", "touch"),
    "hard": ("open", "touch", "recoat"),
    "cured": ("open", "touch", "recoat", "through", "hard"),
    "window": ("recoat",),
    "closes": ("tack",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """Elapsed minutes from each coat's end to the stage; inf is never in this air."""

    early_min: Floats
    likely_min: Floats
    safe_min: Floats

    def plan_min(self, stage: str) -> Floats:
        """What plans count on: early for open times and closings, safe for waits."""
        return self.early_min if stage in _EARLY_STAGES else self.safe_min

    def end_min(self, which: Which) -> Floats:
        """One of the three by its name."""
        ends = {
            "early": self.early_min,
            "likely": self.likely_min,
            "safe": self.safe_min,
        }
        return ends[which]


class Worked:
    """What all coats in one air share: its weather, and progress once added up."""

    __slots__ = (
        "_drifting",
        "_ending",
        "_found",
        "_lowest",
        "_made",
        "_order",
        "air",
        "integral",
        "spread",
        "weather",
        "widest",
    )

    def __init__(self, air: RoomAir, integral: _MakeIntegral) -> None:
        self.air = air
        self.integral = integral
        self.weather = Weather(air)
        self.spread = integral(air.spread, air.step_min, None)
        self.widest = float(np.exp(air.spread.max()))
        self._made: dict[tuple[object, ...], Integral] = {}
        self._lowest: dict[tuple[Phase, float], float] = {}
        self._order: tuple[Floats, NDArray[np.intp]] | None = None
        self._found: tuple[Floats, dict[tuple[object, ...], Clock]] = np.zeros(0), {}
        self._drifting = _drifting(air)
        self._ending: Weather | None = None
        if self._drifting.size:
            self._ending = Weather(air.at_ends(self._drifting))

    def found(self, ends: Floats) -> dict[tuple[object, ...], Clock]:
        """Clocks of those ends, kept for what else waits for the same; not for one."""
        if ends.shape[0] < 2:
            return {}
        if self._found[0] is not ends:
            self._found = ends, {}
        return self._found[1]

    def order(self, ends: Floats) -> NDArray[np.intp]:
        """How those ends are sorted; remembered, since all tables ask for the same."""
        if self._order is None or self._order[0] is not ends:
            self._order = ends, np.argsort(ends, kind="stable")
        return self._order[1]

    def lowest(self, phase: Phase, coat: float) -> float:
        """A phase's rate in its worst hour."""
        key = phase, coat
        if key not in self._lowest:
            self._lowest[key] = _least(*self._felt(phase, coat))
        return self._lowest[key]

    def progress(
        self, phase: Phase, coat: float, slowest: float | None, label_rate: float
    ) -> Integral:
        """Progress of a phase; kept between ``slowest`` and 1 of the label's rate."""
        key = (phase, coat, slowest, label_rate if slowest is not None else None)
        if key not in self._made:
            if slowest is None:
                speed, tilt = self._felt(phase, coat)
                self._lowest[phase, coat] = _least(speed, tilt)
            else:
                speed, tilt = rate(phase, self.weather, coat), None
                unfrozen = self.weather.surface_c > 0
                clipped = np.clip(speed, slowest * label_rate, None)
                speed = np.minimum(clipped, label_rate) * unfrozen
            self._made[key] = self.integral(speed, self.air.step_min, tilt)
        return self._made[key]

    def _felt(self, phase: Phase, coat: float) -> tuple[Floats, Floats | None]:
        """A rate's mean in each step and what it rises by; None: even in all."""
        speed = rate(phase, self.weather, coat)
        if self._ending is None:
            return speed, None
        steps = self._drifting
        mean, end = speed[steps], rate(phase, self._ending, coat)
        rise = 2 * (end - mean)
        # At rest in part of the step; or from before its middle on.
        halting = (np.abs(rise) >= 2 * mean) & (rise != 0)
        halting |= (mean == 0) & (speed[steps - 1] > 0)
        if halting.any():
            speed[steps[halting]] = mean[halting] = self._mean_in(
                phase, coat, steps[halting]
            )
            rise[halting] = 2 * (end - mean)[halting]
        rise = np.clip(rise, -2 * mean, 2 * mean)
        rise[np.abs(rise) < EVEN * mean] = 0.0
        if not rise.any():
            return speed, None
        tilt = np.zeros_like(speed)
        tilt[steps] = rise
        return speed, tilt

    def _mean_in(self, phase: Phase, coat: float, steps: NDArray[np.intp]) -> Floats:
        """A rate's mean over steps in which it comes to rest or starts again."""
        shares = np.tile((np.arange(_LOOKS) + 0.5) / _LOOKS, steps.shape[0])
        weather = Weather(self.air.inside(np.repeat(steps, _LOOKS), shares))
        found = rate(phase, weather, coat).reshape(-1, _LOOKS)
        return np.asarray(found.mean(axis=1))


class Coats:
    """Coats of one material in one air, and their clocks, each worked out once."""

    def __init__(
        self,
        material: Material,
        ends: Floats,
        coat: float,
        porous: bool,
        worked: Worked,
        *,
        early: bool = True,
    ) -> None:
        """Without ``early`` a wait's early end is left as its likely one: a third of
        the work saved where nobody asks for it."""
        self._material = material
        self._air = worked.air
        self._ends = ends
        self._coat = coat
        self._porous = porous
        self._worked = worked
        self._early = early
        self._integral = worked.integral
        self._weather = worked.weather
        self._spread = worked.spread
        self._found: dict[str, Clock] = {}
        self._shared = worked.found(ends)

    def clock(self, stage: str) -> Clock:
        """The stage's clock, in order with the other stages of the label."""
        result = self._alone(stage)
        lime = self._material.family == "lime"
        if lime and stage == "touch" and self._in_order("touch", "recoat"):
            return _each(np.minimum, result, self._alone("recoat"))
        for before in _COMES_AFTER.get(stage, ()):
            if lime and (before == "touch" or stage == "recoat"):
                continue  # the next coat of lime does not wait for a damp touch
            if self._in_order(before, stage) and not self._sure(before, result):
                result = _each(np.maximum, result, self._alone(before))
        if stage == "window" and self._in_order("recoat", "window"):
            result = _each(np.maximum, result, self.clock("recoat"))
        return result

    def _in_order(self, first: str, second: str) -> bool:
        one = self._material.label_min(first)
        two = self._material.label_min(second)
        if one is None or two is None:
            return False
        return one[0] <= two[0] and one[1] <= two[1]

    def _sure(self, before: str, later: Clock) -> bool:
        """Whether a stage surely comes first, seen from its worst hour of air."""
        if before in self._found or self._ends.size == 0:
            return False
        high = self._label(before)[1]
        if before == "open":
            longest = OPEN_LONGEST * high
        else:
            fitted = calibrated(self._material, before)
            longest = high * _range_cap(self._material.family, before)
            longest *= self._worked.widest / fitted.factor
            slowest = [
                (self._worked.lowest(phase, self._coat), phase.share)
                for phase in fitted.law.phases
            ]
            if min(speed for speed, _ in slowest) <= 0:
                return False
            longest *= sum(share / speed for speed, share in slowest)
        return longest <= float(later.early_min.min())

    def _alone(self, stage: str) -> Clock:
        if stage not in self._found:
            key = self._key(stage)
            if key not in self._shared:
                self._shared[key] = self._in_line(stage, self._ranged(stage))
            self._found[stage] = self._shared[key]
        return self._found[stage]

    def _key(self, stage: str) -> tuple[object, ...]:
        """What a clock of these ends hangs on, whatever the material is called."""
        return (
            self._material.family,
            stage,
            calibrated(self._material, stage),
            self._label(stage),
            self._coat,
            self._early,
        )

    def _label(self, stage: str) -> tuple[float, float]:
        label = self._material.label_min(stage)
        if label is None:
            raise KeyError(stage)
        short = POROUS_OPEN if self._porous and stage == "open" else 1.0
        return label[0] * short, label[1] * short

    def _ranged(self, stage: str) -> Clock:
        low, high = self._label(stage)
        middle = (low + high) / 2
        run = self._run(stage)
        likely = run(middle)
        width = self._width(stage, middle, likely)
        asked = self._early or stage in _EARLY_STAGES
        safe = run(high * width)
        early = np.minimum(run(low / width), likely) if asked else likely
        if stage == "open":
            safe = np.minimum(safe, OPEN_LONGEST * high)
        fitted = calibrated(self._material, stage)
        if fitted.law.slowest is not None:
            slowest = self._slowest(fitted.law)
            safe = np.minimum(safe, slowest.until(self._ends, high) - self._ends)
            if stage == "recoat" and asked:  # never less than the label
                early = np.minimum(run(low), likely)
        return Clock(
            early_min=early,
            likely_min=likely,
            safe_min=np.maximum(safe, likely),
        )

    def _run(self, stage: str) -> Callable[[Floats | float], Floats]:
        """From minutes at the label's air to minutes in this air."""
        fitted = calibrated(self._material, stage)
        phases = self._phases(fitted)

        def minutes(label_min: Floats | float) -> Floats:
            moment = self._ends
            for integral, share in phases:
                moment = integral.until(moment, label_min / fitted.factor * share)
            found = moment - self._ends
            if stage == "open":
                found = _held_open(label_min, found)
            return found

        return minutes

    def _phases(self, fitted: Calibrated) -> list[tuple[Integral, float]]:
        slowest, label_rate = fitted.law.slowest, fitted.label_rate
        return [
            (
                self._worked.progress(phase, self._coat, slowest, label_rate),
                phase.share,
            )
            for phase in fitted.law.phases
        ]

    def _slowest(self, law: Law) -> Integral:
        unfrozen = self._weather.surface_c > 0
        speed = (law.slowest or 1.0) * unfrozen.astype(np.float64)
        return self._integral(speed, self._air.step_min, None)

    def _width(self, stage: str, middle: float, likely: Floats) -> Floats:
        """By how much the range is wider than the label's: 1 at the label's air."""
        if middle <= 0:
            return np.ones_like(likely)
        cap = float(np.log(_range_cap(self._material.family, stage)))
        took = likely
        ends = likely.min(initial=np.inf) > 0 and likely.max(initial=0.0) < np.inf
        if not ends:
            took = np.where(np.isfinite(likely) & (likely > 0), likely, 1.0)
        factor = np.where(likely > 0, likely, middle) if not ends else likely
        wide = np.minimum(RANGE_POWER * np.abs(np.log(factor / middle)), cap)
        mean = self._spread.between(self._ends, self._ends + took) / took
        if not ends:  # an endless wait ends in the last air's spread
            mean = np.where(np.isfinite(likely), mean, self._air.spread[-1])
        return np.asarray(np.exp(wide + mean))

    def _in_line(self, stage: str, found: Clock) -> Clock:
        if self._ends.shape[0] < 2:
            return found
        order = self._worked.order(self._ends)
        closing = stage in _EARLY_STAGES

        def lined(elapsed: Floats) -> Floats:
            finish = (self._ends + elapsed)[order]
            if (finish[1:] >= finish[:-1]).all():
                return elapsed
            if closing:
                fair = np.minimum.accumulate(finish[::-1])[::-1]
            else:
                fair = np.maximum.accumulate(finish)
            moved = fair != finish  # the others keep every digit
            result = elapsed.copy()
            result[order[moved]] = fair[moved] - self._ends[order[moved]]
            return result

        likely = lined(found.likely_min)
        same = found.early_min is found.likely_min
        return Clock(
            early_min=likely if same else lined(found.early_min),
            likely_min=likely,
            safe_min=lined(found.safe_min),
        )

    def law_min(self, stage: str) -> Floats:
        """Elapsed minutes by the law alone, before any limit on an open time."""
        fitted = calibrated(self._material, stage)
        low, high = self._label(stage)
        amount = np.full_like(self._ends, (low + high) / 2 / fitted.factor)
        moment = self._ends
        for integral, share in self._phases(fitted):
            moment = integral.until(moment, amount * share)
        return moment - self._ends

    def share_done(self, stage: str, at: Floats) -> Floats:
        """Share of the law's likely work done at those minutes, for the first coat."""
        fitted = calibrated(self._material, stage)
        low, high = self._label(stage)
        amount = (low + high) / 2 / fitted.factor
        moment = self._ends[:1]
        done = np.zeros_like(at)
        for integral, share in self._phases(fitted):
            if not np.isfinite(moment[0]) or amount * share <= 0:
                break
            gathered = integral.between(
                np.full_like(at, moment[0]), np.maximum(at, moment[0])
            )
            done = done + share * np.minimum(gathered / (amount * share), 1.0)
            moment = integral.until(moment, np.array([amount * share]))
        return done


def _drifting(air: RoomAir) -> NDArray[np.intp]:
    """Steps in which the air changes so much that a rate may; not the two ends."""
    if air.drift is None:
        return np.zeros(0, dtype=np.intp)
    drift = air.drift
    much = np.abs(drift.humidity_pct) > EVEN_PCT
    much |= np.abs(drift.surface_k) > EVEN_K
    much |= np.abs(drift.temperature_k) > EVEN_K
    much[[0, -1]] = False
    return np.flatnonzero(much)


def _least(speed: Floats, tilt: Floats | None) -> float:
    if tilt is None:
        return float(speed.min())
    return float((speed - np.abs(tilt) / 2).min())


def _held_open(label_min: Floats | float, lawful: Floats) -> Floats:
    """Shortens by the full factor, lengthens by its root, to the cap at most."""
    longer = np.minimum(np.sqrt(label_min * lawful), OPEN_LONGEST * label_min)
    return np.minimum(lawful, longer)


def _range_cap(family: Family, stage: str) -> float:
    if family == "lime" and column(stage) == "cure":
        return _LIME_CURE_CAP
    return _OIL_CAP if family in ("oil", "oil-size", "two-part") else _WATER_CAP


def _each(pick: Callable[[Floats, Floats], Floats], one: Clock, two: Clock) -> Clock:
    likely = pick(one.likely_min, two.likely_min)
    same = one.early_min is one.likely_min and two.early_min is two.likely_min
    return Clock(
        early_min=likely if same else pick(one.early_min, two.early_min),
        likely_min=likely,
        safe_min=pick(one.safe_min, two.safe_min),
    )
