"""A job's sensors and loggers: addresses made and switched off, files brought in."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from jobs import sensors
from jobs.queries import room_or_404, rooms_with_sensors
from jobs.reading_forms import ReadingsFileForm
from jobs.views.guard import Visit, only_here, put_beside, visit_of


@require_safe
def listing(request: HttpRequest, job: str) -> HttpResponse:
    """Which rooms have a sensor's address, when it was heard, what files brought."""
    return _page(visit_of(request, job))


@never_cache
@require_POST
def make(request: HttpRequest, job: str, room: str) -> HttpResponse:
    """Make an address and show it, once: it is not kept and cannot be shown again."""
    visit = visit_of(request, job, lead=True)
    row = room_or_404(visit.job, room)
    _, token = sensors.make_sensor_link(room=row, at=visit.now)
    made = {"name": row.label, "address": sensors.sensor_address(token)}
    return _page(visit, made=made)


@require_POST
def switch_off(request: HttpRequest, job: str, room: str) -> HttpResponse:
    """Switch a room's address off: a sensor that still sends is refused."""
    visit = visit_of(request, job, lead=True)
    row = room_or_404(visit.job, room)
    link = row.sensor_links.filter(revoked_at=None).first()
    if link is not None and sensors.revoke_sensor_link(link=link, at=visit.now):
        messages.success(request, f"The address of {row.label} is off.")
    else:
        messages.info(request, "It was off already.")
    return redirect("sensors", job=visit.job.key)


@require_http_methods(["GET", "HEAD", "POST"])
def readings_file(request: HttpRequest, job: str) -> HttpResponse:
    """Bring in a logger's readings of a room: first looked at, then kept."""
    visit = visit_of(request, job)
    shared = {
        "job": visit.job, "zone": visit.zone, "now": visit.now, "units": visit.units,
    }  # fmt: skip
    if request.method != "POST":
        first = {"room": request.GET.get("room")}
        return _form(visit, ReadingsFileForm(initial=first, **shared))
    form = ReadingsFileForm(request.POST, request.FILES, **shared)
    found = None
    if form.is_valid() and form.read is not None:
        try:
            found = sensors.readings_of(form.read.rows, visit.now)
        except ValidationError as error:
            put_beside(form, error)
    form.keep_typed()
    if found is None:
        return _form(visit, form, status=422)
    room = form.rooms[form.cleaned_data["room"]]
    if "keep" not in request.POST:
        notes = (*form.read.notes, *found.notes) if form.read else found.notes
        return _form(visit, form, looked_at=_looked_at(found.readings, notes, room))
    count = sensors.keep_file(room=room, readings=found.readings, now=visit.now)
    there = len(found.readings) - count
    text = f"Kept: {count} readings of {room.label}."
    if there:
        text += f" {there} were there already."
    messages.success(request, text)
    return redirect("sensors", job=visit.job.key)


@require_POST
def take_back(request: HttpRequest, job: str, room: str) -> HttpResponse:
    """Remove all that files brought for a room."""
    visit = visit_of(request, job, lead=True)
    row = room_or_404(visit.job, room)
    count = sensors.take_back_files(room=row, now=visit.now)
    messages.info(request, f"Taken back: {count} readings of {row.label} from files.")
    return redirect("sensors", job=visit.job.key)


def _page(visit: Visit, made: dict[str, str] | None = None) -> HttpResponse:
    return visit.page(
        "jobs/sensors.html",
        place="sensors",
        place_name="Sensors",
        rooms=rooms_with_sensors(visit.job),
        made=made,
        only_here=only_here(),
        site_url=settings.SITE_URL,
    )


def _looked_at(readings: Any, notes: Any, room: Any) -> dict[str, Any]:
    warmth = [row.temperature_c for row in readings]
    damp = [row.humidity_pct for row in readings]
    return {
        "room": room.label,
        "count": len(readings),
        "first": readings[0].at,
        "last": readings[-1].at,
        "low_c": min(warmth),
        "high_c": max(warmth),
        "dry_pct": min(damp),
        "damp_pct": max(damp),
        "notes": notes,
    }


def _form(visit: Visit, form: Any, status: int = 200, **more: Any) -> HttpResponse:
    return visit.page(
        "jobs/readings_file.html",
        status,
        place="sensors",
        place_name="Logger file",
        form=form,
        **more,
    )


_HERE = "jobs/<slug:job>/sensors/"
urlpatterns = [
    path(_HERE, listing, name="sensors"),
    path(f"{_HERE}file/", readings_file, name="readings-file"),
    path(f"{_HERE}<slug:room>/make/", make, name="make-sensor"),
    path(f"{_HERE}<slug:room>/off/", switch_off, name="switch-off-sensor"),
    path(f"{_HERE}<slug:room>/take-back/", take_back, name="take-back-readings"),
]
