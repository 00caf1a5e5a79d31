"""The jobs of a company: list, a job file in, a job file out."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from jobs.actions import import_job
from jobs.forms import JobFileForm
from jobs.queries import jobs_with_plans
from jobs.translation import job_json
from jobs.views.guard import person_of, readable, visit_of
from scheduling.errors import BadInput


@require_safe
def listing(request: HttpRequest) -> HttpResponse:
    """Every job of the company with the state of its plan."""
    person = person_of(request)
    context = {
        "jobs": jobs_with_plans(person.company),
        "now": timezone.now(),
        "is_lead": person.is_lead,
    }
    return render(request, "jobs/listing.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def import_file(request: HttpRequest) -> HttpResponse:
    """A job file, chosen or pasted; every fault of it stands beside the field."""
    company = person_of(request, lead=True).company
    form = JobFileForm(request.POST or None, request.FILES or None)
    if request.method != "POST":
        return render(request, "jobs/import.html", {"form": JobFileForm()})
    form = JobFileForm(request.POST, request.FILES)
    if form.is_valid():
        try:
            job = import_job(
                company=company,
                written=form.written,
                replace=form.cleaned_data["replace"],
            )
        except BadInput as error:
            form.refuse(error.faults)
        else:
            messages.success(request, f"{job} is in. Plan it to see its week.")
            return redirect("week", job=job.key)
    form.keep_typed()
    return render(request, "jobs/import.html", {"form": form}, status=422)


@require_safe
@readable
def export_file(request: HttpRequest, job: str) -> HttpResponse:
    """The whole job in the job format."""
    visit = visit_of(request, job)
    response = JsonResponse(
        job_json(visit.job), json_dumps_params={"ensure_ascii": False, "indent": 1}
    )
    response.headers["Content-Disposition"] = (
        f'attachment; filename="{visit.job.key}.json"'
    )
    return response
