"""Who may see what by a link: the first lines of every page that needs no account.

Whoever knows the token may read; no cookie is looked at. Nothing of these pages is
kept by caches, found by search engines or told to other sites.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import wraps
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt

from jobs.feed_links import note_use, token_sha256
from jobs.models import FeedLink, Job
from scheduling.errors import BadInput


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkVisit:
    """A request by somebody with a working link."""

    request: HttpRequest
    link: FeedLink
    job: Job
    now: datetime

    @property
    def zone(self) -> ZoneInfo:
        """The site's zone, in which every time is shown."""
        return self.job.tz

    @property
    def units(self) -> str:
        """Those of the person who made the link."""
        return self.link.units

    def page(self, template: str, status: int = 200, **context: Any) -> HttpResponse:
        """The page with what every page by a link needs."""
        shared = {
            "job": self.job, "now": self.now, "zone": self.zone, "units": self.units,
        }  # fmt: skip
        return render(self.request, template, shared | context, status=status)


def by_link(
    purpose: str,
) -> Callable[[Callable[..., HttpResponse]], Callable[..., HttpResponse]]:
    """Opens a page to links of that purpose: 404 without one, 410 once it is off.

    The token in the path is all that counts, so there is no cookie to be misused by
    another site's form, and no CSRF token to lose on a bad line.
    """

    def opened(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @csrf_exempt
        @login_not_required
        @never_cache
        @wraps(view)
        def shown(request: HttpRequest, token: str) -> HttpResponse:
            answer = _answer(request, view, purpose, token)
            answer.headers["X-Robots-Tag"] = "noindex"
            answer.headers["Referrer-Policy"] = "no-referrer"
            return answer

        return shown

    return opened


def _answer(
    request: HttpRequest, view: Callable[..., HttpResponse], purpose: str, token: str
) -> HttpResponse:
    links = FeedLink.objects.select_related("job").filter(purpose=purpose)
    link = links.filter(token_sha256=token_sha256(token)).first()
    if link is None:
        return render(request, "links/none.html", status=404)
    if not link.is_live:
        return render(request, "links/off.html", status=410)
    now = timezone.now()
    note_use(link, now)
    visit = LinkVisit(request=request, link=link, job=link.job, now=now)
    try:
        return view(visit)
    except BadInput:  # the lead is told what is wrong, on the lead's own pages
        return visit.page("links/unreadable.html", 409)
