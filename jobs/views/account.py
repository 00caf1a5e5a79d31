"""Signing in and out, and how a person is called and reads degrees."""

from django.contrib import messages
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST

from jobs.forms import AccountForm, SignInForm
from jobs.models import User
from jobs.people import signed_in
from scheduling.errors import shown


class SignIn(LoginView):
    """E-mail and password; too many wrong ones and the address must wait."""

    template_name = "sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_invalid(self, form: SignInForm) -> HttpResponse:
        """The page again, as 422, so that logs and programs see the truth."""
        return self.render_to_response(self.get_context_data(form=form), status=422)


class SignOut(LogoutView):
    """By POST only: a link cannot sign anybody out."""

    http_method_names = ("post", "options")


@require_http_methods(["GET", "HEAD", "POST"])
def account(request: HttpRequest) -> HttpResponse:
    """Name and units, the password, and where else one is signed in."""
    others = signed_in(request.user, timezone.now()) - 1
    form = AccountForm(request.POST or None, instance=request.user)
    if request.method != "POST":
        return render(request, "account.html", {"form": form, "others": others})
    if not form.is_valid():
        request.user.refresh_from_db()
        return render(
            request, "account.html", {"form": form, "others": others}, status=422
        )
    form.save()
    messages.success(request, "Kept.")
    return redirect("account")


@require_POST
def switch_units(request: HttpRequest) -> HttpResponse:
    """The other system, or the one asked for; back to the page it was asked from."""
    units = request.POST.get("units", "")
    if units not in User.Units.values:
        allowed = ", ".join(User.Units.values)
        messages.error(request, f"units: {shown(units)}: one of {allowed}.")
    else:
        request.user.units = units
        request.user.save(update_fields=("units",))
    back = request.POST.get("back", "")
    ours = url_has_allowed_host_and_scheme(back, allowed_hosts=None)
    if not ours or not back.startswith("/"):
        back = reverse("account")
    return HttpResponseRedirect(back)
