"""The working axis against the calendar: hours, breaks, absences, clock changes.

Clock changes: directive 2000/84/EC, last Sundays of March and October at 01:00 UTC.
"""

from dataclasses import replace
from datetime import UTC, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.factories import BreakFactory, HandFactory, HoursFactory
from scheduling.shapes import DAY_NAMES
from scheduling.working_time import SLOT_MIN, any_hour_axis, in_spans, make_axis
from tests.scheduling.planning_jobs import (
    MONDAY,
    at,
    coat,
    job_of,
    planned,
    stint,
    with_hours,
)


def axis_of(job, start=None, days=3):
    begin = start or job.now
    return make_axis(job, begin.astimezone(UTC), begin, days)


def starts(axis):
    return [axis.start_of(slot) for slot in range(len(axis))]


# -- weekdays --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("mon-fri", {0, 1, 2, 3, 4}),
        ("sat", {5}),
        ("fri-fri", {4}),
        ("sat-mon", {5, 6, 0}),
        ("sun-mon", {6, 0}),
        ("fri-wed", {4, 5, 6, 0, 1, 2}),
        ("mon-sun", {0, 1, 2, 3, 4, 5, 6}),
        ("sat,mon-tue", {5, 0, 1}),
    ],
)
def test_days_of_the_week_wrap_from_sunday_to_monday(text, days):
    assert HoursFactory(days=text).weekdays == days


@given(st.sampled_from(DAY_NAMES), st.sampled_from(DAY_NAMES))
def test_a_range_of_weekdays_is_walked_forward_from_its_first_to_its_last(first, last):
    day, walked = DAY_NAMES.index(first), {DAY_NAMES.index(first)}
    while day != DAY_NAMES.index(last):
        day = (day + 1) % 7
        walked.add(day)
    assert HoursFactory(days=f"{first}-{last}").weekdays == walked


# -- slots -----------------------------------------------------------------------------


def test_a_break_ends_the_stretch_and_not_the_day():
    axis = axis_of(job_of((coat(),)), days=0)  # 08:00 to 16:30, break 12:00 to 12:30
    assert len(axis) == 8 * 12
    assert axis.start_of(48) == at(0, "12:30")
    assert set(axis.stretch_end[:48]) == {48}
    assert set(axis.stretch_end[48:]) == {96}
    assert set(axis.day_end) == {96}


def test_a_stretch_ends_with_the_day_though_work_could_go_on():
    job = job_of((coat(),))
    job = with_hours(job, days="mon-sun", start="00:00", end="24:00", breaks=())
    axis = axis_of(job, at(0, "22:00"), days=1)
    assert list(np.diff(axis.minute)) == [SLOT_MIN] * (len(axis) - 1)
    assert axis.stretch_end[0] == axis.day_end[0] == 24
    assert axis.start_of(24) == at(1, "00:00")
    assert axis.stretch_end[24] == 24 + 288


def test_wet_work_begun_in_the_evening_does_not_run_over_midnight():
    job = with_hours(
        job_of((coat("coat", 120, wet=True),)),
        days="mon-sun", start="00:00", end="24:00", breaks=(),
    )  # fmt: skip
    assert stint(planned(replace(job, now=at(0, "22:30"))), 1).start == at(1, "00:00")


def test_an_absence_takes_no_slot_and_cuts_no_stretch_of_those_who_stay():
    away = HandFactory(id="away", away=((at(0, "09:00"), at(0, "10:00")),))
    job = job_of((coat(),), hands=(away, HandFactory(id="stays")))
    whole = axis_of(job_of((coat(),)), days=0)
    for crew in (job.hands, job.hands[:1]):
        axis = axis_of(replace(job, hands=crew), days=0)
        assert list(axis.minute) == list(whole.minute)
        assert list(axis.stretch_end) == list(whole.stretch_end)


def test_wet_work_of_one_goes_on_while_another_is_away():
    away = HandFactory(id="away", away=((at(0, "09:00"), at(0, "10:00")),))
    job = job_of((coat("coat", 240, wet=True),), hands=(away, HandFactory(id="stays")))
    found = stint(planned(job), 1)
    assert (found.start, found.end) == (at(0, "08:00"), at(0, "12:00"))
    assert found.hands == ("stays",)


def test_hours_in_which_no_hand_ever_comes_are_no_working_time():
    late = HandFactory(id="late", hours=(HoursFactory(start="13:00"),))
    axis = axis_of(job_of((coat(),), hands=(late,)), days=0)
    assert axis.start_of(0) == at(0, "13:00")


# -- the clock's changes ---------------------------------------------------------------


@pytest.mark.parametrize(("season", "hours"), [("spring", 23), ("autumn", 25)])
def test_the_day_of_a_clock_change_has_its_real_hours_and_is_one_day(season, hours):
    start = MONDAY.replace(month=3, day=29) if season == "spring" else at(13, "00:00")
    assert start.weekday() == 6
    job = job_of((coat(),))
    job = with_hours(job, days="sun", start="00:00", end="24:00", breaks=())
    axis = axis_of(job, start, days=1)
    assert len(axis) == hours * 12
    assert set(axis.day) == {start.toordinal()}
    assert set(axis.stretch_end) == {hours * 12}
    assert axis.end_of(len(axis) - 1) - start == timedelta(days=1)  # by the wall clock


def test_hours_that_begin_in_the_hour_that_spring_skips_begin_after_it():
    start = MONDAY.replace(month=3, day=29)
    job = with_hours(
        job_of((coat(),)), days="sun", start="01:00", end="04:00", breaks=()
    )
    axis = axis_of(job, start, days=0)
    assert len(axis) == 2 * 12  # 02:00 to 04:00 on the wall, 01:00 to 03:00 in UTC
    assert axis.start_of(0).astimezone(UTC).hour == 1


EDGES = st.sampled_from([0, 2, 5, 7, 8, 9, 12, 13, 16, 20, 24])  # not in the hour 1


@settings(max_examples=60, deadline=None)
@given(
    st.tuples(EDGES, EDGES).filter(lambda edges: edges[0] < edges[1]),
    st.tuples(EDGES, EDGES).filter(lambda edges: edges[0] < edges[1]),
    st.sampled_from(["sun", "sat-mon", "mon-fri", "fri-sun"]),
    st.sampled_from(["spring", "autumn"]),
    st.lists(st.integers(0, 3), max_size=2),
)
def test_slots_are_the_five_minutes_that_the_wall_clock_shows_as_open(
    opens, pause, days, season, shut
):
    """Every five minutes of UTC asked for their face on the site's clock."""
    friday = at(11, "00:00") if season == "autumn" else at(0, "00:00").replace(
        month=3, day=27
    )  # fmt: skip
    text = [f"{hour:02d}:00" for hour in (*opens, *pause)]
    job = with_hours(
        job_of((coat(),)), days=days, start=text[0], end=text[1],
        breaks=(BreakFactory(start=text[2], end=text[3]),),
    )  # fmt: skip
    closed = tuple((friday + timedelta(days=day)).date() for day in shut)
    job = replace(job, site=replace(job.site, closed=closed))
    axis = axis_of(job, friday, days=3)
    weekdays = HoursFactory(days=days).weekdays
    open_slots, moment = [], friday.astimezone(UTC)
    while moment < (friday + timedelta(days=4)).astimezone(UTC):
        face = moment.astimezone(job.site.tz)
        if (
            face.weekday() in weekdays
            and face.date() not in closed
            and opens[0] <= face.hour < opens[1]
            and not pause[0] <= face.hour < pause[1]
        ):
            open_slots.append(moment)
        moment += timedelta(minutes=SLOT_MIN)
    assert [start.astimezone(UTC) for start in starts(axis)] == open_slots


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 60), max_size=8, unique=True))
def test_a_slot_is_in_a_span_that_holds_all_its_minutes(edges):
    edges = sorted(edges)[: len(edges) // 2 * 2]
    spans = [(float(a), float(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    minute = np.arange(0, 60, SLOT_MIN)
    naive = [
        any(a <= m and m + SLOT_MIN <= b for a, b in spans) for m in minute.tolist()
    ]
    assert in_spans(minute, spans).tolist() == naive


# -- at any hour -----------------------------------------------------------------------


def any_hour(job, start, days=2):
    return any_hour_axis(job, start.astimezone(UTC), start, days)


def test_an_axis_at_any_hour_leaves_out_nothing_but_breaks():
    """Lunch of half an hour on Monday, none on the Saturday and Sunday before."""
    job = job_of((coat(),))
    axis = any_hour(job, at(0, "00:00"), days=1)
    told = {f"{moment:%a %H:%M}" for moment in starts(axis)}
    assert {"Mon 00:00", "Mon 11:55", "Mon 12:30", "Mon 23:55"} <= told
    assert not told & {f"Mon 12:{minute:02}" for minute in range(0, 30, 5)}
    weekend = any_hour(job, at(-2, "00:00"), days=1)
    assert len(weekend) == 2 * 24 * 12  # this day and the next
    nobody = replace(job, hands=())
    assert len(any_hour(nobody, at(0, "00:00"), days=1)) == len(axis)


def test_a_break_that_the_axis_begins_in_is_worked():
    job = job_of((coat(),))
    moments = starts(any_hour(job, at(0, "12:10")))
    assert moments[:5] == [at(0, "12:10") + n * timedelta(minutes=5) for n in range(5)]
    assert at(1, "12:10") not in moments
    always = with_hours(job, days="mon-sun", breaks=(
        BreakFactory(start="00:00", end="24:00"),
    ))  # fmt: skip
    assert len(any_hour(always, at(0, "12:10"), days=1)) == 24 * 12
