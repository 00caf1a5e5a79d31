"""How good plans of generated finishing jobs are, and how soon; printed, not asserted.

Modes: "first" is the constructive plan alone; "wall" a limit of wall seconds on this
machine, two search workers; "budget" a deterministic budget, the same plan every time.
"""

import statistics
import time
import tracemalloc
from dataclasses import dataclass

import pytest

from scheduling import clock_tables, closing
from scheduling.air_of_job import job_air
from scheduling.bound import Bounder
from scheduling.clock_tables import ClockTables
from scheduling.greedy import Greedy
from scheduling.neighbourhood import KeySearch
from scheduling.placing import score
from scheduling.process_of_job import make_process
from scheduling.solver import Effort
from scheduling.working_time import make_axis
from tests.benchmarks.finishing_jobs import (
    LARGE,
    MIDDLE,
    SEEDS,
    SIZES,
    SMALL,
    finishing_job,
)

DAYS = 42
MOST_BYTES = 400e6  # what a job of 40 rooms may take
WALL = {SMALL: 5.0, MIDDLE: 30.0, LARGE: 30.0}


@dataclass(frozen=True)
class Measured:
    """One job: seconds of each part, and finishes in slots."""

    tables: float
    first_seconds: float
    first: int
    best: int
    low: int
    load: float

    @property
    def gap_pct(self) -> float:
        """How far the best plan lies above the bound."""
        return 100 * (self.best / self.low - 1)


def process_of(size, seed):
    job = finishing_job(size, seed)
    air = job_air(job, at=job.now, days=DAYS)
    axis = make_axis(job, air.origin, job.now, DAYS)
    tables = ClockTables(axis, air.surfaces)
    return make_process(job, axis, tables, at=job.now, days=DAYS)


def improved(process, first, seconds):
    """The best plan in wall seconds, and the bound: keys, then the exact model."""
    small = len(process.units) <= closing.MOST_UNITS
    began = time.perf_counter()
    bounder = Bounder(process)
    search = KeySearch(process, first, bounder=bounder)
    best = search.run(budget=1.0, seconds=seconds * (0.05 if small else 0.3))
    low = bounder.finish_low(0, score(process, best).finish)
    if small:
        left = Effort(seconds=seconds - (time.perf_counter() - began))
        closed = closing.close_in(process, best, bounder, effort=left)
        return closed.best, closed.low
    left = Effort(seconds=seconds - (time.perf_counter() - began))
    return closing.close_end(process, best, effort=left).best, low


def measured(size, seed):
    began = time.perf_counter()
    process = process_of(size, seed)
    tables = time.perf_counter() - began
    assert not process.impossible
    began = time.perf_counter()
    first = Greedy(process).best()
    first_seconds = time.perf_counter() - began
    best, low = improved(process, first, WALL[size])
    finish = score(process, best).finish
    work = sum(min(m.hands * m.slots for m in u.modes) for u in process.units)
    return Measured(
        tables=tables,
        first_seconds=first_seconds,
        first=score(process, first).finish,
        best=finish,
        low=low,
        load=work / size.hands / finish,
    )


def row(name, values, form):
    values = list(values)
    middle, worst = statistics.median(values), max(values)
    return f"  {name}: median {middle:{form}}, worst {worst:{form}}"


@pytest.mark.measure
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size.rooms} rooms")
def test_plans_of_ten_jobs_a_size(size):
    all_of = [measured(size, seed) for seed in SEEDS]
    print(f"\n{size.rooms} rooms, {size.hands} hands, {len(all_of)} seeds, "
          f"wall {WALL[size]:g} s after the first plan")  # fmt: skip
    print(row("air, tables, process s", (m.tables for m in all_of), ".2f"))
    print(row("first plan s", (m.first_seconds for m in all_of), ".2f"))
    above = [100 * (m.first / m.low - 1) for m in all_of]
    print(row("first plan % above the bound", above, ".1f"))
    print(row("best plan % above the bound", (m.gap_pct for m in all_of), ".1f"))
    print(row("crew load", (m.load for m in all_of), ".2f"))
    print(f"  proved {sum(m.best <= m.low for m in all_of)} of {len(all_of)}")
    for m in all_of:
        print(f"    first {m.first} best {m.best} bound {m.low}")


@pytest.mark.measure
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size.rooms} rooms")
def test_memory_of_tables_and_search(size):
    tracemalloc.start()
    process = process_of(size, SEEDS[0])
    tables, made = tracemalloc.get_traced_memory()
    tracemalloc.reset_peak()
    KeySearch(process, Greedy(process).best()).run(budget=0.2)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    print(f"\n{size.rooms} rooms: tables {tables / 1e6:.0f} MB, {made / 1e6:.0f} at "
          f"the height, search at most {(peak - tables) / 1e6:.0f} MB more "
          "(budget 0.2)")  # fmt: skip
    assert max(made, peak) < MOST_BYTES


def test_tables_are_the_same_however_many_airs_are_kept(monkeypatch):
    usual = process_of(SMALL, SEEDS[0])
    monkeypatch.setattr(clock_tables, "AIRS_KEPT", 1)
    for wait, again in zip(usual.waits, process_of(SMALL, SEEDS[0]).waits, strict=True):
        assert (wait.low == again.low).all()
        assert (wait.high == again.high).all()


def test_a_short_search_shortens_the_first_plan_and_repeats_itself():
    process = process_of(SMALL, SEEDS[1])
    first = Greedy(process).best()
    one = KeySearch(process, first).run(budget=0.3)
    again = KeySearch(process, first).run(budget=0.3)
    assert one == again
    assert score(process, one).finish < score(process, first).finish
