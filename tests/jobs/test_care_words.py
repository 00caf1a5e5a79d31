"""Fans and windows in words, coat by coat and room by room."""

from datetime import date, timedelta

from jobs.care_words import care_text, next_care, rooms_on
from scheduling.room_care import care_of
from tests.scheduling.planning_jobs import at, planned
from tests.scheduling.test_room_care import job_with

JOB = job_with()
PLAN = planned(JOB)
ZONE = JOB.site.tz
MONDAY = date(2026, 10, 12)


def test_a_coats_air_is_told_phase_by_phase_until_the_next_coat() -> None:
    text = care_text(care_of(JOB, PLAN.stints[0]), ZONE)
    assert text.startswith("Fans off, windows shut, dehumidifier off until 09:")
    assert "; then a fan on low, across and not at it, windows shut" in text
    assert "dehumidifier on until 1" in text


def test_a_room_is_told_its_day_in_order() -> None:
    (room,) = rooms_on(JOB, PLAN, MONDAY, ZONE)
    assert room.room == "room"
    assert room.lines[0].startswith("08:00 to 09:")
    assert room.lines[1].endswith("dehumidifier on")


def test_what_goes_on_overnight_is_told_on_both_days() -> None:
    job = job_with(recoat=1200.0)
    plan = planned(job)
    (first,) = rooms_on(job, plan, MONDAY, ZONE)
    (second,) = rooms_on(job, plan, MONDAY + timedelta(days=1), ZONE)
    assert " and overnight: " in first.lines[-1]
    assert second.lines[0].startswith("from before to ")


def test_the_next_day_with_anything_to_keep_to_is_shown() -> None:
    days = [MONDAY + timedelta(days=n) for n in range(-3, 4)]
    day, found = next_care(JOB, PLAN, days, days[0], ZONE)
    assert (day, len(found)) == (MONDAY, 1)
    assert next_care(JOB, PLAN, days, at(3, "08:00").date(), ZONE) == (None, ())
