"""One step on one wall at one moment: open time, strips, latest start, the mix.

For whoever stands before it: what one, two or three hands can hold open in this hour's
air, up to where, and until when at the latest it may be begun.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from scheduling import wet_edge
from scheduling.air_of_job import job_air
from scheduling.cautions import Caution, cautions
from scheduling.drying import clock
from scheduling.ground import laid_on
from scheduling.mixing import Mix, mix_of, waste_of
from scheduling.problem import Air, Job, Material, Step, Surface
from scheduling.room_air import RoomAir, constant_air
from scheduling.working_time import Span, hours_spans, room_spans, site_spans

MOST_HANDS = 3  # the crews told of, unless the step takes more
AHEAD_DAYS = 7  # how far to look for the next hours in which the room is open
CLOSING_TIME = "closing time"


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenTime:
    """Minutes that a coat put on now stays open."""

    early_min: float
    likely_min: float
    safe_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WallNow:
    """What a step on a wall or on one section of it needs, begun at ``begins``.

    ``begins`` is the moment asked about, else when the room is next open; None where it
    is not within a week. ``ends`` names what ends wet work after it, soonest first.
    ``open_time`` is None for a step with no open time, ``crews`` empty where it keeps
    no wet edge. ``mix`` is for this piece, ``batch`` for every surface of ``shares``,
    which all get the step: a glaze is mixed once.
    """

    surface: Surface
    step: Step
    material: Material | None
    section: str | None
    width_m: float
    area_m2: float
    stop_lines_m: tuple[float, ...]
    air: Air
    surface_c: float
    cautions: tuple[Caution, ...]
    begins: datetime | None
    ends: Mapping[str, datetime]
    open_time: OpenTime | None
    used_share: float
    crews: tuple[wet_edge.Option, ...]
    mix: Mix | None
    batch: Mix | None
    shares: tuple[Surface, ...]

    @property
    def allowed(self) -> tuple[wet_edge.Option, ...]:
        """The crews that the step allows, the smallest first."""
        return tuple(row for row in self.crews if row.hands in self.step.hands.counts)

    @property
    def crew(self) -> wet_edge.Option | None:
        """The smallest allowed crew that finishes in time; else None."""
        return next((row for row in self.allowed if row.feasible), None)

    @property
    def tight(self) -> wet_edge.Option | None:
        """Where no crew is: the smallest that does if begun at once, with no slack."""
        if self.crew is not None or self.begins is None:
            return None
        for row in self.allowed:
            end = self.moment(row.wall_min)
            if row.holds and end is not None and end <= self.ends[row.before]:
                return row
        return None

    def moment(self, minutes: float) -> datetime | None:
        """So many minutes after ``begins``; None where there is no such moment."""
        if self.begins is None or not np.isfinite(minutes):
            return None
        return self.begins + timedelta(minutes=minutes)


def wall_now(
    job: Job,
    surface: Surface,
    step: Step,
    *,
    at: datetime,
    section: str | None = None,
    air: Air | None = None,
    surface_c: float | None = None,
) -> WallNow:
    """The step on the wall at ``at``, in the room's air or in the one given.

    ``section`` is one of the surface's; KeyError where it has none of that id.
    """
    share = 1.0 if section is None else dict(surface.sections)[section]
    begins, ends = _hours(job, surface, at)
    room = _air(job, surface, begins or at, air, surface_c)
    place = room.index(room.minute(begins or at))
    here = Air(
        temperature_c=float(room.temperature_c[place]),
        humidity_pct=float(room.humidity_pct[place]),
    )
    material = job.material(step.material) if step.material else None
    open_time = open_time_of(job, surface, step, room, begins or at)
    used = used_share_in(room, begins or at)
    width_m = surface.width_m * share
    lines = surface.stop_lines_m if section is None else ()
    crews: tuple[wet_edge.Option, ...] = ()
    if step.wet and open_time is not None:
        start = begins or at
        crews = wet_edge.options(
            width_m=width_m,
            height_m=surface.height_m,
            openings_m2=surface.openings_m2 * share,
            apply_min_m2=step.apply_min_m2,
            work_min_m2=step.work_min_m2,
            setup_min=step.setup_min,
            open_min=open_time.early_min,
            now_min=0.0,
            ends={
                name: (end - start).total_seconds() / 60 for name, end in ends.items()
            },
            k=used,
            stop_lines_m=lines,
            most=max(MOST_HANDS, *step.hands.counts),
        )
    alike = _sharing(job, surface, step)
    mixes = material is not None and material.spread_m2_per_l is not None
    at_surface_c = float(room.surface_c[place])
    return WallNow(
        surface=surface,
        step=step,
        material=material,
        section=section,
        width_m=width_m,
        area_m2=surface.area_m2 * share,
        stop_lines_m=lines,
        air=here,
        surface_c=at_surface_c,
        cautions=cautions(material.family, here, surface_c=at_surface_c)
        if material
        else (),
        begins=begins,
        ends=ends,
        open_time=open_time,
        used_share=used,
        crews=crews,
        mix=_mixed(job, material, step, surface.area_m2 * share) if mixes else None,
        batch=_mixed(job, material, step, sum(row.area_m2 for row in alike))
        if mixes
        else None,
        shares=alike,
    )


def _mixed(job: Job, material: Material | None, step: Step, area_m2: float) -> Mix:
    assert material is not None  # noqa: S101 - asked only where something is put on
    return mix_of(material, area_m2 * step.coat, waste=waste_of(job))


def _air(
    job: Job, surface: Surface, at: datetime, air: Air | None, surface_c: float | None
) -> RoomAir:
    if air is None:
        return job_air(job, at=at, days=1).surfaces[surface.id]
    return constant_air(
        at,
        temperature_c=air.temperature_c,
        humidity_pct=air.humidity_pct,
        surface_c=air.temperature_c if surface_c is None else surface_c,
    )


def open_time_of(
    job: Job, surface: Surface, step: Step, air: RoomAir, at: datetime
) -> OpenTime | None:
    """The open time of a spot laid at ``at``; None for a step that has none."""
    material = job.material(step.material) if step.material else None
    if material is None or "open" not in material.labels:
        return None
    laid = laid_on(job, surface, step)
    found = clock(
        material,
        "open",
        air,
        np.array([air.minute(at)]),
        coat=laid.coat,
        porous=laid.porous,
    )
    return OpenTime(
        early_min=float(found.early_min[0]),
        likely_min=float(found.likely_min[0]),
        safe_min=float(found.safe_min[0]),
    )


def used_share_in(air: RoomAir, at: datetime) -> float:
    """How much of an open time to use in that moment's air: less where it is dry."""
    humidity_pct = float(air.humidity_pct[air.index(air.minute(at))])
    return wet_edge.used_share(humidity_pct)


def _sharing(job: Job, surface: Surface, step: Step) -> tuple[Surface, ...]:
    """The surfaces that the step's batch is for: the same step of the same recipe."""
    return tuple(row for row in job.surfaces if row.recipe == surface.recipe)


def _hours(
    job: Job, surface: Surface, at: datetime
) -> tuple[datetime | None, Mapping[str, datetime]]:
    """When the wall may be begun, and what ends wet work on it, soonest first."""
    room = job.room(surface.room)
    open_spans = _both(
        site_spans(job, at, at, AHEAD_DAYS), room_spans(job, room, at, at, AHEAD_DAYS)
    )
    stretch = next((span for span in open_spans if span[1] > 0), None)
    if stretch is None:
        return None, {}
    begin = max(0.0, stretch[0])
    named = [(_end_name(job, at, stretch[1]), stretch[1])]
    named += [
        (name, start)
        for name, spans in (
            ("the sun", hours_spans(job, surface.sun, at, at, AHEAD_DAYS)),
            ("the public", hours_spans(job, room.opens, at, at, AHEAD_DAYS)),
        )
        for start, _ in spans
    ]
    moments = [
        *((trade.name, trade.start) for trade in room.others),
        *((gate.name, gate.not_after) for gate in surface.gates),
        ("the room’s hand-back", room.hand_back),
    ]
    named += [
        (name, (moment - at).total_seconds() / 60)
        for name, moment in moments
        if moment is not None
    ]
    ends: dict[str, datetime] = {}
    for name, minute in sorted(named, key=lambda pair: pair[1]):
        if begin < minute <= stretch[1] and name not in ends:
            ends[name] = (at + timedelta(minutes=minute)).astimezone(job.site.tz)
    return (at + timedelta(minutes=begin)).astimezone(job.site.tz), ends


def _end_name(job: Job, at: datetime, minute: float) -> str:
    """Whether a stretch ends with a break or with the day."""
    end = (at + timedelta(minutes=minute)).astimezone(job.site.tz)
    clock_text = f"{end:%H:%M}"
    pauses = {
        pause.start
        for rule in job.site.hours
        if end.weekday() in rule.weekdays
        for pause in rule.breaks
    }
    return "the break" if clock_text in pauses else CLOSING_TIME


def _both(one: Iterable[Span], other: Iterable[Span]) -> list[Span]:
    """Where two sorted lists of spans overlap."""
    rows = list(other)
    found = [
        (max(start, low), min(end, high)) for start, end in one for low, high in rows
    ]
    return sorted(span for span in found if span[0] < span[1])
