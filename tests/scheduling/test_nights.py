"""Nothing is counted on at three in the morning: windows, gates and tests by day."""

from dataclasses import replace

from jobs.factories import GateFactory, MaterialFactory
from tests.scheduling.planning_jobs import (
    at,
    coat,
    dry,
    job_of,
    paint,
    planned,
    stint,
    with_surface,
)
from tests.scheduling.test_audit import broken_rules, moved


def test_no_window_is_left_to_close_in_the_night():
    # From 15:00 on a window of 11 h shuts at 03:00: both coats wait for one day.
    job = job_of((coat("one"), coat("two")), materials=(paint(window=660.0),))
    job = replace(job, now=at(0, "15:00"))
    plan = planned(job)
    assert stint(plan, 1, "one").start == at(1, "08:00")
    assert stint(plan, 1, "two").start == at(1, "13:00")
    wide = replace(job, materials=(paint(window=1440.0),))
    stints = planned(wide).stints
    assert stints[0].start == at(0, "15:00")
    assert broken_rules(job, stints) == {"window"}


def test_what_is_ready_in_the_night_is_counted_on_from_the_morning():
    # Done at 16:00 and safe to recoat 11 h later: nobody is there at 03:00.
    job = job_of((coat("one"), coat("two")), materials=(paint(recoat=660.0),))
    plan = planned(replace(job, now=at(0, "15:00")))
    one, two = stint(plan, 1, "one"), stint(plan, 1, "two")
    assert one.ready["recoat"].safe == at(1, "03:00")
    assert two.start == at(1, "08:00")
    assert "03:00" in two.reason.text
    assert "No working hours until Tue 13 Oct 08:00" in two.reason.text


def test_a_named_gate_that_opens_in_the_night_lets_nobody_in_before_the_morning():
    gate = GateFactory(name="delivery", not_before=at(1, "03:00"))
    job = with_surface(job_of((coat(),)), 1, gates=(gate,))
    stints = planned(job).stints
    assert stints[0].start == at(1, "08:00")
    early = moved(stints, "wall-1", "coat", at(1, "02:00"))
    assert broken_rules(job, early) >= {"gate", "site-hours"}


def test_a_test_that_falls_due_in_the_night_stands_at_the_start_of_the_day():
    # Size laid at 15:00: tack likely in the night, closed before noon, so test first.
    slow = MaterialFactory(
        id="material",
        family="oil-size",
        labels={"tack": (600.0, 1140.0), "closes": (1080.0, 1380.0)},
    )
    job = job_of((coat("size", 30), dry("leaf", 60)), materials=(slow,))
    plan = planned(replace(job, now=at(0, "15:00")))
    test, leaf = stint(plan, 1, "leaf", "test"), stint(plan, 1, "leaf")
    laid = stint(plan, 1, "size")
    assert laid.start == at(0, "15:00")
    assert laid.ready["tack"].likely < at(1, "08:00") < laid.ready["tack"].safe
    assert (test.start, test.end) == (at(1, "08:00"), leaf.start)
