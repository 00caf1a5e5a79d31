"""What a lever costs: whose hours, or what else has to be paid, bought or borne.

Hours are those that the plan with the lever needs: of the hand who comes, or those
worked while the site was shut before, without the site's breaks.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from scheduling.plan import Plan, Stint
from scheduling.problem import Job
from scheduling.process import date_text
from scheduling.working_time import wall_clock

Code = Literal["dehumidifier", "heat", "hand", "extra-day", "longer", "first", "swap"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """How many hands give how many hours together, more than before; and in words."""

    hands: int
    hours: float
    text: str


def cost_of(
    code: Code, job: Job, pulled: Job, plan: Plan, surface: str | None = None
) -> Cost:
    """What the lever that makes ``pulled`` of ``job`` costs in ``plan``, made with it.

    ``surface`` is the one to bring forward; None is the whole job.
    """
    if code == "hand":
        return _of_hand(job, pulled, plan)
    if code in ("extra-day", "longer"):
        return _of_hours(job, pulled, plan)
    if code in ("dehumidifier", "heat"):
        return _of_air(code, job, pulled, plan)
    if code == "swap":
        return Cost(hands=0, hours=0.0, text=f"no hands; {_swapped(job, pulled)}")
    others = "what else there is to do" if surface is None else "the other surfaces"
    return Cost(hands=0, hours=0.0, text=f"no hands; {others} may have to wait")


def _of_hand(job: Job, pulled: Job, plan: Plan) -> Cost:
    known = {hand.id for hand in job.hands}
    more = {hand.id for hand in pulled.hands} - known
    stints = [stint for stint in plan.stints if more & set(stint.hands)]
    hours = sum(_open_hours(pulled, stint) for stint in stints)
    return Cost(hands=len(more), hours=hours, text=f"1 hand for {hours:.1f} h")


def _of_hours(job: Job, pulled: Job, plan: Plan) -> Cost:
    """Hands and hours of what is done while the site would be shut."""
    shut = {
        stint.id: _open_hours(pulled, stint) - _open_hours(job, stint)
        for stint in plan.stints
    }
    late = [stint for stint in plan.stints if shut[stint.id] > 0]
    hands = {hand for stint in late for hand in stint.hands}
    hours = sum(shut[stint.id] * len(stint.hands) for stint in late)
    days = sorted({stint.start.astimezone(job.site.tz).date() for stint in late})
    if not days:
        return Cost(hands=0, hours=0.0, text="no hours more at the walls")
    when = date_text(days[0]) if len(days) == 1 else f"{len(days)} days"
    count = "1 hand" if len(hands) == 1 else f"{len(hands)} hands"
    together = "" if len(hands) == 1 else " together"
    return Cost(
        hands=len(hands),
        hours=hours,
        text=f"{count}, {hours:.1f} h{together} on {when}",
    )


def _of_air(code: Code, job: Job, pulled: Job, plan: Plan) -> Cost:
    """For how many days the room's air is to be minded: while work in it goes on."""
    before = {room.id: room.air for room in job.rooms}
    changed = {room.id for room in pulled.rooms if room.air != before[room.id]}
    inside = [s for s in plan.stints if job.surface(s.surface).room in changed]
    zone = job.site.tz
    days = 0
    if inside:
        first = min(stint.start for stint in inside).astimezone(zone).date()
        last = max(stint.end for stint in inside).astimezone(zone).date()
        days = (last - first).days + 1
    span = "1 day" if days == 1 else f"{days} days"
    what = "the machine" if code == "dehumidifier" else "the heating"
    return Cost(hands=0, hours=0.0, text=f"no hands; {what} for {span}")


def _swapped(job: Job, pulled: Job) -> str:
    """The material that comes in, and on how many surfaces."""
    before = {recipe.id: recipe for recipe in job.recipes}
    for recipe in pulled.recipes:
        for old, new in zip(before[recipe.id].steps, recipe.steps, strict=True):
            if old.material != new.material and new.material is not None:
                material = pulled.material(new.material)
                count = sum(row.recipe == recipe.id for row in job.surfaces)
                where = "1 surface" if count == 1 else f"{count} surfaces"
                return f"{material.name or material.id} on {where}"
    return "no other material"


def _open_hours(job: Job, stint: Stint) -> float:
    """Hours of a stint inside the site's hours, less the breaks that all take."""
    day = stint.start.astimezone(job.site.tz).date()
    if day in job.site.closed:
        return 0.0
    inside = timedelta()
    for rule in job.site.hours:
        if day.weekday() in rule.weekdays:
            inside += _shared(job, stint, day, rule.start, rule.end)
            for pause in rule.breaks:
                if not pause.relay:
                    inside -= _shared(job, stint, day, pause.start, pause.end)
    return inside / timedelta(hours=1)


def _shared(job: Job, stint: Stint, day: date, start: str, end: str) -> timedelta:
    first = max(stint.start, wall_clock(day, start, job))
    last = min(stint.end, wall_clock(day, end, job))
    return max(last - first, timedelta())
