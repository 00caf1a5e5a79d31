"""CP-SAT behind the constructive plan; the only file that names OR-Tools.

One function a rule, called in ``_Model.__init__``: the order of calls is the
specification. Objectives are taken in the stated order, each fixed before the next.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from threading import Event, Thread
from typing import Literal

import numpy as np
from ortools.sat.python import cp_model

from scheduling.blocks import fixed_blocks, taken_together
from scheduling.bound import Spans
from scheduling.clock_tables import Gate
from scheduling.placing import Placing, hand_classes, with_names
from scheduling.presence import presence
from scheduling.process import (
    Apart,
    Load,
    Process,
    Promise,
    Unit,
    Wait,
    ancestors,
    earliest_ends,
    share_wall,
)
from scheduling.working_time import Ints, Mask

GoOn = Callable[[Placing | None], bool]
Aim = Literal[
    "changes", "late", "finish", "rescues", "days", "visits", "hours", "starts"
]
FIRST_PLAN: tuple[Aim, ...] = (
    "late",
    "finish",
    "rescues",
    "days",
    "visits",
    "hours",
    "starts",
)
REPLAN: tuple[Aim, ...] = ("changes", "late", "finish", "rescues", "starts")
# Share of what is left of the budget that an aim may take.
SHARES: Mapping[Aim, float] = {
    "changes": 0.4,
    "late": 0.5,
    "finish": 0.7,
    "rescues": 0.3,
    "days": 0.5,
    "visits": 0.06,  # a few days of a few rooms: proving it takes seconds a plan
    "hours": 0.3,
    "starts": 0.15,  # a polish: it never proves much
}
# CP-SAT's deterministic time runs slower than the clock: on two cores in 2026 a unit of
# it took 4 to 5 s on models of 50 to 60 stints, so that ours is about a second.
DETERMINISTIC_A_UNIT = 0.2
# On 112 stints a unit spent on days took 17 s: those aims have less on bigger jobs.
MEASURED_AT = 60
SEED = 20_261
ASK_SECONDS = 0.3  # between two questions whether to go on
WEIGHT_UNIT = 100  # date weights are kept to a hundredth


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How long to search: deterministic units, or wall seconds (not repeatable).

    ``workers`` search side by side where seconds are told; else there is one.
    """

    budget: float = 10.0
    seconds: float | None = None
    workers: int = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """What the search found. ``finish_low``: no plan as good on the aims before
    ``finish`` ends in an earlier slot; None where nothing was proved."""

    outcome: Literal["found", "infeasible", "unknown"]
    placing: Placing | None
    finish_low: int | None
    proved: bool
    spent: float = 0.0  # of the effort, in its own units


@dataclass(frozen=True, slots=True)
class Kept:
    """Where a unit stood in the plan that is being changed."""

    day: int
    hands: frozenset[int]
    start: int  # slot, of its test where it had one
    test: bool = False


def solve(
    process: Process,
    start: Placing | None,
    *,
    effort: Effort,
    kept: Mapping[int, Kept] | None = None,
    horizon: int | None = None,
    spans: Spans | None = None,
    low: int = 0,
    aims: Sequence[Aim] | None = None,
    go_on: GoOn | None = None,
) -> Solved:
    """Improve ``start`` (or find a first plan) within the effort.

    ``horizon`` cuts the axis: no work in that slot or after; a plan known to end by
    then keeps the best plan inside; ``spans`` where each unit lies in plans that end by
    then; ``low``: no plan ends sooner. ``go_on`` sees each better plan, and None now
    and then between them, and may stop the search by returning False.
    """
    model = _Model(process, horizon or len(process.axis), kept or {}, spans)
    if model.finish is not None and low:
        model.model.add(model.finish >= low)
    aims = aims or (REPLAN if kept else FIRST_PLAN)
    best = dict(start) if start is not None else None
    left = effort.seconds if effort.seconds is not None else effort.budget
    finish_low, all_proved, found_any = None, True, start is not None
    finish_proved, spent = False, 0.0
    for aim in aims:
        goal = model.goal(aim)
        if goal is None:
            continue
        if aim == "rescues" and best is not None and not model.value(aim, best):
            model.hold(goal, 0)
            continue
        share = left * SHARES[aim]
        if effort.seconds is None and aim in ("days", "visits"):
            share *= min(1.0, (MEASURED_AT / max(len(process.units), 1)) ** 2)
        run = model.minimise(goal, best, share, effort, go_on)
        left, spent = max(left - run.spent, 0.05), spent + run.spent
        if run.status == cp_model.INFEASIBLE:
            if found_any:  # the constructive plan stands: the model must hold it
                break
            return Solved(
                outcome="infeasible",
                placing=None,
                finish_low=None,
                proved=True,
                spent=spent,
            )
        if run.placing is not None:
            best, found_any = dict(run.placing), True
        if best is None:
            return Solved(
                outcome="unknown",
                placing=None,
                finish_low=None,
                proved=False,
                spent=spent,
            )
        proved = run.status == cp_model.OPTIMAL
        if aim == "finish" and all_proved and run.bound is not None:
            finish_low = int(np.ceil(run.bound - 1e-6))
        all_proved = all_proved and proved
        if aim == "finish":
            finish_proved = all_proved
        if run.stopped:
            break
        model.hold(goal, model.value(aim, best))
    return Solved(
        outcome="found",
        placing=best,
        finish_low=finish_low,
        proved=finish_low is not None and finish_proved,
        spent=spent,
    )


@dataclass(frozen=True, slots=True)
class _Run:
    status: int
    placing: Placing | None
    bound: float | None
    spent: float
    stopped: bool


class _Watcher(cp_model.CpSolverSolutionCallback):
    """Shows each better plan to the caller and stops when told to."""

    def __init__(self, model: "_Model", go_on: GoOn | None) -> None:
        super().__init__()
        self.model, self.go_on, self.stopped = model, go_on, False
        self.done = Event()

    def between(self, solver: cp_model.CpSolver) -> None:
        """Ask now and then whether to go on, so that a stop need not wait for luck."""
        while self.go_on is not None and not self.done.wait(ASK_SECONDS):
            if not self.stopped and not self.go_on(None):
                self.stopped = True
                solver.stop_search()

    def on_solution_callback(self) -> None:
        if self.go_on is not None and not self.go_on(self.model.read(self.value)):
            self.stopped = True
            self.stop_search()


class _Model:
    def __init__(
        self,
        process: Process,
        horizon: int,
        kept: Mapping[int, Kept],
        spans: Spans | None,
    ) -> None:
        self.process, self.horizon, self.kept = process, horizon, kept
        self.model = cp_model.CpModel()
        self.classes = hand_classes(process, alone=bool(kept))
        self.start: list[cp_model.IntVar] = []
        self.last: list[cp_model.IntVar] = []
        self.length: list[cp_model.IntVar] = []
        self.offset: dict[int, cp_model.IntVar] = {}
        self.mode: list[list[cp_model.IntVar]] = []
        self.test: list[cp_model.IntVar | int] = []
        self.by_class: list[list[cp_model.IntVar | int]] = []
        self.interval: list[cp_model.IntervalVar] = []
        self.works: list[list[cp_model.IntervalVar]] = []  # by class, where it has one
        self.here: dict[tuple[int, int], cp_model.IntVar] = {}  # class, day
        self.visited: dict[tuple[str, int], cp_model.IntVar] = {}  # room, day
        # A wait's pieces before a unit's earliest end can never be used.
        self.first = [max(end - 1, 0) for end in earliest_ends(process)]
        self.spans = spans
        # Rescues that may be done or not: by rescue and by the unit behind it.
        self.may = {choice.saver: choice for choice in process.choices}
        self.choice_of = {choice.unit: choice for choice in process.choices}
        self.done = {
            saver: self.model.new_bool_var(f"rescue{saver}") for saver in self.may
        }
        self.until = [horizon] * len(process.units)
        if spans is not None:
            self.until = [min(max(end, 1), horizon) for end in spans.end]
        self._units()
        self._waits()
        self._hands()
        self._loads()
        self._walls()
        self._aparts()
        self._corners()
        self._fixed_blocks()
        self._must_dates()
        self.late = self._lateness()
        self.finish = self._finish()
        self.changed = self._changes()

    # -- what is decided ---------------------------------------------------------

    def _units(self) -> None:
        """Start, last slot, number of hands and hours of every unit."""
        model, process = self.model, self.process
        tested = {wait.after for wait in process.waits if wait.test.any()}
        for unit in process.units:
            if unit.index in self.may:
                self._rescue(unit)
                continue
            test: cp_model.IntVar | int = int(unit.test_first)
            if not unit.test_first and unit.index in tested:
                test = model.new_bool_var(f"test{unit.index}")
            starts = self._start_slots(unit)
            start = model.new_int_var_from_domain(starts, f"start{unit.index}")
            soonest = min(self.first[unit.index], self.horizon - 1)
            latest = self.horizon - 1
            if self.spans is not None:
                latest = max(soonest, self.spans.end[unit.index] - 1)
            last = model.new_int_var(soonest, latest, f"last{unit.index}")
            chosen = [
                model.new_bool_var(f"mode{unit.index}_{mode.hands}")
                for mode in unit.modes
            ]
            model.add_exactly_one(chosen)
            for literal, mode in zip(chosen, unit.modes, strict=True):
                allowed = _mask_domain(mode.may_start[: self.horizon])
                model.add_linear_expression_in_domain(
                    start + test, allowed
                ).only_enforce_if(literal)
            slots = sum(
                literal * mode.slots
                for literal, mode in zip(chosen, unit.modes, strict=True)
            )
            least = min((mode.slots for mode in unit.modes), default=1)
            length = model.new_int_var(least, self.horizon + 1, f"length{unit.index}")
            model.add(length == slots + test)
            model.add(last == start + length - 1)
            if not isinstance(test, int):
                self._test_beside_work(unit, start, test)
            elif test:
                self._test_beside_work(unit, start, None)
            end = model.new_int_var(0, self.horizon, f"end{unit.index}")
            model.add(end == last + 1)
            self.interval.append(
                model.new_interval_var(start, length, end, f"unit{unit.index}")
            )
            self.start.append(start)
            self.last.append(last)
            self.length.append(length)
            self.mode.append(chosen)
            self.test.append(test)
            choice = self.choice_of.get(unit.index)
            if choice is not None:  # a logged coat's window, where nothing saves it
                kept = ~self.done[choice.saver]
                model.add(start + test <= choice.due).only_enforce_if(kept)

    def _rescue(self, unit: Unit) -> None:
        """A rescue that may be done or not; one not done rests in its first slot."""
        model, done, rest = self.model, self.done[unit.index], unit.release
        high = max(rest, self.horizon)
        start = model.new_int_var(rest, high, f"start{unit.index}")
        last = model.new_int_var(-1, high, f"last{unit.index}")
        length = model.new_int_var(0, self.horizon + 1, f"length{unit.index}")
        end = model.new_int_var(0, high + 1, f"end{unit.index}")
        chosen = [model.new_bool_var("") for _ in unit.modes]
        model.add(sum(chosen) == done)
        for literal, mode in zip(chosen, unit.modes, strict=True):
            allowed = _mask_domain(mode.may_start[: self.horizon])
            model.add_linear_expression_in_domain(start, allowed).only_enforce_if(
                literal
            )
        slots = sum(
            literal * mode.slots
            for literal, mode in zip(chosen, unit.modes, strict=True)
        )
        model.add(length == slots)
        model.add(last == start + length - 1)
        model.add(end == last + 1)
        model.add(last < self.horizon).only_enforce_if(done)
        model.add(start == rest).only_enforce_if(~done)
        self.interval.append(
            model.new_optional_interval_var(
                start, length, end, done, f"unit{unit.index}"
            )
        )
        self.start.append(start)
        self.last.append(last)
        self.length.append(length)
        self.mode.append(chosen)
        self.test.append(0)

    def _holds(self, wait: Wait) -> list[cp_model.LiteralT]:
        """What must be true for a wait to hold; nothing where it always does."""
        if wait.saver is None:
            return []
        done = self.done[wait.saver]
        return [done if wait.saved else ~done]

    def _both_done(self, *units: int) -> list[cp_model.IntVar]:
        """The rescues among these units, which a rule between them asks about."""
        return [self.done[unit] for unit in units if unit in self.done]

    def _start_slots(self, unit: Unit) -> cp_model.Domain:
        if unit.pinned is not None:
            slot = self.process.axis.slot_from(
                self.process.axis.minute_of(unit.pinned.start)
            )
            return cp_model.Domain(slot, slot)
        low, high = unit.release, min(unit.due, self.horizon - 1)
        if self.spans is not None:  # the work's own moments: a test may come before
            low = max(low, self.spans.start[unit.index] - 1)
            high = min(high, self.spans.end[unit.index] - 1)
        return cp_model.Domain(low, max(high, low))

    def _test_beside_work(
        self, unit: Unit, start: cp_model.IntVar, test: cp_model.IntVar | None
    ) -> None:
        """A test and the work it belongs to stand in one unbroken stretch."""
        ends = self.process.axis.stretch_end[: self.horizon]
        inside = np.zeros(len(ends), dtype=bool)
        inside[:-1] = ends[:-1] == ends[1:]
        inside &= unit.testable[: self.horizon]
        rule = self.model.add_linear_expression_in_domain(start, _mask_domain(inside))
        if test is not None:
            rule.only_enforce_if(test)
        else:
            self.model.add(start + 1 <= unit.due)

    # -- rules -------------------------------------------------------------------

    def _waits(self) -> None:
        """Recoats, windows and plain order: exact pieces of the clock tables."""
        wants_test: dict[int, list[cp_model.IntVar]] = {}
        for wait in self.process.waits:
            holds = self._holds(wait)
            if wait.stage == "":
                after = self.start[wait.after]
                rule = self.model.add(after >= self.last[wait.before] + 1)
                rule.only_enforce_if(*holds)
                continue
            literals: list[cp_model.LiteralT] = [~literal for literal in holds]
            for first, final, low, high, tested in _pieces(
                self._needed(wait),
                self.first[wait.before],
                self.horizon,
                until=self.until[wait.before],
            ):
                literal = self.model.new_bool_var("")
                literals.append(literal)
                last = self.last[wait.before]
                self.model.add(last >= first).only_enforce_if(literal)
                self.model.add(last <= final).only_enforce_if(literal)
                after = self.start[wait.after]
                offset, rises = low
                bound = last + offset if rises else offset
                self.model.add(after >= bound).only_enforce_if(literal)
                if high is not None:
                    offset, rises = high
                    bound = last + offset if rises else offset
                    work = after + self.test[wait.after]
                    self.model.add(work <= bound).only_enforce_if(literal)
                if tested:
                    wants_test.setdefault(wait.after, []).append(literal)
            self.model.add_exactly_one(literals)
        for index, test in enumerate(self.test):
            if not isinstance(test, int):
                wanting = wants_test.get(index)
                if wanting:
                    self.model.add_max_equality(test, wanting)
                else:
                    self.model.add(test == 0)

    def _needed(self, wait: Wait) -> Gate:
        """A wait's table where it says more than the spans: fewer, longer pieces."""
        low, high = wait.low, wait.high
        if self.spans is not None:
            soonest = max(self.spans.start[wait.after] - 1, 0)
            low = np.maximum(low, soonest)
            high = np.where(high >= self.until[wait.after], self.horizon, high)
            high = np.where(wait.high < soonest, wait.high, high)
        return Gate(low=low, high=high, test=wait.test)

    def _hands(self) -> None:
        """Enough hands, one with the skill, nobody in two places, nobody when away.

        And nobody at what they are kept off.
        """
        for unit in self.process.units:
            counts: list[cp_model.IntVar | int] = []
            for members in self.classes:
                most = min(len(members), unit.modes[-1].hands)
                if self.process.hands[members[0]].id in unit.kept_off:
                    most = 0
                counts.append(self.model.new_int_var(0, most, ""))
            self.by_class.append(counts)
            people = sum(
                literal * mode.hands
                for literal, mode in zip(self.mode[unit.index], unit.modes, strict=True)
            )
            self.model.add(sum(counts) == people)
            skill = unit.step.skill
            if skill is not None:
                able = [
                    count
                    for count, members in zip(counts, self.classes, strict=True)
                    if skill in self.process.hands[members[0]].skills
                ]
                rule = self.model.add(sum(able) >= 1)
                rule.only_enforce_if(*self._both_done(unit.index))
            if unit.lead is not None:
                place = self.classes.index([unit.lead])
                self.model.add(counts[place] == 1)
            if unit.pinned is not None and unit.pinned.hands:
                for count, members in zip(counts, self.classes, strict=True):
                    named = [self.process.hands[n].id for n in members]
                    wanted = sum(name in unit.pinned.hands for name in named)
                    self.model.add(count == wanted)
        for number, members in enumerate(self.classes):
            self._class_hours(number, members)

    def _class_hours(self, number: int, members: Sequence[int]) -> None:
        model = self.model
        there = self.process.hands[members[0]].there[: self.horizon]
        away = [
            model.new_fixed_size_interval_var(first, end - first, "")
            for first, end in _runs(~there)
        ]
        if len(members) == 1:
            works = []
            for unit in self.process.units:
                here = self.by_class[unit.index][number]
                if isinstance(here, int):
                    continue
                works.append(
                    model.new_optional_interval_var(
                        self.start[unit.index],
                        self.length[unit.index],
                        self.last[unit.index] + 1,
                        here,
                        "",
                    )
                )
            model.add_no_overlap([*works, *away])
            self.works.append(works)
            return
        self.works.append([])
        demands = [self.by_class[unit.index][number] for unit in self.process.units]
        model.add_cumulative(
            [*self.interval, *away],
            [*demands, *([len(members)] * len(away))],
            len(members),
        )

    def _loads(self) -> None:
        """No more hands in a room than it holds; the same for any other load."""
        for load in self.process.loads:
            units = [self.process.units[index] for index in load.demand]
            demands: list[cp_model.IntVar | int] = [
                self._drawn(unit, load.demand[unit.index]) for unit in units
            ]
            intervals = [self.interval[unit.index] for unit in units]
            for first, end, taken in self._taken(load):
                intervals.append(
                    self.model.new_fixed_size_interval_var(first, end - first, "")
                )
                demands.append(min(taken, load.most))
            self.model.add_cumulative(intervals, demands, load.most)

    def _taken(self, load: Load) -> Iterable[tuple[int, int, int]]:
        """First slot, end and what stints that stand draw on a load between."""
        taken = np.zeros(self.horizon, dtype=np.int64)
        taken += (
            load.taken if isinstance(load.taken, int) else load.taken[: self.horizon]
        )
        for drawn in np.unique(taken[taken > 0]).tolist():
            for first, end in _runs(taken == drawn):
                yield first, end, drawn

    def _drawn(self, unit: Unit, demand: Mapping[int, int]) -> cp_model.IntVar:
        """What a unit draws on a load; a cumulative takes no sum as a demand."""
        most = max(demand.values())
        drawn = self.model.new_int_var(0, most, "")
        self.model.add(
            drawn
            == sum(
                literal * demand[mode.hands]
                for literal, mode in zip(self.mode[unit.index], unit.modes, strict=True)
            )
        )
        return drawn

    def _walls(self) -> None:
        """One stint at a time on a surface or section."""
        earlier = ancestors(self.process)
        for one in self.process.units:
            for other in self.process.units[: one.index]:
                if earlier[one.index] >> other.index & 1:
                    continue
                if earlier[other.index] >> one.index & 1:
                    continue
                if share_wall(one, other):
                    self.model.add_no_overlap(
                        [self.interval[one.index], self.interval[other.index]]
                    )

    def _aparts(self) -> None:
        """Dust, steam and solvent keep away from open and tacky coats.

        And coats from dust that has not settled.
        """
        clears: dict[int, cp_model.IntVar] = {}
        settles: dict[int, cp_model.IntVar] = {}
        for apart in self.process.aparts:
            maker, coat = apart.maker, apart.coat
            if self._never_meet(apart):
                continue
            if coat not in clears:
                clears[coat] = self._reached(coat, apart.clear)
            settled: cp_model.LinearExprT = self.last[maker] + 1
            if apart.what == "dust":
                if maker not in settles:
                    settles[maker] = self._reached(maker, apart.settled)
                settled = settles[maker]
            first = self.model.new_bool_var("")
            both = self._both_done(maker, coat)
            self.model.add(settled <= self.start[coat]).only_enforce_if(first, *both)
            self.model.add(self.start[maker] >= clears[coat]).only_enforce_if(
                ~first, *both
            )

    def _never_meet(self, apart: Apart) -> bool:
        """Whether the spans alone keep one well behind the other."""
        if self.spans is None:
            return False
        start, until = self.spans.start, self.until
        settled, clear = apart.settled[until[apart.maker] - 1], apart.clear
        return bool(
            settled <= start[apart.coat] - 1
            or clear[until[apart.coat] - 1] <= start[apart.maker] - 1
        )

    def _corners(self) -> None:
        """No wet edge meets another in a corner: one wall is dry before the next."""
        dry: dict[int, cp_model.IntVar] = {}
        for corner in self.process.corners:
            for unit, table in (
                (corner.one, corner.dry_one),
                (corner.other, corner.dry_other),
            ):
                if unit not in dry:
                    dry[unit] = self._reached(unit, table)
            first = self.model.new_bool_var("")
            self.model.add(self.start[corner.other] >= dry[corner.one]).only_enforce_if(
                first
            )
            self.model.add(self.start[corner.one] >= dry[corner.other]).only_enforce_if(
                ~first
            )

    def _reached(self, unit: int, table: Ints) -> cp_model.IntVar:
        """A slot no earlier than a table's, looked up by the unit's last slot."""
        n = len(self.process.axis)
        reached = self.model.new_int_var(0, n, "")
        literals: list[cp_model.LiteralT] = [~done for done in self._both_done(unit)]
        gate = Gate(
            low=np.minimum(table, self.horizon),
            high=np.full(n, n + 1, dtype=np.int64),
            test=np.zeros(n, dtype=bool),
        )
        for begin, final, low, _, _ in _pieces(
            gate,
            self.first[unit],
            self.horizon,
            until=self.until[unit],
            latest=self.horizon + 1,
        ):
            literal = self.model.new_bool_var("")
            literals.append(literal)
            last = self.last[unit]
            self.model.add(last >= begin).only_enforce_if(literal)
            self.model.add(last <= final).only_enforce_if(literal)
            offset, rises = low
            bound = last + offset if rises else offset
            self.model.add(reached >= bound).only_enforce_if(literal)
        self.model.add_exactly_one(literals)
        return reached

    def _fixed_blocks(self) -> None:
        """Chains without a choice in their waits, kept off one another as a whole.

        The intervals say the same, but pair by pair: with the differences of starts
        forbidden at once la01 without waits is proved ten times faster.
        """
        whole = cp_model.Domain(-self.horizon, self.horizon)
        blocks = fixed_blocks(self.process)
        for number, one in enumerate(blocks):
            for other in blocks[:number]:
                if len(one) == len(other) == 1:
                    continue  # the intervals alone are as sharp
                taken = taken_together(self.process, one, other)
                if not taken:
                    continue
                free = whole.intersection_with(
                    cp_model.Domain.from_intervals(taken).complement()
                )
                between = self.start[next(iter(other))] - self.start[next(iter(one))]
                self.model.add_linear_expression_in_domain(between, free)

    def _must_dates(self) -> None:
        """A date that must be kept bounds the slot its last coat may end in."""
        for promise in self.process.promises:
            if promise.wish.must:
                kept = (promise.late_min <= 0)[: self.horizon]
                self.model.add_linear_expression_in_domain(
                    self.last[promise.unit], _mask_domain(kept)
                )

    # -- aims --------------------------------------------------------------------

    def _lateness(self) -> list[tuple[int, cp_model.IntVar]]:
        """Weight and working slots late of each wished date.

        Counting working time keeps the rule a straight line; a night late weighs
        nothing, the work that follows it does.
        """
        by_date: dict[int, list[tuple[int, int]]] = {}
        for promise in self.process.promises:
            if not promise.wish.must:
                due = _due(promise)
                by_date.setdefault(promise.date, []).append((promise.unit, due))
        lates = []
        for date, units in sorted(by_date.items()):
            late = self.model.new_int_var(0, self.horizon, f"late{date}")
            for unit, due in units:
                self.model.add(late >= self.last[unit] - due)
            weight = self.process.job.dates[date].weight
            lates.append((max(1, round(weight * WEIGHT_UNIT)), late))
        return lates

    def _finish(self) -> cp_model.IntVar | None:
        if not self.last:
            return None
        finish = self.model.new_int_var(0, self.horizon, "finish")
        for unit, last in enumerate(self.last):
            rule = self.model.add(finish >= last + 1)
            rule.only_enforce_if(*self._both_done(unit))
        return finish

    def _days(self) -> Iterable[tuple[int, int, int]]:
        """Day, first slot and slots of each day of the axis before the horizon."""
        days = self.process.axis.day[: self.horizon]
        for day in np.unique(days).tolist():
            inside = np.flatnonzero(days == day)
            yield day, int(inside[0]), len(inside)

    def _on_site(self) -> cp_model.LinearExprT:
        """Days on which anybody works, and hands summed over days.

        Posted when it is first asked for: the aims before it run without its rules.
        """
        model, anybody = self.model, []
        for day, first, slots in self._days():
            total = []
            for number, members in enumerate(self.classes):
                size = len(members)
                here = model.new_int_var(0, size, "")
                self.here[number, day] = here
                total.append(here)
                if size == 1:
                    free = model.new_optional_fixed_size_interval_var(
                        first, slots, ~here, ""
                    )
                    model.add_no_overlap([*self.works[number], free])
                    continue
                free = model.new_fixed_size_interval_var(first, slots, "")
                demands = [row[number] for row in self.by_class]
                model.add_cumulative(
                    [*self.interval, free], [*demands, size - here], size
                )
            used = model.new_bool_var("")
            model.add(sum(total) <= len(self.process.hands) * used)
            anybody.append(used)
        return sum(anybody) + sum(self.here.values())

    def _visits(self) -> cp_model.LinearExprT:
        """Days on which each room is worked in, summed over the rooms."""
        rooms: dict[str, list[int]] = {}
        for unit in self.process.units:
            rooms.setdefault(unit.surface.room, []).append(unit.index)
        for room, units in rooms.items():
            intervals = [self.interval[index] for index in units]
            for day, first, slots in self._days():
                visited = self.model.new_bool_var("")
                self.visited[room, day] = visited
                shut = self.model.new_optional_fixed_size_interval_var(
                    first, slots, ~visited, ""
                )
                self.model.add_cumulative(
                    [*intervals, shut], [1] * len(units) + [len(units)], len(units)
                )
        return sum(self.visited.values())

    def _hours_of_day(self) -> cp_model.LinearExprT | None:
        """Slots between the steps that prefer an end of the day and that end."""
        off: list[cp_model.IntVar] = []
        for unit in self.process.units:
            if unit.step.prefers is None or unit.pinned is not None:
                continue
            start, last = self.start[unit.index], self.last[unit.index]
            far = self.model.new_int_var(0, self.horizon, "")
            on_day = []
            for _, first, slots in self._days():
                here = self.model.new_bool_var("")
                on_day.append(here)
                final = first + slots - 1
                self.model.add(start >= first).only_enforce_if(here)
                self.model.add(start <= final).only_enforce_if(here)
                late = unit.step.prefers == "late"
                apart = final - last if late else start - first
                self.model.add(far >= apart).only_enforce_if(here)
            self.model.add_exactly_one(on_day)
            off.append(far)
        return sum(off) if off else None

    def _changes(self) -> list[cp_model.IntVar]:
        """One literal for each stint that changes its day or a hand."""
        days = self.process.axis.day[: self.horizon]
        changed = []
        for index, kept in sorted(self.kept.items()):
            moved = self.model.new_bool_var("")
            changed.append(moved)
            same_day = _mask_domain(days == kept.day)
            self.model.add_linear_expression_in_domain(
                self.start[index], same_day
            ).only_enforce_if(~moved)
            for count, members in zip(self.by_class[index], self.classes, strict=True):
                same = sum(member in kept.hands for member in members)
                self.model.add(count == same).only_enforce_if(~moved)
        return changed

    def goal(self, aim: Aim) -> cp_model.LinearExprT | None:
        """The expression an aim minimises, None where the job leaves it empty."""
        if aim == "late":
            return sum(w * late for w, late in self.late) if self.late else None
        if aim == "finish":
            return self.finish
        if aim == "changes":
            return sum(self.changed) if self.changed else None
        if not self.start:
            return None
        if aim == "days":
            return self._on_site()
        if aim == "visits":
            return self._visits()
        if aim == "rescues":
            return sum(self.done.values()) if self.done else None
        if aim == "hours":
            return self._hours_of_day()
        return sum(
            self._urgency(unit) * self._off(unit.index) for unit in self.process.units
        )

    def value(self, aim: Aim, placing: Placing) -> int:
        """What a plan scores on an aim, in the goal's own units."""
        if aim == "late":
            by_date: dict[int, int] = {}
            for promise in self.process.promises:
                if not promise.wish.must:
                    late = placing[promise.unit].last - _due(promise)
                    by_date[promise.date] = max(by_date.get(promise.date, 0), late)
            return sum(
                max(1, round(self.process.job.dates[date].weight * WEIGHT_UNIT)) * late
                for date, late in by_date.items()
            )
        if aim == "finish":
            return max(placed.end for placed in placing.values())
        if aim == "changes":
            return sum(self._has_changed(index, placing) for index in self.kept)
        if aim == "days":
            return presence(self.process, placing).weight
        if aim == "visits":
            return presence(self.process, placing).visits
        if aim == "rescues":
            return sum(saver in placing for saver in self.may)
        if aim == "hours":
            return presence(self.process, placing).off_hours
        return sum(
            self._urgency(unit) * self._off_in(placing, unit)
            for unit in self.process.units
        )

    def _off_in(self, placing: Placing, unit: Unit) -> int:
        """What ``_off`` is in a plan; a rescue not done rests in its first slot."""
        placed = placing.get(unit.index)
        start = unit.release if placed is None else placed.start
        kept = self.kept.get(unit.index)
        return start if kept is None else abs(start - kept.start)

    @staticmethod
    def _urgency(unit: Unit) -> int:
        return 2 if unit.surface.priority == 1 else 1

    def _off(self, index: int) -> cp_model.IntVar:
        """How far a stint stands from its issued start, a new one from slot 0."""
        if index not in self.kept:
            return self.start[index]
        if index not in self.offset:
            self.offset[index] = self.model.new_int_var(0, self.horizon, "")
            distance = self.start[index] - self.kept[index].start
            self.model.add_abs_equality(self.offset[index], distance)
        return self.offset[index]

    def _has_changed(self, index: int, placing: Placing) -> bool:
        placed, kept = placing.get(index), self.kept[index]
        if placed is None:
            return True
        if int(self.process.axis.day[placed.start]) != kept.day:
            return True
        return any(
            sum(m in placed.hands for m in members)
            != sum(m in kept.hands for m in members)
            for members in self.classes
        )

    def hold(self, goal: cp_model.LinearExprT, value: int) -> None:
        """Keep what an aim has reached while the next is minimised."""
        self.model.add(goal <= value)

    # -- running -----------------------------------------------------------------

    def minimise(
        self,
        goal: cp_model.LinearExprT,
        hint: Placing | None,
        share: float,
        effort: Effort,
        go_on: GoOn | None,
    ) -> _Run:
        """Minimise one aim from a hint for a share of the effort."""
        self.model.clear_hints()  # type: ignore[no-untyped-call]
        if hint is not None:
            self._hint(hint)
        self.model.minimize(goal)
        solver = cp_model.CpSolver()
        parameters = solver.parameters
        parameters.random_seed = SEED
        parameters.cp_model_probing_level = 0
        parameters.symmetry_level = 0
        parameters.linearization_level = 0
        if effort.seconds is not None:
            parameters.num_workers = effort.workers
            parameters.max_time_in_seconds = share
        else:
            parameters.num_workers = 1
            parameters.max_deterministic_time = share * DETERMINISTIC_A_UNIT
        watcher = _Watcher(self, go_on)
        asking = Thread(target=watcher.between, args=(solver,), daemon=True)
        asking.start()
        try:
            status = solver.solve(self.model, watcher)
        finally:
            watcher.done.set()
            asking.join()
        if status == cp_model.MODEL_INVALID:  # a defect of ours, never the job's
            raise ValueError(self.model.validate())
        found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
        spent = (
            solver.wall_time
            if effort.seconds is not None
            else solver.response_proto.deterministic_time / DETERMINISTIC_A_UNIT
        )
        return _Run(
            status=int(status),
            placing=self.read(solver.value) if found else None,
            bound=solver.best_objective_bound if found else None,
            spent=spent,
            stopped=watcher.stopped,
        )

    def _hint(self, placing: Placing) -> None:
        for unit in self.process.units:
            placed = placing.get(unit.index)
            if unit.index in self.done:
                self.model.add_hint(self.done[unit.index], placed is not None)
            if placed is None:
                self._hint_not_done(unit)
                continue
            self.model.add_hint(self.start[unit.index], placed.start)
            self.model.add_hint(self.last[unit.index], placed.last)
            for literal, mode in zip(self.mode[unit.index], unit.modes, strict=True):
                self.model.add_hint(literal, mode.hands == len(placed.hands))
            test = self.test[unit.index]
            if not isinstance(test, int):
                self.model.add_hint(test, placed.test)
            for count, members in zip(
                self.by_class[unit.index], self.classes, strict=True
            ):
                if not isinstance(count, int):
                    self.model.add_hint(count, sum(m in placed.hands for m in members))
        if self.finish is not None:
            self.model.add_hint(
                self.finish, max(placed.end for placed in placing.values())
            )
        self._hint_days(placing)

    def _hint_not_done(self, unit: Unit) -> None:
        self.model.add_hint(self.start[unit.index], unit.release)
        self.model.add_hint(self.last[unit.index], unit.release - 1)
        for literal in (*self.mode[unit.index], *self.by_class[unit.index]):
            if not isinstance(literal, int):
                self.model.add_hint(literal, 0)

    def _hint_days(self, placing: Placing) -> None:
        if not self.here:
            return
        found = presence(self.process, placing)
        for (number, day), here in self.here.items():
            members = self.classes[number]
            people = sum((member, day) in found.hands_on for member in members)
            self.model.add_hint(here, people)
        for place, visited in self.visited.items():
            self.model.add_hint(visited, place in found.rooms_on)

    def read(self, value: Callable[[cp_model.LinearExprT], int]) -> Placing:
        """The plan in a solution, people named within classes of equals."""
        spans = {}
        for unit in self.process.units:
            index = unit.index
            if index in self.done and not value(self.done[index]):
                continue
            test = self.test[index]
            spans[index] = (
                value(self.start[index]),
                value(self.last[index]) + 1,
                [value(count) for count in self.by_class[index]],
                bool(test if isinstance(test, int) else value(test)),
            )
        return with_names(self.process, self.classes, spans)


def _runs(mask: Mask) -> Iterable[tuple[int, int]]:
    """First and end of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _mask_domain(mask: Mask) -> cp_model.Domain:
    return cp_model.Domain.from_intervals([[a, b - 1] for a, b in _runs(mask)])


def _due(promise: Promise) -> int:
    """The last slot the unit may end in to keep the date; -1 if none does."""
    kept = np.flatnonzero(promise.late_min <= 0)
    return int(kept[-1]) if len(kept) else -1


Line = tuple[int, bool]  # offset, and whether it rises with the slot


def _pieces(
    wait: Wait | Gate,
    begin: int,
    horizon: int,
    *,
    until: int | None = None,
    latest: int | None = None,
) -> Iterable[tuple[int, int, Line, Line | None, bool]]:
    """Runs of slots over which a wait's ends are constant or rise one for one.

    Yields first slot, last slot, the low line, the high line (None without a window)
    and whether a test comes first. Slots before ``begin``, from ``until`` on and those
    that leave no room before ``latest`` (the horizon unless told) are left out.
    """
    n = min(until or horizon, len(wait.low))
    low, high, test = wait.low[:n], wait.high[:n], wait.test[:n]
    room = (low <= high) & (low < (latest or horizon))
    endless = high >= horizon
    alike = room[1:] & (test[1:] == test[:-1])
    ends = {}  # for each kind of pair of lines, the slots after which it breaks
    for low_rises in (False, True):
        for high_rises in (False, True):
            same = alike & (np.diff(low) == low_rises)
            same &= (np.diff(high) == high_rises) | (endless[1:] & endless[:-1])
            ends[low_rises, high_rises] = np.append(np.flatnonzero(~same), n - 1)
    first = begin
    while first < n:
        if not room[first]:
            first += 1
            continue
        final, low_rises, high_rises = max(
            (int(broken[np.searchsorted(broken, first)]), *kind)
            for kind, broken in ends.items()
        )
        limit = None
        if not endless[first]:
            limit = (int(high[first]) - first * high_rises, high_rises)
        line = (int(low[first]) - first * low_rises, low_rises)
        yield first, final, line, limit, bool(test[first])
        first = final + 1
