"""What a plan would break with one of its stints elsewhere, all else as it stands.

The audit judges, against the plan's own rules and air; nothing is planned here.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from scheduling.audit import audit
from scheduling.plan import Plan, Stint
from scheduling.planning import surface_airs
from scheduling.problem import Job
from scheduling.working_time import SLOT_MIN, hours_spans

# Rules about a stint by itself: no other stint could give way to it. All others
# hold between stints, so that a new plan may move what is in the way.
ALONE = frozenset(
    {
        *("past", "site-hours", "room-hours", "hand-hours", "hands", "skill"),
        *("air", "gate", "opens", "quiet", "smell", "sun", "trade", "trade-air"),
        *("shuts", "hand-back", "ban-hand", "ban-time"),
    }
)
DATE = "must-date"  # the audit's rule; its stint reads "date 3"


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """A rule that the move breaks; ``alone``: no plan could keep it.

    ``stint`` is an id of the plan, or the date's number in the job's list.
    """

    rule: str
    stint: str | int
    text: str
    alone: bool = False


def moved(
    job: Job, plan: Plan, stint_id: str, *, start: datetime, hands: Collection[str]
) -> Plan:
    """The plan with one stint of work begun at ``start`` by these hands.

    It takes as long as so many hands need, breaks of the site left out; its test goes
    with it and comes first. KeyError where the plan has no such stint.
    """
    stint = plan.stint(stint_id)
    if stint is None:
        raise KeyError(stint_id)
    test = test_of(plan, stint)
    start = start.astimezone(UTC)
    tested = () if test is None else (_at(job, test, start, test.end - test.start),)
    begins = tested[0].end if tested else start
    there = _at(job, replace(stint, hands=tuple(hands)), begins, timedelta())
    need = _worked_min(job, stint) * _pace(job, stint, len(hands))
    there = replace(there, end=_end(job, there, need).astimezone(job.site.tz))
    new = {row.id: replace(row, hands=there.hands) for row in (*tested, there)}
    return replace(plan, stints=tuple(new.get(row.id, row) for row in plan.stints))


def test_of(plan: Plan, stint: Stint) -> Stint | None:
    """The test right before a stint of work, with which it begins."""
    place = (stint.surface, stint.section, stint.step)
    return next(
        (
            row
            for row in plan.stints
            if row.kind == "test"
            and (row.surface, row.section, row.step) == place
            and row.end.timestamp() == stint.start.timestamp()
        ),
        None,
    )


def broken_by(
    job: Job, plan: Plan, changed: Plan, *, asked: Job, at: datetime
) -> tuple[Broken, ...]:
    """What the changed plan breaks and the plan itself does not, each rule once.

    ``asked`` is the job with what is about to be asked of it: a pin or a ban. Wished
    dates are told as the must dates are.
    """
    airs = surface_airs(job, plan, [row.start for row in changed.stints])
    if not airs:
        return ()

    def faults(of: Job, stints: tuple[Stint, ...]) -> dict[tuple[str, str], str]:
        strict = replace(of, dates=tuple(replace(wish, must=True) for wish in of.dates))
        found = audit(strict, stints, at=at, wait_air=airs, open_air=airs)
        return {(row.rule, row.stint): row.text for row in reversed(found)}

    before = faults(job, plan.stints)
    after = faults(asked, changed.stints)
    moved_ids = {
        new.id
        for old, new in zip(plan.stints, changed.stints, strict=True)
        if old is not new
    }
    rows = [
        Broken(
            rule=rule,
            stint=int(stint.removeprefix("date ")) if rule == DATE else stint,
            text=text,
            alone=rule in ALONE and (stint in moved_ids or not moved_ids),
        )
        for (rule, stint), text in after.items()
        if (rule, stint) not in before and rule != "pin"
    ]
    return tuple(sorted(rows, key=lambda row: (not row.alone, row.rule == DATE)))


def _at(job: Job, stint: Stint, start: datetime, length: timedelta) -> Stint:
    zone = job.site.tz
    return replace(
        stint, start=start.astimezone(zone), end=(start + length).astimezone(zone)
    )


def _worked_min(job: Job, stint: Stint) -> float:
    """Minutes of a stint in the site's hours, its breaks left out."""
    length = (stint.end - stint.start).total_seconds() / 60
    spans = _open_min(job, stint.start)
    worked = sum(max(0.0, min(end, length) - max(start, 0.0)) for start, end in spans)
    return worked or length


def _pace(job: Job, stint: Stint, hands: int) -> float:
    """How many times as long so many hands take."""
    surface = job.surface(stint.surface)
    step = job.recipe(surface.recipe).step(stint.step)
    if not hands or hands == len(stint.hands):
        return 1.0
    share = dict(surface.sections).get(stint.section or "", 1.0)
    area = surface.area_m2 * share
    usual = step.minutes(area, len(stint.hands)) if stint.hands else 0.0
    return step.minutes(area, hands) / usual if usual else 1.0


def _end(job: Job, stint: Stint, need_min: float) -> datetime:
    """When so much work begun then is done; wet work knows no pause."""
    surface = job.surface(stint.surface)
    step = job.recipe(surface.recipe).step(stint.step)
    need = -(-round(need_min, 6) // SLOT_MIN) * SLOT_MIN
    begin = stint.start.astimezone(UTC)
    if not step.wet:
        left = need
        for start, end in _open_min(job, stint.start):
            if end <= 0:
                continue
            if start > 0 and left == need:
                break  # begun outside the hours: they tell no pause
            here = end - max(start, 0.0)
            if here >= left:
                return begin + timedelta(minutes=max(start, 0.0) + left)
            left -= here
    return begin + timedelta(minutes=need)


def _open_min(job: Job, origin: datetime) -> list[tuple[float, float]]:
    """The site's hours of that day as minutes from ``origin``, in order."""
    begin = origin.astimezone(UTC)
    day = origin.astimezone(job.site.tz).date()
    return [
        (start, end)
        for start, end in hours_spans(job, job.site.hours, begin, begin, 1)
        if (begin + timedelta(minutes=start)).astimezone(job.site.tz).date() == day
    ]
