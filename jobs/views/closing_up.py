"""Closing up: what to see to before leaving, ticked off by name, and what to test."""

from datetime import date, datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path, reverse
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_POST, require_safe

from jobs import closing_ticks as ticks
from jobs.closing_words import ClosingWords, Item
from jobs.models import ClosingTick
from jobs.morning_words import MorningWords
from jobs.queries import closing_days, closing_ticks, issued_plan, test_results
from jobs.templatetags.plan_format import say_clock
from jobs.translation import job_value, plan_value
from jobs.views.guard import Visit, readable, visit_of
from jobs.week_words import known_part
from scheduling.day_end import DayEnd, day_end
from scheduling.problem import Job


@require_safe
@readable
def closing_page(request: HttpRequest, job: str) -> HttpResponse:
    """This day's list; or what was ticked off on the day asked for."""
    visit = visit_of(request, job)
    today = visit.now.astimezone(visit.zone).date()
    asked = request.GET.get("day")
    if asked is not None:
        return _day_page(visit, _day(asked))
    value, end = _end(visit)
    told = {"job": value, "zone": visit.zone, "now": visit.now}
    words = ClosingWords(end=end, units=visit.units, **told)
    ticked = closing_ticks(visit.job, today)
    groups = words.groups(ticked)
    items = [item for group in groups for item in group.items]
    results = test_results(visit.job)
    morning = MorningWords(**told)
    return visit.page(
        "jobs/closing_up.html",
        place="closing-up",
        place_name="Closing up",
        day=today,
        groups=groups,
        done=sum(item.tick is not None for item in items),
        count=len(items),
        unlogged=words.unlogged,
        morning=end.morning,
        is_tomorrow=_day_of(end.morning, visit) == today + timedelta(days=1),
        today_tests=[morning.line(row, results) for row in end.today],
        tests=[morning.line(row, results) for row in end.tests],
        others=_of_others(ticked, items),
        days=closing_days(visit.job, today),
    )


@require_POST
@readable
def tick(request: HttpRequest, job: str) -> HttpResponse:
    """Tick a thing of today's list off, in the name of who is signed in."""
    visit = visit_of(request, job)
    item = _asked_item(visit)
    if item is None:
        messages.warning(
            request, "Nothing was ticked: the list has changed since. Look again."
        )
        return redirect("closing-up", job=visit.job.key)
    row, new = ticks.tick(
        job=visit.job,
        item=item.key,
        text=item.name,
        by=visit.user,
        now=visit.now,
        since=item.since,
    )
    if not new:
        by = f" by {row.ticked_by}" if row.ticked_by else ""
        when = say_clock(row.ticked_at, visit.zone)
        messages.info(request, f"Ticked off already{by}, {when}: {row.text}.")
    return _back(visit, item.key)


@require_POST
def untick(request: HttpRequest, job: str) -> HttpResponse:
    """Take a tick of today back."""
    visit = visit_of(request, job)
    key = request.POST.get("item", "").replace("\x00", "")
    if not ticks.take_tick_back(job=visit.job, item=key, now=visit.now):
        messages.info(request, "That was not ticked off any more.")
    return _back(visit, key)


def _end(visit: Visit) -> tuple[Job, DayEnd]:
    value = job_value(visit.job)
    row = issued_plan(visit.job)
    plan = known_part(plan_value(row), value) if row is not None else None
    return value, day_end(value, plan, at=visit.now)


def _day_of(moment: datetime | None, visit: Visit) -> date | None:
    return None if moment is None else moment.astimezone(visit.zone).date()


def _asked_item(visit: Visit) -> Item | None:
    """The thing of today's list that the form names."""
    value, end = _end(visit)
    words = ClosingWords(
        job=value, zone=visit.zone, now=visit.now, end=end, units=visit.units
    )
    asked = visit.request.POST.get("item", "")
    items = (item for group in words.groups({}) for item in group.items)
    return next((item for item in items if item.key == asked), None)


def _of_others(ticked: dict[str, ClosingTick], items: list[Item]) -> list[ClosingTick]:
    """What was ticked off today and stands on the list no more."""
    keys = {item.key for item in items}
    return [row for key, row in ticked.items() if key not in keys]


def _back(visit: Visit, key: str) -> HttpResponse:
    page = reverse("closing-up", kwargs={"job": visit.job.key})
    anchor = "".join(sign for sign in key if sign.isalnum() or sign == "-")
    return redirect(f"{page}#{anchor}")


def _day(asked: str) -> date:
    try:
        day = parse_date(asked)
    except ValueError:  # "2026-02-30" has the shape of a day
        day = None
    if day is None:
        raise Http404("no such day; a day is like 2026-10-12")
    return day


def _day_page(visit: Visit, day: date) -> HttpResponse:
    context: dict[str, Any] = {
        "place": "closing-up",
        "place_name": "Closing up",
        "day": day,
        "rows": list(closing_ticks(visit.job, day).values()),
    }
    return visit.page("jobs/closed_day.html", **context)


urlpatterns = [
    path("jobs/<slug:job>/closing-up/", closing_page, name="closing-up"),
    path("jobs/<slug:job>/closing-up/tick/", tick, name="tick"),
    path("jobs/<slug:job>/closing-up/untick/", untick, name="untick"),
]
