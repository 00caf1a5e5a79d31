"""Who belongs to a company: invite, take up, change, remove; and their passwords.

A token is told once and never stored. A person's mistake is a ValidationError.
"""

import hashlib
import secrets
from datetime import datetime, timedelta

from axes.models import AccessAttempt
from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.tokens import default_token_generator
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.db.models import Q
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from jobs.models import Company, FeedLink, Hand, Invitation, SignedIn, User

TOKEN_BYTES = 32  # 256 bits: nobody guesses one
INVITED_FOR = timedelta(days=7)  # Assumed: over a weekend and a few days of work
# Assumed: so nobody can fill a stranger's mailbox, and a lost mail comes again soon.
MAILED_AGAIN_AFTER = timedelta(minutes=5)


@transaction.atomic(durable=True)
def invite(
    *,
    company: Company,
    email: str,
    by: User,
    now: datetime,
    role: str = User.Role.HAND,
    hand_key: str = "",
) -> tuple[Invitation, str]:
    """A one-time way in for ``email``, and its token; an older one stops working."""
    _hold(company)
    email = email.strip().lower()
    validate_email(email)
    if company.users.filter(email=email).exists():
        raise ValidationError({"email": f"{email} belongs to {company} already."})
    _check_hand(company, hand_key)
    company.invitations.filter(email=email).delete()
    company.invitations.filter(expires_at__lte=now).delete()
    token = secrets.token_urlsafe(TOKEN_BYTES)
    invitation = Invitation(
        company=company,
        email=email,
        role=role,
        hand_key=hand_key,
        token_sha256=_sha256(token),
        created_at=now,
        expires_at=now + INVITED_FOR,
        made_by=by,
    )
    invitation.full_clean()
    invitation.save()
    return invitation, token


def invitation_of(token: str, now: datetime) -> Invitation | None:
    """What the token opens, None where it was used, taken back, or is too old."""
    open_ones = Invitation.objects.filter(expires_at__gt=now)
    return open_ones.select_related("company").filter(
        token_sha256=_sha256(token)
    ).first()  # fmt: skip


@transaction.atomic(durable=True)
def take_up(*, token: str, name: str, password: str, now: datetime) -> User:
    """The invited person's account; the invitation is used up.

    ValidationError without a field where the token opens nothing (any more).
    """
    invitation = invitation_of(token, now)
    if invitation is not None:  # one of two who come at a time goes first
        _hold(invitation.company)
        invitation = invitation_of(token, now)
    if invitation is None:
        raise ValidationError("This link was used, taken back, or is too old.")
    if User.objects.filter(email=invitation.email).exists():
        message = (
            f"{invitation.email} cannot be used here. Ask for an invitation to "
            "another address."
        )
        raise ValidationError(message)
    hand_key = invitation.hand_key
    if invitation.company.users.filter(hand_key=hand_key).exists():
        hand_key = ""  # somebody else is that hand by now
    person = User(
        email=invitation.email,
        name=name.strip(),
        company=invitation.company,
        role=invitation.role,
        hand_key=hand_key,
    )
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise ValidationError({"password": error.messages}) from None
    person.set_password(password)
    person.full_clean()
    person.save()
    invitation.delete()
    return person


@transaction.atomic(durable=True)
def change_person(*, person: User, role: str, hand_key: str) -> None:
    """Make a person a lead or a hand of the company, and a hand of its jobs."""
    _hold(person.company)
    person.refresh_from_db()
    if role != User.Role.LEAD:
        _not_the_last_lead(person, "role")
    if hand_key != person.hand_key:
        _check_hand(person.company, hand_key)
    person.role, person.hand_key = role, hand_key
    person.full_clean()
    person.save(update_fields=("role", "hand_key"))


@transaction.atomic(durable=True)
def remove_person(*, person: User, now: datetime) -> None:
    """Remove a person with their data: what they logged stays, without the name.

    Their sessions end, invitations to their address and the calendar addresses of the
    hand they are stop working.
    """
    company = person.company
    _hold(company)
    _not_the_last_lead(person, None)
    AccessAttempt.objects.filter(username=person.email).delete()
    company.invitations.filter(email=person.email).delete()
    if person.hand_key:
        FeedLink.objects.filter(
            company=company, hand_key=person.hand_key, revoked_at=None
        ).update(revoked_at=now)
    person.delete()


def hands_of(company: Company) -> dict[str, str]:
    """The hands of a company's jobs, id to name: the name the newest job has."""
    rows = Hand.objects.filter(job__company=company).order_by("job__created_at", "pk")
    names: dict[str, str] = {}
    for key, name in rows.values_list("key", "name"):
        names[key] = name or names.get(key, key)
    return dict(sorted(names.items(), key=lambda row: row[1].casefold()))


def signed_in(person: User, now: datetime) -> int:
    """In how many places a person is signed in."""
    return SignedIn.objects.filter(user=person, expire_date__gt=now).count()


def sign_out_elsewhere(person: User, here: str | None, now: datetime) -> int:
    """End a person's sessions but the one of key ``here``; how many were alive."""
    others = SignedIn.objects.filter(user=person).exclude(session_key=here)
    alive = others.filter(expire_date__gt=now).count()
    others.delete()
    return alive


@transaction.atomic
def give_password(*, person: User, password: str) -> int:
    """A new password; every session ends. How many were ended."""
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise ValidationError({"password": error.messages}) from None
    person.set_password(password)
    person.save(update_fields=("password",))
    AccessAttempt.objects.filter(username=person.email).delete()
    ended, _ = SignedIn.objects.filter(user=person).delete()
    return ended


def invitation_address(token: str) -> str:
    """The address to hand over, at the site's own address whoever asks."""
    return f"{settings.SITE_URL}{reverse('invited', kwargs={'token': token})}"


def new_password_address(person: User) -> str:
    """A link that sets a new password once, within PASSWORD_RESET_TIMEOUT."""
    given = {
        "uidb64": urlsafe_base64_encode(force_bytes(person.pk)),
        "token": default_token_generator.make_token(person),
    }
    return f"{settings.SITE_URL}{reverse('new-password', kwargs=given)}"


def may_mail_password(person: User, now: datetime) -> bool:
    """Whether a link may be mailed now; true once for any number who ask at a time."""
    due = Q(password_mailed_at=None) | Q(
        password_mailed_at__lte=now - MAILED_AGAIN_AFTER
    )
    this = User.objects.filter(due, pk=person.pk)
    return bool(this.update(password_mailed_at=now))


def _hold(company: Company) -> None:
    """One change to a company's people at a time: two leads cannot both go."""
    Company.objects.select_for_update().get(pk=company.pk)


def _check_hand(company: Company, hand_key: str) -> None:
    if not hand_key:
        return
    known = hands_of(company)
    if hand_key not in known:
        allowed = ", ".join(known.values()) or "none, since no job has hands yet"
        raise ValidationError({"hand_key": f"{hand_key}: one of {allowed}."})
    taken = company.users.filter(hand_key=hand_key).first()
    if taken is not None:
        raise ValidationError({"hand_key": f"{known[hand_key]} is {taken} already."})


def _not_the_last_lead(person: User, field: str | None) -> None:
    others = person.company.users.filter(role=User.Role.LEAD, is_active=True)
    if person.is_lead and not others.exclude(pk=person.pk).exists():
        message = f"{person} is the last lead. Make somebody else a lead first."
        raise ValidationError({field: message} if field else message)


def _sha256(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
