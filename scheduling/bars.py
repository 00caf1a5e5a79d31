"""Starts that site, room and wall forbid a stint: hours, other trades, the sun.

Each bar looks at one stint by itself, so it is a start domain. What two stints do to
each other stands in ``rules``.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from scheduling.clock_tables import ClockTables, Floats
from scheduling.problem import Hours, Job, Material, Step, Surface
from scheduling.process import Bar, all_of, day_text
from scheduling.working_time import SLOT_MIN, Axis, Mask, Span, hours_spans

# Why a stint does not start earlier; and, behind its name, why it can never start.
WHY: Mapping[str, str] = {
    "quiet": "Quiet hours {since} to {until}: no dust and no noise.",
}
NEVER: Mapping[str, str] = {
    "quiet": "makes dust or noise, and quiet hours leave no time for it",
}


def why_barred(bar: Bar, axis: Axis, slot: int) -> str:
    """Why a stint may not start in a slot that is barred."""
    minute = float(axis.minute[slot])
    start, end = next(span for span in bar.spans if span[1] > minute)
    return WHY[bar.code].format(
        name=bar.name,
        since=day_text(axis.moment(start), axis.job),
        until=day_text(axis.moment(end), axis.job),
    )


def why_never(bar: Bar) -> str:
    """Why a bar leaves no start at all, to stand behind the stint's name."""
    return NEVER[bar.code].format(name=bar.name)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bars:
    """Where the bars of a job's stints are looked up, ``days`` days from ``at``."""

    axis: Axis
    tables: ClockTables
    at: datetime
    days: int

    @property
    def job(self) -> Job:
        """The job whose bars these are."""
        return self.axis.job

    def of(
        self, surface: Surface, step: Step, material: Material | None, slots: int
    ) -> tuple[Bar, ...]:
        """Every bar on a stint of so many slots, in the order they are told."""
        found = (self._quiet(step, slots),)
        return tuple(bar for bar in found if bar is not None)

    # -- one rule each -----------------------------------------------------------

    def _quiet(self, step: Step, slots: int) -> Bar | None:
        """No dust (sanding, scraping) and no noise in the site's quiet hours."""
        if not {"dust", "noise"} & set(step.makes):
            return None
        return self._attended("quiet", self._spans(self.job.site.quiet), slots)

    # -- how a rule meets hours --------------------------------------------------

    def _attended(
        self, code: str, spans: Sequence[Span], slots: int, name: str = ""
    ) -> Bar | None:
        """No worked slot meets the spans; a pause may."""
        starts = self.axis.minute.astype(np.float64)
        free = _clear_of(spans, starts, starts + SLOT_MIN)
        if free.all():
            return None
        return Bar(
            code=code, may_start=all_of(free, slots), spans=tuple(spans), name=name
        )

    def _spans(self, hours: Iterable[Hours]) -> list[Span]:
        return hours_spans(self.job, hours, self.axis.origin, self.at, self.days)


def _clear_of(spans: Sequence[Span], begin: Floats, end: Floats) -> Mask:
    """Which of the stretches from ``begin`` to ``end`` meet none of the spans.

    The spans are in order and do not overlap.
    """
    starts = np.array([*(start for start, _ in spans), np.inf])
    ends = np.array([stop for _, stop in spans])
    following = np.searchsorted(ends, begin + 1e-6, side="left")
    free: Mask = starts[following] >= end - 1e-6
    return free
