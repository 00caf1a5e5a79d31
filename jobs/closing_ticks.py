"""Ticking off, and taking a tick back; one durable transaction each."""

from datetime import datetime

from django.db import transaction

from jobs.models import ClosingTick, Job, User


@transaction.atomic(durable=True)
def tick(
    *,
    job: Job,
    item: str,
    text: str,
    by: User | None,
    now: datetime,
    since: datetime | None = None,
) -> tuple[ClosingTick, bool]:
    """The tick of today by the site's clock; False where somebody was there first.

    One from before ``since`` does not count any more: this one takes its place.
    """
    given = {"text": text, "ticked_by": by, "ticked_at": now}
    row, new = ClosingTick.objects.select_for_update().get_or_create(
        job=job, day=now.astimezone(job.tz).date(), item=item, defaults=given
    )
    if not new and since is not None and row.ticked_at < since:
        ClosingTick.objects.filter(pk=row.pk).update(**given)
        row.refresh_from_db()
        new = True
    return row, new


@transaction.atomic(durable=True)
def take_tick_back(*, job: Job, item: str, now: datetime) -> bool:
    """Take today's tick back; False where there is none."""
    day = now.astimezone(job.tz).date()
    gone, _ = ClosingTick.objects.filter(job=job, day=day, item=item).delete()
    return bool(gone)
