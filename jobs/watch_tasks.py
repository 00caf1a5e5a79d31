"""What the queue runs of the watch: a message a job, keyed; it may come twice.

Apart from ``tasks``, since a watch ends in an action and actions send tasks.
"""

from celery import shared_task
from django.utils import timezone

from jobs import watching


@shared_task(name="jobs.watch_tasks.watch")
def watch() -> None:
    """Send a message for each job whose minute of today has come."""
    for job_id in watching.due_jobs(timezone.now()):
        watch_one.delay(job_id)


@shared_task(name="jobs.watch_tasks.watch_one")
def watch_one(job_id: int) -> None:
    """Look at one job's air, if nobody has today."""
    watching.watch_job(job_id, timezone.now())
