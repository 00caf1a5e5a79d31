"""Chance: how likely a plan's waits, windows, wet edges, finish and dates hold.

Judged twice in the same seeded cases: each stint by itself at its planned moment, and
the plan walked through, where a coat not ready makes its stint wait and the next slip.
"""

import dataclasses
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from scheduling.air_of_job import job_air
from scheduling.chance import SAFE_CHANCE
from scheduling.clock_tables import ClockTables
from scheduling.errors import bad
from scheduling.limits import within
from scheduling.plan import Plan
from scheduling.problem import Job
from scheduling.process import open_needed_min, surfaces_of
from scheduling.risk_draws import Draws
from scheduling.risk_facts import Facts, Need, Rest, check_plan
from scheduling.risk_walk import JOT_MIN, Walk, Walked
from scheduling.risk_words import gate_text, open_text, window_text
from scheduling.room_air import Floats
from scheduling.shapes import Json
from scheduling.working_time import FIRST_DAYS, SLOT_MIN, floor_to_slot, make_axis

DRAWS = 2000  # one case in 2,000 either way is finer than any label
_FEWEST, _MOST = 100, 100_000
_SLIP_DAYS = 21  # Assumed: whoever slips further than three weeks plans anew


@dataclass(frozen=True, slots=True, kw_only=True)
class GateChance:
    """One thing a stint needs at its planned start, and how often it is so.

    Codes: wait (the coat ``before`` has reached ``stage``), window (it has not closed
    yet), open (the coat being laid stays open for a strip), and dust, steam, solvent
    (that coat takes no harm). ``better_at`` is the start nearest the planned one that
    makes it 9 of 10; None where it is so already or no start does.
    """

    stint: str
    surface: str
    step: str
    code: str
    stage: str
    at: datetime
    chance: float
    text: str
    section: str | None = None
    before: str | None = None
    better_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StintChance:
    """A stint: all its gates at the planned moment, and how the walk treats it.

    ``late_min`` is the mean over all cases; None where in some it never comes.
    """

    stint: str
    chance: float
    on_time: float
    late_min: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishChance:
    """The end of the last stint: the share of cases that keep it, and when else.

    ``likely`` and ``nine_of_ten`` are the moments by which it is over in half and in
    nine of ten cases; None is never.
    """

    planned: datetime
    chance: float
    late_min: float | None
    likely: datetime | None
    nine_of_ten: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DateChance:
    """A date of the job by its number: the share of cases in which it holds."""

    date: int
    chance: float
    late_min: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """What a plan's odds are. ``finish`` is None where nothing is left to do.

    ``windows`` is the share of walks in which no window closed before its stint came.
    """

    draws: int
    seed: int
    finish: FinishChance | None
    windows: float
    dates: tuple[DateChance, ...]
    stints: tuple[StintChance, ...]
    gates: tuple[GateChance, ...]

    @property
    def weak(self) -> tuple[GateChance, ...]:
        """What may not hold, worst first; of equals, the earlier first."""
        found = [gate for gate in self.gates if gate.chance < 1.0]
        return tuple(
            sorted(found, key=lambda g: (g.chance, g.at.timestamp(), g.stint, g.code))
        )


def chances(
    job: Job,
    plan: Plan,
    *,
    at: datetime | None = None,
    seed: int = 0,
    draws: int = DRAWS,
) -> Chances:
    """The odds of a plan in the job's air as it is known now.

    ``at`` is the moment to look from: the job's own ``now``, else the plan's start,
    unless told. Stints whose coat is logged are done with; one planned before ``at``
    and not logged is taken to run as planned. BadInput where the plan is of another
    job, or ``draws`` or ``seed`` are out of bounds.
    """
    within(("draws", draws, _FEWEST, _MOST), ("seed", seed, 0, 2**32 - 1))
    if at is not None and at.utcoffset() is None:
        raise bad("at", at.isoformat(), "a moment with its offset from UTC")
    check_plan(job, plan)
    return _Judge(job, plan, at, seed, draws).chances()


class _Judge:
    def __init__(
        self, job: Job, plan: Plan, at: datetime | None, seed: int, draws: int
    ) -> None:
        self.job, self.seed = job, seed
        self.facts = Facts(job, plan)
        starts = [stint.start for stint in self.facts.stints]
        begin = at or job.now or min(starts, default=datetime(2000, 1, 1, tzinfo=UTC))
        begin = begin.astimezone(UTC)
        last = max((stint.end for stint in self.facts.stints), default=begin)
        days = max(FIRST_DAYS, (last - begin).days + _SLIP_DAYS)
        work = self.facts.planned_coats()
        air = job_air(job, at=begin, days=days, work=work)
        begin = floor_to_slot(begin + timedelta(minutes=SLOT_MIN, seconds=-1))
        self.axis = make_axis(job, air.origin, begin, days)
        self.draws = Draws(job, air.surfaces, seed=seed, count=draws)
        tables = ClockTables(self.axis, air.surfaces)
        self.walk = Walk(self.axis, self.draws, tables, begin, days)

    def chances(self) -> Chances:
        rests = self.facts.rests
        walked = self.walk.through(rests)
        gates: list[GateChance] = []
        stints = []
        for place, rest in enumerate(rests):
            holds = np.ones(self.draws.count, dtype=bool)
            for gate, held in self._gates(rest):
                gates.append(gate)
                holds &= held
            late = walked.starts[place] - self.axis.minute_of(rest.stint.start)
            stints.append(
                StintChance(
                    stint=rest.stint.id,
                    chance=float(holds.mean()),
                    on_time=float((late <= JOT_MIN).mean()),
                    late_min=_mean(late),
                )
            )
        return Chances(
            draws=self.draws.count,
            seed=self.seed,
            finish=self._finish(rests, walked),
            windows=float(walked.kept.mean()),
            dates=tuple(self._dates(walked)),
            stints=tuple(stints),
            gates=tuple(gates),
        )

    # -- by itself -----------------------------------------------------------------

    def _gates(self, rest: Rest) -> Iterator[tuple[GateChance, Any]]:
        start = self.axis.minute_of(rest.stint.start)
        for need in rest.needs:
            end = self.axis.minute_of(need.coat.end)
            opens = self.draws.after(need.coat, need.stage, end)
            shuts = None
            if need.closing is not None:  # a window never closes before it opens
                shuts = self.draws.after(need.coat, need.closing, end)
                shuts = np.maximum(shuts, opens)
            yield self._gate(rest, need, start, opens, shuts)
            if shuts is not None:
                yield self._window(rest, need, start, opens, shuts)
        if rest.lays is not None and self._keeps_an_edge(rest):
            yield self._open(rest, start)

    def _gate(
        self,
        rest: Rest,
        need: Need,
        start: float,
        opens: Floats,
        shuts: Floats | None,
    ) -> tuple[GateChance, Any]:
        held = opens <= start + JOT_MIN
        chance = float(held.mean())
        better = None
        in_window = True
        if chance < SAFE_CHANCE:
            minute = _quantile(opens, SAFE_CHANCE)
            better = self.walk.start_from(rest, max(minute, start))
            if better is not None and shuts is not None:
                by_then = self.axis.minute_of(better)
                in_window = bool((shuts >= by_then).mean() >= SAFE_CHANCE)
        text = gate_text(self.job, rest, need, chance, better, in_window=in_window)
        return self._told(rest, need.code, need, chance, text, better), held

    def _window(
        self, rest: Rest, need: Need, start: float, opens: Floats, shuts: Floats
    ) -> tuple[GateChance, Any]:
        held = shuts >= start - JOT_MIN
        chance = float(held.mean())
        better = None
        if chance < SAFE_CHANCE:
            minute = -_quantile(-shuts, SAFE_CHANCE)
            slot = int(self.axis.slots_until(np.array([minute]))[0])
            if slot >= 0 and (opens <= minute).mean() >= SAFE_CHANCE:
                better = self.axis.start_of(slot)
        text = window_text(self.job, rest, need, chance, better)
        return self._told(rest, "window", need, chance, text, better), held

    def _keeps_an_edge(self, rest: Rest) -> bool:
        wet = rest.step.wet and rest.stint.kind == "work"
        return wet and rest.lays is not None and "open" in rest.lays.material.labels

    def _open(self, rest: Rest, start: float) -> tuple[GateChance, Any]:
        """Whether the coat stays open long enough for strips, by the planner's rule."""
        assert rest.lays is not None  # noqa: S101 - asked before
        length = self.draws.after(rest.lays, "open", start) - start
        hands = max(len(rest.stint.hands), 1)
        needed = open_needed_min(rest.step, rest.surface, rest.area_m2, hands)
        held = length >= needed - JOT_MIN
        chance = float(held.mean())
        text = open_text(self.job, rest, chance, needed)
        return self._told(rest, "open", None, chance, text, None), held

    def _told(
        self,
        rest: Rest,
        code: str,
        need: Need | None,
        chance: float,
        text: str,
        better: datetime | None,
    ) -> GateChance:
        stage = "open"
        before = None
        if need is not None:
            stage = (need.closing or "") if code == "window" else need.stage
            place = need.coat.place
            before = None if place is None else self.facts.stints[place].id
        return GateChance(
            stint=rest.stint.id,
            surface=rest.surface.id,
            section=rest.stint.section,
            step=rest.step.id,
            code=code,
            stage=stage,
            before=before,
            at=rest.stint.start.astimezone(self.job.site.tz),
            chance=chance,
            better_at=better,
            text=text,
        )

    # -- walked through ----------------------------------------------------------------

    def _finish(self, rests: Sequence[Rest], walked: Walked) -> FinishChance | None:
        places = [p for p, rest in enumerate(rests) if rest.stint.kind != "test"]
        if not places:
            return None
        planned = max(rests[place].stint.end for place in places)
        ends = np.max([walked.ends[place] for place in places], axis=0)
        late = ends - self.axis.minute_of(planned)
        return FinishChance(
            planned=planned.astimezone(self.job.site.tz),
            chance=float((late <= JOT_MIN).mean()),
            late_min=_mean(np.maximum(late, 0.0)),
            likely=self._moment(_quantile(ends, 0.5)),
            nine_of_ten=self._moment(_quantile(ends, SAFE_CHANCE)),
        )

    def _dates(self, walked: Walked) -> Iterable[DateChance]:
        for number, wish in enumerate(self.job.dates):
            reached = np.full(self.draws.count, -np.inf)
            stage = wish.stage or wish.promise or ""
            for surface in surfaces_of(self.job, wish):
                step = self.job.recipe(surface.recipe).steps[-1]
                logged, places = self.facts.ends_of(surface, step)
                for end in logged:
                    reached = np.maximum(reached, self.axis.minute_of(end))
                for place in places:
                    reached = np.maximum(reached, walked.ends[place])
                for coat in self.facts.laid_by(surface, step):
                    if coat.material.label_min(stage) is None:
                        continue
                    ends = np.full(self.draws.count, self.axis.minute_of(coat.end))
                    if coat.place is not None:
                        ends = walked.ends[coat.place]
                    at_stage = self.draws.reached(coat, stage, ends)
                    reached = np.maximum(reached, at_stage)
            late = reached - self.axis.minute_of(wish.by)
            yield DateChance(
                date=number,
                chance=float((late <= JOT_MIN).mean()),
                late_min=_mean(np.maximum(late, 0.0)),
            )

    def _moment(self, minute: float) -> datetime | None:
        return self.axis.moment(minute) if np.isfinite(minute) else None


def _quantile(values: Floats, share: float) -> float:
    """The smallest value that so large a share of them does not exceed."""
    place = int(np.ceil(share * len(values) - 1e-9)) - 1
    return float(np.sort(values)[place])


def _mean(minutes: Floats) -> float | None:
    return float(minutes.mean()) if np.isfinite(minutes).all() else None


def chances_answer(found: Chances) -> dict[str, Json]:
    """The same as JSON values; ``weak`` are numbers into ``gates``, worst first."""
    answer: dict[str, Json] = {
        key: _json(value) for key, value in dataclasses.asdict(found).items()
    }
    answer["weak"] = [found.gates.index(gate) for gate in found.weak]
    return answer


def _json(value: Any) -> Json:
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, dict):
        return {key: _json(entry) for key, entry in value.items()}
    if isinstance(value, (tuple, list)):
        return [_json(entry) for entry in value]
    return value
