"""My walls: a hand's day on a phone by a link, and what the hand sends from there."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import uuid4

from django.core.exceptions import ValidationError
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.urls import re_path
from django.views.decorators.http import require_http_methods, require_safe

from jobs.hand_days import DayStint, HandDays, hand_days
from jobs.models import FeedLink, Tap
from jobs.queries import issued_plan, sent_by
from jobs.translation import job_value, plan_value
from jobs.views.by_link import LinkVisit, by_link
from jobs.views.guard import put_beside
from jobs.wall_forms import (
    FORMS,
    DoneForm,
    ProblemForm,
    SetForm,
    TapForm,
    TestTapForm,
    WallReadingForm,
)
from jobs.wall_taps import keep_tap

WORKER = Path(__file__).parents[1] / "static" / "jobs" / "walls-worker.js"


@require_http_methods(["GET", "HEAD", "POST"])
@by_link(FeedLink.Purpose.WALLS)
def my_walls(visit: LinkVisit) -> HttpResponse:
    """The hand's days; a POST keeps one tap and says so, as a page or as JSON."""
    if visit.request.method != "POST":
        return _page(visit)
    form = _sent_form(visit)
    if form is None:
        return _refused(visit, ["Kind: give one of " + ", ".join(FORMS) + "."])
    if form.is_valid():
        try:
            tap, _ = keep_tap(
                link=visit.link,
                key=form.cleaned_data["key"],
                given=form.given,
                now=visit.now,
            )
        except ValidationError as error:
            put_beside(form, error)
        except OperationalError:  # busy or full: the phone keeps it and tries again
            answer = _refused(visit, ["Not kept just now. Send it again."], 503)
            answer.headers["Retry-After"] = "30"
            return answer
        else:
            return _kept(visit, tap)
    faults = [
        f"{form.fields[name].label or name}: {fault}" if name in form.fields else fault
        for name, found in form.errors.items()
        for fault in found
    ]
    return _refused(visit, faults)


@require_safe
@by_link(FeedLink.Purpose.WALLS)
def worker(visit: LinkVisit) -> HttpResponse:
    """The script that keeps the last copy of the page, for this address alone."""
    return HttpResponse(
        WORKER.read_bytes(), content_type="text/javascript; charset=utf-8"
    )


def _sent_form(visit: LinkVisit) -> TapForm | None:
    kind = visit.request.POST.get("kind", "")
    if kind == Tap.Kind.READING:
        rooms = [(room.key, room.label) for room in visit.job.rooms.all()]
        return WallReadingForm(visit.request.POST, rooms=rooms, units=visit.units)
    form = FORMS.get(kind)
    return form(visit.request.POST) if form is not None else None


def _kept(visit: LinkVisit, tap: Tap) -> HttpResponse:
    if _wants_json(visit.request):
        return JsonResponse({"status": tap.said})
    return HttpResponseRedirect(f"{visit.request.path}#sent")


def _refused(visit: LinkVisit, faults: list[str], status: int = 422) -> HttpResponse:
    if _wants_json(visit.request):
        return JsonResponse({"status": " ".join(faults)}, status=status)
    return _page(visit, faults=faults, status=status)


def _wants_json(request: HttpRequest) -> bool:
    return request.headers.get("Accept", "") == "application/json"


def _days(visit: LinkVisit) -> HandDays | None:
    plan = issued_plan(visit.job)
    if plan is None:
        return None
    return hand_days(
        job_value(visit.job),
        plan_value(plan),
        visit.link.hand_key,
        now=visit.now,
        zone=visit.zone,
        units=visit.units,
    )


def _page(
    visit: LinkVisit, faults: list[str] | None = None, status: int = 200
) -> HttpResponse:
    plan = issued_plan(visit.job)
    days = _days(visit)
    hand = visit.job.hands.filter(key=visit.link.hand_key).first()
    return visit.page(
        "links/my_walls.html",
        status,
        hand=hand.label if hand else visit.link.hand_key,
        plan=plan,
        days=days,
        today=_with_forms(days.today if days else ()),
        left_over=_with_forms(days.left_over if days else ()),
        reading=_reading_form(visit, days),
        sent=sent_by(visit.link, visit.now),
        faults=faults or [],
    )


def _with_forms(stints: tuple[DayStint, ...]) -> list[dict[str, Any]]:
    return [{"stint": stint, "forms": list(_forms(stint))} for stint in stints]


def _forms(stint: DayStint) -> Iterator[tuple[str, TapForm]]:
    """The buttons of a stint: each opens its choices and sends one tap."""

    def form(made: type[TapForm]) -> TapForm:
        return made(
            initial={"key": uuid4(), "stint": stint.id},
            auto_id=f"{stint.id}-{made.kind}-%s",
        )

    if stint.kind == "test":
        yield "Test", form(TestTapForm)
    elif not stint.done:
        yield "Done", form(DoneForm)
    if stint.below and not stint.done:
        yield "Set early or late", form(SetForm)
    yield "Problem", form(ProblemForm)


def _reading_form(visit: LinkVisit, days: HandDays | None) -> WallReadingForm:
    rooms = list(days.rooms) if days else []
    rooms = rooms or [(room.key, room.label) for room in visit.job.rooms.all()]
    return WallReadingForm(
        initial={"key": uuid4()}, rooms=rooms, units=visit.units, auto_id="reading-%s"
    )


_TOKEN = "(?P<token>[A-Za-z0-9_-]{43})"  # noqa: S105 - the shape of one
urlpatterns = [
    re_path(rf"^walls/{_TOKEN}/$", my_walls, name="my-walls"),
    re_path(rf"^walls/{_TOKEN}/worker\.js$", worker, name="my-walls-worker"),
]
