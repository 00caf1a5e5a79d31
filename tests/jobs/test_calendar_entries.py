"""Published entries over re-plans: stable names, counted changes, no draft."""

from dataclasses import replace
from datetime import timedelta

import pytest

from jobs.calendar_entries import update_entries
from jobs.models import CalendarEntry, Coat, Job, Plan
from tests.jobs.calendar_cast import (
    after,
    draft,
    issued,
    moved,
    size_stint,
    stint,
    stored_job,
    week_stints,
)

pytestmark = pytest.mark.django_db

MONDAY = after(72)  # after the week's work


@pytest.fixture
def job() -> Job:
    return stored_job()


def entries(job: Job) -> dict[tuple[str, str], CalendarEntry]:
    return {(row.stint_key, row.kind): row for row in job.calendar_entries.all()}


def publish(job, stints, at):
    return update_entries(issued(job, stints, at), at)


def test_a_draft_publishes_nothing(job: Job) -> None:
    with pytest.raises(ValueError, match="only issued ones show"):
        update_entries(draft(job, week_stints()), after(0))
    assert not CalendarEntry.objects.exists()


def test_the_first_plan_makes_every_entry_once(job: Job) -> None:
    assert publish(job, week_stints(), after(0)).made == 9
    rows = entries(job)
    assert {row.sequence for row in rows.values()} == {0}
    assert {row.last_modified for row in rows.values()} == {after(0)}
    assert rows["panel-size", "window"].hands == ("ben",)
    assert rows["wall-glaze", "work"].hands == ("ann", "ben")


def test_an_unchanged_plan_changes_no_entry(job: Job) -> None:
    publish(job, week_stints(), after(0))
    before = list(job.calendar_entries.values())
    # Planned from the same moment, issued an hour later as another number.
    plan = issued(job, week_stints())
    updated = update_entries(plan, after(1))
    assert (updated.made, updated.changed, updated.cancelled) == (0, 0, 0)
    assert list(job.calendar_entries.values()) == before
    assert update_entries(plan, after(2)) == updated  # nor does telling it again


def test_a_move_keeps_the_uid_and_raises_the_sequence_of_what_moved(job: Job) -> None:
    publish(job, week_stints(), after(0))
    before = entries(job)
    plan = issued(job, moved(week_stints(), "panel-size", 0.5))
    update_entries(plan, after(2))
    rows = entries(job)
    assert {key: row.uid for key, row in rows.items()} == {
        key: row.uid for key, row in before.items()
    }
    changed = {key for key, row in rows.items() if row.sequence == 1}
    assert changed == {
        ("panel-size", "work"),
        ("panel-size", "drying"),
        ("panel-size", "window"),
    }
    for key, row in rows.items():
        assert row.last_modified == (after(2) if key in changed else after(0))
    work = rows["panel-size", "work"]
    assert work.starts == before["panel-size", "work"].starts + timedelta(hours=0.5)


def test_a_stint_that_is_dropped_is_cancelled_and_comes_back_as_itself(
    job: Job,
) -> None:
    publish(job, week_stints(), after(0))
    uid = entries(job)["panel-leaf", "work"].uid
    without = tuple(s for s in week_stints() if s.id != "panel-leaf")
    publish(job, without, after(1))
    row = entries(job)["panel-leaf", "work"]
    assert (row.status, row.sequence, row.cancelled_at) == ("CANCELLED", 1, after(1))
    # Nothing waits for the size any more: its window is gone too.
    assert entries(job)["panel-size", "window"].status == "CANCELLED"
    assert publish(job, without, after(2)).cancelled == 0  # once is enough
    publish(job, week_stints(), after(3))
    row = entries(job)["panel-leaf", "work"]
    assert row.uid == uid
    assert (row.sequence, row.cancelled_at) == (2, None)
    assert row.status == "CONFIRMED"  # by now it is less than two days ahead


def test_what_is_over_is_not_cancelled_by_a_later_plan(job: Job) -> None:
    publish(job, week_stints(), after(0))
    later = (stint("panel-leaf", start=after(75)),)
    publish(job, later, MONDAY)
    rows = entries(job)
    assert rows["wall-base", "work"].status == "CONFIRMED"
    assert rows["wall-base", "work"].sequence == 0
    assert rows["panel-leaf", "work"].starts == after(75)  # moved, being still to do


def test_logged_work_that_left_the_plan_is_done_and_not_cancelled(job: Job) -> None:
    publish(job, week_stints(), after(0))
    surface = job.surfaces.get(key="panel")
    step = surface.recipe.steps.get(key="size")
    Coat.objects.create(
        job=job, surface=surface, step=step, start=after(10), end=after(12)
    )
    rest = tuple(s for s in week_stints() if s.id in ("panel-leaf", "panel-leaf-test"))
    publish(job, rest, after(13))
    rows = entries(job)
    work = rows["panel-size", "work"]
    assert (work.starts, work.ends, work.status) == (after(10), after(12), "CONFIRMED")
    assert work.summary == "Done: size · Panel, Hall"
    window = rows["panel-size", "window"]
    # Opens 14 h and closes 22 h after the coat as it was put on, not as planned.
    assert (window.starts, window.ends) == (after(26), after(34))
    assert window.hands == ("ben",)
    assert publish(job, rest, after(13)).changed == 0


def test_a_hand_taken_off_a_stint_is_remembered(job: Job) -> None:
    publish(job, week_stints(), after(0))
    swapped = tuple(
        replace(s, hands=("ann",)) if s.id == "wall-glaze" else s for s in week_stints()
    )
    publish(job, swapped, after(1))
    row = entries(job)["wall-glaze", "work"]
    assert (row.hands, row.left_hands, row.left_at) == (("ann",), ("ben",), after(1))
    assert row.sequence == 1


def test_a_week_later_the_forecast_is_nearer_and_tentative_becomes_confirmed(
    job: Job,
) -> None:
    publish(job, week_stints(), after(0))
    assert entries(job)["panel-leaf", "work"].status == "TENTATIVE"
    publish(job, week_stints(), after(10))
    row = entries(job)["panel-leaf", "work"]
    assert (row.status, row.sequence) == ("CONFIRMED", 1)


def test_three_hundred_stints_take_a_fixed_number_of_queries(
    job: Job, django_assert_max_num_queries
) -> None:
    end = after(1)
    many = tuple(
        stint(f"wall-base-{n}", start=after(n / 10), hands=("ann",)) for n in range(300)
    )
    plan = issued(job, (*many, replace(size_stint(end), closes=None)))
    with django_assert_max_num_queries(30):
        assert update_entries(plan, after(0)).made == 301
    shifted = tuple(
        replace(s, start=after(1, of=s.start), end=after(1, of=s.end)) for s in many
    )
    plan = issued(job, shifted)
    with django_assert_max_num_queries(30):
        assert update_entries(plan, after(1)).changed == 300


def test_the_moment_of_change_is_kept_to_the_second(job: Job) -> None:
    at = after(0).replace(microsecond=123_456)
    publish(job, week_stints(), at)
    assert {row.last_modified.microsecond for row in entries(job).values()} == {0}


def test_entries_go_with_their_job(job: Job) -> None:
    publish(job, week_stints(), after(0))
    job.delete()
    assert not CalendarEntry.objects.exists()
    assert not Plan.objects.exists()


def test_a_window_is_moved_to_the_hand_that_takes_the_next_step(job: Job) -> None:
    publish(job, week_stints(), after(0))
    swapped = tuple(
        replace(s, hands=("ann",)) if s.id == "panel-leaf" else s for s in week_stints()
    )
    publish(job, swapped, after(0))
    window = entries(job)["panel-size", "window"]
    assert (window.hands, window.left_hands) == (("ann",), ("ben",))
