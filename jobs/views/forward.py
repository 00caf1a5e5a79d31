"""What would bring one surface forward: asked, worked out by the worker, kept."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_safe

from jobs import actions
from jobs.calendar_words import names_in
from jobs.forward_words import Helps, count_text
from jobs.models import ForwardRun
from jobs.queries import forward_runs, surface_with_recipe, worker_is_alive
from jobs.templatetags.plan_format import say_place
from jobs.translation import job_value
from jobs.views.guard import Visit, readable, visit_of


@require_http_methods(["GET", "HEAD", "POST"])
@readable
def forward_page(request: HttpRequest, job: str, surface: str) -> HttpResponse:
    """The question and its last answer; a lead asks it by POST."""
    if request.method != "POST":
        visit = visit_of(request, job)
        return visit.page("jobs/forward.html", **_context(visit, surface))
    visit = visit_of(request, job, lead=True)
    row = surface_with_recipe(visit.job, surface)
    actions.request_forward(job=visit.job, surface=row, by=visit.user, now=visit.now)
    return redirect("forward", job=visit.job.key, surface=row.key)


@require_safe
@readable
def forward_part(request: HttpRequest, job: str, surface: str) -> HttpResponse:
    """How working it out goes on, asked every other second while it does."""
    visit = visit_of(request, job)
    if not request.htmx:
        return redirect("forward", job=visit.job.key, surface=surface)
    return visit.page("jobs/forward_part.html", **_context(visit, surface))


def _context(visit: Visit, key: str) -> dict[str, Any]:
    surface = surface_with_recipe(visit.job, key)
    run, answered = forward_runs(visit.job, key)
    goes_on = run is not None and not run.is_over
    return {
        "place": "week",
        "place_name": "Bring forward",
        "surface": surface,
        "name": say_place(surface.room.label, surface.label),
        "names": names_in(job_value(visit.job)),
        "run": run,
        "goes_on": goes_on,
        "found": _found(run) if goes_on else None,
        "answered": answered,
        "answer": None if answered is None else _found(answered),
        "older": answered is not None and visit.job.changed_at > answered.requested_at,
        "worker_alive": worker_is_alive(visit.now),
    }


def _found(run: ForwardRun) -> dict[str, Any]:
    """What a run has found, so far or in the end."""
    helps = [Helps.read(kept) for kept in run.helps]
    return {"helps": helps, "count": count_text(run.tried, helps)}
