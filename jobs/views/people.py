"""The people of a company: who is here, inviting, changing and removing them."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import ValidationError
from django.core.mail import send_mail
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import path, re_path
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from jobs import people
from jobs.models import User
from jobs.people_forms import InviteForm, PersonForm, TakeUpForm
from jobs.views.guard import only_here, person_of, put_beside

SIGNED_IN_BY = "django.contrib.auth.backends.ModelBackend"


@require_safe
def listing(request: HttpRequest) -> HttpResponse:
    """Everybody of the company, whoever is invited, and a form to invite."""
    return _listing(request, person_of(request, lead=True))


@never_cache
@require_POST
def invite(request: HttpRequest) -> HttpResponse:
    """Make a one-time link, show it once, and mail it where mail is set up."""
    lead = person_of(request, lead=True)
    form = InviteForm(request.POST, hands=people.hands_of(lead.company))
    if not form.is_valid():
        return _listing(request, lead, form=form, status=422)
    try:
        invitation, token = people.invite(
            company=lead.company, by=lead, now=timezone.now(), **form.cleaned_data
        )
    except ValidationError as error:
        put_beside(form, error)
        return _listing(request, lead, form=form, status=422)
    address = people.invitation_address(token)
    told = _mail_invitation(invitation.email, lead, address)
    made = {"name": f"{invitation.email}: the way in", "address": address, **told}
    return _listing(request, lead, made=made)


@require_POST
def withdraw(request: HttpRequest, invitation: int) -> HttpResponse:
    """Take an invitation back; its link opens nothing any more."""
    lead = person_of(request, lead=True)
    row = get_object_or_404(lead.company.invitations, pk=invitation)
    row.delete()
    messages.success(request, f"The invitation of {row.email} is taken back.")
    return redirect("people")


@require_http_methods(["GET", "HEAD", "POST"])
def one(request: HttpRequest, person: int) -> HttpResponse:
    """A person's role, and which hand they are."""
    lead, row = _lead_and_person(request, person)
    hands = people.hands_of(lead.company)
    if request.method != "POST":
        form = PersonForm(
            initial={"role": row.role, "hand_key": row.hand_key}, hands=hands
        )
        return _person(request, row, form)
    form = PersonForm(request.POST, hands=hands)
    if form.is_valid():
        try:
            people.change_person(person=row, **form.cleaned_data)
        except ValidationError as error:
            put_beside(form, error)
        else:
            messages.success(request, f"Kept: {row} is a {row.role}.")
            return redirect("people")
    row.refresh_from_db()
    return _person(request, row, form, status=422)


@never_cache
@require_POST
def new_password_link(request: HttpRequest, person: int) -> HttpResponse:
    """A one-time link for a new password, to hand to somebody who forgot theirs."""
    lead, row = _lead_and_person(request, person)
    made = {
        "name": f"{row}: a new password",
        "address": people.new_password_address(row),
        "hours": settings.PASSWORD_RESET_TIMEOUT // 3600,
    }
    return _listing(request, lead, made=made)


@require_http_methods(["GET", "HEAD", "POST"])
def remove(request: HttpRequest, person: int) -> HttpResponse:
    """Say what will go and what stays; then remove a person with their data."""
    _, row = _lead_and_person(request, person)
    context = {"person": row, "hand": people.hands_of(row.company).get(row.hand_key)}
    if request.method != "POST":
        return render(request, "people/remove.html", context)
    name, myself = str(row), row == request.user
    try:
        people.remove_person(person=row, now=timezone.now())
    except ValidationError as error:
        context["refused"] = error.messages
        return render(request, "people/remove.html", context, status=422)
    if myself:
        request.session.flush()
        return redirect("sign-in")
    messages.success(request, f"{name} is removed. What they logged stays, unnamed.")
    return redirect("people")


@never_cache
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def invited(request: HttpRequest, token: str) -> HttpResponse:
    """Take up an invitation: name and password, and one is in. Looking changes none."""
    now = timezone.now()
    invitation = people.invitation_of(token, now)
    if invitation is None:
        return render(request, "people/no_invitation.html", status=404)
    context = {"invitation": invitation, "form": TakeUpForm()}
    if request.method != "POST" or request.user.is_authenticated:
        return render(request, "people/invited.html", context)
    form = context["form"] = TakeUpForm(request.POST)
    if form.is_valid():
        try:
            person = people.take_up(token=token, now=now, **form.cleaned_data)
        except ValidationError as error:
            put_beside(form, error)
        else:
            login(request, person, backend=SIGNED_IN_BY)
            messages.success(request, f"Welcome to {person.company}, {person}.")
            return redirect("jobs")
    return render(request, "people/invited.html", context, status=422)


def _lead_and_person(request: HttpRequest, key: int) -> tuple[User, User]:
    lead = person_of(request, lead=True)
    return lead, get_object_or_404(lead.company.users, pk=key)


def _listing(
    request: HttpRequest,
    lead: User,
    *,
    form: InviteForm | None = None,
    made: dict[str, Any] | None = None,
    status: int = 200,
) -> HttpResponse:
    hands = people.hands_of(lead.company)
    now = timezone.now()
    rows = [
        {"person": person, "hand": hands.get(person.hand_key, person.hand_key)}
        for person in lead.company.users.order_by("-role", "name", "email")
    ]
    context = {
        "rows": rows,
        "invitations": lead.company.invitations.all(),
        "form": form or InviteForm(hands=hands),
        "made": made,
        "now": now,
        "mail_on": settings.MAIL_ON,
        "only_here": only_here(),
        "site_url": settings.SITE_URL,
    }
    return render(request, "people/listing.html", context, status=status)


def _person(
    request: HttpRequest, row: User, form: PersonForm, status: int = 200
) -> HttpResponse:
    return render(
        request, "people/person.html", {"person": row, "form": form}, status=status
    )


def _mail_invitation(email: str, lead: User, address: str) -> dict[str, Any]:
    """What the page says of the mail: that it went, or why it did not."""
    days = people.INVITED_FOR.days
    if not settings.MAIL_ON:
        return {"days": days}
    context = {"lead": lead, "company": lead.company, "address": address, "days": days}
    try:
        send_mail(
            f"{lead.company} invites you to Coat by Coat",
            render_to_string("people/invitation.txt", context),
            None,
            [email],
        )
    except OSError:  # SMTP's own errors are among them: refused, unknown, not there
        return {"days": days, "not_mailed": email}
    return {"days": days, "mailed": email}


urlpatterns = [
    path("people/", listing, name="people"),
    path("people/invite/", invite, name="invite"),
    path(
        "people/invited/<int:invitation>/withdraw/",
        withdraw,
        name="withdraw-invitation",
    ),
    path("people/<int:person>/", one, name="person"),
    path("people/<int:person>/link/", new_password_link, name="new-password-link"),
    path("people/<int:person>/remove/", remove, name="remove-person"),
    # 43 letters of URL-safe base 64 are 32 bytes; what is no token is no address.
    re_path(r"^invited/(?P<token>[A-Za-z0-9_-]{43})/$", invited, name="invited"),
]
