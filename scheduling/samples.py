"""What a label learns from a coat that somebody watched with a clock.

Two ways: the label's own time is set so that its clock says the minutes watched, or the
minutes become a point and bend the law between the label's air and that air. In the
label's own air only the first is one.
"""

import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from scheduling.drying import clock
from scheduling.errors import bad
from scheduling.problem import Air, Label, LabelPoint, Material
from scheduling.room_air import constant_air

# Air within this of another is the same: what a usual hygrometer may be wrong by;
# common practice, no source.
SAME_C, SAME_PCT = 1.0, 3.0
_NO_TIME = datetime(2000, 1, 1, tzinfo=UTC)  # constant air needs some start
_TRIAL_MIN = 60.0  # any time will do to ask a law how many times as long it takes


def same_air(one: Air, other: Air) -> bool:
    """Whether a hygrometer could take one air for the other."""
    apart_c = abs(one.temperature_c - other.temperature_c)
    return apart_c <= SAME_C and abs(one.humidity_pct - other.humidity_pct) <= SAME_PCT


def likely_min(material: Material, stage: str, air: Air) -> float:
    """When that stage is likely reached in steady, still air; inf for never.

    KeyError where the label does not know it.
    """
    steady = constant_air(
        _NO_TIME,
        temperature_c=air.temperature_c,
        humidity_pct=air.humidity_pct,
        surface_c=air.temperature_c,
    )
    return float(clock(material, stage, steady, np.zeros(1)).likely_min[0])


def relabelled(
    material: Material, air: Air, watched_min: Mapping[str, float]
) -> Material:
    """The material with the label that gives those minutes in that air.

    A range keeps its width against its middle; points of these stages go, since the
    old label bent by them. BadInput where a stage never ends there.
    """
    labels: dict[str, Label] = dict(material.labels)
    points = _without(material.points, watched_min)
    plain = replace(material, points=points)
    for stage, watched in watched_min.items():
        old = labels.get(stage, _TRIAL_MIN)
        # By itself: beside the others a clock may be held to the order of the stages.
        likely = likely_min(replace(plain, labels={stage: old}), stage, air)
        if not math.isfinite(likely):
            said = f"{air.temperature_c:g} C, {air.humidity_pct:g} %"
            raise bad(f"labels.{stage}", said, "an air in which it ends")
        if stage not in labels:
            labels[stage] = _rounded(watched / likely * _TRIAL_MIN)
        else:
            labels[stage] = _times(old, watched / likely)
    return replace(plain, labels=labels)


def pointed(material: Material, air: Air, watched_min: Mapping[str, float]) -> Material:
    """The material with those minutes as its point at that air.

    What it had there of the same stages goes. Stages that the label does not know, and
    all of them in the label's own air, set the label itself. BadInput as there.
    """
    if same_air(material.label_air, air):
        return relabelled(material, air, watched_min)
    unknown = {
        stage: minutes
        for stage, minutes in watched_min.items()
        if stage not in material.labels
    }
    if unknown:
        material = relabelled(material, air, unknown)
    known: dict[str, Label] = {
        stage: minutes for stage, minutes in watched_min.items() if stage not in unknown
    }
    here = [point for point in material.points if same_air(point.air, air)]
    elsewhere = [point for point in material.points if not same_air(point.air, air)]
    if not known:
        return material
    before = {stage: label for point in here for stage, label in point.labels.items()}
    point = LabelPoint(air=air, labels=before | known)
    return replace(material, points=(*elsewhere, point))


def _times(label: Label, factor: float) -> Label:
    if isinstance(label, tuple):
        return (_rounded(label[0] * factor), _rounded(label[1] * factor))
    return _rounded(label * factor)


def _rounded(minutes: float) -> float:
    """Three figures: nobody watches a coat, or reads a label, more exactly."""
    return float(f"{minutes:.3g}")


def _without(
    points: tuple[LabelPoint, ...], stages: Mapping[str, float]
) -> tuple[LabelPoint, ...]:
    kept = []
    for point in points:
        labels = {
            stage: label for stage, label in point.labels.items() if stage not in stages
        }
        if labels:
            kept.append(replace(point, labels=labels))
    return tuple(kept)
