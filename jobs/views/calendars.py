"""The page of links without an account: made once, shown once, switched off."""

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

from jobs.feed_links import link_address, make_link, revoke_link, webcal_address
from jobs.models import FeedLink
from jobs.queries import link_or_404, links_without_account
from jobs.views.guard import Visit, only_here, visit_of

CALENDAR, WALLS = FeedLink.Purpose.CALENDAR, FeedLink.Purpose.WALLS
CLIENT = FeedLink.Purpose.CLIENT


@require_safe
def listing(request: HttpRequest, job: str) -> HttpResponse:
    """Who has an address of which kind, since when, and whether it is used."""
    visit = visit_of(request, job)
    return _page(visit)


@never_cache
@require_POST
def make(request: HttpRequest, job: str) -> HttpResponse:
    """Make an address and show it, once: it is not kept and cannot be shown again."""
    visit = visit_of(request, job, lead=True)
    hand, room = request.POST.get("hand", ""), request.POST.get("room", "")
    purpose = request.POST.get("purpose", CALENDAR)
    try:
        _, token = make_link(
            job=visit.job,
            hand_key=hand,
            room_key=room,
            purpose=purpose,
            at=visit.now,
            units=visit.units,
        )
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("calendars", job=visit.job.key)
    group, name = next(
        (group, row["name"])
        for group in _rows(visit)
        for row in group["rows"]
        if (group["purpose"], row["hand"], row["room"]) == (purpose, hand, room)
    )
    opens = webcal_address(token) if purpose == CALENDAR else ""
    address = link_address(purpose, token)
    return _page(
        visit,
        made={
            "name": name,
            "what": group["how"],
            "address": address,
            "webcal": opens,
            "qr": _qr(opens or address),
        },
    )


@require_POST
def switch_off(request: HttpRequest, job: str, link: int) -> HttpResponse:
    """Switch an address off; a phone that still asks is told that it is off."""
    visit = visit_of(request, job, lead=True)
    row = link_or_404(visit.job, link)
    if revoke_link(row, visit.now):
        messages.success(request, "The address is off. Phones lose what it showed.")
    else:
        messages.info(request, "It was off already.")
    return redirect("calendars", job=visit.job.key)


def _page(visit: Visit, made: dict[str, Any] | None = None) -> HttpResponse:
    return visit.page(
        "jobs/calendars.html",
        place="calendars",
        place_name="Calendars and links",
        groups=_rows(visit),
        made=made,
        only_here=only_here(),
        site_url=settings.SITE_URL,
        issued=visit.job.plans.filter(state="issued").exists(),
    )


def _rows(visit: Visit) -> list[dict[str, Any]]:
    links = links_without_account(visit.job)
    hands = [(hand.key, "", hand.label) for hand in visit.job.hands.all()]
    rooms = [("", room.key, room.label) for room in visit.job.rooms.all()]
    whole = [("", "", "The whole job")]
    subscribe = (
        "Point the phone’s camera at the square, or copy the address into the calendar "
        "under “subscribe”. Whoever has it can read this calendar."
    )
    walls = (
        "Point the hand’s own phone at the square. Whoever has the address reads this "
        "hand’s days and can log in the hand’s name."
    )
    client = (
        "Send it to the client. Whoever has it reads when rooms are out of use and "
        "what must not happen there; no names of hands, no drafts."
    )
    groups = (
        (WALLS, "My walls: a hand’s day on a phone", walls, hands),
        (CLIENT, "The client’s page", client, whole),
        (CALENDAR, "A calendar of each hand’s own days", subscribe, hands),
        (CALENDAR, "A room’s calendar, and when it is out of use", subscribe, rooms),
        (CALENDAR, "The calendar of everything", subscribe, whole),
    )
    return [
        {
            "name": name,
            "purpose": purpose,
            "how": how,
            "rows": [
                {
                    "hand": hand,
                    "room": room,
                    "name": label,
                    "link": links.get((purpose, hand, room)),
                }
                for hand, room, label in entries
            ],
        }
        for purpose, name, how, entries in groups
        if entries
    ]


def _qr(address: str) -> str:
    """The address as a square that a phone's camera reads, as inline SVG."""
    out = BytesIO()
    code = segno.make(address, error="m", micro=False)
    code.save(
        out, kind="svg", xmldecl=False, svgns=True, omitsize=True, border=3,
        dark="#231f1a", light="#fffdf8", svgclass=None, lineclass=None, nl=False,
        title="The address as a QR code",
    )  # fmt: skip
    # Made by us from an address of our own: nothing in it was typed by anybody.
    return mark_safe(out.getvalue().decode())  # noqa: S308
