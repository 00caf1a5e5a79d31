"""Calendar addresses: token -> file, with what caches and robots may do with it.

Read by programs that cannot sign in: whoever knows the token may read. A GET changes
nothing but the moment of last use, told to the hour.
"""

import hashlib

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseNotFound
from django.urls import path, re_path
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_safe

from jobs.calendar_feed import feed_bytes, off_bytes
from jobs.feed_links import note_use, token_sha256
from jobs.models import FeedLink

# Google's importer asks robots.txt first; everything else is for people who sign in.
ROBOTS = "User-agent: *\nAllow: /feeds/\nDisallow: /\n"


@login_not_required
@require_safe
def feed(request: HttpRequest, token: str) -> HttpResponse:
    """The calendar file; 304 where the program has the same bytes already."""
    calendars = FeedLink.objects.filter(purpose=FeedLink.Purpose.CALENDAR)
    link = (
        calendars.select_related("job").filter(token_sha256=token_sha256(token)).first()
    )
    now = timezone.now()
    content = None
    if link is not None:
        content = feed_bytes(link, now) if link.is_live else off_bytes(link, now)
    if link is None or content is None:
        response: HttpResponse = HttpResponseNotFound(
            "There is no calendar at this address.\n",
            content_type="text/plain; charset=utf-8",
        )
        response.headers["Cache-Control"] = "no-store"
        return _private(response)
    note_use(link, now)
    response = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    etag = f'"{hashlib.sha256(content).hexdigest()}"'
    response.headers["ETag"] = etag
    response.headers["Cache-Control"] = "private, max-age=300"
    response.headers["Content-Disposition"] = 'inline; filename="coat-by-coat.ics"'
    # No Last-Modified: it would go backwards when an entry is dropped.
    answer = get_conditional_response(request, etag=etag, response=response)
    return _private(answer or response)


@login_not_required
@require_safe
def robots(request: HttpRequest) -> HttpResponse:
    """What search engines and importers may ask for."""
    return HttpResponse(ROBOTS, content_type="text/plain; charset=utf-8")


def _private(response: HttpResponse) -> HttpResponse:
    response.headers["X-Robots-Tag"] = "noindex"
    response.headers["Referrer-Policy"] = "no-referrer"
    return response


urlpatterns = [
    # 43 letters of URL-safe base 64 are 32 bytes; what is no token is no address.
    re_path(r"^feeds/(?P<token>[A-Za-z0-9_-]{43})\.ics$", feed, name="feed"),
    path("robots.txt", robots, name="robots"),
]
