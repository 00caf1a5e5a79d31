"""The front door: a job in, a plan or the reasons for none out.

Air, clocks, process, constructive plan, solver, audit and reasons in turn. Where the
work's own water changes a room's air, plan and air are solved in turn, at most three
rounds.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import isfinite
from typing import Literal

from scheduling import conflict
from scheduling.air_of_job import JobAir, air_hours, enveloped, job_air
from scheduling.audit import audit
from scheduling.audit_site import Violation
from scheduling.bound import Bounder
from scheduling.chance import asked_text, check_chance
from scheduling.clock_tables import ClockTables
from scheduling.closing import MOST_UNITS as CLOSE_UP_TO
from scheduling.closing import close_end, close_in
from scheduling.difference import changes_between
from scheduling.errors import PlanningError, bad
from scheduling.explanation import Explainer
from scheduling.greedy import Greedy
from scheduling.ground_cautions import ground_notes, with_ground_cautions
from scheduling.job_file import job_sha256
from scheduling.keeping import Keeper
from scheduling.neighbourhood import KeySearch
from scheduling.notes import air_notes, caution_notes, unused_notes, water_notes
from scheduling.placing import Placing, score
from scheduling.plan import Bound, Late, Plan, Stint
from scheduling.presence import presence
from scheduling.problem import AirControl, AirHour, Coat, GivenAir, Job
from scheduling.process import Process
from scheduling.process_of_job import make_process
from scheduling.rescues import Settled, by_trying, carried, relaxed, settled
from scheduling.room_air import RoomAir
from scheduling.solver import Effort, GoOn, Kept, Solved, solve
from scheduling.stints import asked_moment, make_stints, planned_coats
from scheduling.working_time import FIRST_DAYS, floor_to_slot, make_axis

ROUNDS = 3  # of plan and air in turn
MOST_DAYS = 168  # FIRST_DAYS are doubled up to these while work is left over
LOOK_DAYS = 84  # what is impossible in this many days is called so
SEARCH_SHARE = 0.2  # of the effort, where no constructive order works
# Above this many units the exact model no longer pays within the usual budget.
MOST_UNITS = 220
KEYS_FROM = 80  # units; below that the exact model needs no help
KEYS_SHARE = 0.25  # of the effort, before the exact model
KEYS_SHARE_CLOSING = 0.05  # where exact questions follow: they find their own plans
KEYS_SHARE_END = 0.3  # where the end of the plan is planned again exactly
CLOSING_SHARE = 0.7  # of what is left then; the aims after the finish have the rest
KEEPING_SHARE = 0.6  # of the effort, before the exact model plans all of it again
LATER_SLOTS = 200  # two working days more than the constructive plan, for dates' sake


class _TooFewDays(Exception):
    """No plan inside the days looked at; there may be one further ahead."""


class AuditError(PlanningError):
    """A plan the search returned breaks a rule: a defect of ours, never the job's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How a running plan stands: words, and the best finish so far."""

    text: str
    finish: datetime | None = None


Watch = Callable[[Progress], bool]


def plan_job(
    job: Job,
    *,
    at: datetime,
    budget: float = 10.0,
    seconds: float | None = None,
    previous: Plan | None = None,
    on_progress: Watch | None = None,
    chance: float | None = None,
) -> Plan:
    """Plan what is left of a job from ``at`` on.

    ``budget`` counts deterministic units of about a second: same job, same plan.
    ``seconds`` limits by the wall clock instead and is not repeatable. ``previous`` is
    the plan to move as little as possible. ``on_progress`` sees each better plan and
    stops the search by returning False. ``chance`` plans each wait to be over, and each
    open time and window to be still open, in that share of cases (0.5 to 0.99); None
    plans with the clocks' safe and early ends. BadInput where ``at`` has no offset or
    nobody can plan against that chance.
    """
    if at.utcoffset() is None:
        raise bad("at", at.isoformat(), "a moment with its offset from UTC")
    if chance is not None:
        check_chance(chance)
    effort = Effort(budget=budget, seconds=seconds)
    return _Planner(job, at, effort, previous, on_progress, chance).plan()


def surface_airs(
    job: Job, plan: Plan, also: Iterable[datetime] = ()
) -> Mapping[str, RoomAir]:
    """The air at each surface over a plan, with the water of its own coats.

    And over the moments ``also`` asked about, where they lie outside it.
    """
    work = [
        Coat(
            surface=stint.surface,
            section=stint.section,
            step=stint.step,
            start=stint.start,
            end=stint.end,
        )
        for stint in plan.stints
        if stint.kind == "work"
    ]
    moments = [*also, *(stint.start for stint in plan.stints)]
    at = min(moments, key=datetime.timestamp, default=job.now or plan.finish)
    if at is None:
        return {}
    last = max([at, plan.finish or at, *also], key=datetime.timestamp)
    days = max(1, (last - at).days + 2)
    return job_air(job, at=at, days=days, work=work).surfaces


@dataclass(frozen=True, slots=True, kw_only=True)
class _Attempt:
    """A process in one air and a constructive plan for it, if there is one.

    ``offered`` leaves open which windows are given up for a rescue; None: nothing to
    choose.
    """

    process: Process
    placing: Placing | None
    failed: str | None = None
    offered: Process | None = None

    @property
    def for_bounds(self) -> Process:
        """What a bound must hold for: any choice of rescues."""
        return self.process if self.offered is None else relaxed(self.offered)


class _Planner:
    def __init__(
        self,
        job: Job,
        at: datetime,
        effort: Effort,
        previous: Plan | None,
        watch: Watch | None,
        chance: float | None,
    ) -> None:
        self.job, self.effort, self.previous = job, effort, previous
        self.chance = chance
        self.at = at.astimezone(job.site.tz)
        self.begin = floor_to_slot(at + timedelta(minutes=5) - timedelta(seconds=1))
        self.watch = watch
        self.days = FIRST_DAYS
        self.notes = list(unused_notes(job))
        if chance is not None:
            self.notes.append(
                "Planned so that each wait by itself is over, and each open time and "
                f"window still open, in {asked_text(chance)}."
            )
        self.rescued = self._rescued_before()
        self.bounder: Bounder | None = None
        self.least_changes = 0  # of stints of the earlier plan, in any plan now

    def plan(self) -> Plan:
        while True:
            try:
                return self._plan_in_days()
            except _TooFewDays:
                self.days = min(self.days * 2, MOST_DAYS)

    def _plan_in_days(self) -> Plan:
        """A plan within ``days`` days; _TooFewDays where more might make one."""
        if self._own_water():
            return self._plan_with_water()
        air = self._air(())
        words = "the given air" if self._all_given() else "the room air forecast"
        attempt, placing, solved = self._improve(self._attempt(air.surfaces))
        if placing is None:
            return self._no_plan(attempt, solved, air)
        return self._finished(attempt, placing, solved, air, words)

    def _plan_with_water(self) -> Plan:
        """Plan and air in turn, then once in the dampest and driest air of the rounds.

        Where the plan so found holds in the air that its own water makes, that air is
        the plan's; else the dampest of the rounds is, and the notes say so.
        """
        rounds = [self._air(())]
        attempt = self._attempt(rounds[0].surfaces, quick=True)
        while attempt.placing is not None and len(rounds) < ROUNDS:
            rounds.append(self._air(planned_coats(attempt.process, attempt.placing)))
            attempt = self._attempt(rounds[-1].surfaces, quick=True)
        damp = enveloped(rounds, dampest=True)
        dry = enveloped(rounds, dampest=False)
        attempt, placing, solved = self._improve(self._attempt(damp, dry))
        words = f"the dampest room air of {len(rounds)} rounds (driest for open times)"
        shown = replace(rounds[-1], surfaces=damp, rooms=self._rooms(damp, rounds[-1]))
        if placing is None:
            return self._no_plan(attempt, solved, shown)
        own = self._air(planned_coats(attempt.process, placing))
        self.notes.append(
            f"Plan and room air were worked out in turn, {len(rounds)} rounds; waits "
            "are planned with the dampest and open times with the driest of them."
        )
        stints = make_stints(attempt.process, placing, own.surfaces, own.surfaces, {})
        air = own.surfaces
        if self._faults(stints, air, air):
            self.notes.append(
                "The last round's own air would still move a wait: the moments shown "
                "are those of the dampest air."
            )
            return self._finished(
                attempt,
                placing,
                solved,
                shown,
                words,
                open_air=dry,
                workless=rounds[0],
            )
        return self._finished(attempt, placing, solved, own, words, workless=rounds[0])

    def _rooms(
        self, surfaces: Mapping[str, RoomAir], air: JobAir
    ) -> dict[str, RoomAir]:
        """A room's air as that of its first surface; its own where it has none."""
        rooms: dict[str, RoomAir] = {}
        for surface in self.job.surfaces:
            rooms.setdefault(surface.room, surfaces[surface.id])
        return {**air.rooms, **rooms}

    # -- steps -------------------------------------------------------------------

    def _air(self, work: tuple[Coat, ...]) -> JobAir:
        return job_air(self.job, at=self.at, days=self.days, work=work)

    def _own_water(self) -> bool:
        """Whether the work's water can change any room's air."""
        return any(isinstance(room.air, AirControl) for room in self.job.rooms)

    def _all_given(self) -> bool:
        return all(isinstance(room.air, GivenAir) for room in self.job.rooms)

    def _attempt(
        self,
        wait_air: Mapping[str, RoomAir],
        open_air: Mapping[str, RoomAir] | None = None,
        *,
        quick: bool = False,
    ) -> _Attempt:
        """A constructive plan, with rescues where windows cannot be met.

        _TooFewDays where there is none and looking further ahead may help.
        """
        origin = next(iter(wait_air.values())).start if wait_air else self.begin
        axis = make_axis(self.job, origin, self.begin, self.days)
        tables = ClockTables(axis, wait_air, open_air, chance=self.chance)
        while True:
            process = self._process(tables, self.rescued)
            made = _Attempt(process=process, placing=None)
            if process.impossible:
                self._look_further(LOOK_DAYS)
                return made
            greedy = Greedy(process)
            placing = greedy.best(self._issued(process), quick=quick)
            if placing is not None and quick:
                return replace(made, placing=placing)
            if placing is not None:
                return self._offering(replace(made, placing=placing), tables)
            failed = greedy.failed.id if greedy.failed is not None else None
            if failed is not None and self._can_rescue(process, failed):
                continue
            made = replace(self._offering(made, tables), failed=failed)
            made = self._searched(made)
            placing = made.placing
            if placing is None:
                if any(conflict.gates_beyond(process)):
                    self._look_further(MOST_DAYS)
                # Time heals a want of hands; a window missed at first is missed later.
                windows = greedy.failed is not None and greedy.has_window(greedy.failed)
                self._look_further(2 * FIRST_DAYS if windows else MOST_DAYS)
            return made

    def _offering(self, attempt: _Attempt, tables: ClockTables) -> _Attempt:
        """The attempt with what rescues it could choose."""
        steps = [step for recipe in self.job.recipes for step in recipe.steps]
        if not any(step.rescue is not None for step in steps):
            return attempt
        offered = self._process(tables, frozenset(), offered=True)
        usable = bool(offered.choices) and not offered.impossible
        if usable and attempt.placing is not None:
            start = carried(attempt.placing, attempt.process, offered)
            usable = start is not None
        return replace(attempt, offered=offered if usable else None)

    def _process(
        self, tables: ClockTables, rescued: frozenset[str], *, offered: bool = False
    ) -> Process:
        return make_process(
            self.job,
            tables.axis,
            tables,
            at=self.at,
            days=self.days,
            rescued=rescued,
            offered=offered,
        )

    def _rescued_before(self) -> frozenset[str]:
        """The windows that the earlier plan gives up from now on, as parts' keys."""
        if self.previous is None:
            return frozenset()
        return frozenset(
            "/".join(filter(None, (s.surface, s.step, s.section, "work")))
            for s in self.previous.stints
            if s.kind == "rescue" and s.start >= self.at
        )

    def _look_further(self, most: int) -> None:
        if self.days < most:
            raise _TooFewDays

    def _searched(self, attempt: _Attempt) -> _Attempt:
        """Where the constructive orders all fail, whatever a short search finds."""
        process = attempt.offered or attempt.process
        if self.days > LOOK_DAYS or len(process.units) > MOST_UNITS // 2:
            return attempt
        effort = replace(self.effort, budget=self.effort.budget * SEARCH_SHARE)
        if effort.seconds is not None:
            effort = replace(effort, seconds=effort.seconds * SEARCH_SHARE)
        placing = solve(process, None, effort=effort, aims=("finish",)).placing
        if placing is None or attempt.offered is None:
            return replace(attempt, placing=placing)
        return _chosen(attempt, settled(attempt.offered, placing))

    def _can_rescue(self, process: Process, unit_id: str) -> bool:
        """Give up the window of a unit that found no place inside it."""
        for unit in process.units:
            if unit.id == unit_id and unit.step.rescue is not None:
                key = process.keys[unit.id]
                if key not in self.rescued and unit.kind == "work":
                    self.rescued |= {key}
                    return True
        return False

    def _issued(self, process: Process) -> Mapping[int, int] | None:
        if self.previous is None:
            return None
        starts = {s.id: s.start for s in self.previous.stints if s.kind != "test"}
        return {
            unit.index: process.axis.slot_from(process.axis.minute_of(starts[unit.id]))
            for unit in process.units
            if unit.id in starts
        }

    def _kept(self, process: Process) -> Mapping[int, Kept] | None:
        """Day and hands of each stint of the earlier plan that is still to come."""
        if self.previous is None:
            return None
        numbers = {hand.id: number for number, hand in enumerate(process.hands)}
        by_id = {unit.id: unit for unit in process.units}
        tests = {
            (s.surface, s.section, s.step, s.end): s.start
            for s in self.previous.stints
            if s.kind == "test"
        }
        kept = {}
        for stint in self.previous.stints:
            unit = by_id.get(stint.id)
            if unit is not None and stint.start >= self.at:
                hands = frozenset(numbers[h] for h in stint.hands if h in numbers)
                day = stint.start.astimezone(self.job.site.tz).toordinal()
                place = (stint.surface, stint.section, stint.step, stint.start)
                start = tests.get(place, stint.start)  # a unit begins with its test
                slot = process.axis.slot_from(process.axis.minute_of(start))
                kept[unit.index] = Kept(day, hands, slot, place in tests)
        return kept

    def _improve(self, attempt: _Attempt) -> tuple[_Attempt, Placing | None, Solved]:
        """The best plan the effort finds; without one, what is known of that."""
        process, start = attempt.process, attempt.placing
        none = Solved(outcome="unknown", placing=None, finish_low=None, proved=False)
        if process.impossible:
            return attempt, None, replace(none, outcome="infeasible", proved=True)
        if not process.units:
            solved = none if start is None else replace(none, placing=start)
            return attempt, start, solved
        kept = self._kept(process)
        big = len(process.units) > KEYS_FROM
        closes = big and len(process.units) <= CLOSE_UP_TO and not process.promises
        huge = len(process.units) > MOST_UNITS
        low = 0
        effort, go_on = self.effort, self._watcher(process)
        horizon = len(process.axis)
        if kept:
            start, effort = self._keeping(process, kept, start, go_on)
        if start is not None:
            if isfinite(score(process, start).late):
                self._tell("A first plan stands", process, start)
            if not kept:
                attempt = self._with_rescues(attempt, start, go_on)
                process, start = attempt.process, attempt.placing or start
            if big and not kept:
                start, effort = self._by_keys(process, start, go_on)
            if closes and attempt.offered is None and not kept and _left(effort):
                closed = close_in(
                    process,
                    start,
                    self._bounder(process),
                    effort=_part(effort, CLOSING_SHARE),
                    go_on=go_on,
                )
                start, low = closed.best, closed.low
                effort = _less(effort, closed.spent, stopped=closed.stopped)
            elif huge and not kept and not process.promises and _left(effort):
                start = close_end(process, start, effort=effort, go_on=go_on).best
            horizon = self._horizon(process, start)
            if not isfinite(score(process, start).late):
                start = None  # a date that must be kept is not: the search can tell
                horizon = min(len(process.axis), 2 * horizon)
        if len(process.units) > MOST_UNITS or effort.budget <= 0:
            self.notes.extend(_unheard(process))
            if start is not None and kept:
                self._say_changes(process, start)
            outcome: Literal["found", "unknown"] = "found" if start else "unknown"
            return attempt, start, replace(none, outcome=outcome, placing=start)
        offered = attempt.offered
        hint = start
        if offered is not None and start is not None:
            hint = carried(start, process, offered)
        solved = solve(
            offered or process,
            hint,
            effort=effort,
            kept=None if kept is None else self._kept(offered or process),
            horizon=horizon,
            spans=self._bounder(attempt.for_bounds).spans(horizon) if big else None,
            low=low if offered is None else 0,
            go_on=go_on,
        )
        if offered is not None and solved.placing is not None:
            attempt = _chosen(attempt, settled(offered, solved.placing))
            process, found = attempt.process, attempt.placing
        else:
            found = solved.placing or start
        if found is not None and kept:
            self._say_changes(process, found)
        if found is not None and not kept:
            drawn = Greedy(process).drawn_forward(found)
            now, then = presence(process, found), presence(process, drawn)
            if then.asked <= now.asked:
                found = drawn
        return attempt, found, solved

    def _keeping(
        self,
        process: Process,
        kept: Mapping[int, Kept],
        start: Placing | None,
        go_on: GoOn | None,
    ) -> tuple[Placing | None, Effort]:
        """The plan that keeps most of the issued one, and the effort that is left."""
        keeper = Keeper(process, kept, go_on=go_on)
        now = keeper.at_once(start)
        effort = self.effort
        if len(process.units) > KEYS_FROM:
            share = 1.0 if len(process.units) > MOST_UNITS else KEEPING_SHARE
            keeper.improve(now, effort=_part(effort, share))
            effort = _less(effort, now.spent, stopped=now.stopped)
        self.least_changes = now.least
        return now.best, effort

    def _say_changes(self, process: Process, placing: Placing) -> None:
        """How many stints change, and how few any plan could do with."""
        changed = Keeper(process, self._kept(process) or {}).changes(placing)
        if changed:
            stand = "stint stands" if changed == 1 else "stints stand"
            self.notes.append(
                f"{changed} {stand} on another day or with other hands than in the "
                f"earlier plan; no plan has fewer than {self.least_changes}."
            )

    def _with_rescues(
        self, attempt: _Attempt, start: Placing, go_on: GoOn | None
    ) -> _Attempt:
        """The attempt with rescues made where a constructive plan is better for it."""
        if attempt.offered is None:
            return attempt
        best = by_trying(
            Settled(process=attempt.process, placing=start),
            attempt.offered,
            lambda: go_on is None or go_on(None),
        )
        return _chosen(attempt, best)

    def _horizon(self, process: Process, start: Placing) -> int:
        """The slot after a plan, or some days more where a date may be worth it."""
        last = max((placed.end for placed in start.values()), default=0)
        if process.promises or self.previous:
            return min(len(process.axis), last + LATER_SLOTS)
        return last

    def _by_keys(
        self, process: Process, start: Placing, go_on: GoOn | None
    ) -> tuple[Placing, Effort]:
        """What the search on keys makes of a plan, and the effort that is left.

        None is left where the search was stopped by hand.
        """
        share = 1.0 if len(process.units) > MOST_UNITS else KEYS_SHARE
        if len(process.units) <= CLOSE_UP_TO and not process.promises:
            share = KEYS_SHARE_CLOSING
        elif not process.promises and not self.previous:
            share = min(share, KEYS_SHARE_END)
        seconds = self.effort.seconds
        search = KeySearch(process, start, go_on, bounder=self._bounder(process))
        found = search.run(
            budget=self.effort.budget * share,
            seconds=None if seconds is None else seconds * share,
        )
        left = 0.0 if search.stopped else 1.0 - share
        return found, Effort(
            budget=self.effort.budget * left,
            seconds=None if seconds is None else max(seconds * left, 0.01),
        )

    def _bounder(self, process: Process) -> Bounder:
        """The bounder of the process at hand, made once."""
        if self.bounder is None or self.bounder.process is not process:
            self.bounder = Bounder(process)
        return self.bounder

    def _watcher(self, process: Process) -> GoOn | None:
        if self.watch is None:
            return None
        watch = self.watch

        best: datetime | None = None
        better = 0

        def go_on(placing: Placing | None) -> bool:
            nonlocal best, better
            if placing is not None:
                last = max(placed.last for placed in placing.values())
                best, better = process.axis.end_of(last), better + 1
            text = "Looking for a better plan than the first"
            if better:
                text = f"The best of {better + 1} plans so far is kept"
            return watch(Progress(text=text, finish=best))

        return go_on

    def _tell(self, text: str, process: Process, placing: Placing) -> None:
        if self.watch is not None and placing:
            last = max(placed.last for placed in placing.values())
            self.watch(Progress(text=text, finish=process.axis.end_of(last)))

    # -- results -----------------------------------------------------------------

    def _finished(
        self,
        attempt: _Attempt,
        placing: Placing,
        solved: Solved,
        air: JobAir,
        air_words: str,
        *,
        open_air: Mapping[str, RoomAir] | None = None,
        workless: JobAir | None = None,
    ) -> Plan:
        """The plan in that air; ``workless`` is the air without the work's water."""
        process, airs = attempt.process, air.surfaces
        reasons = Explainer(process, placing, self.chance).reasons()
        stints = make_stints(process, placing, airs, open_air or airs, reasons)
        if workless is not None:
            self.notes.extend(water_notes(self.job, stints, airs, workless.surfaces))
        faults = self._faults(stints, airs, open_air or airs)
        if faults:
            raise AuditError("; ".join(str(fault) for fault in faults[:5]))
        stints = with_ground_cautions(self.job, stints, airs, at=self.at)
        work = [stint for stint in stints if stint.kind != "test"]
        finish = max(
            (stint.end for stint in work), key=datetime.timestamp, default=None
        )
        bound = self._bound(attempt, placing, solved, air_words)
        late = self._late(process, stints)
        plan = Plan(
            job_sha256=job_sha256(self.job),
            outcome="plan",
            finish=finish,
            bound=bound,
            late=late,
            air=self._air_shown(air, finish),
            stints=stints,
            notes=(
                *ground_notes(self.job, stints, airs, at=self.at),
                *self._all_notes(process, air),
            ),
        )
        if self.previous is None:
            return plan
        return replace(plan, changes=changes_between(self.job, self.previous, plan))

    def _faults(
        self,
        stints: Sequence[Stint],
        wait_air: Mapping[str, RoomAir],
        open_air: Mapping[str, RoomAir],
    ) -> tuple[Violation, ...]:
        return audit(
            self.job,
            stints,
            at=self.at,
            wait_air=wait_air,
            open_air=open_air,
            chance=self.chance,
        )

    def _bound(
        self, attempt: _Attempt, placing: Placing, solved: Solved, air_words: str
    ) -> Bound:
        process = attempt.for_bounds
        if not process.units:
            return Bound(finish_not_before=None, proved=True, air=air_words)
        low = solved.finish_low or 0
        finish = max(placed.end for placed in placing.values())
        low = self._bounder(process).finish_low(low, finish)
        return Bound(
            finish_not_before=process.axis.end_of(low - 1) if low > 0 else None,
            proved=low >= finish,
            air=air_words,
        )

    def _late(self, process: Process, stints: Sequence[Stint]) -> tuple[Late, ...]:
        """Dates missed, by the clocks that the stints show."""
        worst: dict[int, float | None] = dict(process.overdue)
        ends = {
            (stint.surface, stint.section, stint.step): stint
            for stint in sorted(stints, key=lambda stint: stint.end.timestamp())
            if stint.kind == "work"
        }
        for promise in process.promises:
            unit = process.units[promise.unit]
            stint = ends[unit.surface.id, unit.section, unit.step.id]
            stage = promise.wish.stage or promise.wish.promise or ""
            clock = stint.ready.get(stage) or stint.promises.get(stage)
            reached: datetime | None = stint.end
            if clock is not None:
                reached = asked_moment(clock, stint.end, self.chance)
            known = worst.get(promise.date, 0.0)
            if reached is None or known is None:
                worst[promise.date] = None
                continue
            over = reached.timestamp() - promise.wish.by.timestamp()
            worst[promise.date] = max(known, over / 60)
        return tuple(
            Late(date=date, by_min=late)
            for date, late in sorted(worst.items())
            if late is None or late > 0
        )

    def _air_shown(
        self, air: JobAir, finish: datetime | None
    ) -> dict[str, tuple[AirHour, ...]]:
        last = finish or self.at + timedelta(days=1)
        return {
            room: air_hours(room_air, self.at, last, self.job)
            for room, room_air in air.rooms.items()
        }

    def _all_notes(self, process: Process, air: JobAir) -> tuple[str, ...]:
        notes = [*process.notes, *self.notes, *air_notes(self.job, air.outdoors)]
        notes += caution_notes(self.job)
        return tuple(dict.fromkeys(notes))

    def _no_plan(self, attempt: _Attempt, solved: Solved, air: JobAir) -> Plan:
        process = attempt.process
        reasons = process.impossible or conflict.why_no_plan(
            attempt.offered or process,
            attempt.failed if attempt.placing is None else None,
            self.effort,
        )
        return Plan(
            job_sha256=job_sha256(self.job),
            outcome="no-plan",
            finish=None,
            bound=Bound(
                finish_not_before=None,
                proved=solved.outcome == "infeasible",
                air="the room air before any work",
            ),
            air=self._air_shown(air, None),
            reasons=tuple(conflict.told_short(dict.fromkeys(reasons))),
            notes=self._all_notes(process, air),
        )


def _chosen(attempt: _Attempt, best: Settled) -> _Attempt:
    return replace(attempt, process=best.process, placing=best.placing)


def _left(effort: Effort) -> bool:
    return effort.budget > 0 and (effort.seconds is None or effort.seconds > 0.01)


def _part(effort: Effort, share: float) -> Effort:
    seconds = effort.seconds
    return replace(
        effort,
        budget=effort.budget * share,
        seconds=None if seconds is None else seconds * share,
    )


def _less(effort: Effort, spent: float, *, stopped: bool) -> Effort:
    """What is left of an effort, in its own units; no budget once stopped by hand."""
    if stopped:
        return replace(effort, budget=0.0)
    if effort.seconds is None:
        return replace(effort, budget=max(effort.budget - spent, 0.05))
    return replace(effort, seconds=max(effort.seconds - spent, 0.05))


def _unheard(process: Process) -> Iterable[str]:
    """What a plan without the exact search does not listen to."""
    wishing = sorted({unit.step.id for unit in process.units if unit.step.prefers})
    if wishing:
        yield (
            f"{', '.join(wishing)}: wished early or late in the day; that is looked at "
            f"up to {MOST_UNITS} stints and with some time to plan, not here."
        )
