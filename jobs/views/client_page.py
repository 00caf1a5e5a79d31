"""The client's page of a job, by a link."""

from django.http import HttpResponse
from django.urls import re_path
from django.views.decorators.http import require_safe

from jobs.client_words import EVERYWHERE, ClientWords
from jobs.models import FeedLink
from jobs.queries import issued_before, issued_plan
from jobs.translation import job_value, plan_value
from jobs.views.by_link import LinkVisit, by_link


@require_safe
@by_link(FeedLink.Purpose.CLIENT)
def client_page(visit: LinkVisit) -> HttpResponse:
    """Rooms, dates, what is needed and what moved; of issued plans alone."""
    plan = issued_plan(visit.job)
    words = None
    if plan is not None:
        before = issued_before(plan)
        words = ClientWords(
            job=job_value(visit.job),
            planned=plan_value(plan),
            before=plan_value(before) if before else None,
            now=visit.now,
            zone=visit.zone,
        )
    return visit.page(
        "links/client.html", plan=plan, words=words, everywhere=EVERYWHERE
    )


urlpatterns = [
    re_path(r"^client/(?P<token>[A-Za-z0-9_-]{43})/$", client_page, name="client-page")
]
