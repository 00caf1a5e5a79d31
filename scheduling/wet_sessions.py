"""Wet work of a plan in other air: how long it stays open, and for whose hands."""

from collections.abc import Callable
from datetime import datetime

from scheduling import drying, wet_edge
from scheduling.chance import closing_min
from scheduling.ground import laid_on
from scheduling.plan import Range, Stint
from scheduling.problem import Job
from scheduling.room_air import RoomAir


class WetSession:
    """A stint of wet work: how long its coat stays open, and what its hands need.

    ``open_min`` is in the air given, ``was_min`` as the plan has it; both are the early
    end, or what is asked for by ``chance``.
    """

    def __init__(
        self,
        job: Job,
        stint: Stint,
        air: RoomAir,
        walked: Callable[[RoomAir], drying.Worked],
        chance: float | None,
    ) -> None:
        self.job, self.stint = job, stint
        self.surface = job.surface(stint.surface)
        self.step = job.step_of(stint.surface, stint.step)
        assert self.step.material is not None  # noqa: S101 - it has an open time
        laid = laid_on(job, self.surface, self.step)
        minute = air.minute(stint.end)
        found = drying.hours_in(
            job.material(self.step.material),
            "open",
            air,
            minute,
            laid.coat,
            porous=laid.porous,
            worked=walked(air),
        )
        self.open_min = float(closing_min(found, chance))
        self.was_min = _minutes(stint.open, stint.end)
        entry = air.index(air.minute(stint.start))
        self.used_share = wet_edge.used_share(float(air.humidity_pct[entry]))

    def edge(self, open_min: float) -> wet_edge.WetEdge:
        """The strips that the stint's hands can hold in that open time."""
        surface, step = self.surface, self.step
        share = 1.0
        if self.stint.section is not None:
            share = dict(surface.sections)[self.stint.section]
        return wet_edge.wet_edge(
            area_m2=surface.area_m2 * share,
            width_m=surface.width_m * share,
            height_m=surface.height_m,
            apply_min_m2=step.apply_min_m2,
            work_min_m2=step.work_min_m2,
            setup_min=step.setup_min,
            wet=True,
            open_min=open_min,
            hands=max(1, len(self.stint.hands)),
            k=self.used_share,
            stop_lines_m=surface.stop_lines_m if self.stint.section is None else (),
        )


def _minutes(clock: Range | None, end: datetime) -> float | None:
    if clock is None or clock.early is None:
        return None
    return (clock.early - end).total_seconds() / 60
