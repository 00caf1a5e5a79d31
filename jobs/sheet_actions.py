"""Bringing a sheet's rooms or surfaces into a job: all of its rows or none."""

from datetime import datetime

from django.db import transaction

from jobs.models import Job
from jobs.sheet_file import Table
from jobs.sheet_reading import Sheet, read_sheet
from jobs.translation import job_value, store_more


@transaction.atomic(durable=True)
def bring_in(*, job: Job, table: Table, part: str, units: str, now: datetime) -> Sheet:
    """The sheet as it stands against the job now; its new rows are in if none is wrong.

    Rows that the job has already stay as they are, so that bringing a sheet in twice
    is bringing it in once.
    """
    Job.objects.select_for_update().get(pk=job.pk)
    sheet = read_sheet(table, part, job_value(job), units)
    if sheet.new and not sheet.wrong:
        store_more(job, sheet.job)
        Job.objects.filter(pk=job.pk).update(changed_at=now)
        job.changed_at = now
    return sheet
