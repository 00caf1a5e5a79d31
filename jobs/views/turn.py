"""When the air turns: what slips, what is better, what buys it back."""

from typing import Any

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from jobs import actions
from jobs.calendar_words import label, names_in
from jobs.models import TurnRun
from jobs.queries import issued_plan, turn_runs, worker_is_alive
from jobs.translation import job_value
from jobs.turn_forms import SupposeForm
from jobs.turn_questions import question_text
from jobs.turn_words import better_lines, slip_lines
from jobs.turning import helps_of
from jobs.views.guard import Visit, put_beside, readable, visit_of
from scheduling.errors import BadInput
from scheduling.problem import Job


@require_http_methods(["GET", "HEAD", "POST"])
@readable
def turn_page(request: HttpRequest, job: str) -> HttpResponse:
    """The last answer; a lead asks by POST, with or without something supposed."""
    if request.method != "POST":
        visit = visit_of(request, job)
        return visit.page("jobs/turn.html", **_context(visit))
    visit = visit_of(request, job, lead=True)
    question: dict[str, Any] = {}
    form = SupposeForm(job=visit.job, now=visit.now)
    if "what" in request.POST:
        form = SupposeForm(request.POST, job=visit.job, now=visit.now)
        if not form.is_valid():
            return visit.page("jobs/turn.html", 422, **_context(visit, form))
        question = form.question
    try:
        actions.request_turn(
            job=visit.job, question=question, by=visit.user, now=visit.now
        )
    except ValidationError as error:
        return _refused(visit, error)
    return redirect("turn", job=visit.job.key)


@require_safe
@readable
def turn_part(request: HttpRequest, job: str) -> HttpResponse:
    """How working it out goes on, asked every other second while it does."""
    visit = visit_of(request, job)
    if not request.htmx:
        return redirect("turn", job=visit.job.key)
    return visit.page("jobs/turn_part.html", **_context(visit))


@require_POST
@readable
def turn_accept(request: HttpRequest, job: str) -> HttpResponse:
    """Take the ways that were ticked into the job, and plan it as a draft."""
    visit = visit_of(request, job, lead=True)
    asked = request.POST.getlist("way")
    try:
        actions.accept_ways(
            job=visit.job,
            run=request.POST.get("run", ""),
            ways=asked,
            by=visit.user,
            now=visit.now,
        )
    except ValidationError as error:
        return _refused(visit, error)
    except BadInput as error:
        text = "; ".join(fault.allowed for fault in error.faults)
        return _refused(visit, ValidationError(f"These do not go together: {text}."))
    return redirect("week", job=visit.job.key)


def _refused(visit: Visit, error: ValidationError) -> HttpResponse:
    form = SupposeForm({}, job=visit.job, now=visit.now)
    form.errors.clear()
    put_beside(form, error)
    unbound = SupposeForm(job=visit.job, now=visit.now)
    refusal = " ".join(form.non_field_errors())
    return visit.page("jobs/turn.html", 422, **_context(visit, unbound, refusal))


def _context(
    visit: Visit, form: SupposeForm | None = None, refusal: str = ""
) -> dict[str, Any]:
    value = job_value(visit.job)
    run, answered = turn_runs(visit.job)
    goes_on = run is not None and not run.is_over
    shown = run if goes_on else answered
    issued = issued_plan(visit.job)
    names = _names(value)
    return {
        "place": "week",
        "place_name": "When the air turns",
        "names": names_in(value),
        "form": form or SupposeForm(job=visit.job, now=visit.now),
        "refusal": refusal,
        "issued": issued,
        "run": run,
        "goes_on": goes_on,
        "shown": shown,
        "answer": None if shown is None else _answer(shown, names),
        "older": answered is not None
        and (
            visit.job.changed_at > answered.requested_at
            or (issued is not None and issued.number != answered.plan_number)
        ),
        "worker_alive": worker_is_alive(visit.now),
    }


def _answer(run: TurnRun, names: dict[str, str]) -> dict[str, Any]:
    return {
        "question": question_text(run.question, names),
        "slips": slip_lines(run.judged, names),
        "must": run.judged.get("must", 0),
        "better": better_lines(run.judged, names),
        "ways": [
            {"number": number, "days": kept["days"], "told": helps_of(kept)}
            for number, kept in enumerate(run.helps)
        ],
    }


def _names(job: Job) -> dict[str, str]:
    """What hands and surfaces are called; a step by "surface step"."""
    names = {row.id: label(row) for row in (*job.hands, *job.surfaces)}
    recipes = {recipe.id: recipe for recipe in job.recipes}
    for surface in job.surfaces:
        for step in recipes[surface.recipe].steps:
            names[f"{surface.id} {step.id}"] = label(step)
    return names


urlpatterns = [
    path("jobs/<slug:job>/turn/", turn_page, name="turn"),
    path("jobs/<slug:job>/turn/part/", turn_part, name="turn-part"),
    path("jobs/<slug:job>/turn/accept/", turn_accept, name="turn-accept"),
]
