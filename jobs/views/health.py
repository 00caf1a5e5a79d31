"""Is it alive, can it work: asked by machines, open to all, never cached."""

import logging
import os
from collections.abc import Callable

from celery import current_app
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from jobs.queries import worker_is_alive

log = logging.getLogger(__name__)

BROKER_PATIENCE_S = 2


@never_cache
@login_not_required
@require_safe
def healthz(request: HttpRequest) -> HttpResponse:
    """The web process answers. Asks nothing of anything else."""
    return HttpResponse("ok", content_type="text/plain; charset=utf-8")


@never_cache
@login_not_required
@require_safe
def readyz(request: HttpRequest) -> JsonResponse:
    """Each part "up" or "down"; 503 when one is down."""
    checks: dict[str, Callable[[], bool]] = {
        "database": _database,
        "broker": _broker,
        "worker": _worker,
    }
    state = {part: "up" if check() else "down" for part, check in checks.items()}
    status = 200 if all(word == "up" for word in state.values()) else 503
    return JsonResponse(state, status=status)


def _database() -> bool:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        log.warning("readyz: the database does not answer", exc_info=True)
        return False
    return True


def _broker() -> bool:
    folders = settings.CELERY_BROKER_TRANSPORT_OPTIONS
    if settings.CELERY_BROKER_URL == "filesystem://":
        return os.access(str(folders["data_folder_out"]), os.W_OK | os.X_OK)
    try:
        with current_app.connection_for_write() as broker:
            broker.ensure_connection(
                max_retries=1, interval_start=0, timeout=BROKER_PATIENCE_S
            )
    except Exception:  # each transport raises errors of its own
        log.warning("readyz: the broker does not answer", exc_info=True)
        return False
    return True


def _worker() -> bool:
    try:
        return worker_is_alive(timezone.now())
    except DatabaseError:
        return False  # a worker without the database cannot plan either
