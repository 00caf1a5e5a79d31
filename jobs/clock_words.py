"""The clocks of a material in a steady air, in plain words and as small wedges.

Pure: a material and an air in. Uses the material as it is, points and all.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import isfinite

import numpy as np

from jobs.small_wedge import SmallWedge, small_wedge
from jobs.templatetags.plan_format import say_label, say_minutes
from jobs.week_marks import wedge_shares
from scheduling.cautions import Caution, cautions, may_start
from scheduling.drying import OPEN_LONGEST, Clock, clock, progress
from scheduling.ground import AS_LABELLED, Laid
from scheduling.problem import Air, Material
from scheduling.room_air import constant_air

# The four clocks, and the words for each end of them.
CLOCKS = (
    ("Open", (("open", "Can be worked, joined and wiped for"),)),
    (
        "Recoat",
        (
            ("touch", "Dry to touch after"),
            ("tack", "At tack, ready for leaf, after"),
            ("recoat", "Takes the next coat after"),
            ("through", "Dry through after"),
            ("hard", "Hard enough to glaze, tape or size over after"),
        ),
    ),
    (
        "Window",
        (
            ("window", "Next coat at the latest after"),
            ("closes", "Takes leaf at the latest after"),
        ),
    ),
    (
        "Cure",
        (
            ("cured", "Cured after"),
            ("handle", "May be handled after"),
            ("load", "May be loaded after"),
            ("wash", "May be washed after"),
            ("full", "Fully cured after"),
        ),
    ),
)
_LATEST = ("open", "window", "closes")  # planned with their early end
_START = datetime(2000, 1, 1, tzinfo=UTC)  # steady air needs some start


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockLine:
    """One end of one clock: the answer, its range and the label's own time."""

    name: str
    answer: str
    range: str
    label: str
    wedge: SmallWedge | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockGroup:
    """One of the four clocks."""

    name: str
    lines: tuple[ClockLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialClocks:
    """A material's clocks in one air, and what speaks against starting in it.

    ``laid`` says how, where that is not as the label's: "2 times as thick ...".
    """

    name: str
    laid: str
    family: str
    label_temperature_c: float
    label_humidity_pct: float
    may_start: bool
    cautions: tuple[Caution, ...]
    groups: tuple[ClockGroup, ...]


def material_clocks(
    material: Material,
    air: Air,
    *,
    surface_c: float,
    laid: Laid = AS_LABELLED,
) -> MaterialClocks:
    """Every clock that the label knows, run in steady air for a coat so laid."""
    steady = constant_air(
        _START,
        temperature_c=air.temperature_c,
        humidity_pct=air.humidity_pct,
        surface_c=surface_c,
    )
    stages = (*material.labels, *material.promises)
    found = {
        stage: clock(
            material, stage, steady, np.zeros(1), coat=laid.coat, porous=laid.porous
        )
        for stage in stages
    }
    given = cautions(
        material.family,
        air,
        surface_c=surface_c,
        coat=laid.coat,
        open_capped="open" in found and _capped(material, found["open"]),
        never=tuple(
            stage for stage in stages if not isfinite(found[stage].likely_min[0])
        ),
    )

    def longest(stages_in: tuple[tuple[str, str], ...]) -> datetime:
        ends = [
            float(found[stage].safe_min[0]) for stage, _ in stages_in if stage in found
        ]
        known = [end for end in ends if isfinite(end)]
        return _START + timedelta(minutes=max(known, default=1.0))

    def line(stage: str, words: str, until: datetime) -> ClockLine:
        early, likely, safe = (
            _minutes(values)
            for values in (
                found[stage].early_min, found[stage].likely_min, found[stage].safe_min,
            )
        )  # fmt: skip
        counted = early if stage in _LATEST else safe
        label = material.label_min(stage) or (0.0, 0.0)
        wedge = None
        if likely is not None and stage not in _LATEST and likely > 0:
            end = _START + timedelta(minutes=likely)
            wedge = small_wedge(
                wedge_shares(
                    material, stage, steady, _START, end, progress, coat=laid.coat
                ),
                likely=end,
                safe=None if safe is None else _START + timedelta(minutes=safe),
                now=None,
                until=until,
                words=f"The wait falls to nothing in {say_minutes(likely)}.",
            )
        return ClockLine(
            name=words,
            answer=say_minutes(counted),
            range=_range(stage, early, likely, safe),
            label=say_label(label),
            wedge=wedge,
        )

    groups = []
    for name, stages_in in CLOCKS:
        lines = tuple(
            line(stage, words, longest(stages_in))
            for stage, words in stages_in
            if stage in found
        )
        if lines:
            groups.append(ClockGroup(name=name, lines=lines))
    return MaterialClocks(
        name=material.name or material.id,
        laid=how_laid(laid),
        family=material.family,
        label_temperature_c=material.label_air.temperature_c,
        label_humidity_pct=material.label_air.humidity_pct,
        may_start=may_start(given, material.family),
        cautions=given,
        groups=tuple(groups),
    )


def how_laid(laid: Laid) -> str:
    """How a coat is laid, where that is not as its label has it."""
    told = []
    if laid.coat != 1.0:
        told.append(f"{laid.coat:g} times as thick as the label’s coat")
    if laid.porous:
        told.append("on porous ground, where it sets sooner")
    return ", ".join(told)


def _range(
    stage: str, early: float | None, likely: float | None, safe: float | None
) -> str:
    if likely is None:
        return "it never ends in this air"
    if early == likely == safe:
        return "always"
    if stage in _LATEST:
        return (
            f"count on that; likely {say_minutes(likely)}, at most {say_minutes(safe)}"
        )
    return f"early {say_minutes(early)}, likely {say_minutes(likely)}, then safe"


def _minutes(values: np.ndarray) -> float | None:
    minutes = float(values[0])
    return minutes if isfinite(minutes) else None


def _capped(material: Material, found: Clock) -> bool:
    low, high = material.label_min("open") or (0.0, 0.0)
    longest = OPEN_LONGEST * (low + high) / 2
    return bool(found.likely_min[0] >= longest * (1 - 1e-12) > 0)
