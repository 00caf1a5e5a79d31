"""What the queue runs: keys in, rows out; every task may come twice."""

from typing import Any

from celery import shared_task
from celery.signals import worker_ready
from django.conf import settings
from django.core.mail import send_mail
from django.template.loader import render_to_string
from django.utils import timezone

from jobs import forwarding, replanning, turning
from jobs.models import User
from jobs.people import may_mail_password, new_password_address


@shared_task(name="jobs.tasks.replan")
def replan(run_id: int) -> None:
    """Plan the run if nobody has; then the next one that waits for the same job."""
    following = replanning.replan(run_id)
    if following is not None:
        replan.delay(following)


@shared_task(name="jobs.tasks.forward")
def forward(run_id: int) -> None:
    """Work the question out if nobody has; then the next one about the same job."""
    following = forwarding.work_out(run_id)
    if following is not None:
        forward.delay(following)


@shared_task(name="jobs.tasks.turn")
def turn(run_id: int) -> None:
    """Judge the plan in the new air if nobody has; then the job's next question."""
    following = turning.work_out(run_id)
    if following is not None:
        turn.delay(following)


@shared_task(name="jobs.tasks.sweep")
def sweep() -> None:
    """Show that a worker lives, and send again what was lost."""
    now = timezone.now()
    replanning.show_alive(now)
    for run_id in replanning.take_up_lost_runs(now):
        replan.delay(run_id)
    for run_id in forwarding.take_up_lost_questions(now):
        forward.delay(run_id)
    for run_id in turning.take_up_lost_questions(now):
        turn.delay(run_id)


@shared_task(name="jobs.tasks.mail_new_password")
def mail_new_password(email: str) -> None:
    """Mail a link for a new password, if somebody here signs in with that address."""
    person = User.objects.filter(email=email.strip().lower(), is_active=True).first()
    if person is None or not may_mail_password(person, timezone.now()):
        return
    context = {
        "person": person,
        "address": new_password_address(person),
        "hours": settings.PASSWORD_RESET_TIMEOUT // 3600,
    }
    words = render_to_string("people/new_password.txt", context)
    send_mail("A new password for Coat by Coat", words, None, [person.email])


@worker_ready.connect
def sweep_at_start(**_: Any) -> None:
    """A worker that starts looks at once for what the last one left."""
    sweep.delay()
