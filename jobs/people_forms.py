"""Forms about people and their passwords."""

from typing import Any

from django import forms
from django.contrib.auth import forms as auth_forms

from jobs.forms import PlainField
from jobs.models import User

HINT_FOR_A_NEW_ONE = (
    "At least 8 characters; not a common password, not only digits, not like your "
    "name or e-mail."
)
ROLES = (
    (User.Role.HAND, "Hand: sees every page, logs coats, tests and readings"),
    (User.Role.LEAD, "Lead: plans, issues and sets up too, and invites"),
)
_NO_HAND = ("", "None of them")


def _password_field(label: str, kind: str, hint: str = "") -> forms.CharField:
    widget = forms.PasswordInput(attrs={"autocomplete": kind})
    field = forms.CharField(label=label, strip=False, help_text=hint, widget=widget)
    field.error_messages["required"] = "Empty: give a value."
    return field


class _RoleForm(forms.Form):
    """Lead or hand, and which hand of the company's jobs."""

    role = forms.ChoiceField(
        label="Role", choices=ROLES, initial=User.Role.HAND, widget=forms.RadioSelect
    )
    hand_key = forms.ChoiceField(
        label="Which hand of your jobs this is",
        required=False,
        help_text="Their days and walls are then found by their name.",
    )

    def __init__(self, *args: Any, hands: dict[str, str], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["hand_key"].choices = [_NO_HAND, *hands.items()]
        names = {
            "role": ", ".join(User.Role.values),
            "hand_key": ", ".join(hands.values()) or "none, since no job has hands yet",
        }
        for field, allowed in names.items():
            self.fields[field].error_messages = {
                "required": f"Nothing chosen: give one of {allowed}.",
                "invalid_choice": f"%(value)s is not here: give one of {allowed}.",
            }


class InviteForm(_RoleForm):
    """Whom to invite as what."""

    email = PlainField(
        label="E-mail",
        max_length=254,
        help_text="They sign in with it.",
        widget=forms.TextInput(
            attrs={
                "inputmode": "email", "autocapitalize": "none", "autocomplete": "off",
            }
        ),
    )  # fmt: skip
    field_order = ("email", "role", "hand_key")

    def clean_email(self) -> str:
        """An address, as people are kept: in small letters."""
        given = self.cleaned_data["email"].strip().lower()
        try:
            forms.EmailField().clean(given)
        except forms.ValidationError:
            message = f"{given} is no e-mail address: give one such as ann@example.com."
            raise forms.ValidationError(message) from None
        return given


class PersonForm(_RoleForm):
    """What a person is in the company."""


class TakeUpForm(forms.Form):
    """The invited person's name and password."""

    name = PlainField(
        label="Your name", max_length=200,
        help_text="As it stands beside what you log.",
    )  # fmt: skip
    password = _password_field("A password", "new-password", HINT_FOR_A_NEW_ONE)


class ForgottenForm(auth_forms.PasswordResetForm):
    """The address to which a link goes; what it finds is not told."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        field = self.fields["email"]
        field.label = "E-mail"
        field.widget = forms.TextInput(
            attrs={"inputmode": "email", "autocapitalize": "none",
                   "autocomplete": "email"}
        )  # fmt: skip
        field.error_messages["required"] = "Empty: give a value."
        field.error_messages["invalid"] = "Give an address such as ann@example.com."


class NewPasswordForm(auth_forms.SetPasswordForm):
    """A password that takes the place of a forgotten one, typed twice."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["new_password1"].help_text = HINT_FOR_A_NEW_ONE
        self.fields["new_password1"].label = "New password"
        self.fields["new_password2"].label = "The same again"
        self.fields["new_password2"].help_text = ""
        for field in self.fields.values():
            field.error_messages["required"] = "Empty: give a value."


class ChangePasswordForm(NewPasswordForm, auth_forms.PasswordChangeForm):
    """The same for somebody who knows the old one."""

    error_messages = {
        **auth_forms.PasswordChangeForm.error_messages,
        "password_incorrect": "This is not your password. Capitals count.",
    }
    field_order = ("old_password", "new_password1", "new_password2")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["old_password"].label = "Your password now"
