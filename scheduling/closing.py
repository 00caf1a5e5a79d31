"""Proving a plan shortest: the exact model asked for ever later finishes.

For a finish close to the bound the earliest and latest starts leave little choice, so
that the exact model is small and soon refuted, or solved. Asked upwards, the first
finish that is not refuted holds the shortest plan: destructive bounds (after Klein &
Scholl 1999).
"""

from dataclasses import dataclass, replace
from time import perf_counter

from scheduling.bound import Bounder
from scheduling.placing import Placing
from scheduling.process import Process
from scheduling.rest import Rest, cuts, rest_from
from scheduling.solver import SHARES, Effort, GoOn, solve

MOST_UNITS = 150  # above that a refutation takes longer than most have to plan
STEP = 0.02  # of the finish: how far the first question lies above the bound
LEAST = 0.2  # units or seconds: too few to ask anything
GROWS = 2.0  # how much farther each next one does
ASKING = 0.4  # units that a question costs before it is searched: making its model
END_UNITS = 100  # of a big job, planned again behind the stints that stand
END_GROWS = 25
END_SHARE = 0.7  # of what is left, for one end
TRIAL_SHARE = 0.85  # of what is left for one question


@dataclass(slots=True)
class Closed:
    """The best plan, the slot before which none ends, and the effort spent."""

    best: Placing
    low: int
    spent: float = 0.0  # budget units, or seconds where those are told
    stopped: bool = False


def close_in(
    process: Process,
    start: Placing,
    bounder: Bounder,
    *,
    effort: Effort,
    go_on: GoOn | None = None,
) -> Closed:
    """Raise the bound and shorten ``start`` until they meet, if they do in time.

    For jobs without dates: a finish is all that a plan is asked for here.
    """
    began = perf_counter()
    now = Closed(best=start, low=bounder.finish_low(0, _finish(start)))

    def asked(placing: Placing | None) -> bool:
        now.stopped = now.stopped or (go_on is not None and not go_on(placing))
        return not now.stopped

    step = STEP
    while not now.stopped and now.low < _finish(now.best):
        trial = _question(effort, now.spent)
        if trial is None:
            break
        goal = min(int(now.low * (1 + step)), _finish(now.best) - 1)
        spans = bounder.spans(goal)
        if spans is None or bounder.refuted(goal):
            now.low = goal + 1
            continue
        solved = solve(
            process,
            None,
            effort=trial,
            horizon=goal,
            spans=spans,
            aims=("finish",),
            go_on=asked if go_on is not None else None,
        )
        seconds = perf_counter() - began
        asked_for = now.spent + solved.spent + ASKING
        now.spent = asked_for if effort.seconds is None else seconds
        step *= GROWS
        if solved.outcome == "infeasible":
            now.low = goal + 1
        elif solved.placing is not None:
            now.best = solved.placing
            now.low = max(now.low, solved.finish_low or 0)
    return now


def close_end(
    process: Process,
    start: Placing,
    *,
    effort: Effort,
    go_on: GoOn | None = None,
) -> Closed:
    """Plan the end of a big job again by ``close_in``, then a longer end, and so on.

    For jobs without dates. ``low`` is 0: what is proved of an end holds behind the
    stints before it only.
    """
    began = perf_counter()
    now = Closed(best=start, low=0)
    size = END_UNITS
    while not now.stopped and size <= MOST_UNITS:
        left = _question(effort, now.spent)
        begin = _cut(process, now.best, size)
        size += END_GROWS
        if left is None or begin is None:
            break
        rest = rest_from(process, now.best, begin)
        whole = now.best

        def seen(
            placing: Placing | None, rest: Rest = rest, whole: Placing = whole
        ) -> bool:
            assert go_on is not None  # noqa: S101 - handed on only where there is one
            return go_on(None if placing is None else rest.joined(whole, placing))

        share = replace(left, budget=left.budget * END_SHARE)
        if left.seconds is not None:
            share = replace(share, seconds=left.seconds * END_SHARE)
        closed = close_in(
            rest.process,
            rest.own(whole),
            Bounder(rest.process),
            effort=share,
            go_on=seen if go_on is not None else None,
        )
        now.stopped = closed.stopped
        seconds = perf_counter() - began
        now.spent = now.spent + closed.spent if effort.seconds is None else seconds
        now.best = rest.joined(whole, closed.best)
    return now


def _cut(process: Process, placing: Placing, size: int) -> int | None:
    """The first cut behind which no more than ``size`` units start."""
    starts = sorted((placed.start for placed in placing.values()), reverse=True)
    least = starts[size] + 1 if size < len(starts) else 0
    return next((cut for cut in cuts(process, placing) if cut >= least), None)


def _finish(placing: Placing) -> int:
    return max(placed.end for placed in placing.values())


def _question(effort: Effort, spent: float) -> Effort | None:
    """The effort for the next question; None where too little is left for one."""
    seconds = effort.seconds
    left = (effort.budget if seconds is None else seconds) - spent
    if left < LEAST:
        return None
    left *= TRIAL_SHARE / SHARES["finish"]  # ``solve`` gives the finish that share
    # A second worker only improves plans, and there is none yet.
    return Effort(budget=left, seconds=None if seconds is None else left, workers=1)
