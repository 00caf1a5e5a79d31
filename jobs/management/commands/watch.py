"""Looks at the newest air for every running job, as beat does each morning."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from jobs.models import Job, Plan
from jobs.watching import due_jobs, watch_job


class Command(BaseCommand):
    """``watch``: jobs whose minute has come; with ``--all`` every running one."""

    help = (
        "Refresh the forecasts of running jobs, hold each issued plan against the new "
        "air, and plan a draft where something breaks or much improves."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Whether to look at every job, due or not."""
        parser.add_argument(
            "--all", action="store_true", help="every running job, watched today or not"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """One line a job that something is said of."""
        now = timezone.now()
        keys = due_jobs(now)
        if options["all"]:
            running = Job.objects.filter(
                plans__state=Plan.State.ISSUED, plans__finish__gt=now
            )
            keys = list(running.values_list("pk", flat=True))
        for key in keys:
            said = watch_job(key, now, again=options["all"])
            if said:
                self.stdout.write(f"{Job.objects.get(pk=key)}: {said}")
        self.stdout.write(f"{len(keys)} watched.")
