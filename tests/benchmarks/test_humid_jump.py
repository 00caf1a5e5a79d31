"""Planning again after three damp days; printed, not asserted.

Ten issued plans a size, a third of their days done, then every room 22 points damper
(at most 95 %) for three days. Set against all work in the issued order, no stint before
its issued day. A crew of the usual size has no time to spare; two hands more have.
"""

import time
from dataclasses import replace
from datetime import UTC

import pytest

from scheduling.keeping import Keeper
from scheduling.planning import plan_job
from scheduling.problem import Coat
from tests.benchmarks.finishing_jobs import LARGE, MIDDLE, Size, damper, finishing_job

SPARE = Size(12, 6, 300)
SECONDS = {MIDDLE: 2.0, SPARE: 2.0, LARGE: 20.0}
SEEDS = {MIDDLE: range(1, 11), SPARE: range(1, 11), LARGE: range(1, 4)}
DONE = 0.35


def turned(job, plan):
    """The job on the morning after a third of the plan's days, and damp from then."""
    days = sorted({stint.start.date() for stint in plan.stints})
    day = days[int(len(days) * DONE)]
    at = min(stint.start for stint in plan.stints if stint.start.date() == day)
    at = at.replace(hour=8, minute=0)
    coats = tuple(
        Coat(
            surface=stint.surface,
            section=stint.section,
            step=stint.step,
            start=stint.start,
            end=stint.end,
        )
        for stint in plan.stints
        if stint.kind == "work" and stint.start.astimezone(UTC) < at.astimezone(UTC)
    )
    return damper(replace(job, coats=coats, now=at), start=at), at


def days_changed(plan, again, at):
    issued = {s.id: s for s in plan.stints if s.kind != "test" and s.start >= at}
    return len(issued), sum(
        stint.start.date() != issued[stint.id].start.date()
        for stint in again.stints
        if stint.id in issued and stint.kind != "test"
    )


@pytest.mark.measure
@pytest.mark.parametrize(
    "size", SECONDS, ids=lambda size: f"{size.rooms} rooms, {size.hands} hands"
)
def test_days_changed_after_three_damp_days(size, monkeypatch):
    print(f"\n{size.rooms} rooms, {size.hands} hands, wall {SECONDS[size]:g} s")
    seen = []
    usual = Keeper.at_once

    def at_once(self, start):
        in_order = self.in_issued_order()
        days = self.process.axis.day
        seen.append(
            None
            if in_order is None
            else sum(
                int(days[in_order[unit].start]) != row.day
                for unit, row in self.kept.items()
            )
        )
        return usual(self, start)

    monkeypatch.setattr(Keeper, "at_once", at_once)
    for seed in SEEDS[size]:
        job = finishing_job(size, seed)
        plan = plan_job(job, at=job.now, seconds=6)
        damp, at = turned(job, plan)
        began = time.perf_counter()
        again = plan_job(damp, at=at, seconds=SECONDS[size], previous=plan)
        seconds = time.perf_counter() - began
        issued, changed = days_changed(plan, again, at)
        said = next((n for n in again.notes if "no plan has fewer" in n), "none moves")
        print(
            f"  {issued} stints: {changed} on another day, {seen[-1]} in the issued "
            f"order; finish {plan.finish:%d.%m.%H:%M} now {again.finish:%d.%m.%H:%M}; "
            f"{seconds:.1f} s with air, audit and reasons; {said}"
        )
        assert again.outcome == "plan"
