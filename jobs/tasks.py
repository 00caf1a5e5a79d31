"""What the queue runs: keys in, rows out; every task may come twice."""

from typing import Any

from celery import shared_task
from celery.signals import worker_ready
from django.utils import timezone

from jobs import replanning


@shared_task(name="jobs.tasks.replan")
def replan(run_id: int) -> None:
    """Plan the run if nobody has; then the next one that waits for the same job."""
    following = replanning.replan(run_id)
    if following is not None:
        replan.delay(following)


@shared_task(name="jobs.tasks.sweep")
def sweep() -> None:
    """Show that a worker lives, and send again what was lost."""
    now = timezone.now()
    replanning.show_alive(now)
    for run_id in replanning.take_up_lost_runs(now):
        replan.delay(run_id)


@worker_ready.connect
def sweep_at_start(**_: Any) -> None:
    """A worker that starts looks at once for what the last one left."""
    sweep.delay()
