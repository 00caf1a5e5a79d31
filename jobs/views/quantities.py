"""Quantities: what to order by when, as a page and for a spreadsheet."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from jobs import ordering
from jobs.order_words import OrderWords
from jobs.ordering_forms import OrderingForm, WasteForm
from jobs.queries import issued_plan, material_or_404
from jobs.translation import job_value, plan_value
from jobs.views.guard import Visit, put_beside, readable, visit_of
from jobs.week_words import known_part
from scheduling.mixing import waste_of
from scheduling.quantities import Order, quantities


@require_safe
@readable
def quantities_page(request: HttpRequest, job: str) -> HttpResponse:
    """Every material still to be put on, the one to be ordered soonest first."""
    return _page(visit_of(request, job))


@require_safe
@readable
def quantities_table(request: HttpRequest, job: str) -> HttpResponse:
    """The same for a spreadsheet, in the reader's units."""
    visit = visit_of(request, job)
    words, orders = _orders(visit)
    answer = HttpResponse(
        words.table(orders).encode("utf-8-sig"), content_type="text/csv; charset=utf-8"
    )
    name = f"{visit.job.key}-quantities.csv"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@require_POST
@readable
def set_waste(request: HttpRequest, job: str) -> HttpResponse:
    """The job's allowance for waste; empty for the usual one."""
    visit = visit_of(request, job, lead=True)
    form = WasteForm(request.POST)
    if not form.is_valid():
        return _page(visit, form=form, status=422)
    ordering.set_waste(job=visit.job, waste_pct=form.cleaned_data["waste"])
    return redirect("quantities", job=visit.job.key)


@require_http_methods(["GET", "HEAD", "POST"])
def material_page(request: HttpRequest, job: str, material: str) -> HttpResponse:
    """What one material is reckoned and bought with."""
    visit = visit_of(request, job, lead=True)
    row = material_or_404(visit.job, material)
    shared: dict[str, Any] = {
        "units": visit.units,
        "spread_m2_per_l": row.spread_m2_per_l,
        "tins_l": row.tins_l,
        "lead_days": row.lead_days,
    }
    if request.method != "POST":
        return _form(visit, row, OrderingForm(**shared))
    form = OrderingForm(request.POST, **shared)
    if form.is_valid():
        try:
            ordering.set_ordering(
                material=row,
                spread_m2_per_l=form.cleaned_data["spread"],
                tins_l=form.cleaned_data["tins"],
                lead_days=form.cleaned_data["lead_days"],
                now=visit.now,
            )
        except ValidationError as error:
            put_beside(form, error)
        else:
            messages.success(request, f"Kept: {row}.")
            return redirect("quantities", job=visit.job.key)
    return _form(visit, row, form, status=422)


def _orders(visit: Visit) -> tuple[OrderWords, tuple[Order, ...]]:
    value = job_value(visit.job)
    row = issued_plan(visit.job)
    plan = known_part(plan_value(row), value) if row is not None else None
    words = OrderWords(
        job=value, zone=visit.zone, now=visit.now, units=visit.units,
        waste=waste_of(value),
    )  # fmt: skip
    return words, quantities(value, plan)


def _page(visit: Visit, form: WasteForm | None = None, status: int = 200) -> Any:
    words, orders = _orders(visit)
    typed = visit.job.waste_pct
    first = {} if typed is None else {"waste": f"{typed:g}"}
    return visit.page(
        "jobs/quantities.html",
        status,
        place="recipes",
        place_name="Quantities",
        rows=[words.line(order) for order in orders],
        late=sum(
            order.order_by is not None and order.order_by < words.today
            for order in orders
        ),
        issued=issued_plan(visit.job),
        waste=f"{words.waste * 100:g} %",
        form=form or WasteForm(initial=first),
    )


def _form(visit: Visit, row: Any, form: OrderingForm, status: int = 200) -> Any:
    return visit.page(
        "jobs/material_order.html",
        status,
        place="recipes",
        place_name=row.label,
        material=row,
        form=form,
    )


_HERE = "jobs/<slug:job>/quantities/"
urlpatterns = [
    path(_HERE, quantities_page, name="quantities"),
    path(f"{_HERE}table.csv", quantities_table, name="quantities-table"),
    path(f"{_HERE}waste/", set_waste, name="set-waste"),
    path(f"{_HERE}of/<slug:material>/", material_page, name="material-order"),
]
