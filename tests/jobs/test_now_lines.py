"""Now in words, from states made by hand: what is told together, and what first."""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.factories import (
    MONDAY,
    ZONE,
    CoatFactory,
    HandFactory,
    HoursFactory,
    MaterialFactory,
    RecipeFactory,
    RoomFactory,
    StepFactory,
    SurfaceFactory,
    small_job,
)
from jobs.now_lines import FREES, GROUPS, TOGETHER, Group, Line, Words, now_groups
from jobs.templatetags.plan_format import say_length
from scheduling.cautions import Caution
from scheduling.plan import Range, Reason, Stint
from scheduling.problem import Air, Job, Rescue
from scheduling.readiness import ready
from scheduling.readiness_state import STATES, HeldBy, SurfaceState
from scheduling.room_air import RoomAir, constant_air
from scheduling.this_wall import wall_now

NOW = MONDAY + timedelta(hours=12.5)
WALLS = ("north", "east", "south")


def at(day: int, hour: float) -> datetime:
    """A moment of the week by site time, Monday 0."""
    return MONDAY + timedelta(days=day, hours=hour)


def span(likely: datetime, safe: datetime | None = None) -> Range:
    return Range(early=likely, likely=likely, safe=safe or likely)


def even(
    material: Any, stage: str, air: RoomAir, end_min: float, minutes: Any, **_: Any
) -> np.ndarray:
    """A wait of a day that falls evenly."""
    return np.clip(1 - (np.asarray(minutes) - end_min) / 1440, 0, 1)


def house(**changes: Any) -> Job:
    """Three walls of a lounge and one of a bar."""
    rooms = (RoomFactory(id="lounge", name="Lounge"), RoomFactory(id="bar", name="Bar"))
    walls = tuple(
        SurfaceFactory(id=name, name=f"Lounge, {name} wall", room="lounge")
        for name in WALLS
    )
    back = SurfaceFactory(id="back", name="Back wall", room="bar")
    return small_job(**({"rooms": rooms, "surfaces": (*walls, back)} | changes))


def state(job: Job, surface: str, kind: str, **values: Any) -> SurfaceState:
    found = job.surface(surface)
    recipe = job.recipe(found.recipe)
    defaults: dict[str, Any] = {
        "step": recipe.steps[1],
        "test": "Thumb press: no mark",
        "sure": "medium",
        "stage": "recoat",
        "material": job.materials[0],
        "last_coat": CoatFactory(surface=surface, start=at(0, 8), end=at(0, 9)),
    }
    return SurfaceState(surface=found, state=kind, **(defaults | values))  # type: ignore[arg-type]


def waiting(job: Job, surface: str, likely: datetime, **values: Any) -> SurfaceState:
    until = span(likely, likely + timedelta(hours=2))
    hold = HeldBy(code="wait", text="Base can be recoated later.", until=until)
    options: dict[str, Any] = {"held_by": (hold,), "until": until}
    return state(job, surface, values.pop("kind", "held"), **(options | values))


def told(
    job: Job, *states: SurfaceState, humidity_pct: float = 50.0, **options: Any
) -> tuple[Group, ...]:
    air = constant_air(at(-1, 0), temperature_c=23.0, humidity_pct=humidity_pct)
    words = Words(
        zone=ZoneInfo(ZONE), now=NOW, units="metric", progress=even, **options
    )
    return now_groups(job, states, {row.id: air for row in job.surfaces}, words)


def only_line(groups: tuple[Group, ...]) -> Line:
    (group,) = groups
    (line,) = group.lines
    return line


def stint_of(surface: str, start: datetime, hands: tuple[str, ...] = ()) -> Stint:
    return Stint(
        id=f"{surface}-coat-2", kind="work", surface=surface, step="coat-2",
        hands=hands or ("hand",), start=start, end=start + timedelta(hours=1),
        reason=Reason(code="start", text="As early as the plan begins."),
    )  # fmt: skip


def test_every_state_has_its_group_and_the_windows_come_first() -> None:
    assert sorted(kind for kind, _ in GROUPS) == sorted(STATES)
    assert [kind for kind, _ in GROUPS][:2] == ["closing", "now"]


def test_walls_of_a_room_that_wait_alike_are_told_as_one() -> None:
    job = house()
    line = only_line(
        told(job, *(waiting(job, wall, at(2, 5.5)) for wall in ("north", "east")))
    )
    assert line.name == "Lounge: north wall and east wall"
    assert line.answer == "Not dry to recoat until Wed 05:30"


def test_walls_told_as_one_say_the_first_and_the_last_moment() -> None:
    job = house()
    ends = zip(WALLS, (6.25, 5.5, 6.0), strict=True)
    line = only_line(told(job, *(waiting(job, wall, at(2, h)) for wall, h in ends)))
    assert line.name == "Lounge: east wall, south wall and north wall"
    assert line.answer == "Not dry to recoat until Wed 05:30 to 06:15"
    assert "Likely **Wed 05:30 to 06:15**, safe **Wed 07:30 to 08:15**." in line.why


@pytest.mark.parametrize(
    ("surface", "changes"),
    [
        ("back", {}),  # another room
        ("east", {"sure": "low"}),
        ("east", {"stage": "touch"}),
        ("east", {"kind": "today"}),
    ],
)
def test_walls_that_differ_are_told_apart(
    surface: str, changes: dict[str, Any]
) -> None:
    job = house()
    one = waiting(job, "north", at(2, 5.5))
    other = waiting(job, surface, at(2, 5.5), **changes)
    assert sum(len(group.lines) for group in told(job, one, other)) == 2


def test_walls_whose_waits_end_far_apart_are_told_apart() -> None:
    job = house()
    late = at(2, 5) + TOGETHER + timedelta(minutes=1)
    groups = told(job, waiting(job, "north", at(2, 5)), waiting(job, "east", late))
    assert len(groups[0].lines) == 2


def test_what_would_free_a_wall_is_said_once() -> None:
    job = house()
    states = (waiting(job, "north", at(2, 5)), waiting(job, "back", at(3, 5)))
    (group,) = told(job, *states)
    said = [text for line in group.lines for text in line.why]
    assert said.count(FREES["wait"]) == 1
    assert FREES["wait"] in group.lines[0].why


def test_today_goes_without_its_name_and_another_day_with_it() -> None:
    job = house()
    line = only_line(told(job, waiting(job, "north", at(0, 14), kind="soon")))
    assert line.answer == "Thumb press at 14:00, then coat-2"
    assert "Look for: no mark." in line.why
    assert line.wedge is not None
    line = only_line(told(job, waiting(job, "north", at(1, 14), kind="today")))
    assert line.answer == "Thumb press at Tue 14:00, then coat-2"


def test_a_wall_held_by_fumes_says_from_when_and_draws_no_wait() -> None:
    job = house()
    text = "Makes solvent: Bar, Glaze is still open or tacky."
    short = HeldBy(code="solvent", text="Sooner gone.", until=span(at(0, 15)))
    long = HeldBy(code="solvent", text=text, until=span(at(0, 18)))
    held = state(
        job, "north", "today", held_by=(short, long), until=span(at(0, 18))
    )  # fmt: skip
    line = only_line(told(job, held))
    assert line.answer == "Coat-2 from 18:00"
    assert f"{text} So is 1 more." in line.why
    assert "Test first: thumb press: no mark." in line.why
    assert line.wedge is None


def test_a_hold_is_told_once_though_several_are_of_its_kind() -> None:
    job = house()
    holds = tuple(
        HeldBy(code="gate", text=f"Not before gate {n}: Tue 0{n}:00.",
               until=span(at(1, n)))
        for n in (6, 8, 7)
    )  # fmt: skip
    line = only_line(
        told(job, waiting(job, "north", at(2, 5), held_by=(
            HeldBy(code="wait", text="Waits.", until=span(at(2, 5))), *holds)))
    )  # fmt: skip
    assert "Not before gate 8: Tue 08:00. So are 2 more." in line.why


@pytest.mark.parametrize(
    ("start", "said"),
    [
        (at(0, 12), "The plan has it **now**, 12:00 to 13:00, by Ann and Ben."),
        (at(0, 14), "The plan has it **14:00**, by Ann and Ben."),
        (at(1, 8), "The plan has it **Tue 08:00**, by Ann and Ben."),
        (at(0, 9), "The plan had it **09:00**, by Ann and Ben; it is not logged."),
    ],
)
def test_the_plan_is_said_as_of_now(start: datetime, said: str) -> None:
    hands = (HandFactory(id="ann", name="Ann"), HandFactory(id="ben", name="Ben"))
    job = house(hands=hands)
    planned = {("north", "coat-2", None): stint_of("north", start, ("ann", "ben"))}
    free = state(job, "north", "now", since=span(at(0, 11)))
    assert only_line(told(job, free, planned=planned)).aside[0] == said


def test_walls_that_are_free_stand_in_the_order_of_the_plan() -> None:
    job = house()
    planned = {
        ("north", "coat-2", None): stint_of("north", at(0, 15)),
        ("back", "coat-2", None): stint_of("back", at(0, 13)),
    }
    free = (state(job, wall, "now", since=span(at(0, 11))) for wall in (*WALLS, "back"))
    (group,) = told(job, *free, planned=planned)
    assert [line.surface for line in group.lines][:2] == ["back", "north"]


def test_dry_work_is_done_and_a_coat_is_put_on() -> None:
    steps = (StepFactory(id="coat-1", name="Sand", material=None),
             StepFactory(id="coat-2"))  # fmt: skip
    job = house(recipes=(RecipeFactory(id="recipe", steps=steps),))
    line = only_line(told(job, state(job, "north", "now", since=span(at(0, 9)))))
    assert line.why[0].startswith("Sand done 09:00")
    job = house()
    line = only_line(told(job, state(job, "north", "now", since=span(at(0, 11)))))
    assert line.why[0] == "Coat-1 put on 09:00, dry to recoat since 11:00."


def test_a_closing_window_says_by_when_and_what_a_miss_costs() -> None:
    steps = (StepFactory(id="coat-1"),
             StepFactory(id="coat-2", rescue=Rescue(min_m2=4.0)))  # fmt: skip
    job = house(recipes=(RecipeFactory(id="recipe", steps=steps),))
    closes = Range(early=at(0, 16.6), likely=at(0, 18), safe=at(0, 20))
    closing = state(job, "north", "closing", since=span(at(0, 11)), closes=closes)
    line = only_line(told(job, closing))
    assert line.answer == "Coat-2 by 16:35"  # the early end, to the last five minutes
    # 5 m by 2.5 m are 12.5 m2, at 4 min each.
    assert "After that the surface needs rescuing first, about 50 min." in line.why
    assert (line.coat, line.test) == (True, True)
    assert line.window is not None
    assert line.window.now_x is not None
    assert line.window.now_x < line.window.end_x


def test_a_wait_that_never_ends_says_so() -> None:
    job = house()
    never = Range(early=None, likely=None, safe=None)
    hold = HeldBy(code="never-ends", text="Coat-1 never gets there.", until=never)
    line = only_line(told(job, state(job, "north", "held", held_by=(hold,),
                                     until=never)))  # fmt: skip
    assert line.answer == "Coat-1 never gets there"
    assert line.wedge is None


def test_what_a_test_said_comes_before_what_is_reckoned() -> None:
    job = house()
    free = state(job, "north", "now", since=span(at(0, 11)))
    line = only_line(told(job, free, tested=lambda _: "Tested 12:00: ready."))
    assert line.why[0] == "Tested 12:00: ready."


def test_how_sure_is_said_with_the_age_of_the_reading() -> None:
    job = house()
    old = state(job, "north", "now", since=span(at(0, 11)), reading_age_min=200.0)
    line = only_line(told(job, old))
    assert line.aside[-1] == "Fairly sure; the reading is 3 h 20 min old."
    none = state(job, "north", "now", since=span(at(0, 11)), sure="low")
    line = only_line(told(job, none))
    assert line.aside[-1] == "Not sure, so test early; no reading in this room yet."


def test_wet_work_says_how_long_it_stays_open_and_how_wide_a_strip() -> None:
    wet = MaterialFactory(id="material", labels={"open": 30.0, "recoat": 240.0})
    steps = (StepFactory(id="coat-1"), StepFactory(id="coat-2", wet=True))
    job = house(materials=(wet,), recipes=(RecipeFactory(id="recipe", steps=steps),))
    line = only_line(told(job, state(job, "north", "now", since=span(at(0, 11)))))
    # In the label's own air the open time is the label's.
    assert "It stays open about **30 min** in this air." in " ".join(line.why)
    assert "One hand, strips **" in " ".join(line.why)


def bar_opening(start: str, end: str) -> Job:
    """The house with its bar open to the public every day at these hours."""
    opens = (HoursFactory(days="mon-sun", start=start, end=end, breaks=()),)
    job = house()
    lounge, bar = job.rooms
    return replace(job, rooms=(lounge, replace(bar, opens=opens)))


def test_a_wall_barred_by_the_site_says_from_when_and_why() -> None:
    job = bar_opening("11:00", "15:00")
    (free, *_, barred) = sorted(
        ready(job, at=NOW), key=lambda row: row.state == "today"
    )
    assert free.state == "now"
    line = only_line(told(job, barred))
    assert line.answer == "Coat-1 from 15:00"
    assert line.why[0] == (
        "Bar is open to the public Mon 12 Oct 11:00 to Mon 12 Oct 15:00: a coat begun "
        "earlier would not be dry to touch."
    )
    assert not line.test  # nothing is on it that could be tested


def test_a_wall_that_is_barred_into_another_day_is_held_by_it() -> None:
    job = bar_opening("00:00", "24:00")
    (barred,) = (row for row in ready(job, at=NOW) if row.surface.id == "back")
    line = only_line(told(job, barred))
    assert line.answer.startswith("Bar is open to the public Mon 12 Oct 00:00 to ")
    assert FREES["opens"] in line.why


def test_hours_that_come_round_again_are_told_each_and_other_holds_once() -> None:
    job = house()
    texts = ("Quiet hours until 13:00.", "Quiet hours on Tue until 13:00.")
    quiet = (HeldBy(code="quiet", text=text, until=span(at(1, 13))) for text in texts)
    dust = (
        HeldBy(code="dust", text=f"Makes dust: {n} is tacky.", until=span(at(1, 10)))
        for n in WALLS
    )
    held = state(job, "back", "held", held_by=(*dust, *quiet), until=span(at(1, 13)))
    line = only_line(told(job, held))
    assert line.answer == "Makes dust: north is tacky, until Tue 13:00"
    assert "Makes dust: east is tacky. So is 1 more." in line.why
    assert set(texts) <= set(line.why)
    assert FREES["dust"] not in line.why  # it is the coat that is not ready


def test_a_full_room_says_how_many_are_in_it_and_when_there_is_room() -> None:
    running = CoatFactory(
        surface="north", step="coat-1", start=at(0, 12), end=at(0, 13.5)
    )
    job = house(coats=(running,))
    job = replace(job, rooms=(replace(job.rooms[0], hands_most=1), job.rooms[1]))
    (east,) = (row for row in ready(job, at=NOW) if row.surface.id == "east")
    line = only_line(told(job, east))
    assert line.answer == "Coat-1 from 13:30"
    assert line.why[0] == (
        "Lounge holds 1 at a time: one hand at work there, room again Mon 12 Oct 13:30."
    )


@pytest.mark.parametrize(("humidity_pct", "share"), [(50.0, 0.7), (39.0, 0.6)])
def test_strips_are_as_wide_as_on_the_page_of_the_wall(
    humidity_pct: float, share: float
) -> None:
    """Under 40 % only 0.6 of the open time is used: common practice, no source."""
    wet = MaterialFactory(id="material", labels={"open": 30.0, "recoat": 240.0})
    steps = (StepFactory(id="coat-1"), StepFactory(id="coat-2", wet=True))
    job = house(materials=(wet,), recipes=(RecipeFactory(id="recipe", steps=steps),))
    free = state(job, "north", "now", since=span(at(0, 11)))
    line = only_line(told(job, free, humidity_pct=humidity_pct))
    wall = wall_now(job, free.surface, steps[1], at=NOW,
                    air=Air(temperature_c=23.0, humidity_pct=humidity_pct))  # fmt: skip
    assert wall.used_share == share
    width = say_length(wall.allowed[0].strip_m, "metric")
    assert f"One hand, strips **{width}** wide" in " ".join(line.why)


moments = st.integers(-400 * 1440, 400 * 1440).map(
    lambda minutes: NOW + timedelta(minutes=minutes)
)


@given(st.lists(moments, min_size=1, max_size=5))
def test_several_moments_are_said_as_their_first_and_last(
    ends: list[datetime],
) -> None:
    words = Words(zone=ZoneInfo(ZONE), now=NOW, units="metric", progress=even)
    said = words.between(ends)
    assert said.startswith(words.at(min(ends)))
    assert said.endswith(f"{words.at(max(ends))}"[-5:])
    assert words.between(ends * 2) == said


def test_wet_work_on_porous_ground_or_laid_thin_stays_open_for_less() -> None:
    def said(ground: str | None, coat: float) -> str:
        step = StepFactory(id="coat-2", wet=True, coat=coat)
        steps = (StepFactory(id="coat-1", seals=False), step)
        job = house(recipes=(RecipeFactory(id="recipe", steps=steps),))
        (wall, *rest) = job.surfaces
        walls = (replace(wall, ground=ground), *rest)
        job = replace(job, surfaces=walls)
        found = state(job, "north", "now", step=step, last_coat=None, stage=None)
        return " ".join(only_line(told(job, found)).why)

    assert "stays open about **10 min**" in said(None, 1.0)
    assert "stays open about **7 min**" in said("porous", 1.0)
    assert "stays open about **4 min**" in said(None, 0.5)  # early; likely 5


def test_what_the_ground_has_against_a_coat_is_told_beside_its_answer() -> None:
    job = house()
    moist = Caution(code="moist-ground", text="Wood 16.0 %; at most 12 %.", source="")
    free = state(job, "north", "now", cautions=(moist,))
    line = only_line(told(job, free))
    assert line.why[-1] == moist.text
    assert line.coat  # it stops nothing
    assert moist.text not in only_line(told(job, state(job, "north", "now"))).why


def test_walls_that_have_other_things_to_mind_are_not_told_as_one() -> None:
    job = house()
    moist = Caution(code="moist-ground", text="Wood 16.0 %; at most 12 %.", source="")
    one = waiting(job, "north", at(2, 6), cautions=(moist,))
    (group,) = told(job, one, waiting(job, "east", at(2, 6)))
    assert len(group.lines) == 2
