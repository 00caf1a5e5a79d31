"""Cautions about the ground: where they are said, where not, and that none stops.

Where wood settles is the USDA Wood Handbook's table 4-2: 9.2 % at 21.1 C and 50 %,
16.0 % at 80 %. The limits (wood 12 %, plaster 8 %) are those of UFGS 09 90 00, from
memory; how fast wood comes to its air is judgement, no source.
"""

from dataclasses import replace
from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.factories import AirHourFactory, CoatFactory, GivenAirFactory, MaterialFactory
from scheduling.ground_cautions import JOINERY
from scheduling.joinery import LAG_DAYS, moisture_then_pct, unsettled_caution
from scheduling.plan_file import read_plan, write_plan
from scheduling.problem import After, Air, MoistureReading
from scheduling.readiness import ready, ready_answer
from scheduling.room_air import constant_air
from tests.scheduling.planning_jobs import (
    at,
    coat,
    dry,
    job_of,
    paint,
    planned,
    stint,
    with_room,
)
from tests.strategies import floats, room_airs

HANDBOOK = GivenAirFactory(
    given=(AirHourFactory(at=at(-30, "00:00"), temperature_c=21.1, humidity_pct=50.0),)
)
DAMP = GivenAirFactory(
    given=(AirHourFactory(at=at(-30, "00:00"), temperature_c=21.1, humidity_pct=80.0),)
)


def one_of(kind, air=HANDBOOK, **more):
    """One surface of that kind, two coats."""
    job = job_of((coat("one"), coat("two")), kinds=(kind,), **more)
    return with_room(job, air=air)


def measured(job, pct, moment=None, **what):
    what = what or {"surface": "wall-1"}
    row = MoistureReading(at=moment or job.now, moisture_pct=pct, **what)
    return replace(job, moisture=(*job.moisture, row))


def said(plan, step="one", wall=1):
    """Codes of what a stint has to mind."""
    return [caution.code for caution in stint(plan, wall, step).cautions]


def minded(job, moment=None):
    """Codes of what the list of walls has to mind."""
    (found,) = ready(job, at=moment or job.now)
    return [caution.code for caution in found.cautions]


def spans(plan):
    return [(row.id, row.start, row.end, row.hands) for row in plan.stints]


# -- moist ground ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "pct", "codes"),
    [
        ("door", 16.0, ["moist-ground"]),
        ("door", 9.2, []),
        ("trim", 12.6, ["moist-ground"]),
        ("floor", 16.0, ["moist-ground"]),
        ("wall", 9.0, ["moist-ground"]),
        ("wall", 8.0, []),
        ("ceiling", 12.0, ["moist-ground"]),
    ],
)
def test_ground_over_its_limit_is_minded_by_plan_and_list(kind, pct, codes):
    job = measured(one_of(kind), pct)
    plan = planned(job)
    assert said(plan) == codes
    assert minded(job) == codes
    assert said(plan, "two") == []  # by then a coat lies on it
    assert any(f"{pct:.1f} %" in note for note in plan.notes) is bool(codes)


@pytest.mark.parametrize("pct", [16.0, 6.0])
def test_moist_and_unsettled_ground_stops_no_stint(pct):
    usual, wet = planned(one_of("door")), planned(measured(one_of("door"), pct))
    assert spans(usual) == spans(wet)
    job = measured(one_of("door"), pct)
    (found,) = ready(job, at=job.now)
    assert (found.state, found.held_by) == ("now", ())


def test_the_meters_setting_says_what_a_wall_is_made_of():
    panelling = measured(one_of("wall"), 10.0, surface="wall-1", of="wood")
    assert minded(panelling) == []
    assert minded(measured(one_of("wall"), 10.0)) == ["moist-ground"]


def test_a_reading_of_a_rooms_wood_speaks_of_its_joinery_alone():
    steps = (coat("one"),)
    job = with_room(job_of(steps, steps, kinds=("door", "wall")), air=HANDBOOK)
    job = measured(job, 16.0, room="room", of="wood")
    found = {state.surface.id: state.cautions for state in ready(job, at=job.now)}
    assert [caution.code for caution in found["wall-1"]] == ["moist-ground"]
    assert found["wall-2"] == ()


def test_the_last_reading_counts_and_one_still_to_come_does_not():
    job = measured(one_of("wall"), 14.0, at(-3, "08:00"))
    assert minded(job) == ["moist-ground"]
    assert minded(measured(job, 7.0, at(-1, "08:00"))) == []
    assert minded(measured(job, 7.0, at(3, "08:00"))) == ["moist-ground"]


def test_lime_is_laid_on_damp_plaster_without_a_word():
    lime = MaterialFactory(id="material", family="lime", labels={"recoat": 1440.0})
    assert minded(measured(one_of("wall", materials=(lime,)), 14.0)) == []


def test_ground_measured_after_a_coat_is_minded_before_the_next():
    row = CoatFactory(
        surface="wall-1", step="one", start=at(0, "08:00"), end=at(0, "09:00")
    )
    job = replace(one_of("wall"), coats=(row,))
    noon = at(0, "12:00")
    assert minded(measured(job, 14.0, at(0, "07:00")), noon) == []
    assert minded(measured(job, 14.0, at(0, "11:00")), noon) == ["moist-ground"]


def test_wood_that_dries_until_it_is_painted_is_no_longer_moist():
    # From 13 % towards 9.2 % with a lag of 7 days: under 12 % after 2.1 days.
    came = at(-3, "08:00")
    assert 9.24 + (13.0 - 9.24) * exp(-3 / LAG_DAYS) < 12.0
    fresh, old = (
        measured(one_of("door"), 13.0, moment) for moment in (at(0, "07:00"), came)
    )
    assert minded(fresh) == ["moist-ground"]
    assert minded(old) == ["joinery"]  # dry enough, and still shrinking
    assert minded(measured(one_of("floor"), 13.0, came)) == []


# -- joinery that has not come to its air ----------------------------------------------


@pytest.mark.parametrize("kind", JOINERY)
def test_joinery_painted_before_it_has_come_to_the_rooms_air_is_told_its_days(kind):
    job = measured(one_of(kind), 6.0)
    (caution,) = stint(planned(job), 1, "one").cautions
    assert caution.code == "joinery"
    assert "takes it to 9.2 %" in caution.text
    assert "swells for about 8 days" in caution.text  # 7 ln(3.24 / 1)
    assert minded(job) == ["joinery"]


@pytest.mark.parametrize(
    ("kind", "pct"), [("door", 8.5), ("door", 10.0), ("wall", 6.0), ("floor", 6.0)]
)
def test_wood_at_home_in_its_air_and_other_ground_is_told_nothing(kind, pct):
    what = {"surface": "wall-1", "of": "wood"}
    job = measured(one_of(kind), pct, **what)
    assert said(planned(job)) == minded(job) == []


def test_joinery_not_measured_gets_one_line_with_the_range_of_its_air():
    steps = (coat("one"),)
    job = with_room(job_of(steps, steps, kinds=("door", "trim")), air=HANDBOOK)
    plan = planned(job)
    (note,) = (note for note in plan.notes if "Joinery" in note)
    assert "9.2 to 9.2 %" in note
    assert len(note) < 160
    assert said(plan) == [] == minded_all(job)


def minded_all(job):
    return [caution for state in ready(job, at=job.now) for caution in state.cautions]


def test_joinery_not_measured_in_damp_air_is_minded_everywhere():
    job = one_of("door", air=DAMP)
    plan = planned(job)
    assert said(plan) == minded(job) == ["moist-ground"]
    assert len([note for note in plan.notes if "settles at 16.0 %" in note]) == 1
    assert not any("not measured" in note for note in plan.notes)  # said once


@pytest.mark.parametrize(
    "job",
    [
        one_of("wall"),
        measured(one_of("door"), 9.2),
        replace(
            one_of("door"),
            coats=(
                CoatFactory(
                    surface="wall-1", step="one", start=at(-1, "08:00"),
                    end=at(-1, "09:00"),
                ),
            ),
        ),
    ],
    ids=["a wall", "measured", "painted"],
)  # fmt: skip
def test_no_line_for_what_is_no_joinery_or_measured_or_painted(job):
    assert not any("Joinery" in note for note in planned(job).notes)


def test_wood_follows_its_air_at_the_pace_of_its_lag():
    air = constant_air(at(0, "00:00"), temperature_c=21.1, humidity_pct=50.0)
    week = LAG_DAYS * 1440
    then = moisture_then_pct(air, 16.0, 0.0, week)
    assert then == pytest.approx(9.24 + (16.0 - 9.24) * exp(-1), abs=0.02)
    assert moisture_then_pct(air, 16.0, week, 0.0) == 16.0
    assert moisture_then_pct(air, 16.0, -week, 0.0) == pytest.approx(then)
    thick = moisture_then_pct(air, 16.0, 0.0, 4 * week, thickness_mm=40.0)
    assert thick == pytest.approx(then)


@given(room_airs(), floats(0.0, 30.0), st.floats(-5000, 5000), st.floats(0, 20000))
def test_wood_in_changing_air_does_not_mind_where_its_way_is_cut(
    air, pct, start, length
):
    end, middle = start + length, start + length / 3
    whole = moisture_then_pct(air, pct, start, end)
    part = moisture_then_pct(
        air, moisture_then_pct(air, pct, start, middle), middle, end
    )
    assert part == pytest.approx(whole, abs=1e-6)


def test_wood_within_a_point_of_its_air_is_settled():
    here = Air(temperature_c=21.1, humidity_pct=50.0)
    assert unsettled_caution(here, 9.2) is None
    assert "shrinks" in unsettled_caution(here, 11.0).text


@pytest.mark.parametrize(("warmth", "pct"), [(-60.0, 0.0), (70.0, 100.0)])
def test_the_hardest_air_of_the_format_breaks_no_law_of_wood(warmth, pct):
    hour = AirHourFactory(at=at(-30, "00:00"), temperature_c=warmth, humidity_pct=pct)
    steps = (dry("fit"), coat("one"))
    job = job_of(steps, kinds=("door",))
    job = with_room(job, air=GivenAirFactory(given=(hour,)))
    for moist in (job, measured(job, 0.0), measured(job, 200.0)):
        assert ready(moist, at=job.now)


# -- a base that is not hard -----------------------------------------------------------

BASE = paint(hard=2880.0)
GLAZE = MaterialFactory(
    id="glaze", family="glaze", labels={"open": 20.0, "recoat": 960.0}
)
SIZE = MaterialFactory(id="glaze", family="oil-size", labels={"tack": 60.0})
ENAMEL = MaterialFactory(id="glaze", labels={"open": 20.0, "recoat": 960.0})


def glazed(top=GLAZE, base=BASE, after=None, between=(), **more):
    """A base and a glaze on it, at the label's own air."""
    steps = (coat("one"), *between, coat("two", material="glaze", after=after))
    return job_of(steps, materials=(base, top), **more)


@pytest.mark.parametrize("top", [GLAZE, SIZE], ids=["glaze", "size"])
def test_a_base_that_is_dry_but_not_hard_under_a_glaze_is_minded(top):
    job = glazed(top)
    plan = planned(job)
    assert said(plan, "two") == ["not-hard"]
    assert said(plan, "one") == []
    (note,) = (note for note in plan.notes if "not hard" in note)
    assert note.startswith("wall-1: two starts when one is dry but not hard")


@pytest.mark.parametrize(
    "job",
    [
        glazed(after=After(step="one", stage="hard")),
        glazed(top=ENAMEL),
        glazed(base=paint()),  # its label knows no hard
        glazed(base=paint(hard=240.0)),  # hard when it may be recoated
    ],
    ids=["waits for hard", "no glaze", "no word of hard", "hard at once"],
)
def test_a_hard_base_and_what_is_no_glaze_are_not_minded(job):
    plan = planned(job)
    assert said(plan, "two") == []
    assert not any("not hard" in note for note in plan.notes)


def test_a_base_that_is_not_hard_stops_no_stint():
    soft, silent = planned(glazed()), planned(glazed(base=paint()))
    assert spans(soft) == spans(silent)


def test_dry_work_between_does_not_hide_the_base():
    job = glazed(between=(dry("sand", after=After(step="one", stage="recoat")),))
    assert said(planned(job), "two") == ["not-hard"]


def test_the_list_minds_a_base_until_it_is_hard():
    row = CoatFactory(
        surface="wall-1", step="one", start=at(0, "08:00"), end=at(0, "09:00")
    )
    job = replace(glazed(), coats=(row,))
    assert minded(job, at(0, "09:30")) == ["not-hard"]  # it waits, for later
    (found,) = ready(job, at=at(0, "14:00"))
    assert (found.state, found.held_by) == ("now", ())  # minded and yet free
    assert "safely hard Wed 14 Oct 09:00" in found.cautions[0].text
    assert minded(job, at(2, "08:59")) == ["not-hard"]
    assert minded(job, at(2, "09:00")) == []


def test_a_thick_base_is_minded_for_longer():
    row = CoatFactory(
        surface="wall-1", step="one", start=at(0, "08:00"), end=at(0, "09:00")
    )
    steps = (coat("one", coat=2.0), coat("two", material="glaze"))
    job = replace(job_of(steps, materials=(BASE, GLAZE)), coats=(row,))
    assert minded(job, at(2, "09:00")) == ["not-hard"]


def test_many_walls_alike_are_told_in_one_line():
    steps = (coat("one", 15), coat("two", 15, material="glaze"))
    job = job_of(*([steps] * 5), materials=(BASE, GLAZE))
    job = replace(
        job, surfaces=tuple(replace(s, recipe="recipe-1") for s in job.surfaces)
    )
    (note,) = (note for note in planned(job).notes if "not hard" in note)
    assert "and 2 more: two starts when" in note


# -- how it is written -----------------------------------------------------------------


def test_the_plan_file_keeps_a_stints_cautions_and_leaves_out_none():
    plan = planned(measured(one_of("door"), 16.0))
    written = write_plan(plan)
    first, second = sorted(written["stints"], key=lambda row: row["from"])
    assert first["cautions"][0]["code"] == "moist-ground"
    assert set(first["cautions"][0]) == {"code", "text", "source"}
    assert "cautions" not in second
    assert read_plan(written) == plan


def test_the_answer_of_ready_bears_cautions_beside_what_holds():
    (row,) = ready_answer(measured(one_of("door"), 16.0), at=at(0, "08:00"))["surfaces"]
    assert [caution["code"] for caution in row["cautions"]] == ["moist-ground"]
    assert row["held_by"] == []
    (row,) = ready_answer(one_of("wall"), at=at(0, "08:00"))["surfaces"]
    assert row["cautions"] == []
