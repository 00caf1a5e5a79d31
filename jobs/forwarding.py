"""What would bring a surface forward: claim the question, try the levers, keep all.

No plan is stored or changed: the levers' plans are thrown away, what they gain is kept.
"""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.utils import timezone

from jobs import questions, runs
from jobs.elsewhere import away_elsewhere, stints_elsewhere
from jobs.forward_words import helps_of
from jobs.models import ForwardRun
from jobs.translation import job_value
from scheduling.what_if import BUDGET, Forward, bring_forward


def work_out(run_id: int, *, budget: float = BUDGET) -> int | None:
    """Answer that question if it still waits; gives the id of the job's next one."""
    return questions.answer(ForwardRun, run_id, lambda run: _work_out(run, budget))


def take_up_lost_questions(now: datetime) -> list[int]:
    """Put questions whose worker was lost back; gives every id to send."""
    return questions.take_up_lost(ForwardRun, now)


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
        **questions.figures(found),
        "helps": [one.kept() for one in helps_of(found)],
    }
