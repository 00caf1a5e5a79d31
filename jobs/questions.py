"""Questions that the planning worker answers without storing or changing a plan."""

import logging
from collections.abc import Callable
from datetime import datetime
from typing import Any

from jobs import runs
from scheduling.errors import BadInput
from scheduling.what_if import Forward

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


def answer(
    kind: type[runs.R], run_id: int, work_out: Callable[[runs.R], None]
) -> int | None:
    """Answer that question if it still waits; gives the id of the job's next one."""
    run = runs.claim(kind, run_id)
    if run is not None:
        try:
            work_out(run)
        except BadInput as error:
            runs.end(run, kind.State.FAILED, error=f"{REFUSED}\n{error}")
        except Exception:  # whatever it was, the question must not wait for ever
            log.exception("question %s of job %s broke down", run.pk, run.job_id)
            runs.end(run, kind.State.FAILED, error=BROKEN)
    return runs.following(kind, run_id)


def take_up_lost(kind: type[runs.R], now: datetime) -> list[int]:
    """Put questions whose worker was lost back; gives every id to send."""
    return runs.take_up_lost(kind, now, given_up=LOST)


def figures(found: Forward) -> dict[str, Any]:
    """What is kept of all that was tried, beside the ways that help."""
    return {
        "outcome": found.plan.outcome,
        "ends_at": found.end,
        "ways": len(found.levers),
        "tried": found.tried,
    }
