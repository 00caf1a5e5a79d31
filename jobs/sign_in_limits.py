"""How many wrong passwords are borne: by account and address, and by each alone.

Kept in the database, so that every process of every machine counts together.
"""

import unicodedata
from typing import Any

from axes.handlers.database import AxesDatabaseHandler
from axes.models import AccessAttempt
from django.conf import settings
from django.db.models import Sum
from django.http import HttpRequest
from django.utils import timezone

# Assumed: a whole crew behind one router mistypes less in a quarter of an hour; who
# tries one password on many accounts is stopped.
MOST_FROM_ADDRESS = 40
# Assumed: several addresses that try one account. Whoever is signed in stays so while
# it is shut, and the limit is wide, so that shutting it takes a stranger some trouble.
MOST_ON_ACCOUNT = 60


def account_of(request: HttpRequest, credentials: dict[str, Any] | None) -> str:
    """The account meant, spelt as accounts are kept: ANN@ and ann@ are one."""
    typed = (credentials or {}).get("username") or request.POST.get("username") or ""
    return unicodedata.normalize("NFKC", str(typed)).strip().lower()


class SignInLimits(AxesDatabaseHandler):
    """The limit on account and address together, and two wider ones."""

    def get_failures(
        self, request: HttpRequest, credentials: dict[str, Any] | None = None
    ) -> int:
        """Wrong passwords lately, as the narrow limit counts them.

        Where a wide limit is reached, as many as shut the narrow one.
        """
        recent = AccessAttempt.objects.filter(
            attempt_time__gt=timezone.now() - settings.AXES_COOLOFF_TIME
        )
        address = recent.filter(ip_address=request.axes_ip_address)
        account = recent.filter(username=account_of(request, credentials))
        wide = (
            _wrong(address) >= MOST_FROM_ADDRESS or _wrong(account) >= MOST_ON_ACCOUNT
        )
        pair = super().get_failures(request, credentials)
        return max(pair, settings.AXES_FAILURE_LIMIT) if wide else pair

    def is_locked(
        self, request: HttpRequest, credentials: dict[str, Any] | None = None
    ) -> bool:
        """Whether to refuse without looking at the password, nor counting the try."""
        request.axes_locked_out = super().is_locked(request, credentials)
        return request.axes_locked_out


def _wrong(attempts: Any) -> int:
    return attempts.aggregate(all=Sum("failures_since_start"))["all"] or 0
