"""Passwords: change one's own, ask for a link, set a new one by a link."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import views as auth_views
from django.contrib.auth.decorators import login_not_required
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse_lazy
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from jobs import tasks
from jobs.people import give_password, sign_out_elsewhere
from jobs.people_forms import ChangePasswordForm, ForgottenForm, NewPasswordForm
from jobs.views.guard import person_of


class _Again:
    """A refused form is the page again, as 422."""

    http_method_names = ("get", "head", "post", "options")

    def form_invalid(self, form: Any) -> HttpResponse:
        """What is wrong stands beside the fields."""
        return self.render_to_response(self.get_context_data(form=form), status=422)


class Change(_Again, auth_views.PasswordChangeView):
    """A new password for who knows the old one; sessions elsewhere end."""

    template_name = "people/change_password.html"
    form_class = ChangePasswordForm
    success_url = reverse_lazy("account")

    def form_valid(self, form: ChangePasswordForm) -> HttpResponse:
        """Stay signed in here, and say how many others were signed out."""
        answer = super().form_valid(form)
        ended = _end_others(self.request)
        messages.success(self.request, f"Your password is changed. {ended}")
        return answer


@require_POST
def sign_out_others(request: HttpRequest) -> HttpResponse:
    """End one's sessions on other devices."""
    messages.success(request, _end_others(request))
    return redirect("account")


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def forgotten(request: HttpRequest) -> HttpResponse:
    """Ask for a link by mail; the answer is the same whoever has the address."""
    form = ForgottenForm(request.POST or None)
    context = {"form": form, "mail_on": settings.MAIL_ON}
    if request.method != "POST":
        return render(request, "people/forgotten.html", context)
    if not settings.MAIL_ON or not form.is_valid():
        return render(request, "people/forgotten.html", context, status=422)
    email = form.cleaned_data["email"]
    # By the queue: a page that waits for the mail server tells who has an account.
    # Robust: with the broker away nothing goes out, and the answer is still the same.
    with transaction.atomic():
        transaction.on_commit(lambda: tasks.mail_new_password.delay(email), robust=True)
    return redirect("forgotten-sent")


@login_not_required
@require_safe
def forgotten_sent(request: HttpRequest) -> HttpResponse:
    """What happens now, whether or not the address has an account."""
    return render(request, "people/forgotten_sent.html")


@method_decorator(login_not_required, name="dispatch")
class New(_Again, auth_views.PasswordResetConfirmView):
    """A new password by a one-time link; every session of the person ends.

    The token goes from the address into the session first, so that it is not told on.
    """

    template_name = "people/new_password.html"
    form_class = NewPasswordForm
    success_url = reverse_lazy("sign-in")

    def form_valid(self, form: NewPasswordForm) -> HttpResponse:
        """Set it, and have them sign in with it."""
        give_password(person=self.user, password=form.cleaned_data["new_password1"])
        self.request.session.flush()
        messages.success(self.request, "Your new password is kept. Sign in with it.")
        return redirect(self.success_url)

    def render_to_response(self, context: Any, **options: Any) -> HttpResponse:
        """A link that opens nothing is 404."""
        if not context.get("validlink"):
            options["status"] = 404
        return super().render_to_response(context, **options)


def _end_others(request: HttpRequest) -> str:
    person = person_of(request)
    ended = sign_out_elsewhere(person, request.session.session_key, timezone.now())
    if not ended:
        return "You were signed in nowhere else."
    others = "1 other place was" if ended == 1 else f"{ended} other places were"
    return f"{others} signed out."


urlpatterns = [
    path("account/password/", Change.as_view(), name="change-password"),
    path("account/elsewhere/", sign_out_others, name="sign-out-elsewhere"),
    path("forgotten/", forgotten, name="forgotten"),
    path("forgotten/sent/", forgotten_sent, name="forgotten-sent"),
    path("new-password/<uidb64>/<token>/", New.as_view(), name="new-password"),
]
