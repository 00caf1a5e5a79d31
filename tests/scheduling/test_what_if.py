"""What would bring one surface forward, and by how much."""

from dataclasses import replace
from datetime import timedelta

import pytest

from jobs.factories import AirControlFactory, AirHourFactory, HandFactory, HoursFactory
from scheduling.errors import BadInput
from scheduling.levers import levers
from scheduling.plan import Plan
from scheduling.what_if import bring_forward, try_lever
from tests.scheduling.planning_jobs import (
    QUICK,
    at,
    coat,
    dry,
    job_of,
    paint,
    planned,
    span,
    with_room,
)


def gains_of(job, surface="wall-1"):
    """What each lever gains, by its words."""
    found = bring_forward(job, surface, at=job.now, budget=QUICK)
    return {gain.lever.text: gain for gain in found.gains}


def in_damp_weather(job):
    """The job in a closed room in mild, damp weather, for a fortnight."""
    outdoors = tuple(
        AirHourFactory(
            at=at(-2, "00:00") + timedelta(hours=hour),
            temperature_c=15.0,
            humidity_pct=92.0,
        )
        for hour in range(24 * 16)
    )
    air = AirControlFactory(changes_per_h=0.5, day_c=18.0, night_c=16.0)
    return replace(with_room(job, air=air, volume_m3=120.0), outdoors=outdoors)


def test_one_more_hand_ends_a_wall_that_waits_for_hands_sooner():
    """Two walls of seven hours, one hand: the second goes on the next day."""
    job = job_of((coat(minutes=420),), (coat(minutes=420),))
    job = replace(job, surfaces=(replace(job.surfaces[0], priority=1), job.surfaces[1]))
    gains = gains_of(job, "wall-2")
    gain = gains["One more hand on Mon 12 Oct"]
    was, now = span(planned(job), 2), span(gain.plan, 2)
    assert gain.sooner_days == 1
    assert gain.sooner_min == (was[1] - now[1]).total_seconds() / 60 == 24 * 60
    assert gains["wall-2 before everything else"].sooner_days == 1


def test_the_hand_who_is_missing_has_the_skill_that_holds_the_wall():
    crew = (HandFactory(id="lead", skills=("graining",)), HandFactory(id="second"))
    grained = coat(minutes=300, skill="graining")
    job = job_of((grained,), (grained,), hands=crew)
    plan = planned(job)
    later = max((1, 2), key=lambda wall: span(plan, wall)[0])
    found = [
        lever
        for lever in levers(job, plan, surface=f"wall-{later}")
        if lever.code == "hand"
    ]
    assert found
    assert all(lever.job.hands[-1].skills == ("graining",) for lever in found)
    assert "One more hand with graining on Mon 12 Oct" in {
        lever.text for lever in found
    }


def test_a_dehumidifier_and_heat_shorten_the_wait_of_a_damp_room():
    job = in_damp_weather(job_of((coat("one"), coat("two"))))
    gains = gains_of(job)
    dried = gains["room: a dehumidifier of 20 l a day"]
    heated = next(gain for text, gain in gains.items() if "heated to" in text)
    assert dried.sooner_min > 60
    assert heated.sooner_min > 0
    was = planned(job)
    assert span(was, 1, "two")[1] - span(dried.plan, 1, "two")[1] == timedelta(
        minutes=dried.sooner_min
    )


def test_given_air_is_changed_by_no_lever():
    job = job_of((coat("one"), coat("two")))
    codes = {lever.code for lever in levers(job, planned(job), surface="wall-1")}
    assert codes & {"dehumidifier", "heat"} == set()


def test_a_material_that_dries_sooner_is_offered_only_within_its_family():
    quick = replace(
        paint(recoat=60.0, touch=30.0), id="quick", name="Quick paint", family="glaze"
    )
    same = replace(quick, id="same", name="Fast paint", family=paint().family)
    slow = replace(
        same, id="slow", name="Slow paint", labels=paint(recoat=600.0).labels
    )
    job = job_of((coat("one"), coat("two")), materials=None)
    job = replace(job, materials=(*job.materials, quick, same, slow))
    found = levers(job, planned(job), surface="wall-1")
    swaps = [lever for lever in found if lever.code == "swap"]
    assert [lever.text.split(": ")[1].split(" instead")[0] for lever in swaps] == [
        "Fast paint"
    ]
    gain = gains_of(job)[swaps[0].text]
    assert gain.sooner_min >= 120


def test_a_saturday_worked_is_one_saturday():
    long = dry("prepare", 480.0 * 6, splits=True)
    job = job_of((long,))
    plan = planned(job)
    (lever,) = (row for row in levers(job, plan) if row.code == "extra-day")
    assert lever.text == "Working on Sat 17 Oct"
    gain = try_lever(lever, job, plan, at=job.now, budget=QUICK)
    days = {stint.start.date().isoformat() for stint in gain.plan.stints}
    assert "2026-10-17" in days
    assert "2026-10-18" not in days
    assert gain.sooner_days >= 2


def test_an_hour_longer_a_day_is_at_most_midnight():
    job = job_of((dry("prepare", 480.0 * 2, splits=True),))
    late = HoursFactory(days="mon-fri", start="16:00", end="23:30", breaks=())
    job = replace(job, site=replace(job.site, hours=(late,)))
    (lever,) = (row for row in levers(job, planned(job)) if row.code == "longer")
    assert [rule.end for rule in lever.job.site.hours] == ["24:00"]


def test_what_helps_comes_with_the_most_first_and_nothing_that_does_not():
    job = in_damp_weather(job_of((coat("one"), coat("two"), coat("three"))))
    seen = []

    def see(news):
        seen.append(news)
        return True

    found = bring_forward(job, "wall-1", at=job.now, budget=QUICK, on_news=see)
    gained = [gain.sooner_min for gain in found.gains]
    assert gained == sorted(gained, reverse=True)
    assert min(gained) > 0
    assert [news.tried for news in seen] == list(range(len(found.levers)))
    assert found.tried == len(found.levers) > len(found.gains) > 0
    assert {news.end for news in seen} == {found.end}
    assert found.end == span(found.plan, 1, "three")[1]


def test_who_has_heard_enough_ends_the_search():
    job = in_damp_weather(job_of((coat("one"), coat("two"), coat("three"))))
    found = bring_forward(
        job, "wall-1", at=job.now, budget=QUICK, on_news=lambda news: news.tried < 1
    )
    assert found.tried == 1 < len(found.levers)


def test_nothing_is_pulled_where_the_work_starts_at_once():
    job = job_of((coat(),))
    plan = planned(job)
    assert {lever.code for lever in levers(job, plan, surface="wall-1")} == {"first"}
    found = bring_forward(job, "wall-1", at=job.now, budget=QUICK)
    assert (found.gains, found.tried) == ((), 1)


def test_a_job_without_work_left_has_no_lever():
    job = job_of((coat(),))
    none = Plan(job_sha256="", outcome="no-plan", finish=None, bound=planned(job).bound)
    assert levers(job, none) == ()


def test_a_surface_the_job_has_not_is_refused_by_name():
    job = job_of((coat(),))
    with pytest.raises(BadInput) as raised:
        bring_forward(job, "cellar", at=job.now)
    assert str(raised.value) == 'surface: "cellar": one of the job\'s surfaces: wall-1'


def test_the_chain_of_what_holds_a_stint_ends_at_the_start():
    job = job_of((coat("one"), coat("two"), coat("three")))
    plan = planned(job)
    last = max(plan.stints, key=lambda stint: stint.end)
    chain = plan.held_by(last.id)
    assert [stint.step for stint in chain] == ["three", "two", "one"]
    assert chain[-1].reason.code == "start"
    assert plan.held_by("nothing") == ()


def test_work_over_several_days_is_held_by_its_own_day_before():
    job = job_of((dry("prepare", 480.0 * 2, splits=True), coat()))
    plan = planned(job)
    first, second = (stint for stint in plan.stints if stint.step == "prepare")
    assert (second.reason.code, second.reason.other) == ("order", first.id)
    assert second.reason.text == "Goes on from Mon 12 Oct 16:30."
    last = max(plan.stints, key=lambda stint: stint.end)
    assert [stint.step for stint in plan.held_by(last.id)] == [
        "coat",
        "prepare",
        "prepare",
    ]
