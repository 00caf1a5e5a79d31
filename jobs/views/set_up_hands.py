"""Hands of a job that is set up: add, change, remove."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path, reverse
from django.views.decorators.http import require_http_methods

from jobs.models import Hand
from jobs.set_up_forms_hands import HandForm
from jobs.set_up_hands import keep_hand, remove_hand
from jobs.set_up_queries import hands_elsewhere, skills_of
from jobs.views.guard import Visit, kept, visit_of

FORM = ["GET", "HEAD", "POST"]


@require_http_methods(FORM)
def new_hand(request: HttpRequest, job: str) -> HttpResponse:
    """A hand, from nothing or as on another job; then done, or on to the next."""
    visit = visit_of(request, job, lead=True)
    known = {hand.key: hand for hand in hands_elsewhere(visit.job)}
    same = known.get(request.GET.get("as", ""))
    first = {"name": same.label, "skills": same.skills} if same else {}
    shared = _shared(visit, None, [*(same.skills if same else ())], first)
    if request.method != "POST":
        return _hand(visit, HandForm(**shared), offered=[*known.values()])
    form = HandForm(request.POST, **shared)
    made: list[Hand] = []
    if form.is_valid() and kept(
        form,
        lambda: made.append(
            keep_hand(
                job=visit.job,
                hand=None,
                now=visit.now,
                key=same.key if same else "",
                **form.columns,
            )
        ),
    ):
        messages.success(request, f"{made[0]} is on the job.")
        then_next = request.POST.get("then") == "next"
        return redirect("new-hand" if then_next else "set-up", job=job)
    return _hand(visit, form, offered=[*known.values()], status=422)


@require_http_methods(FORM)
def hand_page(request: HttpRequest, job: str, hand: str) -> HttpResponse:
    """Change a hand."""
    visit = visit_of(request, job, lead=True)
    row = get_object_or_404(visit.job.hands, key=hand)
    first = {"name": row.label, "skills": row.skills}
    shared = _shared(visit, row, row.skills, first)
    form = HandForm(request.POST if request.method == "POST" else None, **shared)
    if form.is_bound:
        if form.is_valid() and kept(
            form,
            lambda: keep_hand(job=visit.job, hand=row, now=visit.now, **form.columns),
        ):
            messages.success(request, f"{row} is kept.")
            return redirect("set-up", job=job)
        row.refresh_from_db()
    return _hand(visit, form, hand=row, status=422 if form.is_bound else 200)


def _shared(
    visit: Visit, hand: Hand | None, own: list[str], first: dict[str, Any]
) -> dict[str, Any]:
    skills = skills_of(visit.job)
    return {
        "hand": hand,
        "skills": [*skills, *(skill for skill in own if skill not in skills)],
        "first": first,
        "zone": visit.zone,
        "units": visit.units,
    }


def _hand(
    visit: Visit,
    form: HandForm,
    *,
    hand: Hand | None = None,
    offered: list[Hand] | None = None,
    status: int = 200,
) -> HttpResponse:
    return visit.page(
        "set_up/hand.html",
        status,
        place="set-up",
        place_name=hand.label if hand else "A hand",
        form=form,
        hand=hand,
        offered=offered or [],
    )


@require_http_methods(FORM)
def remove_hand_page(request: HttpRequest, job: str, hand: str) -> HttpResponse:
    """Say what would go with a hand; then remove them from the job."""
    visit = visit_of(request, job, lead=True)
    row = get_object_or_404(visit.job.hands, key=hand)
    if request.POST.get("remove") == "yes":
        remove_hand(hand=row, now=visit.now)
        messages.success(request, f"{row} is off the job.")
        return redirect("set-up", job=job)
    lost = [f"{row}’s skills, hours and days away on this job"]
    held = sum(row.key in pin.hands for pin in visit.job.pins.all())
    if held:
        lost.append(f"{row}’s name on {held} held stint{'s' if held > 1 else ''}")
    barred = sum(row.key in ban.hands for ban in visit.job.bans.all())
    if barred:
        lost.append(f"what is forbidden to {row}: {barred} step{'s' * (barred > 1)}")
    return visit.page(
        "set_up/remove.html",
        422 if request.method == "POST" else 200,
        place="set-up",
        place_name=f"Remove {row}",
        name=row.label,
        lost=lost,
        back=reverse("change-hand", kwargs={"job": job, "hand": hand}),
    )


_HAND = "jobs/<slug:job>/set-up/hands/<slug:hand>/"
urlpatterns = [
    path("jobs/<slug:job>/set-up/new-hand/", new_hand, name="new-hand"),
    path(_HAND, hand_page, name="change-hand"),
    path(f"{_HAND}remove/", remove_hand_page, name="remove-hand"),
]
