"""Copies of a room, a recipe and a job: a small form that names the copy."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_http_methods

from jobs.copying import copy_job, copy_recipe, copy_room, free_name
from jobs.copying_forms import CopyForm, CopyJobForm
from jobs.queries import first_day_of, jobs_of
from jobs.views.guard import Visit, put_beside, visit_of
from scheduling.errors import BadInput, shown


@require_http_methods(["GET", "HEAD", "POST"])
def room_copy(request: HttpRequest, job: str, room: str) -> HttpResponse:
    """One more room like it."""
    visit = visit_of(request, job, lead=True)
    row = get_object_or_404(visit.job.rooms, key=room)
    names = [other.label for other in visit.job.rooms.all()]
    form = _form(request, CopyForm, name=free_name(row.label, names))
    surfaces = row.surfaces.count()
    if form.is_valid():
        made = _made(
            form,
            lambda: copy_room(
                job=visit.job, room=row, now=visit.now, **form.cleaned_data
            ),
        )
        if made is not None:
            with_it = f" with {surfaces} surface{'s' * (surfaces != 1)}"
            messages.success(request, f"{made} is in{with_it * bool(surfaces)}.")
            return redirect("set-up", job=visit.job.key)
    return _page(
        visit,
        form,
        heading=f"One more room like {row}",
        comes=f"Its size, air and hours, its hand-back, and {_counted(surfaces)} with "
        "their sizes, recipes and gates come along.",
        stays="Doors to other rooms, other trades’ days, wished dates, coats and "
        "readings stay with the old one alone.",
        back=visit.job.get_absolute_url(),
    )


@require_http_methods(["GET", "HEAD", "POST"])
def recipe_copy(request: HttpRequest, job: str, recipe: str) -> HttpResponse:
    """One more recipe with the same steps."""
    visit = visit_of(request, job, lead=True)
    row = get_object_or_404(visit.job.recipes, key=recipe)
    names = [other.label for other in visit.job.recipes.all()]
    form = _form(request, CopyForm, name=free_name(row.label, names))
    if form.is_valid():
        made = _made(
            form,
            lambda: copy_recipe(
                job=visit.job, recipe=row, now=visit.now, **form.cleaned_data
            ),
        )
        if made is not None:
            messages.success(request, f"{made} is in. It is on no surface yet.")
            return redirect("recipe", job=visit.job.key, recipe=made.key)
    return _page(
        visit,
        form,
        place="recipes",
        heading=f"One more recipe like {row}",
        comes="All its steps come along, with their materials, waits and minutes.",
        stays="No surface gets it yet.",
    )


@require_http_methods(["GET", "HEAD", "POST"])
def job_copy(request: HttpRequest, job: str) -> HttpResponse:
    """A new job set up like this one, from another first day on."""
    visit = visit_of(request, job, lead=True)
    row = visit.job
    titles = [other.title for other in jobs_of(row.company)]
    form = _form(
        request,
        CopyJobForm,
        title=free_name(row.title, titles),
        first_day=first_day_of(row),
        start=visit.now.astimezone(visit.zone).date(),
    )
    if form.is_valid():
        made = _made(
            form, lambda: copy_job(company=row.company, job=row, **form.cleaned_data)
        )
        if made is not None:
            messages.success(request, f"{made} is in. Plan it to see its week.")
            return redirect("week", job=made.key)
    return _page(
        visit,
        form,
        heading=f"One more job like {row}",
        comes="Site, hours, hands, materials, recipes, rooms with their air, surfaces "
        "and wished dates come along. Days the site is closed and days a hand is away "
        "stay where the calendar has them.",
        stays="Coats, tests, readings, pins, the forecast, plans and calendar links "
        "stay with the old job alone.",
    )


def _form(request: HttpRequest, kind: type[forms.Form], **offered: Any) -> forms.Form:
    if request.method == "POST":
        return kind(request.POST)
    return kind(initial=offered)


def _made(form: forms.Form, make: Callable[[], Any]) -> Any:
    """The copy; None where it was refused, with the reason in the form."""
    try:
        return make()
    except ValidationError as error:
        put_beside(form, error)
    except IntegrityError:  # the same name came in twice at one moment
        form.add_error(None, "Another copy was made just now: look for it, then retry.")
    except BadInput as error:
        for fault in error.faults[:10]:
            form.add_error(None, f"{fault.path}: {shown(fault.value)}: {fault.allowed}")
    return None


def _page(visit: Visit, form: forms.Form, **context: Any) -> HttpResponse:
    return visit.page(
        "copying/copy.html",
        422 if form.is_bound else 200,
        place_name="Copy",
        form=form,
        **context,
    )


def _counted(surfaces: int) -> str:
    return f"{surfaces} surface{'s' * (surfaces != 1)}" if surfaces else "no surfaces"


urlpatterns = [
    path("jobs/<slug:job>/copy/", job_copy, name="copy-job"),
    path("jobs/<slug:job>/rooms/<slug:room>/copy/", room_copy, name="copy-room"),
    path(
        "jobs/<slug:job>/recipes/<slug:recipe>/copy/", recipe_copy, name="copy-recipe"
    ),
]
