"""What would bring a surface or the job forward: levers, each tried by planning again.

What a lever gains is read off a plan of the job with it, made with the same effort as
the one it is held against.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from scheduling.lever_costs import Cost, cost_of
from scheduling.levers import Lever, check_surface, last_stint, levers
from scheduling.plan import Plan
from scheduling.planning import plan_job
from scheduling.problem import Job

BUDGET = 2.0  # deterministic units for one lever


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """What a lever brings: minutes on the clock, and calendar days, sooner.

    Both are of the surface asked about, or of the whole job; negative where the lever
    makes it later. ``job_sooner_min`` is the same of the whole job. ``late_min`` is by
    how much the weighted lateness of all dates shrinks. ``plan`` is the plan with the
    lever, also where there is none.
    """

    lever: Lever
    plan: Plan
    sooner_min: float
    sooner_days: int
    job_sooner_min: float
    late_min: float
    cost: Cost


@dataclass(frozen=True, slots=True, kw_only=True)
class Forward:
    """What is known about bringing one surface forward, so far or in the end.

    ``plan`` is that of the job as it is, ``end`` of the surface's last stint in it;
    None where nothing is left to do on it or there is no plan. ``tried`` of the
    ``levers`` have been planned; ``gains`` are those that help, the most first.
    """

    plan: Plan
    end: datetime | None
    levers: tuple[Lever, ...]
    tried: int
    gains: tuple[Gain, ...]


OnNews = Callable[[Forward], bool]


def try_lever(
    lever: Lever,
    job: Job,
    plan: Plan,
    *,
    at: datetime,
    surface: str | None = None,
    budget: float = BUDGET,
    chance: float | None = None,
) -> Gain:
    """Plan the job with the lever pulled, against ``plan`` of the job without it."""
    new = plan_job(lever.job, at=at, budget=budget, chance=chance)
    before, after = _end(job, plan, surface), _end(job, new, surface)
    days = 0
    if before is not None and after is not None:
        zone = job.site.tz
        days = (before.astimezone(zone).date() - after.astimezone(zone).date()).days
    return Gain(
        lever=lever,
        plan=new,
        sooner_min=_gained_min(before, after),
        sooner_days=days,
        job_sooner_min=_gained_min(plan.finish, new.finish),
        late_min=_late(job, plan) - _late(job, new),
        cost=cost_of(lever.code, job, lever.job, new, surface),
    )


def bring_forward(
    job: Job,
    surface: str | None,
    *,
    at: datetime,
    rooms: Iterable[str] = (),
    budget: float = BUDGET,
    chance: float | None = None,
    on_news: OnNews | None = None,
) -> Forward:
    """What would bring one surface, or None the job, forward; the most days first.

    Every lever is planned with ``budget`` units, and so is the job as it is; both
    against ``chance`` as ``plan_job`` takes it. ``on_news`` sees what is known before
    each lever is planned, and ends the search by returning False. BadInput where the
    job has no such surface. ``rooms`` are tried drier and warmer in any case; of a job
    what only keeps its dates better is a gain too.
    """
    if surface is not None:
        check_surface(job, surface)
    plan = plan_job(job, at=at, budget=budget, chance=chance)
    found = Forward(
        plan=plan,
        end=_end(job, plan, surface),
        levers=levers(job, plan, surface=surface, rooms=rooms),
        tried=0,
        gains=(),
    )
    for tried, lever in enumerate(found.levers, start=1):
        if on_news is not None and not on_news(found):
            return found
        gain = try_lever(
            lever, job, plan, at=at, surface=surface, budget=budget, chance=chance
        )
        helps = gain.sooner_min > 0 or (
            surface is None and gain.sooner_min == 0 and gain.late_min > 0
        )
        gains = (*found.gains, gain) if helps else found.gains
        found = replace(found, tried=tried, gains=tuple(sorted(gains, key=_most_first)))
    return found


# -- what is compared -----------------------------------------------------------------


def _end(job: Job, plan: Plan, surface: str | None) -> datetime | None:
    last = last_stint(job, plan, surface)
    return last.end if last is not None else None


def _gained_min(before: datetime | None, after: datetime | None) -> float:
    if before is None or after is None:
        return float("-inf")
    return (before - after).total_seconds() / 60


def _most_first(gain: Gain) -> tuple[float, float, str]:
    return -gain.sooner_min, -gain.late_min, gain.lever.text


def _late(job: Job, plan: Plan) -> float:
    """Weighted minutes past the job's dates; one that a lever added is not its own."""
    if plan.outcome != "plan":
        return float("inf")
    return sum(
        job.dates[late.date].weight * late.by_min
        for late in plan.late
        if late.by_min is not None and late.date < len(job.dates)
    )
