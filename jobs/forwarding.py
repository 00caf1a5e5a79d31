"""What would bring a surface forward: claim the question, try the levers, keep all.

No plan is stored or changed: the levers' plans are thrown away, what they gain is kept.
"""

import logging
from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.utils import timezone

from jobs import runs
from jobs.elsewhere import away_elsewhere, stints_elsewhere
from jobs.forward_words import helps_of
from jobs.models import ForwardRun
from jobs.translation import job_value
from scheduling.errors import BadInput
from scheduling.what_if import BUDGET, Forward, bring_forward

log = logging.getLogger(__name__)

LOST = (
    f"The planning worker was lost {runs.ATTEMPTS} times over this question. No plan "
    "has changed. Ask again; if it happens once more, tell whoever runs this service."
)
REFUSED = "This cannot be worked out for the job as it stands. No plan has changed."
BROKEN = (
    "The planner broke down on this question. No plan has changed; whoever runs this "
    "service finds the cause in its log."
)


def work_out(run_id: int, *, budget: float = BUDGET) -> int | None:
    """Answer that question if it still waits; gives the id of the job's next one."""
    run = runs.claim(ForwardRun, run_id)
    if run is not None:
        try:
            _work_out(run, budget)
        except BadInput as error:
            runs.end(run, ForwardRun.State.FAILED, error=f"{REFUSED}\n{error}")
        except Exception:  # whatever it was, the question must not wait for ever
            log.exception("question %s of job %s broke down", run.pk, run.job_id)
            runs.end(run, ForwardRun.State.FAILED, error=BROKEN)
    return runs.following(ForwardRun, run_id)


def take_up_lost_questions(now: datetime) -> list[int]:
    """Put questions whose worker was lost back; gives every id to send."""
    return runs.take_up_lost(ForwardRun, now, given_up=LOST)


def _work_out(run: ForwardRun, budget: float) -> None:
    value = job_value(run.job)
    crewed, _ = away_elsewhere(value, stints_elsewhere(run.job, run.at))

    def work(on_news: Callable[[Forward], bool]) -> Forward:
        return bring_forward(
            crewed,
            run.surface_key,
            at=run.at.astimezone(value.site.tz),
            budget=budget,
            on_news=on_news,
        )

    found = runs.with_reports(work, lambda news: _report(run, news))
    runs.end(run, ForwardRun.State.DONE, **_columns(found))


def _report(run: ForwardRun, news: Forward | None) -> bool:
    """Write heartbeat and what is found so far; False when the run is not ours."""
    changes = {} if news is None else _columns(news)
    return bool(runs.ours(run).update(heartbeat_at=timezone.now(), **changes))


def _columns(found: Forward) -> dict[str, Any]:
    return {
        "outcome": found.plan.outcome,
        "ends_at": found.end,
        "ways": len(found.levers),
        "tried": found.tried,
        "helps": [one.kept() for one in helps_of(found)],
    }
