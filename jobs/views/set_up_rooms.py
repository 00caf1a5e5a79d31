"""Rooms of a job that is set up: add, change, remove."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path, reverse
from django.views.decorators.http import require_http_methods

from jobs.models import Room
from jobs.room_kinds import ROOM_KINDS, say_air
from jobs.set_up_actions import keep_room, remove_room
from jobs.set_up_forms_rooms import RoomForm, Size
from jobs.set_up_queries import lost_with_room
from jobs.views.guard import Visit, kept, visit_of

FORM = ["GET", "HEAD", "POST"]


@require_http_methods(FORM)
def new_room(request: HttpRequest, job: str) -> HttpResponse:
    """A room: name, size and kind; then on to its surfaces, or to another room."""
    return _room(visit_of(request, job, lead=True), None)


@require_http_methods(FORM)
def room_page(request: HttpRequest, job: str, room: str) -> HttpResponse:
    """Change a room."""
    visit = visit_of(request, job, lead=True)
    return _room(visit, get_object_or_404(visit.job.rooms, key=room))


def _room(visit: Visit, row: Room | None) -> HttpResponse:
    shared: dict[str, Any] = {
        "job": visit.job, "room": row, "zone": visit.zone, "now": visit.now,
        "units": visit.units,
    }  # fmt: skip
    if visit.request.method != "POST":
        return _page(visit, RoomForm(**shared), row)
    form = RoomForm(visit.request.POST, **shared)
    made: list[Room] = []
    if form.is_valid() and kept(
        form,
        lambda: made.append(
            keep_room(job=visit.job, room=row, now=visit.now, **form.columns)
        ),
    ):
        messages.success(visit.request, f"{made[0]} is kept.")
        then = visit.request.POST.get("then", "")
        return redirect(_next(then, made[0], form.cleaned_data["size"]))
    if row is not None:
        row.refresh_from_db()
    return _page(visit, form, row, status=422)


def _next(then: str, room: Room, size: Size) -> str:
    """Where the button that was pressed leads."""
    names = {"job": room.job.key}
    if then == "room":
        return reverse("new-room", kwargs=names)
    if then != "surfaces":
        return reverse("set-up", kwargs=names)
    names["room"] = room.key
    if not size.lengths_m:
        return reverse("new-surface", kwargs=names)
    lengths = dict(zip(("long", "wide", "high"), size.lengths_m, strict=True))
    return f"{reverse('all-round', kwargs=names)}?{urlencode(lengths)}"


def _page(
    visit: Visit, form: RoomForm, row: Room | None, status: int = 200
) -> HttpResponse:
    kinds = [
        {"option": option, "words": kind.words(form.units)}
        for option, kind in zip(form["kind"], ROOM_KINDS.values(), strict=True)
    ] if "kind" in form.fields else []  # fmt: skip
    return visit.page(
        "set_up/room.html",
        status,
        place="set-up",
        place_name=row.label if row else "A room",
        form=form,
        room=row,
        kinds=kinds,
        air=say_air(row.air, form.units) if row else "",
    )


@require_http_methods(FORM)
def remove_room_page(request: HttpRequest, job: str, room: str) -> HttpResponse:
    """Say what would go with a room; then remove it."""
    visit = visit_of(request, job, lead=True)
    row = get_object_or_404(visit.job.rooms, key=room)
    if request.POST.get("remove") == "yes":
        remove_room(room=row, now=visit.now)
        messages.success(request, f"{row} is removed.")
        return redirect("set-up", job=job)
    return visit.page(
        "set_up/remove.html",
        422 if request.method == "POST" else 200,
        place="set-up",
        place_name=f"Remove {row}",
        name=row.label,
        lost=lost_with_room(row),
        back=reverse("change-room", kwargs={"job": job, "room": room}),
    )


urlpatterns = [
    path("jobs/<slug:job>/set-up/new-room/", new_room, name="new-room"),
    path("jobs/<slug:job>/set-up/rooms/<slug:room>/", room_page, name="change-room"),
    path(
        "jobs/<slug:job>/set-up/rooms/<slug:room>/remove/",
        remove_room_page,
        name="remove-room",
    ),
]
