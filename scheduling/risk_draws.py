"""Draws of how slow each coat turns out, and the moments at which it then stands.

Every coat has its own seeded numbers, named by the coat: a plan changed elsewhere does
not shake them, and two plans of a job are compared in the same cases.
"""

import zlib
from collections.abc import Mapping
from math import sqrt

import numpy as np

from scheduling import drying
from scheduling.chance import even_normals, minutes_at
from scheduling.coats import Clock, Worked
from scheduling.problem import GivenAir, Job
from scheduling.risk_facts import Laid
from scheduling.room_air import Floats, RoomAir

# Assumed: of what is not known about a coat's clock, half is its room's air and ground,
# the same for all coats there, and half of that the outdoor forecast that all rooms
# share; the rest (film, batch, hand) is new with each coat. The laws miss evaporation
# by as much as a coat's own scatter (Hover, ACI SP-338, 2020). Air that is given is
# certain, so there nothing is shared.
ROOM_SHARE = 0.25
OUTDOORS_SHARE = 0.25


class Draws:
    """``count`` cases; ``airs`` by surface. Arrays it gives have one entry a case."""

    def __init__(
        self, job: Job, airs: Mapping[str, RoomAir], *, seed: int, count: int
    ) -> None:
        self.airs, self.count = airs, count
        self._seed = seed
        self._given = {room.id for room in job.rooms if isinstance(room.air, GivenAir)}
        self._even = even_normals(count)
        self._slow: dict[str, Floats] = {}
        self._named: dict[str, Floats] = {}
        self._worked: dict[int, Worked] = {}
        self._after: dict[tuple[str, str, float], Floats] = {}

    def slowness(self, coat: Laid) -> Floats:
        """The coat's z in each case: evenly spread over the normal, shares kept.

        The ranks are drawn and the normal's own quantiles put in their order, so a
        chance judged on one coat errs by one case at most, not by sampling.
        """
        if coat.key not in self._slow:
            drawn = self._normals(f"coat {coat.key}")
            room = coat.surface.room
            if room not in self._given:
                drawn = (
                    sqrt(OUTDOORS_SHARE) * self._normals("outdoors")
                    + sqrt(ROOM_SHARE) * self._normals(f"room {room}")
                    + sqrt(1 - OUTDOORS_SHARE - ROOM_SHARE) * drawn
                )
            ordered = np.empty(self.count)
            ordered[np.argsort(drawn, kind="stable")] = self._even
            self._slow[coat.key] = ordered
        return self._slow[coat.key]

    def reached(self, coat: Laid, stage: str, ends: Floats) -> Floats:
        """Minute of the air at which the coat, ended at ``ends``, is at a stage."""
        if (ends == ends[0]).all():
            return self.after(coat, stage, float(ends[0]))
        minute = np.full(self.count, np.inf)
        known = np.isfinite(ends)
        different, place = np.unique(ends[known], return_inverse=True)
        found = self._clock(coat, stage, different)
        each = Clock(
            early_min=found.early_min[place],
            likely_min=found.likely_min[place],
            safe_min=found.safe_min[place],
        )
        minute[known] = ends[known] + minutes_at(each, self.slowness(coat)[known])
        return minute

    def after(self, coat: Laid, stage: str, end_min: float) -> Floats:
        """The same for one end in all cases."""
        key = (coat.key, stage, end_min)
        if key not in self._after:
            minute = np.full(self.count, np.inf)
            if np.isfinite(end_min):
                found = self._clock(coat, stage, np.array([end_min]))
                minute = end_min + minutes_at(found, self.slowness(coat))
            self._after[key] = minute
        return self._after[key]

    def _clock(self, coat: Laid, stage: str, ends: Floats) -> Clock:
        air = self.airs[coat.surface.id]
        if id(air) not in self._worked:
            self._worked[id(air)] = drying.in_air(air)
        return drying.clock(
            coat.material,
            stage,
            air,
            ends,
            coat=coat.how.coat,
            porous=coat.how.porous,
            worked=self._worked[id(air)],
        )

    def _normals(self, name: str) -> Floats:
        if name not in self._named:
            stream = np.random.default_rng([self._seed, zlib.crc32(name.encode())])
            self._named[name] = stream.standard_normal(self.count)
        return self._named[name]
