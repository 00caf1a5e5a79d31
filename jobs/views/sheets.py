"""Rooms and surfaces as sheets: out, and in by way of a preview that stores nothing."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from jobs.sheet_actions import bring_in
from jobs.sheet_columns import PARTS
from jobs.sheet_file import BOM, table_of
from jobs.sheet_forms import SheetForm, kept, kept_sheet
from jobs.sheet_reading import Sheet, empty_sheet, read_sheet, written_sheet
from jobs.translation import job_value
from jobs.views.guard import Visit, readable, visit_of


@require_http_methods(["GET", "HEAD", "POST"])
@readable
def sheets(request: HttpRequest, job: str) -> HttpResponse:
    """Sheets to take, and one handed in, as it would come in."""
    visit = visit_of(request, job, lead=True)
    if request.method != "POST":
        form = SheetForm(units=visit.units, initial={"part": request.GET.get("part")})
        return _page(visit, form)
    form = SheetForm(request.POST, request.FILES, units=visit.units)
    if not form.is_valid():
        form.keep_typed()
        return _page(visit, form, status=422)
    part = form.cleaned_data["part"]
    sheet = read_sheet(form.table, part, job_value(visit.job), form.system)
    return _preview(visit, sheet, form.written, kept(visit.job, form), form.system)


@require_POST
@readable
def bring_in_sheet(request: HttpRequest, job: str) -> HttpResponse:
    """Bring in the sheet that the preview showed; a second press changes nothing."""
    visit = visit_of(request, job, lead=True)
    signed = request.POST.get("sheet", "")
    given = kept_sheet(visit.job, signed)
    if given is None:
        form = SheetForm(units=visit.units)
        lost = "This preview is no longer whole: choose the sheet again."
        return _page(visit, form, status=422, lost=lost)
    sheet = bring_in(
        job=visit.job,
        table=table_of(given["text"]),
        part=given["part"],
        units=given["units"],
        now=visit.now,
    )
    if sheet.wrong:  # the job has changed since the preview
        return _preview(visit, sheet, given["text"], signed, given["units"])
    if sheet.new:
        messages.success(request, f"{_counted(sheet.new, sheet.part)} brought in.")
    else:
        messages.info(
            request, f"All were in already: {_counted(sheet.known, sheet.part)}."
        )
    return redirect("sheets", job=visit.job.key)


@require_safe
@readable
def export_sheet(request: HttpRequest, job: str, part: str) -> HttpResponse:
    """The job's rooms or surfaces as a sheet that can be brought in again."""
    visit = visit_of(request, job)
    _known(part)
    text = written_sheet(part, job_value(visit.job))
    return _file(f"{visit.job.key}-{part}.csv", text)


@require_safe
def blank_sheet(request: HttpRequest, job: str, part: str) -> HttpResponse:
    """A sheet with its headings, to be filled in."""
    visit = visit_of(request, job)
    _known(part)
    return _file(f"{part}.csv", empty_sheet(part, visit.units))


def _known(part: str) -> None:
    if part not in PARTS:
        raise Http404(f"no sheet of {part}")


def _file(name: str, text: str) -> HttpResponse:
    # With the mark, spreadsheet programs take UTF-8 for what it is.
    response = HttpResponse(BOM + text, content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _page(
    visit: Visit, form: SheetForm, status: int = 200, **context: Any
) -> HttpResponse:
    return visit.page(
        "sheets/sheets.html",
        status,
        place_name="Sheets",
        form=form,
        counts=_counts(visit),
        columns=_columns(visit.units),
        **context,
    )


def _preview(
    visit: Visit, sheet: Sheet, text: str, signed: str, units: str
) -> HttpResponse:
    form = SheetForm(units=units, initial={"part": sheet.part, "text": text})
    return visit.page(
        "sheets/preview.html",
        422 if sheet.wrong else 200,
        place_name="Sheets",
        sheet=sheet,
        signed=signed,
        form=form,
        new=_counted(sheet.new, sheet.part),
        known=_counted(sheet.known, sheet.part),
    )


def _counts(visit: Visit) -> dict[str, str]:
    rows = {"rooms": visit.job.rooms, "surfaces": visit.job.surfaces}
    return {part: _counted(all_of.count(), part) for part, all_of in rows.items()}


def _columns(units: str) -> list[dict[str, Any]]:
    """What each column is called, holds and is measured in."""
    return [
        {
            "part": part,
            "rows": [
                {
                    "column": column,
                    "name": column.words[0],
                    "unit": column.quantity.unit(units)
                    if column.quantity
                    else column.unit,
                }
                for column in columns
            ],
        }
        for part, columns in PARTS.items()
    ]


def _counted(count: int, part: str) -> str:
    return f"{count} {part.removesuffix('s') if count == 1 else part}"


urlpatterns = [
    path("jobs/<slug:job>/sheets/", sheets, name="sheets"),
    path("jobs/<slug:job>/sheets/bring-in/", bring_in_sheet, name="bring-in-sheet"),
    path("jobs/<slug:job>/sheets/<slug:part>.csv", export_sheet, name="export-sheet"),
    path(
        "jobs/<slug:job>/sheets/empty/<slug:part>.csv", blank_sheet, name="blank-sheet"
    ),
]
