"""Where sensors leave their readings: token -> room, JSON or form in, JSON out.

Sent by things that cannot sign in: whoever knows the token may write readings of that
room, and nothing else. Every answer is a status and a sentence.
"""

from datetime import datetime
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import (
    BadRequest,
    SuspiciousOperation,
    ValidationError,
)
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.multipartparser import MultiPartParserError
from django.http.request import UnreadablePostError
from django.urls import re_path
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

from jobs.feed_links import token_sha256
from jobs.job_input import json_of
from jobs.models import SensorLink
from jobs.sensors import Sent, keep_sent, note_trouble, too_often
from scheduling.errors import BadInput, shown
from scheduling.shapes import FIRST_YEAR, LAST_YEAR

MOST_BYTES = 4_000  # a reading is a hundredth of this
FORMS = ("application/x-www-form-urlencoded", "multipart/form-data")
_UNREAD = (
    *(BadRequest, MultiPartParserError, OSError, SuspiciousOperation),
    UnreadablePostError,
)
PEOPLE_SAY = {"temperature_c": "temperature", "humidity_pct": "humidity", "at": "time"}
NAMES = ("temperature_c", "humidity_pct", "at")


@csrf_exempt  # no cookie is looked at: the token is all that counts
@login_not_required
@require_POST
def post_reading(request: HttpRequest, token: str) -> HttpResponse:
    """Keep a reading: {temperature_c, humidity_pct, at?}, ``at`` with an offset."""
    try:
        answer = _answer(request, token)
    except OperationalError:  # the database is busy or full: the sensor tries again
        answer = _say(503, "Cannot be kept just now. Send it again in a minute.")
        answer.headers["Retry-After"] = "60"
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["X-Robots-Tag"] = "noindex"
    answer.headers["Referrer-Policy"] = "no-referrer"
    return answer


def _answer(request: HttpRequest, token: str) -> JsonResponse:
    link = SensorLink.objects.filter(token_sha256=token_sha256(token)).first()
    if link is None:
        return _say(404, "There is no sensor at this address.")
    if link.revoked_at is not None:
        return _say(410, "This address was switched off. Ask the lead for a new one.")
    now = timezone.now()
    wait = too_often(link, now)
    if wait is not None:
        answer = _say(429, "Sent too often: nothing more is kept for now.")
        answer.headers["Retry-After"] = str(max(1, round(wait.total_seconds())))
        return answer
    try:
        sent = _read(_values(request), now)
        kept = keep_sent(link=link, sent=sent, now=now)
    except ValidationError as error:
        faults = error.message_dict
        note_trouble(link, _in_words(faults, PEOPLE_SAY), now)
        return _say(422, _in_words(faults, {}))
    return _say(200, kept)


def _in_words(faults: dict[str, list[str]], names: dict[str, str]) -> str:
    told = (f"{names.get(name, name)}: {' '.join(faults[name])}" for name in faults)
    return " ".join(told)


def _say(status: int, text: str) -> JsonResponse:
    return JsonResponse({"status": text}, status=status)


def _values(request: HttpRequest) -> dict[str, Any]:
    """What was sent by its names; ValidationError where it is neither JSON nor form."""
    try:
        length = int(request.META.get("CONTENT_LENGTH") or 0)
    except ValueError:
        length = 0
    if length > MOST_BYTES:
        raise ValidationError({"body": f"{length} bytes: give at most {MOST_BYTES}."})
    try:
        if request.content_type not in FORMS:
            written = json_of(request.read(MOST_BYTES + 1), "the body")
        else:
            written = {
                name: request.POST[name] for name in NAMES if name in request.POST
            }
    except BadInput as error:
        raise ValidationError({"body": str(error.faults[0])}) from None
    except _UNREAD:
        raise ValidationError({"body": "It could not be read to its end."}) from None
    if not isinstance(written, dict):
        raise ValidationError({"body": f"{shown(written)}: give an object."})
    return written


def _read(values: dict[str, Any], now: datetime) -> Sent:
    return Sent(
        at=_moment(values.get("at"), now),
        temperature_c=_number(values, "temperature_c"),
        humidity_pct=_number(values, "humidity_pct"),
    )


def _number(values: dict[str, Any], name: str) -> float:
    given = values.get(name)
    if given in (None, ""):
        raise ValidationError({name: "Missing: give a number."})
    try:
        if isinstance(given, bool) or not isinstance(given, int | float | str):
            raise TypeError
        return float(given)
    except (TypeError, ValueError, OverflowError):
        raise ValidationError({name: f"{shown(given)}: give a number."}) from None


def _moment(given: Any, now: datetime) -> datetime:
    if given in (None, ""):
        return now
    allowed = "give a moment with its offset, such as 2026-10-12T06:30:00Z"
    try:
        moment = datetime.fromisoformat(given)
    except (TypeError, ValueError):
        raise ValidationError({"at": f"{shown(given)}: {allowed}."}) from None
    if moment.tzinfo is None or not FIRST_YEAR < moment.year < LAST_YEAR:
        raise ValidationError({"at": f"{shown(given)}: {allowed}."})
    return moment.astimezone(now.tzinfo)


urlpatterns = [
    # 43 letters of URL-safe base 64 are 32 bytes; what is no token is no address.
    re_path(
        r"^readings/(?P<token>[A-Za-z0-9_-]{43})/?$", post_reading, name="post-reading"
    ),
]
