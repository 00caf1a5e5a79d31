"""What a hand logs from the wall: a coat, a test, a reading; and taking it back."""

from datetime import timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST

from jobs import actions
from jobs.forms import CoatForm, ReadingForm, TestForm
from jobs.models import CoatTest, Surface
from jobs.queries import last_logged, logged_steps, surface_with_recipe, surfaces_of
from jobs.templatetags.plan_format import (
    say_moment,
    say_place,
    say_temperature,
)
from jobs.undoing import take_back
from jobs.views.guard import Visit, put_beside, visit_of


@require_http_methods(["GET", "HEAD", "POST"])
def coat_on(request: HttpRequest, job: str) -> HttpResponse:
    """Log a coat. The times begin as if it ended now and took what was reckoned."""
    visit = visit_of(request, job)
    surface = surface_asked(visit)
    if surface is None:
        return choose_surface(visit, "Coat on", "coat-on")
    shared = {"surface": surface, "zone": visit.zone, "now": visit.now}
    if request.method != "POST":
        step = _asked_step(visit, surface)
        minutes = _planned_minutes(surface, step, request.GET.get("section"))
        first = {
            "step": step,
            "section": request.GET.get("section", ""),
            "start": visit.now - timedelta(minutes=minutes),
            "end": visit.now,
        }
        return _form(visit, CoatForm(initial=first, **shared), "Coat on", surface)
    form = CoatForm(request.POST, **shared)
    if form.is_valid() and _done(
        form,
        lambda: actions.log_coat(
            job=visit.job,
            start=form.cleaned_data["start"],
            end=form.cleaned_data["end"],
            by=visit.user,
            now=visit.now,
            **form.target,
        ),
    ):
        messages.success(
            request, f"Logged: {form.target['step']} on {_place(surface)}."
        )
        return redirect("job", job=visit.job.key)
    return _form(visit, form, "Coat on", surface, status=422)


@require_http_methods(["GET", "HEAD", "POST"])
def test(request: HttpRequest, job: str) -> HttpResponse:
    """Log what a test at the wall said before a step."""
    visit = visit_of(request, job)
    surface = surface_asked(visit)
    if surface is None:
        return choose_surface(visit, "Test", "test")
    shared = {"surface": surface, "zone": visit.zone, "now": visit.now}
    if request.method != "POST":
        first = {
            "step": _asked_step(visit, surface),
            "section": request.GET.get("section", ""),
            "at": visit.now,
        }
        return _form(visit, TestForm(initial=first, **shared), "Test", surface)
    form = TestForm(request.POST, **shared)
    if form.is_valid() and _done(
        form,
        lambda: actions.log_test(
            job=visit.job,
            result=form.cleaned_data["result"],
            at=form.cleaned_data["at"],
            by=visit.user,
            now=visit.now,
            **form.target,
        ),
    ):
        result = CoatTest.Result(form.cleaned_data["result"]).label.lower()
        messages.success(request, f"Logged: {_place(surface)}: {result}.")
        return redirect("job", job=visit.job.key)
    return _form(visit, form, "Test", surface, status=422)


@require_http_methods(["GET", "HEAD", "POST"])
def reading(request: HttpRequest, job: str) -> HttpResponse:
    """Log the air of a room, in the reader's own degrees."""
    visit = visit_of(request, job)
    shared = {
        "job": visit.job, "zone": visit.zone, "now": visit.now, "units": visit.units,
    }  # fmt: skip
    if request.method != "POST":
        first = {"room": request.GET.get("room"), "at": visit.now}
        return _form(visit, ReadingForm(initial=first, **shared), "Reading")
    form = ReadingForm(request.POST, **shared)
    if form.is_valid() and _done(
        form,
        lambda: actions.add_reading(
            job=visit.job,
            room=form.rooms[form.cleaned_data["room"]],
            at=form.cleaned_data["at"],
            temperature_c=form.cleaned_data["temperature_c"],
            humidity_pct=form.cleaned_data["humidity_pct"],
            surface_c=form.cleaned_data["surface_c"],
            by=visit.user,
            now=visit.now,
        ),
    ):
        said = say_temperature(form.cleaned_data["temperature_c"], form.units)
        room = form.rooms[form.cleaned_data["room"]]
        messages.success(
            request,
            f"Logged: {room} {said}, {form.cleaned_data['humidity_pct']:g} %. "
            "The week is planned in this air from the next plan on.",
        )
        return redirect("job", job=visit.job.key)
    return _form(visit, form, "Reading", status=422)


@require_POST
def undo(request: HttpRequest, job: str) -> HttpResponse:
    """Take back what was logged last, if it still is what the page showed."""
    visit = visit_of(request, job)
    last = last_logged(visit.job)
    shown = f"{request.POST.get('kind', '')}-{request.POST.get('pk', '')}"
    if last is None or shown != f"{last.kind}-{last.row.pk}":
        messages.warning(
            request, "Nothing was taken back: something else was logged since. Look."
        )
    else:
        take_back(row=last.row, now=visit.now)
        when = say_moment(last.at, visit.zone, visit.now)
        messages.success(request, f"Taken back: {last.text}, {when}.")
    return redirect("job", job=visit.job.key)


def surface_asked(visit: Visit) -> Surface | None:
    """The surface that the address names; 404 where the job has none of that id."""
    key = visit.request.GET.get("surface", "")
    if "\x00" in key:  # PostgreSQL refuses to look for it
        raise Http404("no surface has such an id")
    return surface_with_recipe(visit.job, key) if key else None


def _place(surface: Surface) -> str:
    return say_place(str(surface.room), str(surface))


def choose_surface(visit: Visit, title: str, name: str) -> HttpResponse:
    """Ask at which surface, where the address names none."""
    return visit.page(
        "jobs/choose_surface.html",
        place_name=title,
        url_name=name,
        surfaces=surfaces_of(visit.job),
    )


def _asked_step(visit: Visit, surface: Surface) -> str:
    asked = visit.request.GET.get("step", "")
    steps = [step.key for step in surface.recipe.steps.all()]
    if asked in steps:
        return asked
    logged = logged_steps(surface)
    return next((key for key in steps if key not in logged), steps[-1])


def _planned_minutes(surface: Surface, key: str, section: str | None) -> float:
    """What the step takes by its least number of hands, at most a day."""
    step = next((row for row in surface.recipe.steps.all() if row.key == key), None)
    if step is None:
        return 0.0
    share = 1 / len(surface.sections) if section and surface.sections else 1.0
    hands = max(step.hands_least, 1)
    both = step.apply_min_m2 + step.work_min_m2
    pace = both / hands
    if step.wet and hands > 1:
        pace = max(step.apply_min_m2, step.work_min_m2, pace)
    return min(step.setup_min + surface.area_m2 * share * pace, 24 * 60.0)


def _done(form: forms.Form, action: Any) -> bool:
    """Does it; a refusal goes beside the field it is about."""
    try:
        action()
    except ValidationError as error:
        put_beside(form, error)
        return False
    return True


def _form(
    visit: Visit,
    form: forms.Form,
    title: str,
    surface: Surface | None = None,
    status: int = 200,
) -> HttpResponse:
    template = {
        "Coat on": "jobs/coat_on.html",
        "Test": "jobs/test.html",
        "Reading": "jobs/reading.html",
    }[title]
    return visit.page(template, status, place_name=title, form=form, surface=surface)
