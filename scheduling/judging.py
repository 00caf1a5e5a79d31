"""An issued plan held against new air, without planning again.

What of it holds no longer, and which waits have become shorter. Clocks are walked by
the audit's own integration; no axis, no table and no search is asked, so the answer is
about each stint where it stands: what follows on one that slips is for a plan to say.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from scheduling import cautions
from scheduling.air_of_job import job_air
from scheduling.audit import JOT, Audit, Waited
from scheduling.done import coats_done
from scheduling.plan import Plan, Stint
from scheduling.problem import Coat, Job
from scheduling.room_air import RoomAir
from scheduling.wet_sessions import WetSession

AIR_AHEAD = timedelta(days=7)  # how far to look for air in which a coat may start
LEAST_MIN = 15.0  # a wait or an open time that moved by less is not worth a word


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A stint that holds no longer where it stands, and the rule it would break.

    The rule is the audit's; "wet" where its hands cannot keep the edge open any more.
    ``holds_from`` is when it would hold by this rule, None where that is not a matter
    of waiting. A date that must be kept has ``stint`` "date 0" and no ``surface``.
    """

    rule: str
    stint: str
    surface: str
    step: str
    start: datetime | None
    holds_from: datetime | None
    text: str

    @property
    def by_min(self) -> float | None:
        """How long it would have to wait; None where waiting does not help."""
        if self.holds_from is None or self.start is None:
            return None
        return (self.holds_from - self.start).total_seconds() / 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Better:
    """What is better in the new air, by so many minutes.

    A "wait" of the stint is over sooner, ``held`` where it is what holds the stint; or
    a coat of the stint stays "open" longer, for wet work.
    """

    kind: Literal["wait", "open"]
    stint: str
    surface: str
    step: str
    by_min: float
    held: bool
    now: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class DateMoved:
    """A wished date's lateness where the stints stand: minutes, None is never."""

    date: int
    was_min: float | None
    by_min: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What the new air does to a plan, its stints in their order."""

    slips: tuple[Slip, ...]
    better: tuple[Better, ...]
    dates: tuple[DateMoved, ...]


def judge(
    job: Job,
    plan: Plan,
    *,
    at: datetime,
    airs: Mapping[str, RoomAir] | None = None,
    chance: float | None = None,
) -> Judgement:
    """Which stints from ``at`` on hold no longer in the job's air, and what is better.

    ``airs`` are those of ``judged_airs`` where they are at hand. Better is against the
    clocks that the plan shows. Stints before ``at`` that nobody logged are taken as
    done as planned; stints whose surface or step the job no longer has are left out.
    """
    left = _left(job, plan)
    airs = judged_airs(job, plan, at=at) if airs is None else airs
    check = Audit(job, left, at, airs, airs, chance)
    coming = [stint for stint in left if stint.start >= at - JOT]
    sessions = [
        WetSession(job, stint, airs[stint.surface], check.walked, chance)
        for stint in coming
        if _wet(job, stint)
    ]
    slips = [*_broken(check, coming, airs), *_edges_lost(sessions)]
    better = [*_sooner(check, plan, coming), *_longer_open(sessions)]
    order = {stint.id: number for number, stint in enumerate(coming)}
    last = len(order)
    return Judgement(
        slips=tuple(sorted(slips, key=lambda slip: order.get(slip.stint, last))),
        better=tuple(sorted(better, key=lambda row: (-row.by_min, row.stint))),
        dates=tuple(_dates(job, check, plan)),
    )


def judged_airs(job: Job, plan: Plan, *, at: datetime) -> Mapping[str, RoomAir]:
    """The air at each surface over what is left of a plan, with its coats' water."""
    left = _left(job, plan)
    first = min([at, *(stint.start for stint in left)], key=datetime.timestamp)
    last = max([at, *(stint.end for stint in left)], key=datetime.timestamp)
    work = [
        Coat(
            surface=stint.surface,
            section=stint.section,
            step=stint.step,
            start=stint.start,
            end=stint.end,
        )
        for stint in left
        if stint.kind == "work"
    ]
    return job_air(job, at=first, days=(last - first).days + 2, work=work).surfaces


# -- what of the plan is left ----------------------------------------------------------


def _left(job: Job, plan: Plan) -> list[Stint]:
    """Stints that nobody logged, of surfaces, sections and steps the job still has."""
    surfaces = {surface.id: surface for surface in job.surfaces}
    recipes = {recipe.id: recipe for recipe in job.recipes}
    done = {
        surface.id: coats_done(job, surface, recipes[surface.recipe])
        for surface in job.surfaces
    }
    left = []
    for stint in plan.stints:
        surface = surfaces.get(stint.surface)
        if surface is None:
            continue
        steps = {step.id: step for step in recipes[surface.recipe].steps}
        step = steps.get(stint.step)
        sections = {None, *(name for name, _ in surface.sections)}
        if step is None or stint.section not in sections:
            continue
        if not done[surface.id].has(step, stint.section):
            left.append(stint)
    return left


def _wet(job: Job, stint: Stint) -> bool:
    step = job.step_of(stint.surface, stint.step)
    return stint.kind == "work" and step.wet and stint.open is not None


# -- what holds no longer --------------------------------------------------------------


def _broken(
    check: Audit, coming: Sequence[Stint], airs: Mapping[str, RoomAir]
) -> Iterable[Slip]:
    """The audit's rules that the air can break, for stints still to come."""
    stints = {stint.id: stint for stint in coming}
    for rule in check.air_rules():
        for found in rule:
            stint = stints.get(found.stint)
            if stint is None and found.rule != "must-date":
                continue
            until = found.until
            if found.rule == "air" and stint is not None:
                until = _air_from(check, stint, airs[stint.surface])
            yield Slip(
                rule=found.rule,
                stint=found.stint,
                surface=stint.surface if stint else "",
                step=stint.step if stint else "",
                start=stint.start if stint else None,
                holds_from=until,
                text=found.text,
            )


def _air_from(check: Audit, stint: Stint, air: RoomAir) -> datetime | None:
    """The first moment after its start when the air lets the stint's coat be begun."""
    step = check.job.step_of(stint.surface, stint.step)
    assert step.material is not None  # noqa: S101 - only coats ask what the air allows
    family = check.materials[step.material].family
    place = air.index(air.minute(stint.start))
    last = air.index(air.minute(stint.start + AIR_AHEAD))
    hour = max(1, round(60 / air.step_min))  # looked at by the hour, then inside it
    for found in range(place + hour, last + 1, hour):
        if cautions.blocked_by(family, air, found):
            continue
        inside = range(found - hour + 1, found + 1)
        entry = next(e for e in inside if not cautions.blocked_by(family, air, e))
        return air.moment(entry * air.step_min).astimezone(check.job.site.tz)
    return None


def _edges_lost(sessions: Sequence[WetSession]) -> Iterable[Slip]:
    """Wet work whose hands could keep the edge open and can no longer."""
    for session in sessions:
        was, stint = session.was_min, session.stint
        if was is None or session.open_min >= was or not session.edge(was).feasible:
            continue
        edge = session.edge(session.open_min)
        if not edge.feasible:
            yield Slip(
                rule="wet",
                stint=stint.id,
                surface=stint.surface,
                step=stint.step,
                start=stint.start,
                holds_from=None,
                text=edge.why,
            )


# -- what is better --------------------------------------------------------------------


def _sooner(check: Audit, plan: Plan, coming: Sequence[Stint]) -> Iterable[Better]:
    """Waits that are over sooner than the plan says."""
    for stint in coming:
        if stint.kind != "work":
            continue
        waits = list(check.waits(stint))
        was = [_planned_over(plan, stint, wait) for wait in waits]
        now = [wait.over for wait in waits]
        known = [moment for moment in was if moment is not None]
        ready = [moment for moment in now if moment is not None]
        if not waits or len(known) < len(was) or len(ready) < len(now):
            continue
        over, before = max(ready), max(known)
        by_min = (before - over).total_seconds() / 60
        if by_min >= LEAST_MIN:
            yield Better(
                kind="wait",
                stint=stint.id,
                surface=stint.surface,
                step=stint.step,
                by_min=by_min,
                held=stint.reason.code in ("wait", "air"),
                now=over.astimezone(check.job.site.tz),
            )


def _planned_over(plan: Plan, stint: Stint, wait: Waited) -> datetime | None:
    """When the plan says that this wait is over: a clock of the stint under it."""
    for under in plan.stints:
        same = (under.surface, under.step) == (stint.surface, wait.step.id)
        if same and under.kind == "work" and under.end == wait.end:
            clock = under.ready.get(wait.stage)
            return None if clock is None else clock.safe
    return None


def _longer_open(sessions: Sequence[WetSession]) -> Iterable[Better]:
    for session in sessions:
        if session.was_min is None:
            continue
        by_min = session.open_min - session.was_min
        if by_min >= LEAST_MIN:
            stint = session.stint
            yield Better(
                kind="open",
                stint=stint.id,
                surface=stint.surface,
                step=stint.step,
                by_min=by_min,
                held=False,
                now=stint.end + timedelta(minutes=session.open_min),
            )


# -- dates -----------------------------------------------------------------------------


def _dates(job: Job, check: Audit, plan: Plan) -> Iterable[DateMoved]:
    """Wished dates that are missed by more or by less than in the plan."""
    before = {late.date: late.by_min for late in plan.late}
    for number, wish in enumerate(job.dates):
        moments = [moment for _, moment in check.reached(wish)]
        if wish.must or not moments:
            continue
        known = [moment for moment in moments if moment is not None]
        late: float | None = None
        if len(known) == len(moments):
            late = max(0.0, (max(known) - wish.by).total_seconds() / 60)
        was = before.get(number, 0.0)
        if late is None or was is None:
            moved = late is not was
        else:
            moved = abs(late - was) >= LEAST_MIN
        if moved:
            yield DateMoved(date=number, was_min=was, by_min=late)
