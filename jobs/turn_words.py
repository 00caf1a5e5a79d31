"""What new air does to a plan, as it is kept in a record and as it is told. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from jobs.templatetags.plan_format import say_minutes
from scheduling.judging import Better, Judgement, Slip

# Assumed: less is within what any clock is sure of, and no reason to plan again.
WORTH_MIN = 15.0
MUCH_MIN = 240.0  # half a day sooner is worth a plan of its own

WHY = {
    "wait": "the coat under it takes longer",
    "rescue": "the coat under it takes longer",
    "test": "only a test will tell whether the coat under it is ready",
    "window": "the window of the coat under it shuts before",
    "air": "no coat may be begun in that air",
    "wet": "its hands cannot keep the edge open in that air",
    "corner": "the wall beside it is still wet",
    "dust": "a coat in the same air is still open to its dust",
    "steam": "a coat in the same air is still open to its steam",
    "solvent": "a coat in the same air is still open to its solvent",
    "opens": "it is not dry when the room opens to the public",
    "smell": "it still smells in smell-free hours",
    "trade-air": "it is not dry before another trade’s dust",
    "hand-back": "it is not dry when the room is handed back",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SlipLine:
    """One stint that slips: where, which step, from when to when, and why."""

    surface: str
    step: str
    start: datetime
    holds_from: datetime | None
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BetterLine:
    """One thing that likes this air."""

    surface: str
    step: str
    text: str


def breaks(judged: Judgement) -> list[Slip]:
    """The slips worth planning again for."""
    return [
        slip for slip in judged.slips if slip.by_min is None or slip.by_min >= WORTH_MIN
    ]


def much_better(judged: Judgement) -> list[Better]:
    """What is so much better, and holds its stint, that a plan may gain by it."""
    return [row for row in judged.better if row.held and row.by_min >= MUCH_MIN]


def kept(judged: Judgement) -> dict[str, Any]:
    """As a record keeps it, in JSON's values: a stint once, its longest slip."""
    slips: dict[str, Slip] = {}
    for slip in breaks(judged):
        old = slips.get(slip.stint)
        if slip.start is not None and (
            old is None or (slip.by_min or 0.0) > (old.by_min or 0.0)
        ):
            slips[slip.stint] = slip
    return {
        "slips": [
            {
                "rule": slip.rule,
                "surface": slip.surface,
                "step": slip.step,
                "start": _written(slip.start),
                "holds_from": _written(slip.holds_from),
            }
            for slip in slips.values()
        ],
        "better": [
            {
                "kind": row.kind,
                "surface": row.surface,
                "step": row.step,
                "by_min": row.by_min,
            }
            for row in judged.better
        ],
        "must": sum(slip.rule == "must-date" for slip in judged.slips),
    }


def slip_lines(judged: Mapping[str, Any], names: Mapping[str, str]) -> list[SlipLine]:
    """The kept slips with the names of their surfaces and steps."""
    return [
        SlipLine(
            surface=names.get(row["surface"], row["surface"]),
            step=names.get(f"{row['surface']} {row['step']}", row["step"]),
            start=datetime.fromisoformat(row["start"]),
            holds_from=_read(row["holds_from"]),
            why=WHY.get(row["rule"], row["rule"]),
        )
        for row in judged.get("slips", ())
    ]


def better_lines(
    judged: Mapping[str, Any], names: Mapping[str, str]
) -> list[BetterLine]:
    """What is kept as better, the most first."""
    return [
        BetterLine(
            surface=names.get(row["surface"], row["surface"]),
            step=names.get(f"{row['surface']} {row['step']}", row["step"]),
            text=(
                f"may begin {say_minutes(row['by_min'])} sooner, for its wait"
                if row["kind"] == "wait"
                else f"stays open {say_minutes(row['by_min'])} longer"
            ),
        )
        for row in judged.get("better", ())
    ]


def _written(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat()


def _read(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)
