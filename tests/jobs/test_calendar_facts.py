"""What a plan's calendars say, read off a small plan made by hand."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID

import pytest

from jobs import factories
from jobs.calendar_facts import Facts, as_logged, facts_of
from jobs.calendar_file import Entry, calendar_bytes
from scheduling import problem
from scheduling.plan import Range
from tests.jobs.calendar_cast import (
    LISBON,
    PLANNED_AT,
    after,
    gilding_job,
    moments,
    size_stint,
    stint,
    week_stints,
)

GOLDEN = Path(__file__).resolve().parents[1] / "golden"


def facts(**changes: object) -> dict[tuple[str, str], Facts]:
    """The week's entries by stint and kind."""
    job = gilding_job(**changes)
    found = facts_of(job, week_stints(), PLANNED_AT)
    return {(entry.stint, entry.kind): entry for entry in found}


def local(moment: datetime) -> str:
    return f"{moment.astimezone(LISBON):%a %H:%M}"


def test_every_stint_has_an_entry_coats_dry_and_only_the_size_has_a_window() -> None:
    assert set(facts()) == {
        ("wall-base", "work"),
        ("wall-base", "drying"),
        ("wall-glaze", "work"),
        ("wall-glaze", "drying"),
        ("panel-size", "work"),
        ("panel-size", "drying"),
        ("panel-size", "window"),
        ("panel-leaf-test", "test"),
        ("panel-leaf", "work"),
    }


def test_work_says_step_place_clock_hands_mix_test_and_why() -> None:
    entry = facts()["wall-glaze", "work"]
    assert entry.summary == "drag glaze · End wall, Lounge"
    assert entry.description.split("\n") == [
        "drag glaze · End wall, Lounge",
        "Saturday 24 October 2026, 12:00 to 13:30 (site time, Europe/Lisbon)",
        "Hands: Ann, Ben",
        # 5 m x 2.5 m at 10 m2 a litre
        "Mix: Umber glaze, by parts colour 1 : medium 4, about 1.2 l for 12.5 m²",
        "Stays open at least 21 min",
        "Air: Fans off, windows shut until 14:00; then a fan on low, across and not at "
        "it, windows ajar where it is drier outdoors until Sun 02:30",
        "Test first: Thumb press and quarter twist: no mark; sands to powder",
        "Why then: Base white is hard at 11:00.",
    ]
    assert entry.hands == ("ann", "ben")
    assert entry.location == "Lounge, Sea hotel"
    assert entry.categories == ("Work", "Lounge", "Umber glaze")
    assert (entry.latitude, entry.longitude) == (38.7, -9.14)


def test_a_surface_whose_name_has_its_room_is_not_followed_by_the_room_again() -> None:
    wall = replace(gilding_job().surface("wall"), name="Lounge, end wall")
    (base,) = (
        told
        for told in facts_of(gilding_job(surfaces=(wall,)), week_stints(), PLANNED_AT)
        if (told.stint, told.kind) == ("wall-base", "work")
    )
    assert base.summary == "base · Lounge, end wall"
    assert base.location == "Lounge, Sea hotel"


def test_drying_waits_for_the_stage_that_the_next_step_names() -> None:
    entry = facts()["wall-base", "drying"]
    assert entry.summary == (
        "Drying until ready for drag glaze: Base white · End wall, Lounge"
    )
    # Done at 09:00, safely hard 26 h after; recoat would be long before.
    assert (local(entry.starts), local(entry.ends)) == ("Fri 09:00", "Sat 11:00")
    assert entry.hands == ()  # nobody's time


def test_a_last_coat_dries_to_the_hardest_stage_it_has() -> None:
    entry = facts()["wall-glaze", "drying"]
    assert entry.summary == "Drying until dry: Umber glaze · End wall, Lounge"


def test_a_window_opens_with_the_safe_moment_and_closes_with_the_early_one() -> None:
    entry = facts()["panel-size", "window"]
    # Sized from 17:00 to 18:00 summer time; 14 h and 22 h later the clocks are back.
    assert entry.summary == "Gold size ready for leaf 07:00 to 15:00 · Panel, Hall"
    assert entry.starts == datetime(2026, 10, 25, 7, tzinfo=UTC)
    assert entry.ends == datetime(2026, 10, 25, 15, tzinfo=UTC)
    assert entry.hands == ("ben",)  # who lays the leaf
    assert (
        "Closes: early Sun 25 Oct 15:00, likely Sun 25 Oct 19:00" in entry.description
    )


def test_a_window_that_opens_too_late_to_be_sure_is_likely_and_tentative() -> None:
    size = size_stint(after(1))
    slow = replace(size, closes=moments(13, 26, 40, of=size.end))
    leaf = stint("panel-leaf", start=after(15), hours=1)
    job = gilding_job(rooms=(factories.RoomFactory(id="hall"),))
    found = {(e.stint, e.kind): e for e in facts_of(job, (slow, leaf), PLANNED_AT)}
    entry = found["panel-size", "window"]
    assert entry.status == "TENTATIVE"  # though the air is given
    assert (local(entry.starts), local(entry.ends)) == ("Fri 21:00", "Sat 11:00")
    assert "Test before starting." in entry.description


def test_a_coat_that_never_dries_in_this_air_has_no_drying_entry_and_says_so() -> None:
    never = Range(early=after(20), likely=None, safe=None)
    base = replace(week_stints()[0], ready={"hard": never})
    stints = (base, *week_stints()[1:])
    found = {(e.stint, e.kind): e for e in facts_of(gilding_job(), stints, PLANNED_AT)}
    assert ("wall-base", "drying") not in found
    assert "safe not in this air" in found["wall-base", "work"].description


def test_a_test_is_an_entry_of_its_own_with_what_to_try() -> None:
    entry = facts()["panel-leaf-test", "test"]
    assert entry.summary == "Test before leaf · Panel, Hall"
    assert "Test: Knuckle: slight pull and a tick" in entry.description


def test_the_wall_clock_names_itself_where_it_changes_overnight() -> None:
    entry = facts()["panel-size", "drying"]
    assert (
        "Saturday 24 October 2026, 18:00 WEST to Sunday 25 October, 07:00 WET "
        "(site time, Europe/Lisbon)"
    ) in entry.description


@pytest.mark.parametrize(
    ("hours_ahead", "room", "status"),
    [
        (48, "hall", "CONFIRMED"),  # as far as two days the forecast is taken as sure
        (49, "hall", "TENTATIVE"),  # modelled air
        (49, "lounge", "CONFIRMED"),  # given air hangs on no forecast
    ],
)
def test_work_in_modelled_air_is_tentative_beyond_two_days(
    hours_ahead: float, room: str, status: str
) -> None:
    job = gilding_job()
    surfaces = tuple(replace(surface, room=room) for surface in job.surfaces)
    leaf = stint("panel-leaf", start=after(hours_ahead))
    (entry,) = facts_of(replace(job, surfaces=surfaces), (leaf,), PLANNED_AT)
    assert entry.status == status
    assert ("Hangs on the forecast" in entry.description) == (status == "TENTATIVE")


def test_differences_of_a_minute_are_not_told() -> None:
    shifted = [
        replace(
            planned,
            ready={
                stage: Range(
                    early=after(-50 / 3600, of=value.early),
                    likely=after(-50 / 3600, of=value.likely),
                    safe=after(-50 / 3600, of=value.safe),
                )
                for stage, value in planned.ready.items()
            },
        )
        for planned in week_stints()
    ]
    job = gilding_job()
    assert facts_of(job, shifted, PLANNED_AT) == facts_of(
        job, week_stints(), PLANNED_AT
    )


def test_sections_wait_for_their_own_section_only() -> None:
    base = week_stints()[0]
    glaze = stint("wall-glaze", start=after(29), section="2")
    first = replace(base, id="wall-base-1", section="1")
    second = replace(
        base,
        id="wall-base-2",
        section="2",
        ready={"hard": moments(1, 2, 3, of=base.end)},
    )
    job = gilding_job()
    wall = replace(job.surface("wall"), stop_lines_m=(2.0,))
    job = replace(job, surfaces=(wall,))
    found = {
        (e.stint, e.kind): e for e in facts_of(job, (first, second, glaze), PLANNED_AT)
    }
    assert found["wall-base-2", "drying"].summary == (
        "Drying until ready for drag glaze: Base white · End wall section 2, Lounge"
    )
    assert "until hard" in found["wall-base-1", "drying"].summary
    assert "section 2 of 2" in found["wall-glaze", "work"].description
    # 3 m of the 5 m are right of the stop line.
    assert "about 0.75 l for 7.5 m²" in found["wall-glaze", "work"].description


def test_a_stint_whose_step_is_gone_from_the_job_is_left_out() -> None:
    gone = stint("wall-varnish", start=after(3))
    found = facts_of(gilding_job(), (gone, *week_stints()), PLANNED_AT)
    assert "wall-varnish" not in {entry.stint for entry in found}


def test_a_logged_coat_is_shown_at_its_own_time_with_its_clocks_moved() -> None:
    planned = size_stint(after(1))
    coat = problem.Coat(surface="panel", step="size", start=after(1.5), end=after(3.5))
    logged = as_logged(planned, [coat])
    assert logged is not None
    assert (logged.start, logged.end) == (coat.start, coat.end)
    assert logged.closes == moments(22, 26, 30, of=coat.end)
    assert logged.ready["tack"] == moments(11, 12, 14, of=coat.end)
    job = gilding_job()
    entries = facts_of(job, (logged,), PLANNED_AT, done={logged.id})
    assert entries[0].summary == "Done: size · Panel, Hall"
    assert "Why then" not in entries[0].description


def test_a_coat_elsewhere_does_not_make_a_stint_done() -> None:
    other = problem.Coat(surface="wall", step="base", start=after(1), end=after(2))
    assert as_logged(size_stint(after(1)), [other]) is None
    section = replace(other, section="2")
    assert as_logged(replace(week_stints()[0], section="1"), [section]) is None


def test_a_whole_week_over_the_end_of_summer_time_is_as_in_the_golden_file() -> None:
    entries = [
        Entry(
            uid=UUID(int=number),
            sequence=0,
            changed_at=PLANNED_AT,
            status=told.status,
            starts=told.starts,
            ends=told.ends,
            summary=told.summary,
            description=told.description,
            location=told.location,
            categories=told.categories,
            busy=told.kind in ("work", "test"),
            latitude=told.latitude,
            longitude=told.longitude,
        )
        for number, told in enumerate(facts().values())
    ]
    content = calendar_bytes("Sea hotel", entries, zone="Europe/Lisbon")
    golden = GOLDEN / "a_week_over_the_end_of_summer_time.ics"
    assert content == golden.read_bytes()
