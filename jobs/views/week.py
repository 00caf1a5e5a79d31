"""The week: a plan drawn under its air, planned again, stopped."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect

from jobs import actions
from jobs.calendar_words import names_in
from jobs.care_words import next_care
from jobs.models import Plan
from jobs.move_words import ban_text, pin_text
from jobs.outdoor_words import outdoor_words
from jobs.queries import (
    coats_logged_since,
    issued_plan,
    latest_plan,
    latest_run,
    plan_or_404,
    plans_of,
    previous_plan,
    worker_is_alive,
)
from jobs.recipe_versions import changed_since
from jobs.templatetags.plan_format import say_area, say_within
from jobs.translation import job_value, plan_value, recipes_used
from jobs.views.guard import Visit, readable, visit_of
from jobs.views.issuing import beside_context
from jobs.week_drawing import draw_week
from jobs.week_rooms import room_parts
from jobs.week_scale import Page, pages
from jobs.week_words import (
    bound_text,
    kept_to,
    known_part,
    late_dates,
    late_text,
    table_days,
    unlogged_text,
    week_minded,
)
from scheduling import plan as engine_plan
from scheduling.drying import progress
from scheduling.planning import surface_airs
from scheduling.problem import Job, Room, Surface


@require_safe
@readable
def week_page(request: HttpRequest, job: str) -> HttpResponse:
    """The latest plan, or the one whose number is asked for."""
    visit = visit_of(request, job)
    asked = request.GET.get("plan", "")
    if asked.isdecimal() and len(asked) < 9:
        row: Plan | None = plan_or_404(visit.job, int(asked))
    else:
        row = latest_plan(visit.job)
    context: dict[str, Any] = {
        "place": "week",
        "place_name": "The week",
        "plan": row,
        "plans": plans_of(visit.job)[:12],
        "issued": issued_plan(visit.job),
        **_run_context(visit),
    }
    if row is not None:
        context |= _plan_context(visit, row, request.GET.get("from", ""))
    return visit.page("jobs/week.html", **context)


@require_safe
def run_part(request: HttpRequest, job: str) -> HttpResponse:
    """How planning goes on, asked every other second while it does."""
    visit = visit_of(request, job)
    context = _run_context(visit)
    run = context["run"]
    if not request.htmx:
        return redirect("week", job=visit.job.key)
    if run is not None and run.state in ("done", "stopped"):
        return HttpResponseClientRedirect(_week_address(visit))
    return visit.page("jobs/run.html", **context)


@require_POST
def plan_again(request: HttpRequest, job: str) -> HttpResponse:
    """Ask for a plan from now on."""
    visit = visit_of(request, job, lead=True)
    actions.request_plan(job=visit.job, by=visit.user, now=visit.now)
    return redirect("week", job=visit.job.key)


@require_POST
def stop(request: HttpRequest, job: str) -> HttpResponse:
    """Stop planning; the best plan found so far is kept."""
    visit = visit_of(request, job, lead=True)
    run = latest_run(visit.job)
    if run is None or run.is_over:
        messages.info(request, "Planning had ended already.")
    else:
        actions.stop_run(run=run, now=visit.now)
    return redirect("week", job=visit.job.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekLink:
    """One of the plan's weeks, to turn to."""

    name: str
    start: str
    shown: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldLine:
    """A pin or a ban, and where it is taken off."""

    text: str
    off: str
    past: bool


def _plan_context(visit: Visit, row: Plan, asked: str) -> dict[str, Any]:
    """What the page says and draws of one plan; of no plan, its reasons."""
    value = job_value(visit.job)
    plan = plan_value(row)
    changed = visit.job.changed_at > row.made_at
    since = coats_logged_since(visit.job, row.made_at) if changed else set()
    unlogged = unlogged_text(plan, value, visit.now)
    kept = kept_to(plan, value, since) if changed else None
    context: dict[str, Any] = {
        "names": names_in(value),
        "reasons": plan.reasons,
        "notes": plan.notes,
        "late": late_dates(value, plan, visit.zone),
        "late_text": late_text(plan),
        "bound": bound_text(plan, visit.zone, visit.now),
        "bound_air": plan.bound.air,
        "out_of_date": changed and not kept,
        "kept_to": changed and kept and not unlogged,
        "unlogged": unlogged,
        "outdoors": outdoor_words(value, visit.now, visit.zone),
        "held": _held(visit, value),
        "air_age_min": _air_age_min(value, visit.now),
        "changed_recipes": changed_since(row, visit.job, recipes_used(value)),
        "newest": not plans_of(visit.job).filter(number__gt=row.number).exists(),
    }
    context["can_change"] = visit.user.is_lead and context["newest"]
    drawn = plan
    if not row.is_plan:
        kept = previous_plan(visit.job)
        context["kept"] = kept
        if kept is None:
            return context
        drawn = plan_value(kept)
    steps = {
        (surface.id, step.id)
        for surface in value.surfaces
        for step in value.recipe(surface.recipe).steps
    }
    context["gone"] = any(
        (stint.surface, stint.step) not in steps for stint in drawn.stints
    )
    known = known_part(drawn, value)
    if row.is_plan:
        context |= beside_context(visit, row, value, known)
    beside = context.get("beside_value")
    return context | _week_context(visit, value, known, asked, beside)


def _week_context(
    visit: Visit,
    job: Job,
    plan: engine_plan.Plan,
    asked: str,
    beside: engine_plan.Plan | None,
) -> dict[str, Any]:
    moments = [stint.start for stint in plan.stints]
    if not moments:
        return {}
    first = min(moments)
    moments += [coat.start for coat in job.coats if coat.start >= first]
    weeks = pages(moments, job)
    page = _asked_page(weeks, asked, visit.now.astimezone(visit.zone).date())

    def row_name(room: Room, surface: Surface) -> str:
        name = say_within(room.name or room.id, surface.name or surface.id)
        return f"{name} {say_area(surface.area_m2, visit.units)}"

    parts = room_parts(job, plan)
    asked_rooms = visit.request.GET.get("rooms", "")
    part = next((part for part in parts if part.first == asked_rooms), parts[0])
    days = table_days(job, plan, page, visit.zone, visit.now, part.rooms)
    past_days = sum(day.past for day in days)
    today = visit.now.astimezone(visit.zone).date()
    care_day, care = next_care(job, plan, page.days, today, visit.zone)
    all_days = past_days == len(days) or visit.request.GET.get("past") == "all"
    return {
        "drawing": draw_week(
            job,
            plan,
            surface_airs(job, plan),
            page=page,
            now=visit.now,
            progress=progress,
            beside=beside,
            rooms=part.rooms,
            row_name=row_name,
        ),
        "days": days,
        "shown_stints": {row.key for day in days for row in day.rows},
        "parts": parts,
        "part": part,
        "minded": week_minded(job, plan, page, visit.zone),
        "past_days": 0 if all_days else past_days,
        "all_days": all_days,
        "shown_from": page.first.isoformat(),
        "care_day": care_day,
        "care": care,
        "weeks": [
            WeekLink(
                name=_days(week),
                start=week.first.isoformat(),
                shown=week == page,
            )
            for week in weeks
        ],
    }


def _held(visit: Visit, job: Job) -> list[HeldLine]:
    """What the lead asks of the next plan, in the order in which it was kept."""
    key = visit.job.key
    pins = zip(job.pins, visit.job.pins.values_list("pk", flat=True), strict=True)
    bans = zip(job.bans, visit.job.bans.values_list("pk", flat=True), strict=True)
    return [
        HeldLine(
            text=pin_text(pin, job, visit.zone),
            off=reverse("take-off-pin", kwargs={"job": key, "pin": pk}),
            past=pin.start < visit.now,
        )
        for pin, pk in pins
    ] + [
        HeldLine(
            text=ban_text(ban, job, visit.zone),
            off=reverse("take-off-ban", kwargs={"job": key, "ban": pk}),
            past=ban.end is not None and ban.end <= visit.now,
        )
        for ban, pk in bans
    ]


def _asked_page(weeks: tuple[Page, ...], asked: str, today: date) -> Page:
    """The week that was asked for, else today's, else the first."""
    for week in weeks:
        if week.first.isoformat() == asked:
            return week
    current = (week for week in weeks if week.first <= today <= week.last)
    return next(current, weeks[0])


def _days(week: Page) -> str:
    return f"{week.first.day} {week.first:%b} to {week.last.day} {week.last:%b}"


def _air_age_min(job: Job, now: datetime) -> float | None:
    """Minutes since the last reading in any room; None where there is none."""
    moments = [reading.at for reading in job.readings if reading.at <= now]
    return (now - max(moments)).total_seconds() / 60 if moments else None


def _run_context(visit: Visit) -> dict[str, Any]:
    run = latest_run(visit.job)
    return {
        "run": run,
        "run_goes_on": run is not None and not run.is_over,
        "worker_alive": worker_is_alive(visit.now),
    }


def _week_address(visit: Visit) -> str:
    return redirect("week", job=visit.job.key).url
