"""Who may see what: the first line of every page.

A stranger's job does not exist (404), what is the lead's is refused to a hand (403),
and nobody is sent to sign in by the middleware.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import wraps
from typing import Any
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from django import forms
from django.conf import settings
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from jobs.models import Job, User
from jobs.queries import job_or_404
from jobs.set_up_forms import SetUpForm
from scheduling.errors import BadInput


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A request to a page of a job by someone who may see it."""

    request: HttpRequest
    user: User
    job: Job
    now: datetime

    @property
    def zone(self) -> ZoneInfo:
        """The site's zone, in which every time is shown."""
        return self.job.tz

    @property
    def units(self) -> str:
        """The reader's units."""
        return self.user.units

    def page(self, template: str, status: int = 200, **context: Any) -> HttpResponse:
        """The page with what every page of a job needs."""
        shared = {
            "job": self.job,
            "now": self.now,
            "zone": self.zone,
            "units": self.units,
            "is_lead": self.user.is_lead,
        }
        return render(self.request, template, shared | context, status=status)


def visit_of(request: HttpRequest, key: str, *, lead: bool = False) -> Visit:
    """The visit; 404 to a stranger, 403 to a hand where it takes a lead."""
    job = job_or_404(person_of(request).company, key)
    user = person_of(request, lead=lead)
    return Visit(request=request, user=user, job=job, now=timezone.now())


def person_of(request: HttpRequest, *, lead: bool = False) -> User:
    """Who signed in, for a page of the whole company; 403 where it takes a lead."""
    user = request.user
    assert isinstance(user, User)  # noqa: S101 - the middleware has sent others away
    if lead and not user.is_lead:
        raise PermissionDenied
    return user


def put_beside(form: forms.Form, error: ValidationError) -> None:
    """A refusal, beside the field it is about where the form has it."""
    if not hasattr(error, "error_dict"):
        form.add_error(None, error)
        return
    for field, faults in error.error_dict.items():
        form.add_error(field if field in form.fields else None, faults)


def kept(form: SetUpForm, write: Callable[[], object]) -> bool:
    """Whether the write was done; a refusal stands beside the field it is about."""
    try:
        write()
    except ValidationError as error:
        put_beside(form, error)
    except BadInput as error:
        form.put_faults(error.faults)
    else:
        return True
    return False


def only_here() -> bool:
    """Whether the site's address leads other machines to themselves."""
    host = urlsplit(settings.SITE_URL).hostname or ""
    return host == "localhost" or host.startswith("127.") or host == "::1"


def readable(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Says what is wrong with a job whose records cannot be planned from."""

    @wraps(view)
    def shown(request: HttpRequest, job: str, **names: Any) -> HttpResponse:
        try:
            return view(request, job, **names)
        except BadInput as error:
            visit = visit_of(request, job)
            return visit.page(
                "jobs/unreadable.html", 409, place_name="Not readable",
                faults=error.faults,
            )  # fmt: skip

    return shown
