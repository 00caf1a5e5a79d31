"""When the air turns: claim the question, judge the issued plan, try what buys it back.

No plan is stored or changed: what each lever changes is kept, for the lead to accept.
"""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from django.utils import timezone

from jobs import questions, runs, turn_words
from jobs.elsewhere import away_elsewhere, stints_elsewhere
from jobs.forward_words import Helps
from jobs.models import TurnRun
from jobs.translation import job_value, plan_value
from jobs.turn_questions import supposed
from scheduling.job_changes import change_of
from scheduling.judging import judge
from scheduling.what_if import BUDGET, Forward, bring_forward


def work_out(run_id: int, *, budget: float = BUDGET) -> int | None:
    """Answer that question if it still waits; gives the id of the job's next one."""
    return questions.answer(TurnRun, run_id, lambda run: _work_out(run, budget))


def take_up_lost_questions(now: datetime) -> list[int]:
    """Put questions whose worker was lost back; gives every id to send."""
    return questions.take_up_lost(TurnRun, now)


def _work_out(run: TurnRun, budget: float) -> None:
    value = job_value(run.job)
    at = run.at.astimezone(value.site.tz)
    other = supposed(value, run.question, at=at)
    issued = plan_value(run.job.plans.get(number=run.plan_number))
    judged = judge(other, issued, at=at)
    runs.ours(run).update(judged=turn_words.kept(judged))
    crewed, _ = away_elsewhere(other, stints_elsewhere(run.job, run.at))
    slipping = {slip.surface for slip in turn_words.breaks(judged) if slip.surface}
    rooms = dict.fromkeys(
        surface.room for surface in other.surfaces if surface.id in slipping
    )

    def work(on_news: Callable[[Forward], bool]) -> Forward:
        return bring_forward(
            crewed, None, at=at, rooms=rooms, budget=budget, on_news=on_news
        )

    def report(news: Forward | None) -> bool:
        changes = {} if news is None else _columns(crewed, news)
        return bool(runs.ours(run).update(heartbeat_at=timezone.now(), **changes))

    found = runs.with_reports(work, report)
    runs.end(run, TurnRun.State.DONE, **_columns(crewed, found))


def _columns(job: Any, found: Forward) -> dict[str, Any]:
    return {
        **questions.figures(found),
        "helps": [
            {
                **Helps.of(gain, found.end).kept(),
                "days": gain.sooner_days,
                "change": change_of(job, gain.lever.job),
            }
            for gain in found.gains
            if found.end is not None
        ],
    }


def helps_of(kept: Mapping[str, Any]) -> Helps:
    """What is told of one kept way."""
    told = {key: value for key, value in kept.items() if key not in ("days", "change")}
    return Helps.read(told)
