"""The demo's whole week made impossible, one thing at a time: the right reason each.

Small jobs in ``tests/scheduling`` show each reason alone; here it has to be found among
fifty stints. The seconds each takes are printed (``-s``), never asserted.
"""

import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from jobs.demo_job import marram_house
from jobs.factories import (
    DateWishFactory,
    GateFactory,
    HandsNeededFactory,
    HoursFactory,
    PinFactory,
)
from scheduling.planning import plan_job
from scheduling.problem import Job

MONDAY = date(2026, 10, 12)
JOB = marram_house(MONDAY)


def at(day: int, clock: str):
    hour, minute = map(int, clock.split(":"))
    on = JOB.now.replace(hour=hour, minute=minute)
    return on.replace(day=on.day + day)


def with_surface(name: str, **changes) -> Callable[[], Job]:
    return lambda: replace(
        JOB,
        surfaces=tuple(
            replace(s, **changes) if s.id == name else s for s in JOB.surfaces
        ),
    )


def with_room(name: str, **changes) -> Callable[[], Job]:
    return lambda: replace(
        JOB,
        rooms=tuple(replace(r, **changes) if r.id == name else r for r in JOB.rooms),
    )


def with_step(recipe: str, step: str, **changes) -> Callable[[], Job]:
    def change(row):
        steps = tuple(replace(s, **changes) if s.id == step else s for s in row.steps)
        return replace(row, steps=steps) if row.id == recipe else row

    return lambda: replace(JOB, recipes=tuple(map(change, JOB.recipes)))


def without_hand(name: str) -> Job:
    return replace(JOB, hands=tuple(h for h in JOB.hands if h.id != name))


def away_for_good(name: str) -> Job:
    hands = tuple(
        replace(h, away=((at(0, "00:00"), at(0, "00:00").replace(year=2028)),))
        if h.id == name
        else h
        for h in JOB.hands
    )
    return replace(JOB, hands=hands)


def with_must(**wish) -> Callable[[], Job]:
    return lambda: replace(JOB, dates=(*JOB.dates, DateWishFactory(must=True, **wish)))


def quiet_all_day() -> Job:
    hours = (HoursFactory(days="mon-sun", start="06:00", end="22:00", breaks=()),)
    return replace(JOB, site=replace(JOB.site, quiet=hours))


def pinned_to_sunday() -> Job:
    pin = PinFactory(surface="frieze", step="seal", start=at(6, "10:00"))
    return replace(JOB, pins=(pin,))


SHORT = (HoursFactory(days="mon-sun", start="08:00", end="08:20", breaks=()),)
SUN = (HoursFactory(days="mon-sun", start="05:00", end="22:00", breaks=()),)
CASES = {
    "a skill that left with its hand": (
        lambda: without_hand("carpenter"), "hands", "carpentry"),
    "more hands than there are": (
        with_step("strie", "drag", hands=HandsNeededFactory(least=7)), "hands", "7"),
    "a hand who never comes": (
        lambda: away_for_good("lead-finisher"), "hands", "Glaze|graining|marbling"),
    "a cure longer than the date": (
        with_must(surface="lounge-trim", by=at(4, "16:30"), stage="hard"),
        "date", "Lounge, skirting and doors"),
    "a room hardly ever open": (
        with_room("lounge", access=SHORT), "hours", "lounge"),
    "a wall too long for any stretch": (
        with_surface("lounge-n", width_m=30.0), "hours", "one unbroken stretch"),
    "a gate that opens after the date": (
        lambda: replace(
            with_surface("frieze", gates=(
                GateFactory(name="Stencil cut", not_before=at(11, "08:00")),))(),
            dates=(DateWishFactory(surface="frieze", by=at(10, "17:00"), must=True),)),
        "date|gate", "Stencil cut|frieze"),
    "a tower struck too early": (
        with_surface("stair-hall-n", gates=(
            GateFactory(name="Tower", not_before=None, not_after=at(1, "10:00")),)),
        "shuts", "Tower"),
    "quiet hours all day": (quiet_all_day, "quiet", "quiet hours"),
    "sun from dawn to dusk": (
        with_surface("dining-end", sun=SUN), "sun", "shade it"),
    "a room handed back tomorrow": (
        with_room("dining", hand_back=at(1, "12:00")), "hand-back", "handed back"),
    "a pin on a Sunday": (pinned_to_sunday, "pin", "outside the hours"),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_a_week_made_impossible_says_by_what(name):
    change, code, words = CASES[name]
    job = change()
    began = time.perf_counter()
    plan = plan_job(job, at=job.now)
    print(f"\n{name}: {time.perf_counter() - began:.1f} s")
    for reason in plan.reasons:
        print(f"  {reason.code}: {reason.text}")
    assert plan.outcome == "no-plan"
    assert any(
        reason.code in code.split("|")
        and any(word in reason.text for word in words.split("|"))
        for reason in plan.reasons
    )
