"""Surfaces of a room that is set up: one by one, all round, one recipe for many."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path, reverse
from django.views.decorators.http import require_http_methods

from jobs.measures import AREA, METRIC, say
from jobs.models import Room, Surface
from jobs.set_up_forms_many import AllRoundForm, OneRecipeForm
from jobs.set_up_forms_surfaces import COLUMNS, LengthField, SurfaceForm
from jobs.set_up_queries import counted, lost_with_surface, recipes_by_kind
from jobs.set_up_surfaces import (
    add_surfaces,
    change_surface,
    give_recipe,
    remove_surface,
)
from jobs.views.guard import Visit, kept, visit_of

FORM = ["GET", "HEAD", "POST"]


@require_http_methods(FORM)
def new_surface(request: HttpRequest, job: str, room: str) -> HttpResponse:
    """A surface; the next form begins with what was typed last."""
    visit = visit_of(request, job, lead=True)
    row = get_object_or_404(visit.job.rooms, key=room)
    by_kind = recipes_by_kind(visit.job)
    shared: dict[str, Any] = {
        "job": visit.job, "surface": None, "first": _last_typed(row, by_kind),
        "by_kind": by_kind, "units": visit.units,
    }  # fmt: skip
    if request.method != "POST":
        return _surface(visit, SurfaceForm(**shared), row)
    form = SurfaceForm(request.POST, **shared)
    made: list[Surface] = []
    if form.is_valid() and kept(
        form,
        lambda: made.extend(
            add_surfaces(room=row, entries=[form.columns], now=visit.now)
        ),
    ):
        messages.success(request, _told(made[0], form.units))
        if request.POST.get("then") == "next":
            return redirect("new-surface", job=job, room=room)
        return redirect("set-up", job=job)
    return _surface(visit, form, row, status=422)


@require_http_methods(FORM)
def surface_page(request: HttpRequest, job: str, surface: str) -> HttpResponse:
    """Change a surface."""
    visit = visit_of(request, job, lead=True)
    row = _of(visit, surface)
    first = {name: getattr(row, name) for name in COLUMNS}
    first |= {"recipe": row.recipe.key, "priority": row.priority}
    shared: dict[str, Any] = {
        "job": visit.job, "surface": row, "first": first, "units": visit.units,
    }  # fmt: skip
    form = SurfaceForm(request.POST if request.method == "POST" else None, **shared)
    if form.is_bound:
        if form.is_valid() and kept(
            form, lambda: change_surface(surface=row, now=visit.now, **form.columns)
        ):
            messages.success(request, _told(row, form.units))
            return redirect("set-up", job=job)
        row = _of(visit, surface)
    status = 422 if form.is_bound else 200
    return _surface(visit, form, row.room, row, status)


def _of(visit: Visit, key: str) -> Surface:
    return get_object_or_404(
        visit.job.surfaces.select_related("room", "recipe"), key=key
    )


def _told(surface: Surface, units: str) -> str:
    """The surface with its two areas."""
    material, labour = (
        say(AREA, area, units) for area in (surface.area_m2, surface.labour_m2)
    )
    if material == labour:
        return f"{surface}: {material}."
    return f"{surface}: material {material}, labour {labour} with the openings."


def _last_typed(room: Room, by_kind: dict[str, str]) -> dict[str, Any]:
    """What the next surface begins with: the last of the room; openings are its own."""
    last = room.surfaces.order_by("-pk").first()
    if last is None:
        return {"kind": "wall", "recipe": by_kind.get("wall")}
    return {
        "kind": last.kind,
        "width_m": last.width_m,
        "height_m": last.height_m,
        "recipe": by_kind[last.kind],
    }


def _surface(
    visit: Visit,
    form: SurfaceForm,
    room: Room,
    surface: Surface | None = None,
    status: int = 200,
) -> HttpResponse:
    return visit.page(
        "set_up/surface.html",
        status,
        place="set-up",
        place_name=surface.label if surface else f"A surface of {room}",
        form=form,
        room=room,
        surface=surface,
        others=room.surfaces.count(),
    )


@require_http_methods(FORM)
def all_round(request: HttpRequest, job: str, room: str) -> HttpResponse:
    """A room's walls, ceiling and floor at once, from its three lengths."""
    visit = visit_of(request, job, lead=True)
    row = get_object_or_404(visit.job.rooms, key=room)
    shared: dict[str, Any] = {
        "job": visit.job, "room": row, "first": recipes_by_kind(visit.job),
        "units": visit.units, "lengths_m": _lengths(request),
    }  # fmt: skip
    form = AllRoundForm(request.POST if request.method == "POST" else None, **shared)
    made: list[Surface] = []
    if form.is_bound and form.is_valid() and kept(
        form,
        lambda: made.extend(
            add_surfaces(room=row, entries=form.entries, now=visit.now)
        ),
    ):  # fmt: skip
        area = say(AREA, sum(surface.area_m2 for surface in made), form.units)
        added = f"{counted(len(made), 'surface')} of {row}, {area} in all."
        messages.success(request, added)
        then = request.POST.get("then", "")
        if then == "next":
            return redirect("new-surface", job=job, room=room)
        return redirect("new-room" if then == "room" else "set-up", job=job)
    return visit.page(
        "set_up/all_round.html",
        422 if form.is_bound else 200,
        place="set-up",
        place_name=f"All round {row}",
        form=form,
        room=row,
    )


def _lengths(request: HttpRequest) -> dict[str, float]:
    """Length, width and height in metres as the room's own page hands them on."""
    found = {}
    for name in ("long", "wide", "high"):
        field = LengthField(units=METRIC, required=False)
        try:
            value = field.clean(request.GET.get(name, ""))
        except ValidationError:
            continue
        if value is not None:
            found[name] = value
    return found


@require_http_methods(FORM)
def one_recipe(request: HttpRequest, job: str) -> HttpResponse:
    """One recipe for several surfaces."""
    visit = visit_of(request, job, lead=True)
    form = OneRecipeForm(
        request.POST if request.method == "POST" else None,
        job=visit.job,
        units=visit.units,
    )
    if form.is_bound and form.is_valid():
        recipe = form.recipes[form.cleaned_data["recipe"]]
        if kept(
            form,
            lambda: give_recipe(
                job=visit.job, surfaces=form.chosen, recipe=recipe, now=visit.now
            ),
        ):
            chosen = counted(len(form.chosen), "surface")
            messages.success(request, f"{recipe} on {chosen}.")
            return redirect("set-up", job=job)
    return visit.page(
        "set_up/one_recipe.html",
        422 if form.is_bound else 200,
        place="set-up",
        place_name="One recipe for several",
        form=form,
    )


@require_http_methods(FORM)
def remove_surface_page(request: HttpRequest, job: str, surface: str) -> HttpResponse:
    """Say what would go with a surface; then remove it."""
    visit = visit_of(request, job, lead=True)
    row = _of(visit, surface)
    if request.POST.get("remove") == "yes":
        remove_surface(surface=row, now=visit.now)
        messages.success(request, f"{row} is removed.")
        return redirect("set-up", job=job)
    return visit.page(
        "set_up/remove.html",
        422 if request.method == "POST" else 200,
        place="set-up",
        place_name=f"Remove {row}",
        name=row.label,
        lost=lost_with_surface(row),
        back=reverse("change-surface", kwargs={"job": job, "surface": surface}),
    )


_ROOM = "jobs/<slug:job>/set-up/rooms/<slug:room>/"
_SURFACE = "jobs/<slug:job>/set-up/surfaces/<slug:surface>/"
urlpatterns = [
    path(f"{_ROOM}new-surface/", new_surface, name="new-surface"),
    path(f"{_ROOM}all-round/", all_round, name="all-round"),
    path(_SURFACE, surface_page, name="change-surface"),
    path(f"{_SURFACE}remove/", remove_surface_page, name="remove-surface"),
    path("jobs/<slug:job>/set-up/one-recipe/", one_recipe, name="one-recipe"),
]
