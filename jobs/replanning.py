"""One run of the planner: claim it, translate, plan, store the draft.

The run's row is the truth. A run is claimed once; a worker that lost its claim while it
planned (it hung, it was taken for dead) throws its result away.
"""

import logging
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import suppress
from dataclasses import replace
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction
from django.db.models import F, Q
from django.utils import timezone

from jobs.elsewhere import away_elsewhere, stints_elsewhere
from jobs.models import Job, Plan, PlanRun, WorkerBeat
from jobs.queries import latest_plan, previous_plan
from jobs.translation import job_value, plan_value, store_plan
from scheduling import plan as engine_plan
from scheduling import problem
from scheduling.errors import BadInput
from scheduling.job_file import job_sha256
from scheduling.plan_file import write_plan
from scheduling.planning import Progress, plan_job

log = logging.getLogger(__name__)

BUDGET = 10.0  # deterministic units of about a second, as the plan command's default
REPORT_EVERY_S = 0.5
# A running row without a heartbeat for so long has lost its worker. Sixty times the
# time between heartbeats: a machine that swaps is slow, not dead.
LOST_AFTER = timedelta(seconds=30)
# A queued row whose message was lost with the broker is sent again after this.
FORGOTTEN_AFTER = timedelta(seconds=50)
ATTEMPTS = 3  # a job that takes its worker down with it must not do so for ever

LOST = (
    f"The planning worker was lost {ATTEMPTS} times while it planned this job. "
    "The last plan stays. Ask again; if it happens once more, tell whoever runs "
    "this service."
)
REFUSED = "This job cannot be planned as it stands. The last plan stays."
BROKEN = (
    "The planner broke down on this job. The last plan stays; whoever runs this "
    "service finds the cause in its log."
)


def replan(run_id: int, *, budget: float = BUDGET) -> int | None:
    """Plan that run if it still waits; gives the id of the job's next waiting run."""
    run = _claim(run_id)
    if run is not None:
        try:
            _plan(run, budget)
        except BadInput as error:
            _end(run, PlanRun.State.FAILED, error=f"{REFUSED}\n{error}")
        except Exception:  # whatever it was, the run must not wait for ever
            log.exception("run %s of job %s broke down", run.pk, run.job_id)
            _end(run, PlanRun.State.FAILED, error=BROKEN)
    asked = PlanRun.objects.filter(pk=run_id).values_list("job_id", flat=True).first()
    waiting = PlanRun.objects.filter(job_id=asked, state=PlanRun.State.QUEUED)
    running = PlanRun.objects.filter(job_id=asked, state=PlanRun.State.RUNNING)
    following = waiting.exclude(pk=run_id).values_list("pk", flat=True).first()
    return None if running.exists() else following


def take_up_lost_runs(now: datetime) -> list[int]:
    """Put runs whose worker was lost back in the queue; gives every id to send."""
    PlanRun.objects.filter(
        state=PlanRun.State.RUNNING,
        heartbeat_at__lt=now - LOST_AFTER,
        attempts__gte=ATTEMPTS,
    ).update(state=PlanRun.State.FAILED, error=LOST, finished_at=now)
    lost = PlanRun.objects.filter(
        state=PlanRun.State.RUNNING, heartbeat_at__lt=now - LOST_AFTER
    )
    for run in lost:
        newer = PlanRun.objects.filter(job_id=run.job_id, state=PlanRun.State.QUEUED)
        over = run.stop_requested or newer.exists()
        state = PlanRun.State.STOPPED if over else PlanRun.State.QUEUED
        # Still lost, and nobody has asked for the same job in this very moment.
        with suppress(IntegrityError), transaction.atomic():
            lost.filter(pk=run.pk).update(
                state=state, finished_at=now if over else None, progress=""
            )
    forgotten = Q(requested_at__lt=now - FORGOTTEN_AFTER) | Q(attempts__gt=0)
    waiting = PlanRun.objects.filter(forgotten, state=PlanRun.State.QUEUED)
    return list(waiting.values_list("pk", flat=True))


def show_alive(now: datetime) -> None:
    """A planning worker's sign of life."""
    WorkerBeat.objects.update_or_create(name="worker", defaults={"at": now})


def _claim(run_id: int) -> PlanRun | None:
    now = timezone.now()
    busy = PlanRun.objects.filter(state=PlanRun.State.RUNNING).values("job_id")
    waiting = PlanRun.objects.filter(pk=run_id, state=PlanRun.State.QUEUED)
    try:
        with transaction.atomic():
            claimed = waiting.exclude(job_id__in=busy).update(
                state=PlanRun.State.RUNNING,
                started_at=now,
                heartbeat_at=now,
                attempts=F("attempts") + 1,
                progress="Reading the job",
            )
    except IntegrityError:  # another run of this job was claimed at the same moment
        return None
    if not claimed:
        return None
    return PlanRun.objects.select_related("job").get(pk=run_id)


def _plan(run: PlanRun, budget: float) -> None:
    planned = job_value(run.job)
    before = previous_plan(run.job)
    previous = None if before is None else plan_value(before)
    crewed, notes = away_elsewhere(planned, stints_elsewhere(run.job, run.at))

    def work(on_progress: Callable[[Progress], bool]) -> engine_plan.Plan:
        plan = plan_job(
            crewed,
            at=run.at.astimezone(planned.site.tz),
            budget=budget,
            previous=previous,
            on_progress=on_progress,
        )
        # The plan is the stored job's: what other jobs hold is no part of it.
        sha = job_sha256(planned)
        return replace(plan, job_sha256=sha, notes=(*plan.notes, *notes))

    _store(run, planned, _with_reports(run, work))


def _with_reports(
    run: PlanRun,
    work: Callable[[Callable[[Progress], bool]], engine_plan.Plan],
) -> engine_plan.Plan:
    """Do the work in a thread while this one writes heartbeats and reads the stop flag.

    The planner calls back from threads of its own; the database is spoken to only here.
    """
    latest: list[Progress] = []
    stop = False

    def on_progress(progress: Progress) -> bool:
        latest[:] = [progress]
        return not stop

    with ThreadPoolExecutor(max_workers=1, thread_name_prefix="planner") as planner:
        future: Future[engine_plan.Plan] = planner.submit(work, on_progress)
        try:
            while not wait([future], timeout=REPORT_EVERY_S).done:
                stop = stop or not _report(run, latest[-1] if latest else None)
        except BaseException:  # told to stop: let the thread end before leaving
            stop = True
            raise
    return future.result()


def _report(run: PlanRun, progress: Progress | None) -> bool:
    """Write heartbeat and progress; False when the run is stopped or no longer ours."""
    changes: dict[str, object] = {"heartbeat_at": timezone.now()}
    if progress is not None:
        changes |= {"progress": progress.text[:200], "best_finish": progress.finish}
    if not _ours(run).update(**changes):
        return False
    return _ours(run).filter(stop_requested=False).exists()


def _ours(run: PlanRun):
    return PlanRun.objects.filter(
        pk=run.pk, state=PlanRun.State.RUNNING, attempts=run.attempts
    )


def _store(run: PlanRun, planned: problem.Job, plan: engine_plan.Plan) -> None:
    with transaction.atomic():
        Job.objects.select_for_update().get(pk=run.job_id)
        if not _ours(run).exists():
            log.warning("run %s was taken over while it planned", run.pk)
            return
        last = latest_plan(run.job)
        unissued = last is not None and last.state == Plan.State.DRAFT
        if unissued and last.content == write_plan(plan):
            # No new number for it, but it holds from this moment on.
            row = last
            row.planned_at, row.made_at = run.at, timezone.now()
            row.save(update_fields=("planned_at", "made_at"))
        else:
            row = store_plan(run.job, plan, planned=planned, planned_at=run.at)
        stopped = PlanRun.objects.filter(pk=run.pk, stop_requested=True).exists()
        state = PlanRun.State.STOPPED if stopped else PlanRun.State.DONE
        _end(run, state, plan=row, best_finish=row.finish)


def _end(run: PlanRun, state: PlanRun.State, **columns: object) -> None:
    _ours(run).update(state=state, finished_at=timezone.now(), progress="", **columns)
