"""How a surface stands at one moment, and what holds it: values of the list of now."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from scheduling.cautions import Caution
from scheduling.ground import AS_LABELLED, Laid
from scheduling.plan import Range
from scheduling.problem import Coat, Family, Material, Step, Surface

State = Literal["closing", "now", "soon", "today", "held", "working", "done"]
STATES: tuple[State, ...] = (
    "closing", "now", "soon", "today", "held", "working", "done",
)  # fmt: skip
Sure = Literal["high", "medium", "low"]

# What to do before the next coat, by family of the coat below: common practice.
TESTS: Mapping[Family, str] = {
    "waterborne": "Thumb press and quarter twist: no mark; sands to powder",
    "glaze": "Tape test in a corner before anything is taped or rubbed",
    "distemper": "Even dry colour, nothing comes off on a dry finger",
    "oil": "No tack, no smell, thumb twist leaves no mark",
    "spirit": "Dry and clear to a light touch, no bloom",
    "lime": "Turned opaque; rub: no dust. Damp down before the next coat",
    "gypsum": "Uniform pale colour, no cool patch",
    "oil-size": "Knuckle: slight pull and a tick, nothing sticks",
    "water-size": "Clear and tacky to a knuckle, no white left",
    "two-part": "Thumb twist leaves no mark; check the sheet's longest interval",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldBy:
    """One thing that holds a surface, and until when."""

    code: str
    text: str
    until: Range | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceState:
    """A surface's next step and how it stands at one moment.

    ``since`` for closing and now, ``until`` for soon, today and held: when the wait
    ends or ended. ``last_coat``, ``stage``, ``material`` and ``laid`` tell what is
    waited for. ``cautions`` are what to mind about the ground; they hold nothing.
    """

    surface: Surface
    step: Step | None
    state: State
    test: str
    sure: Sure
    section: str | None = None
    since: Range | None = None
    until: Range | None = None
    closes: Range | None = None
    held_by: tuple[HeldBy, ...] = ()
    reading_age_min: float | None = None
    last_coat: Coat | None = None
    stage: str | None = None
    material: Material | None = None
    laid: Laid = AS_LABELLED
    cautions: tuple[Caution, ...] = ()

    @property
    def room(self) -> str:
        """The room's id."""
        return self.surface.room


def moment_range(moment: datetime) -> Range:
    """A moment that is known to the minute."""
    return Range(early=moment, likely=moment, safe=moment)


def free_of(held: Iterable[HeldBy]) -> Range | None:
    """When the last of the holds is over; None where one says no moment."""
    untils = [hold.until for hold in held]
    known = [until for until in untils if until is not None]
    return latest(known) if len(known) == len(untils) else None


def latest(ranges: Iterable[Range]) -> Range:
    """Each end the latest of several; None (never) wins."""
    rows = list(ranges)

    def end(name: str) -> datetime | None:
        moments = [getattr(row, name) for row in rows]
        return None if None in moments else max(moments)

    return Range(early=end("early"), likely=end("likely"), safe=end("safe"))


def soonest(ranges: Iterable[Range]) -> Range:
    """Each end the soonest of several; None (never) loses."""
    rows = list(ranges)

    def end(name: str) -> datetime | None:
        moments = [m for row in rows if (m := getattr(row, name)) is not None]
        return min(moments, default=None)

    return Range(early=end("early"), likely=end("likely"), safe=end("safe"))
