"""Published yardsticks through the search that plans a job.

    python -m scheduling.benchmark FILE [--no-wait] [--seconds N] [--json]

States a network of activities as a process on one unbroken axis and hands that to the
planner's own constructive orders and solver. The only engine file that reads files.
"""

import argparse
import json
import math
import sys
import time
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal, NoReturn

import numpy as np

from scheduling.bound import Bounder
from scheduling.errors import BadInput, bad, shown
from scheduling.greedy import Greedy
from scheduling.ground import AS_LABELLED
from scheduling.networks import Network, job_shop, project
from scheduling.problem import GivenAir, HandsNeeded, Job, Room, Site, Step, Surface
from scheduling.process import HandSlots, Load, Mode, Process, Unit, Wait
from scheduling.solver import Effort, solve
from scheduling.working_time import SLOT_MIN, Axis, Ints

# Assumed: the published sets stay far below, and tables have an entry for each slot.
MOST_SLOTS = 500_000
MOST_BYTES = 10_000_000  # Assumed: no published instance comes near
USUAL = Effort(budget=60.0)  # Assumed: about a minute, and the same answer each time
LEAD = 1  # slot 0 stays empty: what takes no time is read at the slot before it
ORIGIN = datetime(2000, 1, 1, tzinfo=UTC)

Status = Literal["optimal", "feasible", "infeasible", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What the search found out; None where there is no such number."""

    status: Status
    makespan: int | None
    bound: int | None
    seconds: float


class AsProcess:
    """States a network in the planner's own terms.

    An activity is a step on a surface of its own, a machine a hand with a skill of its
    own, a resource a load; a slot is the largest unit of time that divides all numbers.
    """

    def __init__(self, network: Network) -> None:
        self.network = network
        self.scale = (
            math.gcd(
                *(activity.length for activity in network.activities),
                *network.apart.values(),
                *(activity.latest or 0 for activity in network.activities),
            )
            or 1
        )
        longest = self._longest()
        if longest > MOST_SLOTS:
            raise bad(
                "durations and distances",
                longest,
                f"together no more than {MOST_SLOTS} times their common divisor",
            )
        self.n = LEAD + longest + 1  # the last moment may follow the last slot
        self.ramp = np.arange(-self.n, 4 * self.n, dtype=np.int64)
        self.never = np.zeros(self.n, dtype=bool)
        self.job = self._job()
        self.axis = Axis(
            origin=ORIGIN,
            job=self.job,
            minute=np.arange(self.n, dtype=np.int64) * SLOT_MIN,
            stretch_end=np.full(self.n, self.n, dtype=np.int64),
            day_end=np.full(self.n, self.n, dtype=np.int64),
            day=np.zeros(self.n, dtype=np.int64),
        )
        self.open = np.ones(self.n, dtype=bool)
        self.open[:LEAD] = False

    def _longest(self) -> int:
        """Slots in which the best plan ends if there is any.

        The longest of an activity's duration and the distances from it, summed: what
        holds the end where it is passes each activity at most once (Neumann, Schwindt
        and Zimmermann, Project Scheduling with Time Windows, from memory).
        """
        most = [activity.length for activity in self.network.activities]
        for (before, _), distance in self.network.apart.items():
            most[before] = max(most[before], distance)
        return sum(most) // self.scale

    def process(self) -> Process:
        network = self.network
        waits = tuple(self._waits())
        numbers = range(len(network.activities))
        return Process(
            job=self.job,
            axis=self.axis,
            units=tuple(self._unit(number) for number in numbers),
            waits=waits,
            aparts=(),
            promises=(),
            hands=tuple(
                HandSlots(
                    id=str(machine), skills=frozenset({str(machine)}), there=self.open
                )
                for machine in range(network.machines)
            ),
            loads=tuple(self._loads()),
            overdue=(),
            impossible=(),
            notes=(),
            keys={},
            before={u: tuple(w for w in waits if w.after == u) for u in numbers},
            after={u: tuple(w for w in waits if w.before == u) for u in numbers},
        )

    def _job(self) -> Job:
        """A job in name only: the search reads rooms and dates from it, here none."""
        room = Room(id="all", volume_m3=1.0, air=GivenAir(given=()))
        return Job(
            id="network",
            title="network",
            site=Site(zone="UTC", hours=()),
            hands=(),
            materials=(),
            recipes=(),
            rooms=(room,),
            surfaces=(),
        )

    def _unit(self, number: int) -> Unit:
        activity = self.network.activities[number]
        name = str(number)
        on_machine = activity.machine is not None and activity.length > 0
        hands = 1 if on_machine else 0
        step = Step(
            id=name,
            material=None,
            apply_min_m2=0.0,
            hands=HandsNeeded(least=hands),
            skill=str(activity.machine) if on_machine else None,
        )
        surface = Surface(
            id=name, room="all", kind="wall", width_m=1.0, height_m=1.0, recipe=name
        )
        slots = activity.length // self.scale
        latest = activity.latest
        return Unit(
            index=number,
            id=name,
            surface=surface,
            step=step,
            material=None,
            section=None,
            area_m2=1.0,
            modes=(
                Mode(
                    hands=hands,
                    slots=slots,
                    may_start=self.open,
                    unbarred=self.open,
                ),
            ),
            release=LEAD,
            due=self.n if latest is None else LEAD + latest // self.scale,
            test_first=False,
            laid=AS_LABELLED,
            testable=self.never,
        )

    def _loads(self) -> Iterable[Load]:
        for kind, most in enumerate(self.network.capacity):
            demand = {
                number: {0: activity.demand[kind]}
                for number, activity in enumerate(self.network.activities)
                if activity.demand[kind] and activity.length
            }
            yield Load(name=str(kind), most=most, demand=demand)

    def _waits(self) -> Iterable[Wait]:
        """One wait a pair, from the activity that can start first to the other."""
        apart = self.network.apart
        place = self._earliest()
        pairs = {(i, j) if (place[i], i) <= (place[j], j) else (j, i) for i, j in apart}
        for before, after in sorted(pairs):
            least = apart.get((before, after))
            most = apart.get((after, before))
            yield self._wait(before, after, least, None if most is None else -most)

    def _wait(
        self, before: int, after: int, least: int | None, most: int | None
    ) -> Wait:
        """From distances between starts to tables over the last slot of the first."""
        length = self.network.activities[before].length
        low, high = self.ramp[:1].repeat(self.n), self.ramp[-1:].repeat(self.n)
        if least is not None:
            low = self._rising(least - length)
        if most is not None:
            high = self._rising(most - length)
        plain = least == length and most is None
        return Wait(
            before=before,
            after=after,
            stage="" if plain else "apart",
            low=low,
            high=high,
            test=self.never,
        )

    def _rising(self, gap: int) -> Ints:
        """The slot so far after the last slot, for every last slot."""
        first = min(max(1 + gap // self.scale, -self.n), 2 * self.n)
        return self.ramp[self.n + first : 2 * self.n + first]

    def _earliest(self) -> list[int]:
        """Earliest starts by distances alone; where these contradict, any numbers."""
        apart = self.network.apart
        starts = [0] * len(self.network.activities)
        for _ in starts:
            old = list(starts)
            for (i, j), distance in apart.items():
                starts[j] = max(starts[j], starts[i] + distance)
            if starts == old:
                break
        return starts


def answer(network: Network, effort: Effort = USUAL) -> Answer:
    """Search a network for its shortest plan, as the planner searches a job."""
    began = time.perf_counter()
    made = AsProcess(network)
    process = made.process()
    start = Greedy(process).best(quick=True)
    horizon = made.n
    if start is not None:
        # The last moment may follow the last slot.
        horizon = min(made.n, max(placed.end for placed in start.values()) + 1)
    solved = solve(process, start, effort=effort, horizon=horizon, aims=("finish",))
    makespan = bound = None
    status: Status = "infeasible"
    if solved.outcome != "infeasible":
        low = Bounder(process).finish_low(solved.finish_low or 0)
        bound = max(low - LEAD, 0) * made.scale
        status = "unknown"
    if solved.placing is not None:
        ends = [placed.end for placed in solved.placing.values()]
        makespan = (max(ends) - LEAD) * made.scale
        status = "optimal" if bound == makespan else "feasible"
    return Answer(
        status=status,
        makespan=makespan,
        bound=bound,
        seconds=time.perf_counter() - began,
    )


# -- the command -------------------------------------------------------------------


class _Words(argparse.ArgumentParser):
    """A parser that says what is wrong in one line."""

    def error(self, message: str) -> NoReturn:
        print(f"benchmark: {message}", file=sys.stderr)
        raise SystemExit(2)


def main(arguments: Sequence[str] | None = None) -> int:
    """0 with an answer of any status, 2 for what cannot be read."""
    words = _Words(
        prog="python -m scheduling.benchmark",
        description="Shortest plan of a published job shop or RCPSP/max project.",
    )
    words.add_argument("file", help="job-shop text, or a project in .sch form")
    words.add_argument(
        "--no-wait", action="store_true", help="jobs run on without a pause"
    )
    words.add_argument("--seconds", help="time to search, instead of the usual effort")
    words.add_argument("--json", action="store_true", help="answer in JSON")
    given = words.parse_args(arguments)
    try:
        effort = USUAL if given.seconds is None else _effort(given.seconds)
    except BadInput as wrong:
        print(wrong, file=sys.stderr)
        return 2
    try:
        network = read(Path(given.file), no_wait=given.no_wait)
        found = answer(network, effort)
    except BadInput as wrong:
        for fault in wrong.faults:
            place = f"{fault.path}, {shown(fault.value)}".removeprefix(", ")
            print(f"{given.file}: {place}: {fault.allowed}", file=sys.stderr)
        return 2
    if given.json:
        print(json.dumps(asdict(found)))
    else:
        print(_said(found))
    return 0


def _effort(text: str) -> Effort:
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not 0 < seconds < math.inf:
        raise bad("--seconds", text, "a number of seconds above 0")
    return Effort(seconds=seconds)


def read(path: Path, *, no_wait: bool) -> Network:
    """The network in a file: a project where the name ends in .sch, else a job shop."""
    try:
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise bad("", error.strerror or "unreadable", "a file to be read") from error
    if len(raw) > MOST_BYTES:
        raise bad("", "longer", f"no more than {MOST_BYTES} bytes")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise bad(f"byte {error.start}", "not text", "UTF-8 text") from error
    if path.suffix.lower() != ".sch":
        return job_shop(text, most_wait=0 if no_wait else None)
    if no_wait:
        raise bad("", "--no-wait", "job shops only; a project states its distances")
    return project(text)


def _said(found: Answer) -> str:
    words = {
        "optimal": f"{found.makespan}, proved the shortest",
        "feasible": f"{found.makespan}, and none is shorter than {found.bound}",
        "infeasible": "no plan keeps every distance, proved",
        "unknown": f"no plan found; none is shorter than {found.bound}",
    }
    return f"{words[found.status]} ({found.seconds:.2f} s)"


if __name__ == "__main__":
    sys.exit(main())
