"""Changing a job's recipes: the form, its buttons that move steps, and old versions."""

import re
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_http_methods

from jobs.models import Recipe
from jobs.recipe_changes import Stale, change_recipe
from jobs.recipe_forms import RecipeForm, units_typed
from jobs.recipe_typed import MOST_STEPS, free_key, moved, typed_steps
from jobs.recipe_words import step_words
from jobs.translation import job_value
from jobs.views.guard import Visit, readable, visit_of
from scheduling import problem
from scheduling.errors import BadInput
from scheduling.job_file import read_job, write_job


@require_http_methods(["GET", "HEAD", "POST"])
@readable
def change(request: HttpRequest, job: str, recipe: str) -> HttpResponse:
    """Change a recipe's steps; each time it is kept makes a new version."""
    visit = visit_of(request, job, lead=True)
    row = get_object_or_404(visit.job.recipes, key=recipe)
    return _answer(visit, row)


@require_http_methods(["GET", "HEAD", "POST"])
@readable
def new(request: HttpRequest, job: str) -> HttpResponse:
    """A recipe from nothing."""
    return _answer(visit_of(request, job, lead=True), None)


@require_http_methods(["GET", "HEAD", "POST"])
@readable
def version(request: HttpRequest, job: str, recipe: str, number: int) -> HttpResponse:
    """A recipe as it was before it was changed; posted, it comes back as the next."""
    visit = visit_of(request, job, lead=request.method == "POST")
    row = get_object_or_404(visit.job.recipes, key=recipe)
    old = get_object_or_404(row.versions.select_related("changed_by"), number=number)
    if request.method == "POST":
        return bring_back(
            visit, str(row), redirect("recipe", job=job, recipe=recipe),
            lambda looked_at: change_recipe(
                job=visit.job, written=old.content, version=looked_at, by=visit.user,
                now=visit.now,
            ),
        )  # fmt: skip
    value = job_value(visit.job)
    then = _as_it_was(value, old.content)
    if then is None:
        raise Http404("its materials are gone")
    return visit.page(
        "recipes/version.html",
        place="recipes",
        place_name=str(row),
        recipe=row,
        old=old,
        name=then.name or then.id,
        steps=step_words(then, value.materials, visit.units),
    )


def bring_back(
    visit: Visit, name: str, then: HttpResponse, change: Callable[[int], Any]
) -> HttpResponse:
    """Does it for the version that was looked at; says what came of it."""
    looked_at = visit.request.POST.get("version", "")
    number = int(looked_at) if re.fullmatch("[0-9]{1,6}", looked_at) else 0
    try:
        kept = change(number)
    except Stale as stale:
        said = f"Nothing was changed: {name} is version {stale.version} now. Look."
        messages.warning(visit.request, said)
    except ValidationError as error:
        messages.error(visit.request, " ".join(error.messages))
    except BadInput as error:
        messages.error(visit.request, f"It cannot come back: {error.faults[0]}.")
    else:
        messages.success(visit.request, f"{name} is version {kept.version} now.")
    return then


def _as_it_was(value: problem.Job, content: dict[str, Any]) -> problem.Recipe | None:
    """An old version as the engine reads it; None where a material of it is gone."""
    written = write_job(value) | {"recipes": [content], "surfaces": [], "dates": []}
    written |= {"coats": [], "pins": [], "bans": [], "moisture": []}
    try:
        return read_job(written).recipes[0]
    except BadInput:
        return None


def _answer(visit: Visit, row: Recipe | None) -> HttpResponse:
    value = job_value(visit.job)
    old = value.recipe(row.key) if row else None
    if old and len(old.steps) > MOST_STEPS:
        return visit.page(
            "recipes/too_long.html", 409, place="recipes", place_name=str(row),
            recipe=row, steps=len(old.steps), most=MOST_STEPS,
        )  # fmt: skip
    posted = visit.request.POST
    units = units_typed(posted, visit.units)
    shared = {"recipe": old, "job": value, "units": units}
    if visit.request.method != "POST":
        name = (old.name or old.id) if old else ""
        form = RecipeForm(name=name, version=row.version if row else None, **shared)
        return _page(visit, row, form)
    rows = typed_steps(posted)
    typed = {"name": posted.get("name", ""), "version": posted.get("version", "")}
    wish = posted.get("do", "keep")
    if wish != "keep" or not rows:
        rows, said = moved(rows, wish)
        if said:
            messages.warning(visit.request, said)
        return _page(visit, row, RecipeForm(rows=rows, **typed, **shared))
    form = RecipeForm(rows=rows, posted=posted, **typed, **shared)
    status = 422
    if form.is_valid():
        try:
            return _kept(visit, row, value, form)
        except BadInput as error:
            form.refuse(error.faults)
        except ValidationError as error:
            form.others += error.messages
        except Stale as stale:
            fresh = typed | {"version": stale.version}
            form = RecipeForm(rows=rows, **fresh, **shared)
            theirs = step_words(old, value.materials, visit.units) if old else []
            return _page(visit, row, form, 409, theirs=theirs, stale=stale.version)
    return _page(visit, row, form, status)


def _kept(
    visit: Visit, row: Recipe | None, value: problem.Job, form: RecipeForm
) -> HttpResponse:
    name = form.name.cleaned_data["name"]
    key = row.key if row else free_key(name, (entry.id for entry in value.recipes))
    kept = change_recipe(
        job=visit.job,
        written=form.written(key),
        version=form.name.cleaned_data["version"] if row else None,
        materials=form.from_book,
        by=visit.user,
        now=visit.now,
    )
    if row is not None and kept.version == row.version:
        messages.info(visit.request, "Nothing was changed.")
    else:
        messages.success(
            visit.request,
            f"Kept: {kept}, version {kept.version}. Plans made before keep theirs; "
            "plan again to use it.",
        )
    return redirect("recipe", job=visit.job.key, recipe=kept.key)


def _page(
    visit: Visit,
    row: Recipe | None,
    form: RecipeForm,
    status: int = 200,
    **more: Any,
) -> HttpResponse:
    return visit.page(
        "recipes/change.html",
        status,
        place="recipes",
        place_name=f"Change {row}" if row else "A new recipe",
        recipe=row,
        form=form,
        **more,
    )


urlpatterns = [
    path("jobs/<slug:job>/new-recipe/", new, name="new-recipe"),
    path("jobs/<slug:job>/recipes/<slug:recipe>/change/", change, name="change-recipe"),
    path(
        "jobs/<slug:job>/recipes/<slug:recipe>/versions/<int:number>/",
        version,
        name="recipe-version",
    ),
]
