"""Samples: log what was watched, see the clocks before and after, accept it or not."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_http_methods

from jobs.models import Material, Sample
from jobs.recipe_changes import Stale
from jobs.recipe_forms import units_typed
from jobs.recipe_words import LABEL_NAMES
from jobs.sample_forms import AcceptForm, SampleForm
from jobs.samples import HOW, accept_sample, air_of, compared, learnt, log_sample
from jobs.translation import job_value
from jobs.views.guard import Visit, put_beside, readable, visit_of
from scheduling import problem
from scheduling.errors import BadInput
from scheduling.job_file import read_job, write_job, write_material
from scheduling.samples import same_air


@require_http_methods(["GET", "HEAD", "POST"])
@readable
def log(request: HttpRequest, job: str, material: str) -> HttpResponse:
    """Log a sample of a material; the label does not follow before it is accepted."""
    visit = visit_of(request, job)
    row = get_object_or_404(visit.job.materials, key=material)
    shared: dict[str, Any] = {
        "material": job_value(visit.job).material(row.key),
        "zone": visit.zone,
        "now": visit.now,
        "units": units_typed(request.POST, visit.units),
    }
    if request.method != "POST":
        return _log_page(visit, row, SampleForm(**shared))
    form = SampleForm(request.POST, **shared)
    if form.is_valid():
        try:
            sample = log_sample(
                material=row,
                laid_at=form.cleaned_data["laid_at"],
                temperature_c=form.cleaned_data["temperature"],
                humidity_pct=form.cleaned_data["humidity"],
                minutes=form.minutes,
                by=visit.user,
                now=visit.now,
            )
        except ValidationError as error:
            put_beside(form, error)
        else:
            return redirect(
                "sample", job=visit.job.key, material=row.key, sample=sample.pk
            )
    return _log_page(visit, row, form, 422)


@require_http_methods(["GET", "HEAD", "POST"])
@readable
def one(request: HttpRequest, job: str, material: str, sample: int) -> HttpResponse:
    """A sample beside the clocks before and after; posted, the label follows it."""
    visit = visit_of(request, job, lead=request.method == "POST")
    samples = Sample.objects.select_related("material__job", "logged_by")
    row = get_object_or_404(
        samples.filter(material__job=visit.job, material__key=material), pk=sample
    )
    if request.method != "POST":
        return _one_page(visit, row)
    form = AcceptForm(request.POST)
    if form.is_valid():
        try:
            kept = accept_sample(
                sample=row, by=visit.user, now=visit.now, **form.cleaned_data
            )
        except Stale as stale:
            form = AcceptForm(initial=form.cleaned_data | {"version": stale.version})
            return _one_page(visit, row, form, 409, stale=stale.version)
        except ValidationError as error:
            put_beside(form, error)
        except BadInput as error:
            for fault in error.faults:
                form.add_error(None, str(fault))
        else:
            messages.success(
                request,
                f"{kept} follows the sample: version {kept.version}. "
                "Plan again to use it.",
            )
            return redirect("sample", job=job, material=material, sample=row.pk)
    return _one_page(visit, row, form, 422)


def _log_page(
    visit: Visit, row: Material, form: SampleForm, status: int = 200
) -> HttpResponse:
    return visit.page(
        "recipes/log_sample.html",
        status,
        place="recipes",
        place_name=f"A sample of {row}",
        material=row,
        form=form,
        samples=row.samples.select_related("logged_by")[:20],
    )


def _one_page(
    visit: Visit,
    row: Sample,
    form: AcceptForm | None = None,
    status: int = 200,
    **more: Any,
) -> HttpResponse:
    value = job_value(visit.job)
    material = value.material(row.material.key)
    own = same_air(material.label_air, air_of(row))
    ways: dict[str, problem.Material] = {}
    faults: dict[str, list[str]] = {}
    for how in HOW:
        if own and how == "point":
            continue  # the same as setting the label
        try:
            ways[how] = _sound(value, learnt(material, row, how))
        except BadInput as error:
            faults[how] = [f"{one.path}: {one.allowed}" for one in error.faults]
    first = "label" if own else "point"
    form = form or AcceptForm(initial={"version": row.material.version, "how": first})
    if own:
        form.fields["how"].choices = [("label", "Set the label: this is its own air")]
    return visit.page(
        "recipes/sample.html",
        status,
        place="recipes",
        place_name=str(row),
        sample=row,
        material=row.material,
        rows=[
            {"line": line, "name": LABEL_NAMES[line.stage]}
            for line in compared(material, row, ways)
        ],
        ways=ways,
        faults=faults,
        own=own,
        form=form if ways else None,
        **more,
    )


def _sound(value: problem.Job, material: problem.Material) -> problem.Material:
    """The material as the job would have it; BadInput where it cannot."""
    written = write_job(value)
    place = [row.id for row in value.materials].index(material.id)
    written["materials"][place] = write_material(material)
    return read_job(written).materials[place]


urlpatterns = [
    path("jobs/<slug:job>/materials/<slug:material>/samples/", log, name="log-sample"),
    path(
        "jobs/<slug:job>/materials/<slug:material>/samples/<int:sample>/",
        one,
        name="sample",
    ),
]
