"""Sheets to print of the issued plan: a day for each hand, the week, door signs."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.views.decorators.http import require_safe

from jobs.paper_words import crew_week, days_with_work, morning, sheets, signs
from jobs.pdf import pdf_of, weasyprint
from jobs.queries import issued_plan
from jobs.templatetags.plan_format import say_day
from jobs.translation import job_value, plan_value
from jobs.views.guard import Visit, readable, visit_of

KINDS = {"days": "Day sheets", "week": "The week", "signs": "Door signs"}


@require_safe
@readable
def paper(request: HttpRequest, job: str, kind: str) -> HttpResponse:
    """One kind of sheet for one day: the one asked for, else the first with work."""
    visit = visit_of(request, job)
    if kind not in KINDS:
        raise Http404(f"no sheet {kind}")
    return visit.page("jobs/paper.html", **_context(visit, kind))


@require_safe
@readable
def paper_pdf(request: HttpRequest, job: str, kind: str) -> HttpResponse:
    """The same sheets as a PDF; the page to print where this machine makes none."""
    visit = visit_of(request, job)
    if kind not in KINDS:
        raise Http404(f"no sheet {kind}")
    context = _context(visit, kind)
    if weasyprint() is None:
        messages.info(request, "This machine makes no PDFs. Print this page instead.")
    if context["plan"] is None or weasyprint() is None:
        return redirect("paper", job=visit.job.key, kind=kind)
    html = visit.page("jobs/paper_pdf.html", **context).content.decode()
    response = HttpResponse(pdf_of(html), content_type="application/pdf")
    name = f"{visit.job.key}-{kind}-{context['day'].isoformat()}.pdf"
    response.headers["Content-Disposition"] = f'inline; filename="{name}"'
    response.headers["Cache-Control"] = "private, no-store"
    return response


def _context(visit: Visit, kind: str) -> dict[str, Any]:
    """What the sheets say; without an issued plan they say that there is none."""
    row = issued_plan(visit.job)
    context: dict[str, Any] = {
        "place": "week",
        "place_name": KINDS[kind],
        "kind": kind,
        "kinds": KINDS.items(),
        "plan": row,
        "has_pdf": weasyprint() is not None,
    }
    if row is None:
        return context
    value, planned = job_value(visit.job), plan_value(row)
    today = visit.now.astimezone(visit.zone).date()
    days = days_with_work(planned, visit.zone, today)
    day = _asked(visit) or next(iter(days), today)
    context |= {
        "day": day,
        "day_name": f"{day:%A} {day.day} {day:%B}",
        "days": [
            (each.isoformat(), say_day(morning(each, visit.zone), visit.zone))
            for each in days
        ],
    }
    if kind == "days":
        at = max(visit.now, morning(day, visit.zone)) if day >= today else None
        context["sheets"] = at and sheets(
            value, planned, at=at, zone=visit.zone, units=visit.units
        )
    elif kind == "week":
        context["week"] = crew_week(value, planned, first=day, zone=visit.zone)
    else:
        context["signs"] = signs(value, planned, day=day, zone=visit.zone)
    return context


def _asked(visit: Visit) -> date | None:
    asked = visit.request.GET.get("day", "")
    if not asked:
        return None
    try:
        day = date.fromisoformat(asked)
    except ValueError:
        raise Http404(f"no day {asked[:20]!r}: give one such as 2026-10-12") from None
    if not 2000 <= day.year < 2100:
        raise Http404(f"no day {asked!r}: give one from 2000 to 2099")
    return day


urlpatterns = [
    path("jobs/<slug:job>/paper/<slug:kind>/", paper, name="paper"),
    path("jobs/<slug:job>/paper/<slug:kind>.pdf", paper_pdf, name="paper-pdf"),
]
