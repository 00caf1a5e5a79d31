"""Setting up a job from nothing: start one, see what is there and what a plan wants."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.views.decorators.http import require_http_methods, require_safe

from jobs.models import Job, User
from jobs.queries import job_or_404
from jobs.set_up_actions import change_site, start_job
from jobs.set_up_forms import (
    BOOK,
    NewJobForm,
    SiteForm,
    UsualAirForm,
    say_date,
    zone_names,
)
from jobs.set_up_hours import say_rules
from jobs.set_up_queries import Wanted, book_of, jobs_with_recipes, set_up_of
from jobs.starting_recipes import Book, starting_recipes
from jobs.views import set_up_calendar, set_up_hands, set_up_rooms, set_up_surfaces
from jobs.views.guard import kept, person_of, visit_of

FORM = ["GET", "HEAD", "POST"]


@require_http_methods(FORM)
def new_job(request: HttpRequest) -> HttpResponse:
    """A title, and the rest as it usually is; then on to its rooms."""
    lead = person_of(request, lead=True)
    others = jobs_with_recipes(lead.company)
    shared: dict[str, Any] = {"units": lead.units, "others": others}
    if request.method != "POST":
        last = Job.objects.filter(company=lead.company).order_by("-changed_at").first()
        first = {"zone": last.zone if last else ""}
        return _new_job(request, NewJobForm(initial=first, **shared))
    form = NewJobForm(request.POST, **shared)
    started: list[Job] = []

    def start() -> None:
        book = _book(lead, form.cleaned_data.get("recipes", BOOK))
        title = form.cleaned_data["title"]
        started.append(
            start_job(company=lead.company, title=title, site=form.site, book=book)
        )

    if form.is_valid() and kept(form, start):
        messages.success(request, f"{started[0]} is begun. Its rooms come next.")
        return redirect("set-up", job=started[0].key)
    return _new_job(request, form, status=422)


def _book(lead: User, chosen: str) -> Book:
    if chosen == BOOK:
        return starting_recipes()
    return book_of(job_or_404(lead.company, chosen))


def _new_job(request: HttpRequest, form: NewJobForm, status: int = 200) -> HttpResponse:
    context = {"form": form, "zones": zone_names()}
    return render(request, "set_up/new_job.html", context, status=status)


@require_safe
def set_up(request: HttpRequest, job: str) -> HttpResponse:
    """What the job has, and what is still missing before a plan can be made."""
    visit = visit_of(request, job)
    found = set_up_of(visit.job)
    return visit.page(
        "set_up/set_up.html",
        place="set-up",
        place_name="Setting up",
        set_up=found,
        wanted=[(row, address_of(visit.job, row)) for row in found.wanted],
        hours=say_rules(visit.job.hours),
        quiet=say_rules(visit.job.quiet),
        smell_free=say_rules(visit.job.smell_free),
        closed=[say_date(day) for day in visit.job.closed],
    )


def address_of(job: Job, wanted: Wanted) -> str:
    """Where what is wanted is given."""
    if wanted.page == "import-job":
        return reverse(wanted.page)
    names = {"job": job.key} | ({"room": wanted.room} if wanted.room else {})
    return reverse(wanted.page, kwargs=names)


@require_http_methods(FORM)
def site(request: HttpRequest, job: str) -> HttpResponse:
    """Title, zone, hours, closed days and quiet of a job."""
    visit = visit_of(request, job, lead=True)
    shared: dict[str, Any] = {"units": visit.units, "job": visit.job}
    form = SiteForm(request.POST if request.method == "POST" else None, **shared)
    if form.is_bound:
        if form.is_valid() and kept(
            form, lambda: change_site(job=visit.job, now=visit.now, **form.columns)
        ):
            messages.success(request, "Kept.")
            return redirect("set-up", job=job)
        visit.job.refresh_from_db()
    return visit.page(
        "set_up/site.html",
        422 if form.is_bound else 200,
        place="set-up",
        place_name="Site",
        form=form,
        zones=zone_names(),
    )


@require_http_methods(FORM)
def air(request: HttpRequest, job: str) -> HttpResponse:
    """The air outdoors on a usual day."""
    visit = visit_of(request, job, lead=True)
    shared: dict[str, Any] = {"units": visit.units, "job": visit.job}
    form = UsualAirForm(request.POST if request.method == "POST" else None, **shared)
    if form.is_bound:
        if form.is_valid() and kept(
            form,
            lambda: change_site(
                job=visit.job, now=visit.now, typical_air=form.typical_air
            ),
        ):
            messages.success(request, "Kept.")
            return redirect("set-up", job=job)
        visit.job.refresh_from_db()
    return visit.page(
        "set_up/air.html",
        422 if form.is_bound else 200,
        place="set-up",
        place_name="Outdoors",
        form=form,
        last_hour=visit.job.outdoors.order_by("-at").first(),
    )


urlpatterns = [
    path("new-job/", new_job, name="new-job"),
    path("jobs/<slug:job>/set-up/", set_up, name="set-up"),
    path("jobs/<slug:job>/set-up/site/", site, name="set-up-site"),
    path("jobs/<slug:job>/set-up/air/", air, name="set-up-air"),
    *set_up_rooms.urlpatterns,
    *set_up_surfaces.urlpatterns,
    *set_up_hands.urlpatterns,
    *set_up_calendar.urlpatterns,
]
