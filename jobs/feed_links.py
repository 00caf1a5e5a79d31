"""Makes and switches off calendar addresses. A token is told once and never stored."""

import hashlib
import secrets
from datetime import datetime
from urllib.parse import urlsplit

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction
from django.urls import reverse

from jobs.models import FeedLink, Job, User

TOKEN_BYTES = 32  # 256 bits: nobody guesses one


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

    The address this calendar had before is switched off: its token is not known any
    more, so nobody could tell it to anyone. It speaks in ``units``. ValidationError
    names an unknown hand, room, purpose or units.
    """
    if hand_key and room_key:
        raise ValidationError("A link is for a hand or a room, not both.")
    _require("hand", hand_key, ["", *job.hands.values_list("key", flat=True)])
    _require("room", room_key, ["", *job.rooms.values_list("key", flat=True)])
    _require("purpose", purpose, FeedLink.Purpose.values)
    _require("units", units, User.Units.values)
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


def token_sha256(token: str) -> str:
    """What is kept of a token. It is random: no salt and no slow hash is needed."""
    return hashlib.sha256(token.encode()).hexdigest()


def feed_address(token: str) -> str:
    """The address to copy, at the site's own address whoever asks."""
    return f"{settings.SITE_URL}{reverse('feed', kwargs={'token': token})}"


def webcal_address(token: str) -> str:
    """The same address in the form that a phone's calendar opens by itself."""
    return urlsplit(feed_address(token))._replace(scheme="webcal").geturl()


def _require(field: str, given: str, allowed: list[str]) -> None:
    if given not in allowed:
        known = ", ".join(sorted(filter(None, allowed))) or "none"
        raise ValidationError({field: f"{given!r}: one of {known}."})
