"""The demo: a worked job loaded, planned, issued, told in print, and served."""

import os
import secrets
from argparse import ArgumentParser
from collections.abc import Iterable
from datetime import datetime
from typing import Any
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.utils import timezone

from jobs import demo_job
from jobs.actions import import_job, issue_plan, log_coat, start_company
from jobs.feed_links import feed_address, make_link
from jobs.management.commands.plan import stints_told, summary
from jobs.management.commands.ready import told
from jobs.management.line_command import LineCommand
from jobs.models import Job, User
from jobs.translation import job_value, store_plan
from scheduling.job_file import write_job
from scheduling.plan import Plan, Stint
from scheduling.planning import plan_job
from scheduling.readiness import ready_answer

COMPANY = "Saltmarsh Finishing"
EMAIL = "demo@localhost"
USUAL_PORT = 8000
BUDGET = 3.0  # units of about a second; ten give the demo no better dates


class Command(LineCommand, BaseCommand):
    help = (
        "Load the demo job, plan and issue it, print plan, ready list and calendar "
        "addresses, then serve on localhost. Run again, it starts the demo job anew."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--no-serve", action="store_true", help="stop once all is printed"
        )
        parser.add_argument(
            "--port", type=int, default=USUAL_PORT, help="8000 unless told"
        )

    def handle(self, **given: Any) -> None:
        call_command("migrate", interactive=False, verbosity=0)
        lead, password = _lead()
        row = _load(lead)
        self._plan_and_tell(row, lead)
        site = _site(given["port"])
        self.stdout.write("")
        self._print(_addresses(row, site))
        self.stdout.write("")
        self._print(_sign_in(site, lead, password))
        if given["no_serve"]:
            return
        # The pages' own processes read it, and their links must lead back to them.
        os.environ.setdefault("SITE_URL", site)
        self.stdout.flush()
        call_command("serve", port=str(given["port"]))

    def _plan_and_tell(self, row: Job, lead: User) -> None:
        job = job_value(row)
        at = job.now
        plan = plan_job(job, at=at, budget=BUDGET)
        stored = store_plan(row, plan, planned=job, planned_at=at)
        now = timezone.now()
        if stored.is_plan:
            issue_plan(plan=stored, by=lead, now=now)
            _log_what_is_past(row, plan, lead, now)
        self._print((f"{job.title}, plan {stored.number}", ""))
        self._print(stints_told(job, plan))
        self._print(summary(job, plan))
        self.stdout.write("")
        self._print(told(job, ready_answer(job_value(row), at=max(at, now))))

    def _print(self, lines: Iterable[str]) -> None:
        for line in lines:
            self.stdout.write(line)


def _lead() -> tuple[User, str | None]:
    """The demo's lead, and the password where the account is new."""
    known = User.objects.filter(email=EMAIL).select_related("company").first()
    if known is not None:
        return known, None
    password = secrets.token_urlsafe(12)
    lead = start_company(
        name=COMPANY, email=EMAIL, password=password, person="Demo lead"
    )
    return lead, password


def _load(lead: User) -> Job:
    """The demo job in this week, whatever became of the one before."""
    today = timezone.now().astimezone(ZoneInfo(demo_job.ZONE)).date()
    job = demo_job.marram_house(demo_job.demo_monday(today))
    return import_job(company=lead.company, written=write_job(job), replace=True)


def _log_what_is_past(row: Job, plan: Plan, lead: User, now: datetime) -> None:
    """Log the week so far as if it had gone to plan, so that "now" means something."""
    done: dict[tuple[str, str, str | None], list[Stint]] = {}
    for stint in plan.stints:
        if stint.kind == "work":
            key = (stint.surface, stint.step, stint.section)
            done.setdefault(key, []).append(stint)
    surfaces = {s.key: s for s in row.surfaces.select_related("recipe")}
    for (surface, step, section), stints in done.items():
        end = max(stint.end for stint in stints)
        if end <= now:
            log_coat(
                job=row,
                surface=surfaces[surface],
                step=surfaces[surface].recipe.steps.get(key=step),
                section=section or "",
                start=min(stint.start for stint in stints),
                end=end,
                by=lead,
                now=now,
            )


def _site(port: int) -> str:
    """The address of the pages: the site's own, on localhost at the port asked for."""
    site = urlsplit(settings.SITE_URL)
    if "SITE_URL" in os.environ or site.port == port:
        return settings.SITE_URL
    return site._replace(netloc=f"{site.hostname}:{port}").geturl()


def _addresses(row: Job, site: str) -> Iterable[str]:
    """A new calendar address for each hand; the ones told before stop working."""
    yield "Calendar addresses, new with every run:"
    now = timezone.now()
    for hand in row.hands.all():
        _, token = make_link(job=row, at=now, hand_key=hand.key)
        yield f"  {hand.name or hand.key}: {site}{urlsplit(feed_address(token)).path}"


def _sign_in(site: str, lead: User, password: str | None) -> Iterable[str]:
    if password is None:
        yield f"Sign in at {site} as {lead.email} with the password of the first run."
        yield f"A new one: python manage.py changepassword {lead.email}"
    else:
        yield f"Sign in at {site} as {lead.email}, password {password}"
        yield "It is told this once."
