"""Taking back what was logged by mistake: a coat, a test, a reading."""

from datetime import datetime

from django.db import transaction

from jobs.actions import undo_coat
from jobs.models import Coat, CoatTest, Job, Reading


def take_back(*, row: Coat | CoatTest | Reading, now: datetime) -> None:
    """Remove it. Where plans are made from it, plans are older than the job now."""
    if isinstance(row, Coat):
        undo_coat(coat=row, now=now)
    elif isinstance(row, Reading):
        _remove_reading(row, now)
    else:
        _remove_test(row)


@transaction.atomic(durable=True)
def _remove_reading(reading: Reading, now: datetime) -> None:
    Job.objects.filter(pk=reading.job_id).update(changed_at=now)
    reading.delete()


@transaction.atomic(durable=True)
def _remove_test(test: CoatTest) -> None:
    test.delete()
