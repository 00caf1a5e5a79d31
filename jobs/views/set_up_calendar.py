"""What is bound to a day, on pages of its own: gates, other trades' days, dates."""

from collections.abc import Callable, Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_http_methods

from jobs.models import DateWish, Surface
from jobs.queries import surfaces_of
from jobs.set_up_calendar import keep_date, keep_gate, keep_trade, remove_date
from jobs.set_up_forms import SetUpForm
from jobs.set_up_forms_calendar import DateForm, GateForm, TradeForm
from jobs.views.guard import Visit, kept, visit_of

FORM = ["GET", "HEAD", "POST"]


@require_http_methods(FORM)
def gate(request: HttpRequest, job: str) -> HttpResponse:
    """A gate; ``of`` and ``n`` name one that is there by a surface that it shuts."""
    visit = visit_of(request, job, lead=True)
    surfaces = list(surfaces_of(visit.job))
    if not surfaces:
        messages.warning(request, "A gate is on surfaces: add these first.")
        return redirect("set-up", job=job)
    was = _gate_of(request, surfaces)
    chosen = [row.key for row in surfaces if was in row.gates] if was else []
    form = GateForm(
        _typed(request), gate=was or {}, surfaces=surfaces, chosen=chosen,
        **_shared(visit),
    )  # fmt: skip

    def write() -> None:
        gone = _is_to_go(request)
        keep_gate(
            job=visit.job,
            was=was,
            gate=None if gone else form.gate,
            surfaces=() if gone else form.cleaned_data["surfaces"],
            now=visit.now,
        )

    return _answer(visit, form, write, "set_up/gate.html", was=was)


def _gate_of(
    request: HttpRequest, surfaces: Sequence[Surface]
) -> dict[str, Any] | None:
    key = request.GET.get("of", "")
    gates = next((row.gates for row in surfaces if row.key == key), [])
    return _nth(gates, request.GET.get("n", ""))


def _nth(entries: Sequence[Any], number: str) -> Any:
    """The entry of that number; None where there is none."""
    place = int(number) if number.isdecimal() and len(number) < 6 else len(entries)
    return entries[place] if place < len(entries) else None


@require_http_methods(FORM)
def trade(request: HttpRequest, job: str, room: str) -> HttpResponse:
    """Another trade's days in a room; ``n`` names some that are there."""
    visit = visit_of(request, job, lead=True)
    row = get_object_or_404(visit.job.rooms, key=room)
    was = _nth(row.others, request.GET.get("n", ""))
    form = TradeForm(_typed(request), trade=was or {}, **_shared(visit))

    def write() -> None:
        trade = None if _is_to_go(request) else form.trade
        keep_trade(room=row, was=was, trade=trade, now=visit.now)

    return _answer(visit, form, write, "set_up/trade.html", was=was, room=row)


@require_http_methods(FORM)
def new_date(request: HttpRequest, job: str) -> HttpResponse:
    """A date of the job, a room or a surface."""
    return _date(visit_of(request, job, lead=True), None)


@require_http_methods(FORM)
def date_page(request: HttpRequest, job: str, wish: int) -> HttpResponse:
    """Change a date, or take it off."""
    visit = visit_of(request, job, lead=True)
    rows = visit.job.dates.select_related("surface", "room")
    return _date(visit, get_object_or_404(rows, pk=wish))


def _date(visit: Visit, row: DateWish | None) -> HttpResponse:
    request = visit.request
    form = DateForm(_typed(request), job=visit.job, wish=row, **_shared(visit))

    def write() -> None:
        if row is not None and _is_to_go(request):
            remove_date(wish=row, now=visit.now)
        else:
            keep_date(job=visit.job, wish=row, now=visit.now, **form.columns)

    return _answer(visit, form, write, "set_up/date.html", was=row)


def _typed(request: HttpRequest) -> Any:
    return request.POST if request.method == "POST" else None


def _shared(visit: Visit) -> dict[str, Any]:
    return {"zone": visit.zone, "now": visit.now, "units": visit.units}


def _is_to_go(request: HttpRequest) -> bool:
    return request.POST.get("remove") == "yes"


def _answer(
    visit: Visit,
    form: SetUpForm,
    write: Callable[[], None],
    template: str,
    *,
    was: Any,
    **context: Any,
) -> HttpResponse:
    """The form, or once it is kept the page that it came from."""
    to_go = was is not None and _is_to_go(visit.request)
    if form.is_bound and (to_go or form.is_valid()) and kept(form, write):
        messages.success(visit.request, "Taken off." if to_go else "Kept.")
        return redirect("set-up", job=visit.job.key)
    status = 422 if form.is_bound else 200
    shared = {"place": "set-up", "place_name": "Setting up", "form": form, "was": was}
    return visit.page(template, status, **shared, **context)


_SET_UP = "jobs/<slug:job>/set-up/"
urlpatterns = [
    path(f"{_SET_UP}gate/", gate, name="gate"),
    path(f"{_SET_UP}rooms/<slug:room>/trade/", trade, name="trade"),
    path(f"{_SET_UP}new-date/", new_date, name="new-date"),
    path(f"{_SET_UP}dates/<int:wish>/", date_page, name="change-date"),
]
