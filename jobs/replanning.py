"""One run of the planner: claim it, translate, plan, store the draft."""

import logging
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from jobs import runs
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

LOST = (
    f"The planning worker was lost {runs.ATTEMPTS} times while it planned this job. "
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
    run = runs.claim(PlanRun, run_id)
    if run is not None:
        try:
            _plan(run, budget)
        except BadInput as error:
            runs.end(run, PlanRun.State.FAILED, error=f"{REFUSED}\n{error}")
        except Exception:  # whatever it was, the run must not wait for ever
            log.exception("run %s of job %s broke down", run.pk, run.job_id)
            runs.end(run, PlanRun.State.FAILED, error=BROKEN)
    return runs.following(PlanRun, run_id)


def take_up_lost_runs(now: datetime) -> list[int]:
    """Put runs whose worker was lost back in the queue; gives every id to send."""

    def over(run: PlanRun) -> bool:
        newer = PlanRun.objects.filter(job_id=run.job_id, state=PlanRun.State.QUEUED)
        return run.stop_requested or newer.exists()

    return runs.take_up_lost(PlanRun, now, given_up=LOST, is_over=over)


def show_alive(now: datetime) -> None:
    """A planning worker's sign of life."""
    WorkerBeat.objects.update_or_create(name="worker", defaults={"at": now})


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

    plan = runs.with_reports(work, lambda progress: _report(run, progress))
    _store(run, planned, plan)


def _report(run: PlanRun, progress: Progress | None) -> bool:
    """Write heartbeat and progress; False when the run is stopped or no longer ours."""
    changes: dict[str, object] = {"heartbeat_at": timezone.now()}
    if progress is not None:
        changes |= {"progress": progress.text[:200], "best_finish": progress.finish}
    if not runs.ours(run).update(**changes):
        return False
    return runs.ours(run).filter(stop_requested=False).exists()


def _store(run: PlanRun, planned: problem.Job, plan: engine_plan.Plan) -> None:
    with transaction.atomic():
        Job.objects.select_for_update().get(pk=run.job_id)
        if not runs.ours(run).exists():
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
        runs.end(run, state, plan=row, best_finish=row.finish)
