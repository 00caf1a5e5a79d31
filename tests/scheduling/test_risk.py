"""The odds of small plans against closed forms, and laws that no plan may break."""

import json
import math
from dataclasses import replace
from datetime import timedelta
from functools import cache
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.factories import (
    AirControlFactory,
    AirHourFactory,
    CoatFactory,
    DateWishFactory,
    RoomFactory,
)
from scheduling.errors import BadInput
from scheduling.planning import plan_job
from scheduling.problem import After, Job, Rescue
from scheduling.risk import Chances, GateChance, chances, chances_answer
from scheduling.risk_draws import OUTDOORS_SHARE, ROOM_SHARE, Draws
from scheduling.risk_facts import Facts
from tests.scheduling.planning_jobs import (
    at,
    coat,
    damp,
    dry,
    job_of,
    paint,
    people,
    planned,
    stint,
    with_room,
    with_surface,
)

NORMAL = NormalDist()
SIGMA = math.log(240 / 180) / NORMAL.inv_cdf(0.9)  # of a label's 120 to 240 min, above
DRAWS = 2000
MINUTE = timedelta(minutes=1)
FIVE = 5 * MINUTE


def two_coats(**labels):
    """Coat two waits 120 to 240 min, likely 180, for coat one; label's own air."""
    return job_of(
        (coat("one"), coat("two")), materials=(paint(recoat=(120.0, 240.0), **labels),)
    )


def moved(plan, step, start, wall=1):
    """The plan with one stint's start put elsewhere, as long as before."""
    stints = tuple(
        replace(s, start=start, end=start + (s.end - s.start))
        if (s.surface, s.step) == (f"wall-{wall}", step)
        else s
        for s in plan.stints
    )
    return replace(plan, stints=stints, finish=max(s.end for s in stints))


def gate(found: Chances, step: str, code: str = "wait", wall: int = 1) -> GateChance:
    """The one gate of a step."""
    (only,) = (
        g
        for g in found.gates
        if (g.surface, g.step, g.code) == (f"wall-{wall}", step, code)
    )
    return only


def odds(found: Chances, stint_id: str):
    """The odds of one stint."""
    (only,) = (s for s in found.stints if s.stint == stint_id)
    return only


def within_3_sigma(got: float, said: float) -> bool:
    """Of a share among the draws."""
    return abs(got - said) <= 3 * math.sqrt(said * (1 - said) / DRAWS) + 1 / DRAWS


# -- by itself: closed forms ---------------------------------------------------------


@pytest.mark.parametrize("clock", ["11:25", "12:00", "12:30", "13:00", "14:00"])
def test_one_wait_is_as_likely_over_as_its_distribution_says(clock):
    job = two_coats()
    plan = moved(planned(job), "two", at(0, clock))
    waited = (at(0, clock) - at(0, "09:00")).total_seconds() / 60
    low = 180 / 120 if waited < 180 else 240 / 180
    z = math.log(waited / 180) / (math.log(low) / NORMAL.inv_cdf(0.9))
    found = gate(chances(job, plan), "two")
    assert within_3_sigma(found.chance, NORMAL.cdf(z))
    assert found.chance == pytest.approx(NORMAL.cdf(z), abs=1 / DRAWS)  # even draws
    assert (found.before, found.stage) == ("wall-1-one", "recoat")


def test_a_window_is_as_likely_open_as_its_distribution_says():
    job = two_coats(window=(240.0, 360.0))
    plan = moved(planned(job), "two", at(0, "13:30"))  # 270 min; it likely shuts at 300
    z = -math.log(300 / 270) / (math.log(300 / 240) / NORMAL.inv_cdf(0.9))
    found = gate(chances(job, plan), "two", "window")
    assert found.chance == pytest.approx(1 - NORMAL.cdf(z), abs=1 / DRAWS)
    assert found.stage == "window"


def test_a_wet_edge_is_as_likely_kept_as_its_distribution_says():
    # 0.4 m of a wall 2.5 m high is 1 m2: 4.8 min at 60 min for 12.5 m2, and only 0.7
    # of the open time is used (common practice, no source): 6.86 min of 5 to 10.
    job = job_of((coat("one", wet=True),), materials=(paint(open=(5.0, 10.0)),))
    needed = 60 / 12.5 / 0.7
    z = math.log(needed / 7.5) / (math.log(7.5 / 5) / NORMAL.inv_cdf(0.9))
    found = gate(chances(job, planned(job)), "one", "open")
    assert found.chance == pytest.approx(1 - NORMAL.cdf(z), abs=1 / DRAWS)


def test_an_exact_label_in_air_that_is_given_is_certain():
    job = job_of((coat("one"), coat("two")))  # 240 min, at the label's own air
    plan = planned(job)
    on_time = chances(job, plan)
    assert [g.chance for g in on_time.gates] == [1.0]
    assert on_time.weak == ()
    assert on_time.finish.chance == on_time.windows == 1.0
    assert on_time.finish.late_min == 0.0
    early = chances(job, moved(plan, "two", at(0, "12:55")))
    assert [g.chance for g in early.gates] == [0.0]
    assert early.finish.chance == 0.0
    assert early.finish.late_min == 5.0


def test_a_thick_coats_wait_is_counted_by_its_thickness():
    # Twice as thick evaporates 0.9 x 2 + 0.1 x 4 = 2.2 times as long (Kiil 2006, as in
    # test_ground): likely 132 min for 60, so no case is ready after the thin coat's 60.
    touch = After(step="one", stage="touch")
    thin = job_of((coat("one"), coat("two", after=touch)))
    thick = job_of((coat("one", coat=2.0), coat("two", after=touch)))
    plan = moved(planned(thin), "two", at(0, "11:10"))  # 130 min after
    assert gate(chances(thin, plan), "two").chance == 1.0
    z = math.log(130 / 132) / (0.3 * math.log(2.2) / NORMAL.inv_cdf(0.9))
    found = gate(chances(thick, plan), "two").chance
    assert found == pytest.approx(NORMAL.cdf(z), abs=2 / DRAWS)
    assert gate(chances(thick, planned(thick)), "two").chance >= 0.9


def test_an_open_time_on_porous_ground_is_counted_shorter():
    # 6.86 min are needed, as above; 0.7 of the open time is left on sucking ground.
    job = job_of((coat("one", wet=True),), materials=(paint(open=9.0),))
    porous = with_surface(job, 1, ground="porous")
    plan = planned(job)
    assert gate(chances(job, plan), "one", "open").chance == 1.0
    assert gate(chances(porous, plan), "one", "open").chance == 0.0


def test_a_rescue_counts_the_thickness_of_the_coat_it_lays_again():
    steps = (
        coat("one", coat=2.0),
        coat("two", rescue=Rescue(min_m2=1.0, stage="touch")),
    )
    row = CoatFactory(
        surface="wall-1", step="one", start=at(-2, "08:00"), end=at(-2, "09:00")
    )
    material = paint(touch=60.0, recoat=60.0, window=300.0)
    job = job_of(steps, materials=(material,), coats=(row,))
    plan = planned(job)
    end = stint(plan, 1, "two", "rescue").end
    stints = tuple(
        replace(s, start=end + 100 * MINUTE, end=end + 160 * MINUTE)
        if s.kind == "work"
        else s
        for s in plan.stints
    )
    early = replace(plan, stints=stints)  # a thin coat would be ready 40 min before
    laid_again = [
        next(g for g in chances(job, of).gates if g.before == "wall-1-two-rescue")
        for of in (plan, early)
    ]
    assert laid_again[0].chance >= 0.9
    assert laid_again[1].chance < 0.1


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 100), st.integers(0, 100), st.floats(40.0, 85.0))
def test_a_later_start_is_never_less_likely(one, other, humidity_pct):
    job = with_room(two_coats(), air=damp(0, 3, humidity_pct))
    plan = planned_once()
    found = [
        gate(chances(job, moved(plan, "two", at(0, "10:00") + m * FIVE)), "two").chance
        for m in sorted((one, other))
    ]
    assert found[0] <= found[1]


@cache
def planned_once():
    """The plan of two_coats, made once for all examples."""
    return planned(two_coats())


@settings(max_examples=25, deadline=None)
@given(
    st.floats(1.0, 4.0), st.floats(1.0, 3.0), st.floats(45.0, 90.0), st.integers(0, 60)
)
def test_a_window_never_closes_before_it_opens(gap, wide, humidity_pct, later):
    # Then no case is too early and too late at once, and the odds of failing add up.
    labels = {
        "recoat": (120.0, 240.0 * wide),
        "window": (121.0 * gap, 241.0 * gap * wide),
    }
    job = job_of((coat("one"), coat("two")), materials=(paint(**labels),))
    job = with_room(job, air=damp(0, 9, humidity_pct))
    plan = moved(planned_once(), "two", at(0, "11:00") + later * FIVE)
    found = chances(job, plan)
    both = odds(found, "wall-1-two").chance
    wait, window = gate(found, "two"), gate(found, "two", "window")
    assert both == pytest.approx(wait.chance + window.chance - 1)


@settings(max_examples=20, deadline=None)
@given(
    st.sampled_from([0.5, 0.7, 0.9, 0.97]),
    st.floats(50.0, 90.0),
    st.floats(1.0, 2.5),
    st.booleans(),
    st.booleans(),
)
def test_a_plan_against_a_chance_has_it_at_each_gate(
    chance, humidity_pct, wide, window, dusty
):
    labels = {"recoat": (120.0, 120.0 * wide), "touch": (60.0, 60.0 * wide)}
    if window:
        labels["window"] = (1500.0, 1500.0 * wide)
    first = (coat("one"), coat("two", makes=()))
    other = (dry("sand", makes=("dust",)),) if dusty else (coat("one"),)
    job = job_of(first, other, hands=2, materials=(paint(**labels),))
    job = with_room(job, air=damp(0, 1, humidity_pct))
    plan = plan_job(job, at=job.now, budget=0.2, chance=chance)
    if plan.outcome == "no-plan" or any(s.kind == "test" for s in plan.stints):
        return  # with a test first only the likely range is planned in
    found = chances(job, plan)
    assert found.gates
    assert min(g.chance for g in found.gates) >= chance - 1 / DRAWS


# -- what the cases share --------------------------------------------------------------


def slowness(job: Job, plan) -> dict[str, np.ndarray]:
    """By surface, the z of its first coat."""
    draws = Draws(job, {}, seed=0, count=DRAWS)
    found = {}
    for rest in Facts(job, plan).rests:
        if rest.lays is not None:
            found.setdefault(rest.surface.id, draws.slowness(rest.lays))
    return found


def test_coats_share_their_rooms_luck_and_less_of_it_between_rooms():
    job = job_of((coat(),), (coat(),), (coat(),))
    plan = planned(job)
    rooms = (
        RoomFactory(id="room", air=AirControlFactory()),
        RoomFactory(id="other", air=AirControlFactory()),
    )
    surfaces = (*job.surfaces[:2], replace(job.surfaces[2], room="other"))
    z = slowness(replace(job, rooms=rooms, surfaces=surfaces), plan)
    error = 3 / math.sqrt(DRAWS)
    same = np.corrcoef(z["wall-1"], z["wall-2"])[0, 1]
    apart = np.corrcoef(z["wall-1"], z["wall-3"])[0, 1]
    assert same == pytest.approx(ROOM_SHARE + OUTDOORS_SHARE, abs=error)
    assert apart == pytest.approx(OUTDOORS_SHARE, abs=error)
    for row in z.values():  # standard normal, whatever is shared
        assert row.mean() == pytest.approx(0, abs=1e-9)
        assert row.std() == pytest.approx(1, abs=0.01)


def test_in_air_that_is_given_coats_share_nothing():
    job = job_of((coat(),), (coat(),))
    z = slowness(job, planned(job))
    shared = np.corrcoef(z["wall-1"], z["wall-2"])[0, 1]
    assert abs(shared) < 3 / math.sqrt(DRAWS)


def test_what_changes_elsewhere_does_not_shake_a_coats_cases():
    alone = two_coats()
    material = (paint(recoat=(120.0, 240.0)),)
    beside = job_of((coat("one"), coat("two")), (coat(),), hands=2, materials=material)
    plan = moved(planned(alone), "two", at(0, "12:00"))
    both = moved(planned(beside), "two", at(0, "12:00"))
    drawn = []
    for job, of in ((alone, plan), (beside, both)):
        (first,) = (
            rest.lays for rest in Facts(job, of).rests if rest.stint.id == "wall-1-one"
        )
        drawn.append(Draws(job, {}, seed=0, count=500).slowness(first))
    assert (drawn[0] == drawn[1]).all()


def test_the_same_seed_gives_the_same_bytes_and_another_does_not():
    material = (paint(recoat=(120.0, 240.0)),)
    job = job_of(
        (coat("one"), coat("two")), (coat("one"), coat("two")), materials=material
    )
    plan = planned(job)
    told = [
        json.dumps(chances_answer(chances(job, plan, seed=seed))) for seed in (7, 7, 8)
    ]
    assert told[0] == told[1]
    assert told[0] != told[2]


# -- walked through --------------------------------------------------------------------


def test_a_coat_not_ready_makes_its_stint_wait_to_the_next_five_minutes():
    job = two_coats()
    plan = moved(planned(job), "two", at(0, "12:30"))
    found = chances(job, plan)
    # In each of 2,000 equally likely cases, by hand: how long after 12:30 it is ready.
    late = []
    for n in range(DRAWS):
        z = NORMAL.inv_cdf((n + 0.5) / DRAWS)
        waits = 180 * math.exp(z * SIGMA) if z > 0 else 0.0
        slips = max(0, math.ceil((waits - 210) / 5) * 5)
        late.append(slips if slips <= 180 else 1170)  # after 15:30 it is Tuesday 08:00
    two = odds(found, "wall-1-two")
    assert two.late_min == pytest.approx(sum(late) / DRAWS, abs=0.01)
    assert two.on_time == two.chance == found.finish.chance
    assert found.finish.late_min == two.late_min
    assert found.finish.likely == at(0, "13:30")
    assert found.finish.nine_of_ten == at(0, "14:00")  # 240 min, the safe end


def test_what_does_not_fit_into_the_day_slips_to_the_next():
    job = two_coats()
    plan = moved(planned(job), "one", at(0, "10:30"))
    plan = moved(plan, "two", at(0, "15:30"))  # 240 min after, and the last start
    found = chances(job, plan)
    assert odds(found, "wall-1-two").on_time == pytest.approx(0.9, abs=1 / DRAWS)
    assert found.finish.likely == at(0, "16:30")
    slower = chances(job, moved(plan, "one", at(0, "11:00")))  # 210 min before
    assert slower.finish.nine_of_ten == at(1, "09:00")
    share = odds(slower, "wall-1-two").on_time
    assert odds(slower, "wall-1-two").late_min == pytest.approx((1 - share) * 990)


def test_the_next_stint_of_the_same_hand_slips_too_and_a_free_hands_does_not():
    material = (paint(recoat=(120.0, 240.0)),)
    steps = (coat("one"), coat("two")), (dry("tidy"),)
    job = job_of(*steps, materials=material)
    plan = moved(planned(job), "two", at(0, "12:30"))
    plan = moved(plan, "tidy", at(0, "13:30"), wall=2)
    found = chances(job, plan)
    assert odds(found, "wall-2-tidy").chance == 1.0
    two, tidy = odds(found, "wall-1-two"), odds(found, "wall-2-tidy")
    assert tidy.on_time == two.on_time < 1.0
    assert tidy.late_min >= two.late_min > 0
    free = job_of(
        (coat("one"), coat("two")), (dry("tidy"),), hands=2, materials=material
    )
    helped = tuple(
        replace(s, hands=("hand-2",)) if s.step == "tidy" else s for s in plan.stints
    )
    found = chances(free, replace(plan, stints=helped))
    assert odds(found, "wall-2-tidy").on_time == 1.0


def test_dust_waits_for_the_coat_it_would_fall_on():
    material = (paint(touch=(60.0, 120.0)),)
    job = job_of(
        (coat(),), (dry("sand", makes=("dust",)),), hands=2, materials=material
    )
    plan = moved(planned(job), "coat", at(0, "08:00"))
    plan = moved(plan, "sand", at(0, "10:30"), wall=2)  # 90 min after: the likely end
    found = gate(chances(job, plan), "sand", "dust", wall=2)
    assert found.chance == pytest.approx(0.5, abs=1 / DRAWS)
    assert "still tacky" in found.text
    assert "makes dust" in found.text


def test_a_date_holds_as_often_as_the_last_coat_has_reached_its_stage():
    wish = DateWishFactory(
        surface="wall-1", room=None, job=None, by=at(0, "12:30"), stage="recoat"
    )
    job = replace(
        job_of((coat("one"),), materials=(paint(recoat=(120.0, 240.0)),)),
        dates=(replace(wish, must=False, promise=None),),
    )
    found = chances(job, planned(job))
    z = math.log(210 / 180) / SIGMA  # one ends 09:00
    (date,) = found.dates
    assert date.date == 0
    assert date.chance == pytest.approx(NORMAL.cdf(z), abs=1 / DRAWS)
    assert date.late_min > 0


def test_where_the_air_never_dries_it_there_is_no_mean_and_no_finish():
    job = with_room(two_coats(), air=damp(-1, 60, 100.0))
    found = chances(job, planned(two_coats()))
    assert found.finish.chance < 1
    assert found.finish.late_min is None
    assert found.finish.nine_of_ten is None
    assert "no later start makes it 9 of 10" in found.weak[0].text


def test_a_logged_coat_is_done_with_and_the_next_waits_for_it():
    job = two_coats()
    plan = moved(planned(job), "two", at(0, "12:00"))
    logged = CoatFactory(
        surface="wall-1",
        section=None,
        step="one",
        start=at(0, "08:00"),
        end=at(0, "09:30"),
    )
    found = chances(replace(job, coats=(logged,), now=at(0, "09:30")), plan)
    assert [s.stint for s in found.stints] == ["wall-1-two"]
    z = math.log(150 / 180) / (math.log(180 / 120) / NORMAL.inv_cdf(0.9))
    only = gate(found, "two")
    assert only.chance == pytest.approx(NORMAL.cdf(z), abs=1 / DRAWS)
    assert only.before is None


def test_a_rescue_is_walked_and_frees_the_window():
    steps = (
        coat("one"),
        coat("two", rescue=Rescue(min_m2=1.0, stage=""), hands=people(1)),
    )
    job = job_of(steps, materials=(paint(recoat=240.0, window=300.0),))
    job = replace(job, hands=tuple(
        replace(h, away=((at(0, "12:30"), at(1, "08:00")),)) for h in job.hands
    ))  # fmt: skip
    plan = planned(job)
    if not any(s.kind == "rescue" for s in plan.stints):
        plan = moved(plan, "two", at(1, "12:00"))
    found = chances(job, plan)
    assert {s.stint for s in found.stints} == {s.id for s in plan.stints}


# -- words ---------------------------------------------------------------------------


def test_the_weakest_point_comes_first_and_says_what_makes_it_good():
    job = two_coats()
    plan = moved(planned(job), "two", at(0, "12:30"))
    weak = chances(job, plan).weak
    assert [g.chance for g in weak] == sorted(g.chance for g in weak)
    assert weak[0].text == (
        "Room room, Wall wall-1, two: in 2 of 10 cases one is not yet fit to recoat at "
        "Mon 12 Oct 12:30; starting at 13:00 makes it 9 of 10"
    ).replace("Room room", job.rooms[0].name or "room").replace(
        "Wall wall-1", job.surfaces[0].name or "wall-1"
    )


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 24), st.floats(50.0, 80.0))
def test_the_start_it_names_does_make_it_nine_of_ten(later, humidity_pct):
    job = with_room(two_coats(), air=damp(0, 9, humidity_pct))
    plan = moved(planned_once(), "two", at(0, "11:00") + later * FIVE)
    found = gate(chances(job, plan), "two")
    if found.better_at is None:
        assert found.chance >= 0.9
        return
    assert found.better_at > found.at
    again = chances(job, moved(plan, "two", found.better_at))
    assert gate(again, "two").chance >= 0.9


def test_where_a_test_is_planned_first_the_words_say_so():
    # Ready after 2 to 8 h and shut after 4 to 9: safe ends leave no room.
    labels = {"recoat": (120.0, 480.0), "window": (240.0, 540.0)}
    job = job_of((coat("one"), coat("two")), materials=(paint(**labels),))
    plan = planned(job)
    assert stint(plan, 1, "two", kind="test")
    found = chances(job, plan)
    assert gate(found, "two").text.endswith("; a test is planned first")
    assert gate(found, "two").chance >= 0.5


# -- what is refused, and nothing to do ----------------------------------------------


@pytest.mark.parametrize(
    ("given", "line"),
    [
        ({"draws": 0}, "draws: 0: a number from 100 to 100000"),
        ({"draws": math.nan}, "draws: NaN: a number from 100 to 100000"),
        ({"seed": -1}, "seed: -1: a number from 0 to"),
        ({"at": at(0, "08:00").replace(tzinfo=None)}, "at: "),
    ],
)
def test_what_cannot_be_is_refused_by_its_name(given, line):
    job = two_coats()
    with pytest.raises(BadInput) as error:
        chances(job, planned_once(), **given)
    assert str(error.value).startswith(line)


def test_a_plan_of_another_job_is_refused():
    job = two_coats()
    stranger = replace(planned_once().stints[0], surface="elsewhere", hands=("who",))
    plan = replace(planned_once(), stints=(stranger,))
    with pytest.raises(BadInput) as error:
        chances(job, plan)
    assert str(error.value).startswith('stints[0].surface: "elsewhere"')


def test_no_plan_has_no_odds():
    job = two_coats()
    empty = replace(planned_once(), outcome="no-plan", stints=(), finish=None)
    found = chances(job, empty)
    assert found.finish is None
    assert found.weak == found.stints == found.gates == ()


def test_the_answer_is_json_with_moments_as_text():
    job = two_coats()
    plan = moved(planned_once(), "two", at(0, "12:30"))
    answer = json.loads(json.dumps(chances_answer(chances(job, plan))))
    worst = answer["gates"][answer["weak"][0]]
    assert worst["at"] == "2026-10-12T12:30:00+01:00"
    assert answer["finish"]["planned"] == "2026-10-12T13:30:00+01:00"


# -- any plan ------------------------------------------------------------------------


@settings(max_examples=15, deadline=None)
@given(st.data())
def test_the_odds_of_any_small_plan_are_odds(data):
    flag = st.booleans()
    number = st.integers(1, 3)
    recipes = tuple(
        tuple(
            coat(f"step-{n}", 40.0 * data.draw(number), wet=data.draw(flag))
            if data.draw(flag)
            else dry(f"step-{n}", makes=("dust",) if data.draw(flag) else ())
            for n in range(data.draw(number))
        )
        for _ in range(data.draw(number))
    )
    labels = {"open": (20.0, 40.0), "recoat": (60.0, 60.0 * data.draw(number))}
    if data.draw(flag):
        labels["window"] = (1440.0, 2000.0)
    job = job_of(*recipes, hands=2, materials=(paint(**labels),))
    if data.draw(flag):
        hours = (AirHourFactory(at=at(0, "00:00"), humidity_pct=70.0),)
        job = replace(with_room(job, air=AirControlFactory()), outdoors=hours)
    plan = plan_job(job, at=job.now, budget=0.2)
    found = chances(job, plan, draws=200)
    assert {s.stint for s in found.stints} == {s.id for s in plan.stints}
    for odd in (*found.gates, *found.stints, *found.dates):
        assert 0.0 <= odd.chance <= 1.0
    for one in found.stints:
        assert one.late_min is None or one.late_min >= 0
    assert found == chances(job, plan, draws=200)
