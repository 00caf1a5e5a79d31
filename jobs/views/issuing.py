"""A plan beside the issued one: what moves, what it aims at, and issuing it."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from jobs import actions
from jobs.calendar_words import names_in
from jobs.models import Plan
from jobs.queries import issued_plan, plan_or_404, planned_against
from jobs.translation import job_value, plan_value
from jobs.views.guard import Visit, readable, visit_of
from jobs.week_aims import aims_of
from jobs.week_changes import date_changes, for_hands, move_groups, moves_between
from jobs.week_words import known_part
from scheduling import plan as engine_plan
from scheduling.problem import Job


@require_http_methods(["GET", "HEAD", "POST"])
@readable
def issue(request: HttpRequest, job: str, number: int) -> HttpResponse:
    """What issuing the plan changes for whom, and the button that does it."""
    visit = visit_of(request, job, lead=True)
    row = plan_or_404(visit.job, number)
    if request.method != "POST":
        if row.state != Plan.State.DRAFT or not row.is_plan:
            return redirect("week", job=visit.job.key)
        return _before_issuing(visit, row)
    try:
        actions.issue_plan(plan=row, by=visit.user, now=visit.now)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(
            request, f"{row} is issued. Calendars show it within the hour."
        )
    return redirect("week", job=visit.job.key)


def _before_issuing(visit: Visit, row: Plan) -> HttpResponse:
    value = job_value(visit.job)
    plan = known_part(plan_value(row), value)
    issued = issued_plan(visit.job)
    context: dict[str, Any] = {
        "plan": row,
        "issued": issued,
        "out_of_date": visit.job.changed_at > row.made_at,
    }
    old = engine_plan.Plan(
        job_sha256="", outcome="no-plan", finish=None, bound=plan.bound
    )
    if issued is not None:
        old = known_part(plan_value(issued), value)
        context["dates"] = date_changes(old, plan, value, visit.zone)
    moves = moves_between(old, plan, value, visit.zone)
    context["hands"] = for_hands(moves, value, visit.zone)
    return visit.page(
        "jobs/issue.html", place="week", place_name=f"Issue {row}", **context
    )


def beside_context(
    visit: Visit, row: Plan, job: Job, plan: engine_plan.Plan
) -> dict[str, Any]:
    """What a plan aims at, and what moves against the issued plan or its forerunner.

    ``plan`` is the part of it that the job still knows.
    """
    issued = issued_plan(visit.job)
    against = planned_against(row)
    before = None if against is None else known_part(plan_value(against), job)
    context: dict[str, Any] = {"names": names_in(job)}
    other = issued if issued is not None and issued.pk != row.pk else against
    shown = (plan,)
    if other is not None:
        old = before if other == against else known_part(plan_value(other), job)
        assert old is not None  # noqa: S101 - other is one of both
        moves = moves_between(old, plan, job, visit.zone)
        newer = other.number < row.number
        context |= {
            "beside": other,
            "beside_value": old if newer and other == issued else None,
            "moves": move_groups(moves, job, visit.zone) if newer else (),
            "date_moves": date_changes(old, plan, job, visit.zone) if newer else (),
            "compares": newer,
        }
        shown = (plan, old)
    return context | {
        "aims": aims_of(job, shown, before, visit.zone),
        "against": against,
    }
