"""A problem at a wall: said in two touches, and seen to in one."""

from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from jobs.models import Tap
from jobs.problems import say_problem, see_to
from jobs.views.guard import visit_of
from jobs.views.logging_work import choose_surface, surface_asked


@require_http_methods(["GET", "HEAD", "POST"])
def problem(request: HttpRequest, job: str) -> HttpResponse:
    """What is wrong at a surface: one button for each thing it can be."""
    visit = visit_of(request, job)
    surface = surface_asked(visit)
    if surface is None:
        return choose_surface(visit, "Problem", "problem")
    status, wrong = 200, ""
    if request.method == "POST":
        said = request.POST.get("problem", "")
        key = _key(request.POST.get("key", ""))
        if said in Tap.Problem.values and key is not None:
            tap = say_problem(
                surface=surface, problem=Tap.Problem(said), key=key, by=visit.user,
                now=visit.now,
            )  # fmt: skip
            messages.success(request, f"Said: {tap.said}.")
            return redirect("job", job=visit.job.key)
        status, wrong = 422, "Nothing was kept: press one of the problems below."
    return visit.page(
        "jobs/problem.html",
        status,
        place_name="Problem",
        surface=surface,
        problems=Tap.Problem.choices,
        key=uuid4(),
        wrong=wrong,
    )


@require_POST
def seen_to(request: HttpRequest, job: str, tap: int) -> HttpResponse:
    """What was said at a wall has been seen to, and leaves the page."""
    visit = visit_of(request, job)
    row = get_object_or_404(visit.job.taps, pk=tap)
    if see_to(tap=row, now=visit.now):
        messages.success(request, f"Seen to: {row.said}.")
    else:
        messages.info(request, "Somebody had seen to it already.")
    return redirect("job", job=visit.job.key)


def _key(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None


urlpatterns = [
    path("jobs/<slug:job>/problem/", problem, name="problem"),
    path("jobs/<slug:job>/problem/<int:tap>/seen-to/", seen_to, name="seen-to"),
]
