"""How long things take; printed by ``make measure``, never asserted."""

import time
import tracemalloc
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from jobs.demo_job import marram_house
from scheduling import drying
from scheduling.air_of_job import job_air
from scheduling.audit import audit
from scheduling.clock_tables import ClockTables
from scheduling.drying import clocks_answer
from scheduling.judging import judge, judged_airs
from scheduling.planning import plan_job
from scheduling.problem import Air
from scheduling.readiness import ready
from scheduling.risk import chances
from scheduling.working_time import make_axis
from tests.benchmarks.finishing_jobs import MIDDLE, damper, finishing_job

pytestmark = pytest.mark.measure
MONDAY = date(2026, 10, 12)


def seconds(work, times=3):
    """Best of a few runs, and what the last gave."""
    best, result = float("inf"), None
    for _ in range(times):
        began = time.perf_counter()
        result = work()
        best = min(best, time.perf_counter() - began)
    return best, result


def test_the_demo_job():
    job = marram_house(MONDAY)
    first = []

    def stop(progress):
        first.append(progress)
        return False

    took, _ = seconds(lambda: plan_job(job, at=job.now, budget=1, on_progress=stop))
    print(f"\nfirst plan of the demo, stopped there: {took:.2f} s")
    took, plan = seconds(lambda: plan_job(job, at=job.now), times=1)
    print(
        f"plan at the usual budget: {took:.1f} s, {len(plan.stints)} stints, "
        f"finish {plan.finish:%d %b %H:%M}, proved {plan.bound.proved}"
    )
    took, again = seconds(lambda: plan_job(job, at=job.now, previous=plan), times=1)
    print(f"planned again, nothing changed: {took:.1f} s, {len(again.changes)} moved")
    took, _ = seconds(lambda: ready(job, at=job.now + timedelta(hours=27)))
    print(f"ready list: {took:.2f} s")


def rooms_copied(copies):
    """The demo's rooms so many times over, each with its own surfaces."""
    job = marram_house(MONDAY)
    rooms, surfaces = [], []
    for copy in range(copies):
        rooms += [
            replace(room, id=f"{room.id}-{copy}", connected=()) for room in job.rooms
        ]
        surfaces += [
            replace(s, id=f"{s.id}-{copy}", room=f"{s.room}-{copy}")
            for s in job.surfaces
        ]
    return replace(
        job, rooms=tuple(rooms), surfaces=tuple(surfaces), coats=(), dates=(), pins=()
    )


def test_all_wait_tables_of_forty_rooms_over_sixty_days():
    job = rooms_copied(8)
    days = 60
    took, air = seconds(lambda: job_air(job, at=job.now, days=days), times=1)
    print(f"\nair of {len(job.rooms)} rooms over {days} days: {took:.2f} s")
    axis = make_axis(job, air.origin, job.now, days)
    wanted = [
        (surface, job.material(step.material), stage)
        for surface in job.surfaces
        for step in job.recipe(surface.recipe).steps
        if step.material is not None
        for stage in job.material(step.material).labels
        if stage not in ("open", "window", "closes")
    ]

    def all_tables():
        tables = ClockTables(axis, air.surfaces)
        for surface, material, stage in wanted:
            tables.gate(surface, material, stage)
        return tables

    began = time.process_time()
    took, tables = seconds(all_tables)
    spent = (time.process_time() - began) / 3
    tracemalloc.start()  # slows what it watches: not while the clock runs
    all_tables()
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    made = len(tables._made)
    print(
        f"{len(wanted)} wait tables asked for, {made} made, {len(axis)} slots each: "
        f"{took:.2f} s, {spent:.2f} s of processor, peak {peak / 1e6:.0f} MB"
    )
    surface, material, stage = wanted[0]
    surface_air = air.surfaces[surface.id]
    ends = axis.minute[:200].astype(np.float64)
    array, _ = seconds(lambda: drying.clock(material, stage, surface_air, ends))
    loop, _ = seconds(
        lambda: [drying.hours_in(material, stage, surface_air, end) for end in ends],
        times=1,
    )
    print(f"200 ends: array {array * 1e3:.1f} ms, plain loop {loop * 1e3:.0f} ms, "
          f"ratio {loop / array:.0f}")  # fmt: skip


def test_the_odds_of_a_plan_of_twelve_rooms():
    job = rooms_copied(3)
    kept = {room.id for room in job.rooms[:12]}
    job = replace(
        job,
        rooms=job.rooms[:12],
        surfaces=tuple(s for s in job.surfaces if s.room in kept),
    )
    plan = plan_job(job, at=job.now, budget=1, on_progress=lambda _: False)
    began = time.process_time()
    took, found = seconds(lambda: chances(job, plan))
    spent = (time.process_time() - began) / 3
    print(
        f"\nodds of {len(found.stints)} stints, {len(found.gates)} gates, "
        f"{found.draws} draws: {took:.2f} s, air and all; {spent:.2f} s of processor"
    )


def test_one_clock_in_process():
    labels = {"open": 20.0, "recoat": (120.0, 240.0), "hard": 2880.0}
    air = Air(temperature_c=19.0, humidity_pct=80.0)

    def one():
        return clocks_answer(family="waterborne", labels=labels, air=air)

    one()
    took, _ = seconds(one, times=20)
    print(f"\nthree clocks in one air: {took * 1e3:.2f} ms")


def test_judging_a_plan_in_new_air():
    job = finishing_job(MIDDLE, 1)
    plan = plan_job(job, at=job.now, seconds=6)
    damp = damper(job, start=job.now)
    took, airs = seconds(lambda: judged_airs(damp, plan, at=job.now))
    print(f"\nair of {len(job.rooms)} given rooms for judging: {took * 1e3:.0f} ms")
    took, found = seconds(lambda: judge(damp, plan, at=job.now, airs=airs))
    print(
        f"judging {len(plan.stints)} stints in 12 rooms: {took * 1e3:.0f} ms, "
        f"{len(found.slips)} slip"
    )
    took, _ = seconds(
        lambda: audit(damp, plan.stints, at=job.now, wait_air=airs, open_air=airs)
    )
    print(f"the whole audit of it: {took * 1e3:.0f} ms")
