"""A label turned into the reference of the laws: what its minutes mean at 23 C, 50 %.

A label is right at its own air. Where it says that a coat dries in air in which the
usual law stops, the film limit is lower than usual, and the law gives way.
"""

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache

import numpy as np

from scheduling.errors import BadInput, Fault, bad
from scheduling.problem import Air, Family, Material
from scheduling.rate_laws import Law, Phase, Weather, law, rate
from scheduling.room_air import constant_air

LABEL_SPREAD = 0.05  # Assumed: label times are rounded to about 5 %
SHARE_SPREAD = 0.2  # Assumed: prior of the evaporative share, about 0.6 in dispersions
ENERGY_SPREAD = 8.0  # Assumed: kJ/mol, half of the 40 to 65 found for oxidising films
EXPONENT_SPREAD = 0.05  # Assumed: the joint-compound chart of GA-236 gives 0.95
_DAMPEST = 0.02  # Assumed: a film ends at least 2 points of RH above a label's air
_NO_TIME = datetime(2000, 1, 1, tzinfo=UTC)  # constant air needs some start

_Point = tuple[float, float, float]  # temperature_c, humidity_pct, minutes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Calibrated:
    """A law fitted to a label. ``factor`` is label minutes to reference minutes.

    Labels that say the same share one, so that it stands for itself as a key.
    """

    law: Law
    factor: float
    label_rate: float  # of a one-phase law at the label's air


def calibrated(material: Material, stage: str) -> Calibrated:
    """The law of that stage as this label has it; other points bend its shape.

    The label's own air stays exact. BadInput where nothing dries in that air.
    """
    points: list[_Point] = []
    for point in material.points:
        label = point.labels.get(stage)
        if label is not None and _mid(label) > 0:
            air = point.air
            points.append((air.temperature_c, air.humidity_pct, _mid(label)))
    own = material.label_min(stage)
    if own is None:
        raise KeyError(stage)
    usual = material.label_air
    return _calibrated(
        material.family,
        stage,
        (usual.temperature_c, usual.humidity_pct, _mid(own)),
        tuple(points),
    )


def label_air_faults(material: Material, path: str) -> list[Fault]:
    """Stages of a label that cannot end in the air the label itself speaks of."""
    found: list[Fault] = []
    for stage in (*material.labels, *material.promises):
        try:
            calibrated(material, stage)
        except BadInput as error:
            found += [
                Fault(f"{path}.{fault.path}", fault.value, fault.allowed)
                for fault in error.faults
            ]
    return found


@lru_cache(maxsize=4096)
def _calibrated(
    family: Family, stage: str, own: _Point, points: tuple[_Point, ...]
) -> Calibrated:
    fitted = _given_way(law(family, stage), (own, *points))
    factor = _multiple(fitted, own)
    if not math.isfinite(factor):
        error = bad(
            "label_air",
            f"{own[0]:g} C, {own[1]:g} %",
            f"an air in which {stage} of {family} can end, over 0 C and under 98 %",
        )
        raise error
    if points and own[2] > 0:
        fitted = _bent(fitted, own, points)
        factor = _multiple(fitted, own)
    return Calibrated(law=fitted, factor=factor, label_rate=1 / factor)


def _mid(label: float | tuple[float, float]) -> float:
    return (label[0] + label[1]) / 2 if isinstance(label, tuple) else float(label)


def _given_way(usual: Law, points: tuple[_Point, ...]) -> Law:
    coldest = min(temperature_c for temperature_c, _, _ in points)
    dampest = max(humidity_pct for _, humidity_pct, _ in points) / 100
    phases: list[Phase] = []
    for phase in usual.phases:
        changed = phase
        if phase.ramp_c is not None and coldest < phase.ramp_c[1]:
            fall = phase.ramp_c[1] - coldest
            changed = replace(changed, ramp_c=(phase.ramp_c[0] - fall, coldest))
        if phase.kind == "evaporation":
            least = min(dampest + _DAMPEST, 1.0)
            changed = replace(changed, activity=max(phase.activity, least))
        phases.append(changed)
    return replace(usual, phases=tuple(phases))


def _multiple(law_: Law, point: _Point) -> float:
    """How many reference times a stage takes at that air; inf if it never ends."""
    temperature_c, humidity_pct, _ = point
    air = Air(temperature_c=temperature_c, humidity_pct=humidity_pct)
    return multiple(law_, air)


def multiple(law_: Law, air: Air) -> float:
    """How many reference times a stage takes in steady, still air; inf for never."""
    weather = Weather(
        constant_air(
            _NO_TIME,
            temperature_c=air.temperature_c,
            humidity_pct=air.humidity_pct,
        )
    )
    total = 0.0
    for phase in law_.phases:
        speed = float(rate(phase, weather, 1.0)[0])
        total += phase.share / speed if speed > 0 else math.inf
    return total


def _bent(usual: Law, own: _Point, points: tuple[_Point, ...]) -> Law:
    """The law whose one free number fits the points best, kept near its usual value."""
    start, spread, low, high = _free(usual)
    best = start
    width = high - low
    for _ in range(4):  # each round narrows the search twentyfold
        tried = np.clip(np.linspace(best - width / 2, best + width / 2, 41), low, high)
        costs = [
            _misfit(_with(usual, value), own, points) + ((value - start) / spread) ** 2
            for value in tried.tolist()
        ]
        best = float(tried[int(np.argmin(costs))])
        width /= 20
    return _with(usual, best)


def _misfit(law_: Law, own: _Point, points: tuple[_Point, ...]) -> float:
    base = _multiple(law_, own)
    total = 0.0
    for point in points:
        said = math.log(point[2] / own[2])
        got = _multiple(law_, point) / base
        if not 0 < got < math.inf:
            return math.inf
        total += ((math.log(got) - said) / LABEL_SPREAD) ** 2
    return total


def _free(law_: Law) -> tuple[float, float, float, float]:
    """Usual value, spread, lowest and highest of the number that points may bend."""
    first, main = law_.phases[0], law_.phases[-1]
    if len(law_.phases) == 2 and 0.2 < first.share < 0.8:
        return first.share, SHARE_SPREAD, 0.0, 1.0
    if main.kind == "evaporation":
        return main.exponent, EXPONENT_SPREAD, 0.5, 1.5
    return main.energy_kj_mol, ENERGY_SPREAD, 10.0, 100.0


def _with(law_: Law, value: float) -> Law:
    first, main = law_.phases[0], law_.phases[-1]
    if len(law_.phases) == 2 and 0.2 < first.share < 0.8:
        shared = (replace(first, share=value), replace(main, share=1 - value))
        return replace(law_, phases=shared)
    if main.kind == "evaporation":
        bent = replace(main, exponent=value)
    else:
        bent = replace(main, energy_kj_mol=value)
    return replace(law_, phases=(*law_.phases[:-1], bent))
