"""Levers: the job with one thing changed that might bring a surface or it forward.

Which are worth a try follows from what holds the work: the chain of reasons from its
last stint back to now.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from scheduling.errors import bad
from scheduling.lever_costs import Code
from scheduling.plan import Plan, Stint
from scheduling.problem import (
    AirControl,
    DateWish,
    Hand,
    Hours,
    Job,
    Material,
    Room,
    clock_min,
)
from scheduling.process import date_text
from scheduling.shapes import DAY_NAMES
from scheduling.working_time import wall_clock

# Assumed: the machine most hire shops lend; rated litres a day at 30 C and 80 %.
DEHUMIDIFIER_L_DAY = 20.0
WARMER_K = 3.0  # Assumed: what a house's heating can add without a second machine
LONGER_MIN = 60
FIRST_WEIGHT = 1_000.0  # so that no other date is worth a minute of this one
WEEKS = 53  # how far to each side a weekday stays shut while one date is opened


@dataclass(frozen=True, slots=True, kw_only=True)
class Lever:
    """One thing that could be done, in words, and the job as if it were."""

    code: Code
    text: str
    job: Job


def levers(
    job: Job, plan: Plan, *, surface: str | None = None, rooms: Iterable[str] = ()
) -> tuple[Lever, ...]:
    """What might bring ``surface`` (or the last stint of the job) forward.

    The air of ``rooms`` is tried before all else, whatever holds the work.
    BadInput where the job has no such surface; empty where the plan has no work on it.
    """
    last = last_stint(job, plan, surface)
    if last is None:
        return ()
    chain = plan.held_by(last.id)
    found: dict[str, Lever] = {}
    for room in rooms:
        for lever in _drier_or_warmer(job, job.room(room)):
            found.setdefault(lever.text, lever)
    for stint in chain:
        for lever in _levers_of(job, plan, stint, chain):
            found.setdefault(lever.text, lever)
    if surface is not None:
        lever = _first(job, last)
        found.setdefault(lever.text, lever)
    return tuple(found.values())


def check_surface(job: Job, surface: str, path: str = "surface") -> None:
    """BadInput, naming ``path``, where the job has no such surface."""
    known = sorted(row.id for row in job.surfaces)
    if surface not in known:
        raise bad(path, surface, f"one of the job's surfaces: {', '.join(known)}")


def last_stint(job: Job, plan: Plan, surface: str | None) -> Stint | None:
    """The surface's or the job's last work or rescue; BadInput as ``levers``."""
    if surface is not None:
        check_surface(job, surface)
    work = [
        stint
        for stint in plan.stints
        if stint.kind != "test" and surface in (None, stint.surface)
    ]
    return max(work, key=lambda stint: (stint.end, stint.id), default=None)


# -- what each thing that holds a stint calls for -----------------------------------


def _levers_of(
    job: Job, plan: Plan, stint: Stint, chain: Sequence[Stint]
) -> Iterable[Lever]:
    """What could move the thing that holds one stint of the chain."""
    code = stint.reason.code
    if code in ("wait", "air"):
        yield from _drier_or_warmer(job, _room_of(job, stint))
    if code in ("wait", "corner") and stint.reason.other is not None:
        holder = plan.stint(stint.reason.other)
        if holder is not None:
            yield from _drier_or_warmer(job, _room_of(job, holder))
            yield from _swaps(job, holder)
    if code in ("hands", "hours", "later", "room", "window") or _takes_more(job, stint):
        yield from _one_more(job, stint)
    if code != "start":
        yield from _extra_days(job, chain)
        yield _longer(job)


def _room_of(job: Job, stint: Stint) -> Room:
    return job.room(job.surface(stint.surface).room)


def _drier_or_warmer(job: Job, room: Room) -> Iterable[Lever]:
    air = room.air
    if not isinstance(air, AirControl):
        return  # its air is given: nothing of ours changes it
    name = room.name or room.id
    has = air.dehumidifier_l_day or 0.0
    more = "another" if has else "a"
    yield Lever(
        code="dehumidifier",
        text=f"{name}: {more} dehumidifier of {DEHUMIDIFIER_L_DAY:g} l a day",
        job=_with_air(
            job, room, replace(air, dehumidifier_l_day=has + DEHUMIDIFIER_L_DAY)
        ),
    )
    warmer = replace(
        air, day_c=air.day_c + WARMER_K, night_c=max(air.night_c, air.day_c) + WARMER_K
    )
    yield Lever(
        code="heat",
        text=f"{name}: heated to {warmer.day_c:g} C day and night",
        job=_with_air(job, room, warmer),
    )


def _with_air(job: Job, room: Room, air: AirControl) -> Job:
    rooms = tuple(replace(r, air=air) if r.id == room.id else r for r in job.rooms)
    return replace(job, rooms=rooms)


def _swaps(job: Job, holder: Stint) -> Iterable[Lever]:
    """The holder's coat in another material of its family that the job has at hand."""
    recipe = job.recipe(job.surface(holder.surface).recipe)
    step = recipe.step(holder.step)
    if step.material is None:
        return
    used = job.material(step.material)
    for other in job.materials:
        if other.family == used.family and _dries_sooner(other, used):
            name = recipe.name or recipe.id
            steps = tuple(
                replace(row, material=other.id) if row.id == step.id else row
                for row in recipe.steps
            )
            recipes = tuple(
                replace(row, steps=steps) if row.id == recipe.id else row
                for row in job.recipes
            )
            yield Lever(
                code="swap",
                text=f"{name}: {other.name or other.id} "
                f"instead of {used.name or used.id}",
                job=replace(job, recipes=recipes),
            )


def _dries_sooner(other: Material, used: Material) -> bool:
    """Whether the label waits are no longer and one is shorter, stage for stage."""
    if set(other.labels) != set(used.labels) or other.id == used.id:
        return False
    stages = set(used.labels) - {"open", "window", "closes"}
    theirs = [other.label_min(stage) or (0.0, 0.0) for stage in sorted(stages)]
    ours = [used.label_min(stage) or (0.0, 0.0) for stage in sorted(stages)]
    pairs = [(a[1], b[1]) for a, b in zip(theirs, ours, strict=True)]
    return all(a <= b for a, b in pairs) and any(a < b for a, b in pairs)


def _takes_more(job: Job, stint: Stint) -> bool:
    step = job.step_of(stint.surface, stint.step)
    return len(stint.hands) < step.hands.counts[-1]


def _one_more(job: Job, stint: Stint) -> Iterable[Lever]:
    """One more hand who can do the stint's step, on its day or the day before."""
    skill = job.step_of(stint.surface, stint.step).skill
    skills = (skill,) if skill else ()
    day = stint.start.astimezone(job.site.tz).date()
    for one in (day - timedelta(days=1), day):
        if not _works(job, one):
            continue
        opens = wall_clock(one, "00:00", job)
        closes = wall_clock(one, "24:00", job)
        far = timedelta(days=3_650)
        hand = Hand(
            id=_free_id("one-more", {hand.id for hand in job.hands}),
            name="one more hand",
            skills=skills,
            away=((opens - far, opens), (closes, closes + far)),
        )
        able = f" with {', '.join(skills)}" if skills else ""
        yield Lever(
            code="hand",
            text=f"One more hand{able} on {date_text(one)}",
            job=replace(job, hands=(*job.hands, hand)),
        )


def _extra_days(job: Job, chain: Sequence[Stint]) -> Iterable[Lever]:
    """The first day off between the chain's first and last stint, worked."""
    zone = job.site.tz
    day = min(stint.start for stint in chain).astimezone(zone).date()
    last = max(stint.end for stint in chain).astimezone(zone).date()
    while day < last:
        if not _works(job, day):
            yield Lever(
                code="extra-day",
                text=f"Working on {date_text(day)}",
                job=_opened(job, day),
            )
            return
        day += timedelta(days=1)


def _works(job: Job, day: date) -> bool:
    return day not in job.site.closed and any(
        day.weekday() in rule.weekdays for rule in job.site.hours
    )


def _opened(job: Job, day: date) -> Job:
    """The job with the site open on one day more, as long as on its first day."""
    site = job.site
    closed = tuple(other for other in site.closed if other != day)
    if any(day.weekday() in rule.weekdays for rule in site.hours):
        return replace(job, site=replace(site, closed=closed))
    like = site.hours[0]
    rule = Hours(
        days=DAY_NAMES[day.weekday()],
        start=like.start,
        end=like.end,
        breaks=like.breaks,
    )
    weeks = (timedelta(weeks=n) for n in range(-WEEKS, WEEKS + 1) if n)
    others = (day + week for week in weeks)
    site = replace(site, hours=(*site.hours, rule), closed=(*closed, *others))
    return replace(job, site=site)


def _longer(job: Job) -> Lever:
    """An hour more at the end of every day the site is open."""
    hours = tuple(replace(rule, end=_later(rule.end)) for rule in job.site.hours)
    return Lever(
        code="longer",
        text="An hour longer every day",
        job=replace(job, site=replace(job.site, hours=hours)),
    )


def _later(clock: str) -> str:
    minutes = min(clock_min(clock) + LONGER_MIN, 24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _first(job: Job, last: Stint) -> Lever:
    surface = job.surface(last.surface)
    wish = DateWish(
        by=job.now or last.start - timedelta(days=365),
        must=False,
        surface=surface.id,
        weight=FIRST_WEIGHT,
    )
    return Lever(
        code="first",
        text=f"{surface.name or surface.id} before everything else",
        job=replace(job, dates=(*job.dates, wish)),
    )


def _free_id(wanted: str, taken: set[str]) -> str:
    number, name = 1, wanted
    while name in taken:
        number += 1
        name = f"{wanted}-{number}"
    return name
