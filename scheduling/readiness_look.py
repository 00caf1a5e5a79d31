"""One look at a job: its log up to a moment, the air at every surface, its clocks."""

from dataclasses import replace
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np

from scheduling import drying
from scheduling.air_of_job import job_air
from scheduling.clock_tables import ClockTables
from scheduling.corrections import standing
from scheduling.done import coats_done
from scheduling.ground import Laid
from scheduling.openings import Openings, openings_of
from scheduling.plan import Range
from scheduling.problem import Job, Material, Surface
from scheduling.working_time import FIRST_DAYS, any_hour_axis, floor_to_slot

AHEAD_DAYS = 10  # of the air; later hours are taken to be as its last days


class Look:
    """A job as it stands at ``at``: coats of the future do not count yet."""

    def __init__(self, job: Job, at: datetime) -> None:
        self.at = at
        self.job = replace(job, coats=tuple(c for c in job.coats if c.start <= at))
        self.coats = standing(self.job)
        self.airs = job_air(self.job, at=at, days=AHEAD_DAYS).surfaces
        self.materials = {material.id: material for material in job.materials}

    @cached_property
    def openings(self) -> Openings:
        """What rooms and site leave open at any hour, as far ahead as a plan looks."""
        first = floor_to_slot(self.at)
        origin = next(iter(self.airs.values())).start
        axis = any_hour_axis(self.job, origin, first, FIRST_DAYS)
        tables = ClockTables(axis, self.airs)
        return openings_of(self.job, axis, tables, at=first, days=FIRST_DAYS)

    @property
    def tables(self) -> ClockTables:
        """The clocks at those hours."""
        return self.openings.bars.tables

    def clock(
        self,
        surface: Surface,
        material: Material,
        laid: Laid,
        stage: str,
        end: datetime,
    ) -> Range:
        """When a coat that ended then is at a stage, on the site's clock."""
        air = self.airs[surface.id]
        minute = air.minute(end)
        clock = drying.clock(
            material,
            stage,
            air,
            np.array([minute]),
            coat=laid.coat,
            porous=laid.porous,
        )

        def moment(elapsed: float) -> datetime | None:
            if not np.isfinite(elapsed):
                return None
            found = air.moment(minute + elapsed).astimezone(self.job.site.tz)
            return found.replace(microsecond=0)

        return Range(
            early=moment(float(clock.early_min[0])),
            likely=moment(float(clock.likely_min[0])),
            safe=moment(float(clock.safe_min[0])),
        )

    def finished(self, surface: Surface) -> bool:
        """Whether the log has every step of the surface."""
        recipe = self.job.recipe(surface.recipe)
        done = coats_done(self.job, surface, recipe)
        return all(done.all_of(step) for step in recipe.steps)

    def has_coat(self, surface: Surface) -> bool:
        """Whether something that dries is on it already."""
        recipe = self.job.recipe(surface.recipe)
        return any(
            coat.surface == surface.id and recipe.step(coat.step).material is not None
            for coat in self.coats
        )

    def reading_age_min(self, room: str) -> float | None:
        """Minutes since the last reading in the room; None without one."""
        ages = [
            (self.at - reading.at) / timedelta(minutes=1)
            for reading in self.job.readings
            if reading.room == room and reading.at <= self.at
        ]
        return min(ages, default=None)
