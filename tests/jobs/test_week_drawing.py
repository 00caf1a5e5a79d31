"""The week as geometry, from plans and jobs made by hand."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from jobs.factories import (
    MONDAY,
    AirHourFactory,
    BreakFactory,
    CoatFactory,
    HandFactory,
    HandsNeededFactory,
    HoursFactory,
    MaterialFactory,
    RecipeFactory,
    RoomFactory,
    SiteFactory,
    StepFactory,
    SurfaceFactory,
    small_job,
)
from jobs.small_wedge import small_wedge
from jobs.week_air import DAMP_PCT
from jobs.week_drawing import LEFT, RIGHT, Drawing, draw_week, hand_letters
from jobs.week_marks import BLOCK, shown_stage, wedge_shares
from jobs.week_scale import FOLD, Page, pages, scale
from scheduling.drying import progress
from scheduling.plan import Bound, Plan, Range, Reason, Stint
from scheduling.problem import After, Job
from scheduling.room_air import RoomAir, constant_air

WEEK = Page(first=MONDAY.date(), last=MONDAY.date() + timedelta(days=4))


def at(day: int, hour: float) -> datetime:
    """A moment of the week by site time, Monday 0."""
    return MONDAY + timedelta(days=day, hours=hour)


def stint(start: datetime, end: datetime, **values: Any) -> Stint:
    defaults: dict[str, Any] = {
        "id": f"stint-{start:%d%H%M}",
        "kind": "work",
        "surface": "wall",
        "step": "coat-1",
        "hands": ("hand",),
        "reason": Reason(code="start", text="As early as the plan begins."),
    }
    return Stint(start=start, end=end, **(defaults | values))


def plan_of(*stints: Stint) -> Plan:
    return Plan(
        job_sha256="0" * 64,
        outcome="plan",
        finish=max(row.end for row in stints),
        bound=Bound(finish_not_before=None, proved=False, air=""),
        stints=stints,
    )


def still_air(humidity_pct: float = 50.0) -> RoomAir:
    return constant_air(at(-1, 0), temperature_c=23.0, humidity_pct=humidity_pct)


def even(
    material: Any, stage: str, air: RoomAir, end_min: float, minutes: Any, **_: Any
) -> np.ndarray:
    """A wait of four hours that falls evenly."""
    return np.clip(1 - (np.asarray(minutes) - end_min) / 240, 0, 1)


def drawn(plan: Plan, job: Job | None = None, **values: Any) -> Drawing:
    job = job or small_job()
    options: dict[str, Any] = {
        "page": WEEK,
        "now": at(1, 10),
        "progress": even,
    }
    airs = values.pop("airs", {row.id: still_air() for row in job.surfaces})
    return draw_week(job, plan, airs, **(options | values))


def pairs(points: str) -> list[tuple[float, float]]:
    return [tuple(map(float, pair.split(","))) for pair in points.split()]


def test_a_folded_hour_is_a_fifth_as_wide_as_a_working_one() -> None:
    across = scale(small_job(), WEEK, left=0, right=1000, now=at(0, 8))
    working = across.x(at(1, 11)) - across.x(at(1, 10))
    night = across.x(at(1, 22)) - across.x(at(1, 21))
    assert working / night == pytest.approx(FOLD)


def test_hours_run_from_the_left_edge_to_the_right_without_going_back() -> None:
    across = scale(small_job(), WEEK, left=LEFT, right=RIGHT, now=at(0, 8))
    places = [across.x(at(0, hour)) for hour in range(-24, 24 * 7)]
    assert places == sorted(places)
    assert (places[0], places[-1]) == (LEFT, pytest.approx(RIGHT))


def test_a_closed_weekend_is_one_fold() -> None:
    page = Page(first=MONDAY.date(), last=MONDAY.date() + timedelta(days=8))
    across = scale(small_job(), page, left=0, right=1000, now=at(0, 8))
    names = [head.name for head in across.heads]
    assert names == [
        "Mon 12",
        "Tue 13",
        "Wed 14",
        "Thu 15",
        "Fri 16",
        "Mon 19",
        "Tue 20",
    ]
    assert len(across.folds) == 6
    widest = max(across.folds, key=lambda fold: fold.width)
    assert widest.x == pytest.approx(across.x(at(4, 18)))


def test_a_site_open_day_and_night_has_no_fold_of_any_width() -> None:
    hours = HoursFactory(days="mon-sun", start="00:00", end="24:00", breaks=())
    job = small_job(site=SiteFactory(hours=(hours,)))
    across = scale(job, WEEK, left=0, right=1000, now=at(0, 8))
    assert all(fold.width == pytest.approx(0) for fold in across.folds)
    assert across.x(at(2, 12)) == pytest.approx(500)


def test_an_hour_lost_to_the_clock_is_not_drawn() -> None:
    # Europe/Lisbon puts its clocks forward on Sunday 28 March 2027 at 01:00.
    sunday = date(2027, 3, 28)
    hours = HoursFactory(days="mon-sun", start="00:00", end="24:00", breaks=())
    job = small_job(site=SiteFactory(hours=(hours,)))
    page = Page(first=sunday, last=sunday + timedelta(days=1))
    across = scale(job, page, left=0, right=47, now=at(0, 8))
    noon = datetime(2027, 3, 28, 12, tzinfo=job.site.tz)
    assert across.x(noon) == pytest.approx(11)


def test_two_days_of_a_next_week_are_drawn_with_the_week_before() -> None:
    found = pages([at(0, 8), at(7, 8), at(8, 8)], small_job())
    assert [(page.first.day, page.last.day) for page in found] == [(12, 20)]


def test_a_longer_next_week_has_a_page_of_its_own() -> None:
    found = pages([at(0, 8), at(7, 8), at(10, 8)], small_job())
    assert [(page.first.day, page.last.day) for page in found] == [(12, 16), (19, 23)]


def test_a_block_is_as_wide_as_the_hands_work() -> None:
    work = stint(at(0, 9), at(0, 11))
    picture = drawn(plan_of(work))
    mark = picture.rows[0].marks[0]
    assert mark.kind == "coat"
    assert mark.x == pytest.approx(picture.scale.x(work.start), abs=0.1)
    assert mark.width == pytest.approx(
        picture.scale.x(work.end) - picture.scale.x(work.start), abs=0.1
    )


def test_the_wedge_falls_from_the_full_block_to_nothing_at_the_likely_end() -> None:
    end = at(0, 10)
    ready = Range(
        early=end + timedelta(hours=3),
        likely=end + timedelta(hours=4),
        safe=end + timedelta(hours=6),
    )
    picture = drawn(plan_of(stint(at(0, 9), end, ready={"recoat": ready})))
    mark = picture.rows[0].marks[0]
    edge = pairs(mark.edge)
    assert edge[0] == (
        pytest.approx(picture.scale.x(end), abs=0.1),
        pytest.approx(mark.foot - BLOCK),
    )
    assert edge[-1] == (
        pytest.approx(picture.scale.x(ready.likely), abs=0.1),
        pytest.approx(mark.foot),
    )
    halfway = picture.scale.x(end + timedelta(hours=2))
    height = np.interp(halfway, *zip(*edge, strict=True))
    assert mark.foot - height == pytest.approx(BLOCK / 2, abs=0.5)


def test_the_pale_tail_ends_where_it_is_safe() -> None:
    end = at(0, 10)
    ready = Range(
        early=end, likely=end + timedelta(hours=2), safe=end + timedelta(hours=4)
    )
    picture = drawn(plan_of(stint(at(0, 9), end, ready={"recoat": ready})))
    rightmost = max(x for x, _ in pairs(picture.rows[0].marks[0].tail))
    assert rightmost == pytest.approx(picture.scale.x(ready.safe), abs=0.1)


def test_a_wait_longer_than_the_page_is_cut_at_its_edge_and_not_dropped_to_zero() -> (
    None
):
    def endless(*_: Any, coat: float) -> np.ndarray:
        return np.full(len(_[-1]), 0.5)

    ready = Range(early=None, likely=None, safe=None)
    work = stint(at(4, 9), at(4, 10), ready={"recoat": ready})
    mark = drawn(plan_of(work), progress=endless).rows[0].marks[0]
    last_x, last_y = pairs(mark.edge)[-1]
    assert last_x == pytest.approx(RIGHT, abs=0.1)
    assert mark.foot - last_y == pytest.approx(BLOCK / 2)


def test_damp_air_is_seen_to_hold_the_wedge_up() -> None:
    # The clock's own integral at 23 C: at 80 % waterborne paint dries more slowly.
    material = MaterialFactory(id="material")
    end, until = at(0, 10), at(0, 12)
    left = [
        wedge_shares(material, "recoat", still_air(pct), end, until, progress)[-1][1]
        for pct in (50.0, 80.0)
    ]
    assert 0 < left[0] < left[1] < 1


def test_the_wedge_shows_the_longest_wait_that_a_later_step_waits_for() -> None:
    material = MaterialFactory(
        id="material", labels={"touch": 60.0, "recoat": 240.0, "hard": 2880.0}
    )
    recipe = RecipeFactory(
        id="recipe",
        steps=(
            StepFactory(id="coat-1"),
            StepFactory(id="coat-2"),
            StepFactory(id="glaze", after=After(step="coat-1", stage="hard")),
        ),
    )
    materials = {"material": material}
    assert shown_stage(recipe, recipe.steps[0], materials) == "hard"
    assert shown_stage(recipe, recipe.steps[2], materials) == "recoat"


def test_dry_work_is_an_outline_without_a_wedge() -> None:
    recipe = RecipeFactory(id="recipe", steps=(StepFactory(id="sand", material=None),))
    work = stint(at(0, 9), at(0, 11), step="sand")
    mark = drawn(plan_of(work), small_job(recipes=(recipe,))).rows[0].marks[0]
    assert (mark.kind, mark.wedge) == ("dry", "")


def test_wet_work_bears_its_open_time_until_the_early_end() -> None:
    step = StepFactory(id="coat-1", wet=True, hands=HandsNeededFactory(least=1))
    job = small_job(recipes=(RecipeFactory(id="recipe", steps=(step,)),))
    open_for = Range(early=at(0, 11.5), likely=at(0, 12), safe=at(0, 13))
    picture = drawn(plan_of(stint(at(0, 9), at(0, 11), open=open_for)), job)
    mark = picture.rows[0].marks[0]
    assert mark.open is not None
    assert mark.open.x + mark.open.width == pytest.approx(
        picture.scale.x(at(0, 11.5)), abs=0.2
    )
    assert mark.open_likely_x == pytest.approx(picture.scale.x(at(0, 12)), abs=0.1)


def test_the_window_ends_at_its_early_close_with_an_upright() -> None:
    closes = Range(early=at(2, 12), likely=at(2, 16), safe=at(3, 8))
    ready = Range(early=at(1, 8), likely=at(1, 9), safe=at(1, 10))
    work = stint(at(0, 9), at(0, 11), closes=closes, ready={"recoat": ready})
    picture = drawn(plan_of(work))
    mark = picture.rows[0].marks[0]
    assert mark.window is not None
    assert mark.window.x == pytest.approx(picture.scale.x(at(1, 10)), abs=0.1)
    assert mark.window_end_x == pytest.approx(picture.scale.x(at(2, 12)), abs=0.1)


def test_a_window_that_closes_after_the_page_has_no_upright() -> None:
    closes = Range(early=at(9, 12), likely=at(9, 16), safe=at(9, 18))
    work = stint(at(0, 9), at(0, 11), closes=closes)
    assert drawn(plan_of(work)).rows[0].marks[0].window_end_x is None


def test_damp_hours_are_dotted_from_the_line_on() -> None:
    humidity = np.full(24 * 6, 50.0)
    humidity[60:70] = DAMP_PCT  # ten hours from Tuesday noon
    steady = np.full(24 * 6, 20.0)
    air = RoomAir(
        start=MONDAY,
        step_min=60.0,
        temperature_c=steady,
        humidity_pct=humidity,
        surface_c=steady,
        moving_air_m_s=steady * 0,
        spread=steady * 0,
    )
    work = stint(at(0, 9), at(0, 11))
    picture = drawn(plan_of(work), airs={"wall": air})
    (span,) = picture.bands[0].damp
    assert span.x == pytest.approx(picture.scale.x(at(2, 12)), abs=0.1)
    assert span.x + span.width == pytest.approx(picture.scale.x(at(2, 22)), abs=0.2)


def test_a_logged_coat_takes_the_place_of_its_stint() -> None:
    job = small_job(coats=(CoatFactory(),))
    picture = drawn(plan_of(stint(at(2, 9), at(2, 10))), job)
    assert [mark.x for mark in picture.rows[0].marks] == [
        pytest.approx(picture.scale.x(at(0, 8)), abs=0.1)
    ]


def test_a_coat_of_the_week_before_still_shows_the_wait_it_has_left() -> None:
    coat = CoatFactory(start=at(0, 8), end=at(0, 9))
    later = Page(first=date(2026, 10, 13), last=date(2026, 10, 16))

    def slow(*_: Any, coat: float) -> np.ndarray:
        return np.clip(1 - (np.asarray(_[-1]) - _[-2]) / (3 * 1440), 0, 1)

    picture = drawn(
        plan_of(stint(at(3, 9), at(3, 10), step="coat-2")),
        small_job(coats=(coat,)),
        page=later,
        progress=slow,
    )
    mark = picture.rows[0].marks[0]
    assert mark.width == 0
    assert pairs(mark.edge)[0][0] == LEFT


def test_labels_never_run_into_the_next_mark() -> None:
    recipe = RecipeFactory(
        id="recipe",
        steps=(
            StepFactory(
                id="coat-1", name="A first coat with a name that goes on and on"
            ),
            StepFactory(id="coat-2"),
        ),
    )
    plan = plan_of(
        stint(at(0, 9), at(0, 9.5)), stint(at(0, 11), at(0, 12), step="coat-2")
    )
    first, second = drawn(plan, small_job(recipes=(recipe,))).rows[0].marks
    assert first.label.endswith("…")
    assert first.label_x + 5.9 * len(first.label) <= second.x


def test_hands_who_share_a_letter_get_two() -> None:
    hands = tuple(
        HandFactory(id=name.lower(), name=name) for name in ("Finisher", "Fi", "Ann")
    )
    assert hand_letters(small_job(hands=hands)) == {
        "finisher": "F",
        "fi": "Fi",
        "ann": "A",
    }


def test_rooms_come_in_the_jobs_order_and_are_named_once() -> None:
    job = small_job(
        rooms=(RoomFactory(id="hall", name="Hall"), RoomFactory(id="bar", name="Bar")),
        surfaces=(
            SurfaceFactory(id="a", room="bar"),
            SurfaceFactory(id="b", room="hall"),
            SurfaceFactory(id="c", room="hall"),
        ),
    )
    plan = plan_of(*(stint(at(0, 9), at(0, 10), surface=key) for key in "abc"))
    picture = drawn(plan, job)
    assert [(row.room, row.surface) for row in picture.rows] == [
        ("Hall", "b"),
        ("", "c"),
        ("Bar", "a"),
    ]


def test_now_is_drawn_only_on_its_own_page() -> None:
    plan = plan_of(stint(at(0, 9), at(0, 10)))
    assert drawn(plan, now=at(1, 10)).now_x is not None
    assert drawn(plan, now=at(9, 10)).now_x is None


def test_a_break_in_the_day_changes_nothing_in_the_scale() -> None:
    hours = HoursFactory(
        breaks=(BreakFactory(), BreakFactory(start="15:00", end="15:15"))
    )
    job = small_job(site=SiteFactory(hours=(hours,)))
    across = scale(job, WEEK, left=0, right=1000, now=at(0, 8))
    plain = scale(small_job(), WEEK, left=0, right=1000, now=at(0, 8))
    assert across.places == plain.places


def test_the_small_wedge_parts_at_now() -> None:
    shares = [(at(0, 8 + hour), 1 - hour / 4) for hour in range(5)]
    wedge = small_wedge(
        shares, likely=at(0, 12), safe=at(0, 14), now=at(0, 10), words=""
    )
    assert wedge is not None
    assert max(x for x, _ in pairs(wedge.past)) == pytest.approx(wedge.now_x, abs=0.1)
    assert min(x for x, _ in pairs(wedge.left)) == pytest.approx(wedge.now_x, abs=0.1)


def test_no_wait_is_no_wedge() -> None:
    assert small_wedge(
        [(at(0, 8), 0.0)], likely=None, safe=None, now=None, words=""
    ) is (None)


def test_drawing_the_same_twice_gives_the_same() -> None:
    plan = plan_of(stint(at(0, 9), at(0, 10)))
    assert drawn(plan) == drawn(replace(plan))


def test_hands_that_do_not_fit_their_block_stand_beside_its_name() -> None:
    wide = drawn(plan_of(stint(at(1, 9), at(1, 14)))).rows[0].marks[0]
    assert (wide.letters, wide.label) == ("H", "coat-1")
    narrow = drawn(plan_of(stint(at(1, 9), at(1, 9.2)))).rows[0].marks[0]
    assert (narrow.letters, narrow.label) == ("", "coat-1, H")


def test_no_air_is_drawn_for_outdoors_beyond_the_forecast() -> None:
    job = small_job(
        outdoors=(AirHourFactory(at=at(-9, 0)), AirHourFactory(at=at(-8, 0)))
    )
    panel = drawn(plan_of(stint(at(1, 9), at(1, 10))), job).air
    assert panel.outdoors == ""
    assert panel.rooms != ""


def test_the_legend_knows_which_marks_are_there() -> None:
    plain = drawn(plan_of(stint(at(1, 9), at(1, 10))))
    assert plain.shows == {"coat", "wedge"}
    damp = {"wall": still_air(DAMP_PCT)}
    test = stint(at(2, 9), at(2, 9.2), kind="test", step="coat-2")
    both = drawn(plan_of(stint(at(1, 9), at(1, 10)), test), airs=damp)
    assert both.shows == {"coat", "wedge", "test", "damp"}


def test_a_thick_coats_wedge_is_drawn_by_its_own_clock() -> None:
    asked = []

    def noting(material: Any, *_: Any, coat: float) -> np.ndarray:
        asked.append(coat)
        return np.linspace(1, 0, len(_[-1]))

    steps = (StepFactory(id="coat-1", coat=2.0), StepFactory(id="coat-2"))
    job = small_job(recipes=(RecipeFactory(id="recipe", steps=steps),))
    ready = {"recoat": Range(early=at(0, 15), likely=at(0, 18), safe=at(0, 18))}
    drawn(plan_of(stint(at(0, 9), at(0, 10), ready=ready)), job, progress=noting)
    assert asked == [2.0]
