"""A job's materials: changing what a label says."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from jobs.material_forms import MaterialForm, shown_material
from jobs.models import Material
from jobs.recipe_changes import Stale, change_material
from jobs.recipe_forms import units_typed
from jobs.recipe_typed import free_key
from jobs.recipe_words import LABEL_NAMES, label_lines
from jobs.templatetags.plan_format import say_label
from jobs.translation import job_value
from jobs.views.changing_recipes import bring_back
from jobs.views.guard import Visit, readable, visit_of
from scheduling.errors import BadInput
from scheduling.problem import Label


@require_http_methods(["GET", "HEAD", "POST"])
@readable
def change(request: HttpRequest, job: str, material: str) -> HttpResponse:
    """Change a label; each time it is kept makes a new version."""
    visit = visit_of(request, job, lead=True)
    return _answer(visit, get_object_or_404(visit.job.materials, key=material))


@require_http_methods(["GET", "HEAD", "POST"])
@readable
def new(request: HttpRequest, job: str) -> HttpResponse:
    """A material with its label from nothing."""
    return _answer(visit_of(request, job, lead=True), None)


@require_POST
@readable
def back(request: HttpRequest, job: str, material: str, number: int) -> HttpResponse:
    """Bring an old label back, as the next version."""
    visit = visit_of(request, job, lead=True)
    row = get_object_or_404(visit.job.materials, key=material)
    old = get_object_or_404(row.versions, number=number)
    return bring_back(
        visit,
        str(row),
        redirect("change-material", job=job, material=material),
        lambda looked_at: change_material(
            job=visit.job,
            written=old.content,
            version=looked_at,
            by=visit.user,
            now=visit.now,
        ),
    )


def _answer(visit: Visit, row: Material | None) -> HttpResponse:
    value = job_value(visit.job)
    old = value.material(row.key) if row else None
    posted = visit.request.POST
    shared: dict[str, Any] = {
        "units": units_typed(posted, visit.units),
        "material": old,
    }
    if visit.request.method != "POST":
        initial = shown_material(old, row.version) if old and row else {"humidity": 50}
        return _page(visit, row, MaterialForm(initial=initial, **shared))
    form = MaterialForm(posted, **shared)
    if form.is_valid():
        name = form.cleaned_data["name"]
        key = row.key if row else free_key(name, (have.id for have in value.materials))
        try:
            kept = change_material(
                job=visit.job,
                written=form.written(key),
                version=form.cleaned_data["version"] if row else None,
                by=visit.user,
                now=visit.now,
            )
        except BadInput as error:
            form.refuse(error.faults)
        except Stale as stale:
            theirs = label_lines(old, {}) if old else []
            form.data = posted.copy()
            form.data["version"] = stale.version
            return _page(visit, row, form, 409, theirs=theirs, stale=stale.version)
        else:
            if row is not None and kept.version == row.version:
                messages.info(visit.request, "Nothing was changed.")
            else:
                messages.success(
                    visit.request,
                    f"Kept: {kept}, version {kept.version}. Plan again to use it.",
                )
            return redirect("change-material", job=visit.job.key, material=kept.key)
    return _page(visit, row, form, 422)


def _page(
    visit: Visit,
    row: Material | None,
    form: MaterialForm,
    status: int = 200,
    **more: Any,
) -> HttpResponse:
    old = list(row.versions.select_related("changed_by")) if row else []
    return visit.page(
        "recipes/material.html",
        status,
        place="recipes",
        place_name=str(row) if row else "A new material",
        material=row,
        points=[
            {"air": point.air, "times": _told(point.labels)}
            for point in (form.material.points if form.material else ())
        ],
        recipes=_recipes_with(row),
        versions=[
            {"old": kept, "times": _times(kept.content)} for kept in old
        ],
        form=form,
        **more,
    )  # fmt: skip


def _recipes_with(row: Material | None) -> list[Any]:
    """The recipes that lay it, each once."""
    if row is None:
        return []
    steps = row.steps.select_related("recipe").order_by("recipe__position")
    return list({step.recipe_id: step.recipe for step in steps}.values())


def _told(labels: Mapping[str, Label]) -> str:
    """A point's times in a line."""
    return ", ".join(
        f"{LABEL_NAMES[stage].lower()} {say_label(label)}"
        for stage, label in labels.items()
    )


def _times(content: dict[str, Any]) -> list[dict[str, Any]]:
    """An old label's times in words."""
    return [
        {"name": LABEL_NAMES[stage], "time": say_label(label)}
        for where in ("labels", "promises")
        for stage, label in content.get(where, {}).items()
    ]


urlpatterns = [
    path("jobs/<slug:job>/new-material/", new, name="new-material"),
    path("jobs/<slug:job>/materials/<slug:material>/", change, name="change-material"),
    path(
        "jobs/<slug:job>/materials/<slug:material>/versions/<int:number>/",
        back,
        name="bring-label-back",
    ),
]
