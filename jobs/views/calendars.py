"""The page of calendar addresses: made once, shown once, switched off."""

from io import BytesIO
from typing import Any

import segno
from django.conf import settings
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.safestring import mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from jobs.feed_links import feed_address, make_link, revoke_link, webcal_address
from jobs.queries import calendar_link_or_404, calendar_links
from jobs.views.guard import Visit, only_here, visit_of


@require_safe
def listing(request: HttpRequest, job: str) -> HttpResponse:
    """Whose calendar has an address, since when, and whether it is used."""
    visit = visit_of(request, job)
    return _page(visit)


@never_cache
@require_POST
def make(request: HttpRequest, job: str) -> HttpResponse:
    """Make an address and show it, once: it is not kept and cannot be shown again."""
    visit = visit_of(request, job, lead=True)
    hand, room = request.POST.get("hand", ""), request.POST.get("room", "")
    try:
        _, token = make_link(
            job=visit.job,
            hand_key=hand,
            room_key=room,
            at=visit.now,
            units=visit.units,
        )
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("calendars", job=visit.job.key)
    rows = [row for group in _rows(visit) for row in group["rows"]]
    name = next(
        (row["name"] for row in rows if (row["hand"], row["room"]) == (hand, room)), ""
    )
    return _page(
        visit,
        made={
            "name": name,
            "address": feed_address(token),
            "webcal": webcal_address(token),
            "qr": _qr(webcal_address(token)),
        },
    )


@require_POST
def switch_off(request: HttpRequest, job: str, link: int) -> HttpResponse:
    """Switch an address off; a phone that still asks is told that it is off."""
    visit = visit_of(request, job, lead=True)
    row = calendar_link_or_404(visit.job, link)
    if revoke_link(row, visit.now):
        messages.success(request, "The address is off. Phones lose what it showed.")
    else:
        messages.info(request, "It was off already.")
    return redirect("calendars", job=visit.job.key)


def _page(visit: Visit, made: dict[str, Any] | None = None) -> HttpResponse:
    return visit.page(
        "jobs/calendars.html",
        place="calendars",
        place_name="Calendars",
        groups=_rows(visit),
        made=made,
        only_here=only_here(),
        site_url=settings.SITE_URL,
        issued=visit.job.plans.filter(state="issued").exists(),
    )


def _rows(visit: Visit) -> list[dict[str, Any]]:
    links = calendar_links(visit.job)
    hands = [(hand.key, "", hand.label) for hand in visit.job.hands.all()]
    rooms = [("", room.key, room.label) for room in visit.job.rooms.all()]
    groups = (
        ("Each hand’s own days", hands),
        ("A room, and when it is out of use", rooms),
        ("Everything", [("", "", "The whole job")]),
    )
    return [
        {
            "name": name,
            "rows": [
                {
                    "hand": hand,
                    "room": room,
                    "name": label,
                    "link": links.get((hand, room)),
                }
                for hand, room, label in entries
            ],
        }
        for name, entries in groups
        if entries
    ]


def _qr(address: str) -> str:
    """The address as a square that a phone's camera reads, as inline SVG."""
    out = BytesIO()
    code = segno.make(address, error="m", micro=False)
    code.save(
        out, kind="svg", xmldecl=False, svgns=True, omitsize=True, border=3,
        dark="#231f1a", light="#fffdf8", svgclass=None, lineclass=None, nl=False,
        title="Calendar address as a QR code",
    )  # fmt: skip
    # Made by us from an address of our own: nothing in it was typed by anybody.
    return mark_safe(out.getvalue().decode())  # noqa: S308
