"""Runs of the planning worker: claimed once, seen alive, taken up again when lost.

The run's row is the truth. A run is claimed once by conditional update; a worker that
lost its claim while it worked (it hung, it was taken for dead) throws its result away.
"""

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import suppress
from datetime import datetime, timedelta
from typing import TypeVar

from django.db import IntegrityError, transaction
from django.db.models import F, Q, QuerySet
from django.utils import timezone

from jobs.models.plan import Run

REPORT_EVERY_S = 0.5
# A running row without a heartbeat for so long has lost its worker. Sixty times the
# time between heartbeats: a machine that swaps is slow, not dead.
LOST_AFTER = timedelta(seconds=30)
# A queued row whose message was lost with the broker is sent again after this.
FORGOTTEN_AFTER = timedelta(seconds=50)
ATTEMPTS = 3  # a job that takes its worker down with it must not do so for ever

R = TypeVar("R", bound=Run)
News = TypeVar("News")
Result = TypeVar("Result")


def claim(kind: type[R], run_id: int) -> R | None:
    """The run, from now on ours, if it waits and no other of its job is running."""
    now = timezone.now()
    busy = kind.objects.filter(state=Run.State.RUNNING).values("job_id")
    waiting = kind.objects.filter(pk=run_id, state=Run.State.QUEUED)
    try:
        with transaction.atomic():
            claimed = waiting.exclude(job_id__in=busy).update(
                state=Run.State.RUNNING,
                started_at=now,
                heartbeat_at=now,
                attempts=F("attempts") + 1,
                progress="Reading the job",
            )
    except IntegrityError:  # another run of this job was claimed at the same moment
        return None
    if not claimed:
        return None
    return kind.objects.select_related("job").get(pk=run_id)


def ours(run: R) -> QuerySet[R]:
    """The run's row as long as our claim on it holds; else nothing."""
    return type(run).objects.filter(
        pk=run.pk, state=Run.State.RUNNING, attempts=run.attempts
    )


def end(run: Run, state: Run.State, **columns: object) -> None:
    """The run is over, if it is still ours."""
    ours(run).update(state=state, finished_at=timezone.now(), progress="", **columns)


def following(kind: type[Run], run_id: int) -> int | None:
    """The next waiting run of the same job, if none of it runs."""
    asked = kind.objects.filter(pk=run_id).values_list("job_id", flat=True).first()
    waiting = kind.objects.filter(job_id=asked, state=Run.State.QUEUED)
    running = kind.objects.filter(job_id=asked, state=Run.State.RUNNING)
    found = (
        waiting.exclude(pk=run_id).order_by("pk").values_list("pk", flat=True).first()
    )
    return None if running.exists() else found


def with_reports(
    work: Callable[[Callable[[News], bool]], Result],
    report: Callable[[News | None], bool],
) -> Result:
    """Do the work in a thread while this one reports its latest news every so often.

    ``work`` calls back with news, from threads of its own, and is to end when told
    False: as soon as ``report`` has said so. The database is spoken to only here.
    """
    latest: list[News] = []
    stop = False

    def on_news(news: News) -> bool:
        latest[:] = [news]
        return not stop

    with ThreadPoolExecutor(max_workers=1, thread_name_prefix="planner") as planner:
        future: Future[Result] = planner.submit(work, on_news)
        try:
            while not wait([future], timeout=REPORT_EVERY_S).done:
                stop = stop or not report(latest[-1] if latest else None)
        except BaseException:  # told to stop: let the thread end before leaving
            stop = True
            raise
    return future.result()


def take_up_lost(
    kind: type[R],
    now: datetime,
    *,
    given_up: str,
    is_over: Callable[[R], bool] = lambda run: False,
) -> list[int]:
    """Put runs whose worker was lost back in the queue; gives every id to send.

    What ``is_over`` (nobody waits for it any more) stops instead, and what was lost
    too often fails with the words ``given_up``.
    """
    running = kind.objects.filter(state=Run.State.RUNNING)
    lost = running.filter(heartbeat_at__lt=now - LOST_AFTER)
    lost.filter(attempts__gte=ATTEMPTS).update(
        state=Run.State.FAILED, error=given_up, finished_at=now
    )
    for run in lost:
        over = is_over(run)
        state = Run.State.STOPPED if over else Run.State.QUEUED
        # Still lost, and nobody has asked for the same job in this very moment.
        with suppress(IntegrityError), transaction.atomic():
            lost.filter(pk=run.pk).update(
                state=state, finished_at=now if over else None, progress=""
            )
    forgotten = Q(requested_at__lt=now - FORGOTTEN_AFTER) | Q(attempts__gt=0)
    waiting = kind.objects.filter(forgotten, state=Run.State.QUEUED)
    return list(waiting.values_list("pk", flat=True))
