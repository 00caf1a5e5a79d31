"""What is put on paper: a hand's day, the crew's week, a sign for a room's door.

Pure: values in, values out, by the site's clock. Of issued plans alone.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo

from jobs.calendar_facts import as_logged
from jobs.calendar_words import ceil, label
from jobs.client_words import enter_at, latest
from jobs.hand_days import HandDays, hand_days
from jobs.templatetags.plan_format import say_clock, say_day, say_place
from scheduling import plan, problem
from scheduling.air_of_job import job_air

WEEK_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One hand's day, on A5."""

    hand: str
    days: HandDays


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """What stands on a room's door; ``before`` is empty where its coats never dry."""

    room: str
    day: str
    before: str
    surfaces: tuple[str, ...]
    dry_smell: bool  # fumes: no flame near it


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewWeek:
    """The days across, the hands down, in each place what is done when."""

    days: tuple[str, ...]
    hands: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]


def days_with_work(planned: plan.Plan, zone: tzinfo, today: date) -> tuple[date, ...]:
    """The days from today on that the plan has work on, at most a fortnight of them."""
    days = {stint.start.astimezone(zone).date() for stint in planned.stints}
    return tuple(sorted(day for day in days if day >= today))[: 2 * WEEK_DAYS]


def sheets(
    job: problem.Job, planned: plan.Plan, *, at: datetime, zone: tzinfo, units: str
) -> tuple[Sheet, ...]:
    """A sheet for each hand with anything to do on the day of ``at``."""
    air = job_air(job, at=at, days=2).surfaces
    found = (
        Sheet(
            hand=label(hand),
            days=hand_days(
                job, planned, hand.id, now=at, zone=zone, units=units, air=air
            ),
        )
        for hand in job.hands
    )
    return tuple(sheet for sheet in found if sheet.days.today)


def signs(
    job: problem.Job, planned: plan.Plan, *, day: date, zone: tzinfo
) -> tuple[Sign, ...]:
    """A sign for each room in which a coat is wet that day, in the job's order."""
    wet: dict[str, list[plan.Stint]] = {}
    for planned_stint in planned.stints:
        if planned_stint.kind != "work" or not _puts_on(job, planned_stint):
            continue
        stint = as_logged(planned_stint, job.coats) or planned_stint
        enter = enter_at(stint)
        begins = stint.start.astimezone(zone).date()
        if begins <= day and (enter is None or enter.astimezone(zone).date() >= day):
            wet.setdefault(job.surface(stint.surface).room, []).append(stint)
    return tuple(
        _sign(job, room, wet[room.id], day, zone)
        for room in job.rooms
        if room.id in wet
    )


def crew_week(
    job: problem.Job, planned: plan.Plan, *, first: date, zone: tzinfo
) -> CrewWeek:
    """Seven days from ``first``; days and hands without work are left out."""
    cells: dict[tuple[str, date], list[str]] = {}
    for stint in sorted(planned.stints, key=lambda stint: (stint.start, stint.id)):
        day = stint.start.astimezone(zone).date()
        text = _in_short(job, stint, zone)
        if text and first <= day < first + timedelta(days=WEEK_DAYS):
            for hand in stint.hands:
                cells.setdefault((hand, day), []).append(text)
    days = sorted({day for _, day in cells})
    return CrewWeek(
        days=tuple(_day_name(day) for day in days),
        hands=tuple(
            (label(hand), tuple(tuple(cells.get((hand.id, day), ())) for day in days))
            for hand in job.hands
            if any((hand.id, day) in cells for day in days)
        ),
    )


def morning(day: date, zone: tzinfo) -> datetime:
    """The first moment of a day, from which its sheet is told."""
    return datetime.combine(day, time(), tzinfo=zone)


def _sign(
    job: problem.Job,
    room: problem.Room,
    stints: Iterable[plan.Stint],
    day: date,
    zone: tzinfo,
) -> Sign:
    stints = tuple(stints)
    until = latest(enter_at(stint) for stint in stints)
    names = {label(job.surface(stint.surface)): None for stint in stints}
    return Sign(
        room=label(room),
        day=_day_name(day),
        before="" if until is None else _before(ceil(until), day, zone),
        surfaces=tuple(names),
        dry_smell=any(_is_solvent(job, stint) for stint in stints),
    )


def _before(until: datetime, day: date, zone: tzinfo) -> str:
    clock = say_clock(until, zone)
    same = until.astimezone(zone).date() == day
    return clock if same else f"{say_day(until, zone)}, {clock}"


def _in_short(job: problem.Job, stint: plan.Stint, zone: tzinfo) -> str:
    try:
        surface = job.surface(stint.surface)
        step = job.recipe(surface.recipe).step(stint.step)
    except KeyError:
        return ""
    what = label(step) if stint.kind == "work" else f"{stint.kind} before {label(step)}"
    section = f" {stint.section}" if stint.section else ""
    place = say_place(label(job.room(surface.room)), label(surface))
    return f"{say_clock(stint.start, zone)} {what}, {place}{section}"


def _material(job: problem.Job, stint: plan.Stint) -> problem.Material | None:
    surface = job.surface(stint.surface)
    step = job.recipe(surface.recipe).step(stint.step)
    return job.material(step.material) if step.material else None


def _puts_on(job: problem.Job, stint: plan.Stint) -> bool:
    """Whether it leaves something wet; false for what the job no longer has."""
    try:
        return _material(job, stint) is not None
    except KeyError:
        return False


def _is_solvent(job: problem.Job, stint: plan.Stint) -> bool:
    material = _material(job, stint)
    return material is not None and bool(material.solvent)


def _day_name(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"
