"""What a plan is made for, aim by aim in the order kept to, with a plan's own figures.

Pure: a job and plans in, words out. The order is the planner's (``solver.FIRST_PLAN``
and ``REPLAN``): each aim is fixed before the next is looked at.
"""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from jobs.calendar_words import moment_text
from jobs.templatetags.plan_format import say_minutes
from jobs.week_changes import moves_between
from scheduling.plan import Late, Plan, Stint
from scheduling.problem import Job


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """One aim in plain words, and what each plan makes of it.

    ``aside``: no aim of this plan, told beside them.
    """

    name: str
    figures: tuple[str, ...]
    aside: bool = False


def aims_of(
    job: Job, plans: tuple[Plan, ...], against: Plan | None, zone: ZoneInfo
) -> tuple[Aim, ...]:
    """The aims of the first of ``plans``, with a figure for each plan.

    ``against`` is the plan that the first one was made to move as little as it could;
    None where it was made afresh.
    """
    must = Aim(
        name="Keep every date that must be kept",
        figures=tuple(_must_text(job, plan) for plan in plans),
    )
    wished = Aim(
        name="Miss the wished dates by as little as possible, each by its weight",
        figures=tuple(_wished_text(job, plan) for plan in plans),
    )
    end = Aim(name="End soon", figures=tuple(_end_text(plan, zone) for plan in plans))
    presence = [_presence(job, plan, zone) for plan in plans]
    days = Aim(
        name="Few days on site, few hands on each of them",
        figures=tuple(
            f"{_count(days, 'day')}, {_count(hand_days, 'hand-day')}"
            for days, hand_days, _ in presence
        ),
        aside=against is not None,
    )
    visits = Aim(
        name="Few visits: a room, on as few days as can be",
        figures=tuple(_count(visits, "visit") for _, _, visits in presence),
        aside=against is not None,
    )
    if against is None:
        return (must, wished, end, days, visits)
    kept = Aim(
        name="Change day or hands of as few stints as possible",
        figures=tuple(_moved_text(job, against, plan, zone) for plan in plans),
    )
    return (must, kept, wished, end, days, visits)


def _must_text(job: Job, plan: Plan) -> str:
    must = [number for number, wish in enumerate(job.dates) if wish.must]
    if not must:
        return "none is set"
    missed = {late.date for late in plan.late} & set(must)
    if missed:
        return f"{len(missed)} of {len(must)} missed"
    return "kept" if len(must) == 1 else f"all {len(must)} kept"


def _wished_text(job: Job, plan: Plan) -> str:
    wished = [number for number, wish in enumerate(job.dates) if not wish.must]
    late = [row for row in plan.late if row.date in wished]
    if not wished:
        return "none is set"
    if not late:
        return "kept" if len(wished) == 1 else f"all {len(wished)} kept"
    weighed = _weighed_min(job, late)
    if weighed is None:
        return f"{len(late)} of {len(wished)} late, some never reached in this air"
    return f"{len(late)} of {len(wished)} late, {say_minutes(weighed)} as weighed"


def _weighed_min(job: Job, late: list[Late]) -> float | None:
    """Minutes late times weight, over all dates; None where one is never reached."""
    if any(row.by_min is None for row in late):
        return None
    return sum((row.by_min or 0.0) * job.dates[row.date].weight for row in late)


def _end_text(plan: Plan, zone: ZoneInfo) -> str:
    return "no work left" if plan.finish is None else moment_text(plan.finish, zone)


def _moved_text(job: Job, against: Plan, plan: Plan, zone: ZoneInfo) -> str:
    """Stints of both plans whose day or hands differ."""
    moves = moves_between(against, plan, job, zone)
    moved = [move for move in moves if move.kind in ("day", "hands")]
    both = {stint.id for stint in _worked(against)} & {s.id for s in _worked(plan)}
    return f"{len(moved)} of {len(both)}" if moved else "none"


def _worked(plan: Plan) -> list[Stint]:
    return [stint for stint in plan.stints if stint.kind != "test"]


def _presence(job: Job, plan: Plan, zone: ZoneInfo) -> tuple[int, int, int]:
    """Days worked, hands summed over those days, rooms summed over them.

    A stint lies within one day's hours, so that its start names its day.
    """
    hands, rooms = set(), set()
    for stint in plan.stints:
        day = stint.start.astimezone(zone).date()
        rooms.add((job.surface(stint.surface).room, day))
        hands |= {(hand, day) for hand in stint.hands}
    return len({day for _, day in rooms}), len(hands), len(rooms)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
