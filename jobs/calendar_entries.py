"""Keeps the published calendar entries in step with the plan that is issued.

Called inside the transaction that issues: a draft never shows. An entry's UID stays for
good; its sequence and moment of change rise only when what is published changes.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from jobs.calendar_facts import Facts, as_logged, facts_of
from jobs.models import CalendarEntry, Job, Plan, Stint
from jobs.models.feed import CANCELLED_KEPT
from jobs.translation import job_value, plan_value
from scheduling import plan as engine_plan

Key = tuple[str, str]  # stint and kind

# What subscribers see or are filtered by, with the name it has among the facts.
PUBLISHED = {
    "room_key": "room",
    "surface_key": "surface",
    "section": "section",
    "step_key": "step",
    "hands": "hands",
    "status": "status",
    "starts": "starts",
    "ends": "ends",
    "summary": "summary",
    "description": "description",
    "location": "location",
    "categories": "categories",
    "latitude": "latitude",
    "longitude": "longitude",
}
KEPT_UP = ("sequence", "last_modified", "cancelled_at", "left_hands", "left_at")


@dataclass(frozen=True, slots=True, kw_only=True)
class Updated:
    """How many entries were made, changed and cancelled."""

    made: int = 0
    changed: int = 0
    cancelled: int = 0


@transaction.atomic
def update_entries(plan: Plan, at: datetime) -> Updated:
    """Publish an issued plan's entries; ``at`` is the moment of issue.

    Entries that the plan no longer has are cancelled, unless they are over. ValueError
    for a plan that is not issued.
    """
    if plan.state != Plan.State.ISSUED:
        raise ValueError(f"plan {plan.number} is a {plan.state}, only issued ones show")
    at = at.replace(microsecond=0)  # a calendar file counts whole seconds
    job = Job.objects.select_for_update().get(pk=plan.job_id)
    rows = {(row.stint_key, row.kind): row for row in job.calendar_entries.all()}
    facts = {(facts.stint, facts.kind): facts for facts in _facts(plan, job, rows)}

    made = [_new(job, facts[key], at) for key in facts.keys() - rows.keys()]
    changed = [
        row
        for key, row in rows.items()
        if key in facts and _take_over(row, facts[key], at)
    ]
    cancelled = [
        row
        for key, row in rows.items()
        if key not in facts and row.cancelled_at is None and row.ends > at
    ]
    for row in cancelled:
        row.status, row.cancelled_at = CalendarEntry.Status.CANCELLED, at
        _count_change(row, at)
    made.sort(key=lambda row: (row.starts, row.stint_key, row.kind))
    CalendarEntry.objects.bulk_create(made, batch_size=100)
    CalendarEntry.objects.bulk_update(
        [*changed, *cancelled], (*PUBLISHED, *KEPT_UP), batch_size=50
    )
    return Updated(made=len(made), changed=len(changed), cancelled=len(cancelled))


def _facts(plan: Plan, job: Job, rows: Mapping[Key, CalendarEntry]) -> Iterable[Facts]:
    """The plan's facts and those of stints that left it because their coat is on."""
    value, planned = job_value(job), plan_value(plan)
    missing = {stint for stint, _ in rows} - {stint.id for stint in planned.stints}
    done = [
        logged
        for stint in _last_issued(job, missing)
        if (logged := as_logged(stint, value.coats)) is not None
    ]
    return facts_of(
        value,
        [*planned.stints, *done],
        plan.planned_at,
        done={stint.id for stint in done},
    )


def _last_issued(job: Job, keys: set[str]) -> Iterable[engine_plan.Stint]:
    """These stints as the newest issued plan that has them tells them."""
    holder = dict(
        Stint.objects.filter(plan__job=job, plan__issued_at__isnull=False, key__in=keys)
        .order_by("plan__number")
        .values_list("key", "plan")
    )
    for plan in Plan.objects.filter(pk__in=set(holder.values())).select_related("job"):
        for stint in plan_value(plan).stints:
            if holder.get(stint.id) == plan.pk:
                yield stint


def _new(job: Job, facts: Facts, at: datetime) -> CalendarEntry:
    return CalendarEntry(
        job=job,
        stint_key=facts.stint,
        kind=facts.kind,
        last_modified=at,
        **_columns(facts),
    )


def _take_over(row: CalendarEntry, facts: Facts, at: datetime) -> bool:
    """Write the facts to the row; false where it says all that already."""
    columns = _columns(facts)
    if all(getattr(row, name) == value for name, value in columns.items()):
        return False
    if off := set(row.hands) - set(facts.hands):
        if row.left_at is not None and row.left_at > at - CANCELLED_KEPT:
            off |= set(row.left_hands) - set(facts.hands)
        row.left_hands, row.left_at = tuple(sorted(off)), at
    for name, value in columns.items():
        setattr(row, name, value)
    row.cancelled_at = None
    _count_change(row, at)
    return True


def _count_change(row: CalendarEntry, at: datetime) -> None:
    row.sequence += 1
    row.last_modified = max(row.last_modified, at)


def _columns(facts: Facts) -> dict[str, object]:
    columns = {name: getattr(facts, fact) for name, fact in PUBLISHED.items()}
    return {**columns, "categories": list(facts.categories)}
