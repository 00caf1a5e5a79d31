"""Makes and switches off links that need no account. A token is told once, not kept."""

import hashlib
import secrets
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import OperationalError, transaction
from django.db.models import Q
from django.urls import reverse

from jobs.models import FeedLink, Job, User

TOKEN_BYTES = 32  # 256 bits: nobody guesses one
USE_NOTED = timedelta(hours=1)
PAGES = {
    FeedLink.Purpose.CALENDAR: "feed",
    FeedLink.Purpose.WALLS: "my-walls",
    FeedLink.Purpose.CLIENT: "client-page",
}


@transaction.atomic
def make_link(
    *,
    job: Job,
    at: datetime,
    hand_key: str = "",
    room_key: str = "",
    purpose: str = FeedLink.Purpose.CALENDAR,
    units: str = User.Units.METRIC,
) -> tuple[FeedLink, str]:
    """A new address for a hand, a room or, with neither, the job; and its token.

    The address this had before for the same purpose is switched off: its token is not
    known any more, so nobody could tell it to anyone. It speaks in ``units``.
    ValidationError names an unknown hand, room, purpose or units, and who a purpose
    is not for.
    """
    if hand_key and room_key:
        raise ValidationError("A link is for a hand or a room, not both.")
    _require("hand", hand_key, ["", *job.hands.values_list("key", flat=True)])
    _require("room", room_key, ["", *job.rooms.values_list("key", flat=True)])
    _require("purpose", purpose, FeedLink.Purpose.values)
    _require("units", units, User.Units.values)
    if purpose == FeedLink.Purpose.WALLS and not hand_key:
        raise ValidationError({"hand": "My walls are of a hand: name one."})
    if purpose == FeedLink.Purpose.CLIENT and (hand_key or room_key):
        raise ValidationError("The client's page is of the whole job.")
    Job.objects.select_for_update().get(pk=job.pk)  # two taps, one working address
    scope = {"hand_key": hand_key, "room_key": room_key, "purpose": purpose}
    for old in job.feed_links.filter(revoked_at=None, **scope):
        revoke_link(old, at)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    link = FeedLink.objects.create(
        company_id=job.company_id,
        job=job,
        token_sha256=token_sha256(token),
        created_at=at,
        units=units,
        **scope,
    )
    return link, token


def revoke_link(link: FeedLink, at: datetime) -> bool:
    """Switch an address off; false where it was off already."""
    changed = FeedLink.objects.filter(pk=link.pk, revoked_at=None).update(revoked_at=at)
    link.refresh_from_db(fields=("revoked_at",))
    return bool(changed)


def note_use(link: FeedLink, now: datetime) -> None:
    """Keep that the link was used, told to the hour; all that a GET ever changes."""
    before = now - USE_NOTED
    if link.last_used_at is not None and link.last_used_at > before:
        return
    unnoted = Q(last_used_at=None) | Q(last_used_at__lte=before)
    try:
        with transaction.atomic():
            FeedLink.objects.filter(unnoted, pk=link.pk).update(last_used_at=now)
    except OperationalError:
        pass  # a database that cannot be written to can still be read from


def token_sha256(token: str) -> str:
    """What is kept of a token. It is random: no salt and no slow hash is needed."""
    return hashlib.sha256(token.encode()).hexdigest()


def feed_address(token: str) -> str:
    """A calendar's address to copy, at the site's own address whoever asks."""
    return link_address(FeedLink.Purpose.CALENDAR, token)


def link_address(purpose: str, token: str) -> str:
    """The address to copy of any purpose, at the site's own address whoever asks."""
    page = PAGES[FeedLink.Purpose(purpose)]
    return f"{settings.SITE_URL}{reverse(page, kwargs={'token': token})}"


def webcal_address(token: str) -> str:
    """The same address in the form that a phone's calendar opens by itself."""
    return urlsplit(feed_address(token))._replace(scheme="webcal").geturl()


def _require(field: str, given: str, allowed: list[str]) -> None:
    if given not in allowed:
        known = ", ".join(sorted(filter(None, allowed))) or "none"
        raise ValidationError({field: f"{given!r}: one of {known}."})
