"""What a coat lies on and how thick it is, from the job to plan, audit and ready.

Thicknesses by hand from the laws at the label's own air: evaporation through a film
takes 0.9 x + 0.1 x^2 as long at x times the thickness (Kiil, Prog. Org. Coat. 57, 2006,
makes thin films a matter of the air outside them), oxidation x^1.5 to recoat. The 0.7
of an open time on sucking ground is judgement, no source.
"""

from dataclasses import replace
from datetime import timedelta

import pytest

from jobs.factories import CoatFactory, MaterialFactory, PinFactory
from scheduling.air_of_job import job_air
from scheduling.audit import audit
from scheduling.climate import work_water
from scheduling.ground import Laid, laid_on
from scheduling.problem import After, DateWish, Rescue
from scheduling.readiness import ready
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

TOUCH = After(step="one", stage="touch")
DOUBLE_TOUCH_MIN = 60 * (0.9 * 2 + 0.1 * 4)  # 132


def two(thick=1.0, **more):
    """Two coats, the second when the first is dry to touch."""
    return coat("one", coat=thick, **more), coat("two", after=TOUCH)


def on_porous(*steps, **more):
    return with_surface(job_of(steps, **more), 1, ground="porous")


def ways(job):
    """How each step of the first wall is laid."""
    surface = job.surfaces[0]
    steps = job.recipe(surface.recipe).steps
    return [laid_on(job, surface, step) for step in steps]


def minutes(moment, end):
    return (moment - end) / timedelta(minutes=1)


# -- what a coat lies on ---------------------------------------------------------------


def test_nothing_sucks_unless_the_surface_says_so():
    assert ways(job_of(two())) == [Laid(), Laid()]
    sealed = with_surface(job_of(two()), 1, ground="sealed")
    assert ways(sealed) == [Laid(), Laid()]


def test_the_first_coat_on_porous_ground_seals_it():
    job = on_porous(*two())
    assert [laid.porous for laid in ways(job)] == [True, False]


def test_a_mist_coat_that_seals_nothing_leaves_the_next_on_porous_ground():
    steps = (coat("mist", seals=False), coat("one"), coat("two"))
    assert [laid.porous for laid in ways(on_porous(*steps))] == [True, True, False]


def test_a_step_that_puts_nothing_on_may_seal_and_sanding_does_not():
    sanded = (dry("sand"), coat("one"))
    assert [laid.porous for laid in ways(on_porous(*sanded))] == [True, True]
    glued = (dry("glue", seals=True), coat("one"))
    assert [laid.porous for laid in ways(on_porous(*glued))] == [True, False]


@pytest.mark.parametrize(
    ("family", "sucks"),
    [("lime", True), ("gypsum", True), ("distemper", True), ("oil", False)],
)
def test_what_stays_porous_itself_seals_nothing(family, sucks):
    material = replace(paint(), family=family)
    job = on_porous(coat("one"), coat("two"), materials=(material,))
    assert [laid.porous for laid in ways(job)] == [True, sucks]


def test_the_ground_follows_the_waits_and_not_the_list():
    steps = (
        coat("mist", seals=False),
        coat("top", after=After(step="base", stage="recoat")),
        coat("base", after=After(step="mist", stage="recoat")),
    )
    assert [laid.porous for laid in ways(on_porous(*steps))] == [True, False, True]


# -- how thick it is -------------------------------------------------------------------


def test_a_coat_twice_as_thick_waits_by_the_laws_of_its_thickness():
    plan = planned(job_of(two(2.0)))
    one, after = stint(plan, 1, "one"), stint(plan, 1, "two")
    told = minutes(one.ready["touch"].likely, one.end)
    assert told == pytest.approx(DOUBLE_TOUCH_MIN, abs=1)
    assert minutes(after.start, one.end) >= DOUBLE_TOUCH_MIN
    usual = planned(job_of(two()))
    waited = stint(usual, 1, "two").start - stint(usual, 1, "one").end
    assert waited == timedelta(minutes=60)


def test_a_thin_coat_is_ready_sooner():
    plan = planned(job_of(two(0.5)))
    waited = stint(plan, 1, "two").start - stint(plan, 1, "one").end
    assert waited < timedelta(minutes=60)


def test_oil_laid_twice_as_thick_takes_two_days_for_one():
    oil = MaterialFactory(id="material", family="oil", labels={"recoat": 960.0})
    job = job_of((coat("one", coat=2.0), coat("two")), materials=(oil,))
    one = stint(planned(job), 1, "one")
    # A tenth of it solvent through a film, the rest oxidation.
    law = 960 * (0.1 * (0.9 * 2 + 0.1 * 4) + 0.9 * 2**1.5)
    assert minutes(one.ready["recoat"].likely, one.end) == pytest.approx(law, abs=1)
    assert law / 60 == pytest.approx(44, abs=1)


def test_the_audit_refuses_a_thick_coats_wait_planned_as_a_usual_one():
    usual, thick = job_of(two()), job_of(two(2.0))
    airs = job_air(usual, at=usual.now, days=21).surfaces
    stints = planned(usual).stints

    def rules(job):
        found = audit(job, stints, at=job.now, wait_air=airs, open_air=airs)
        return [fault.rule for fault in found]

    assert rules(usual) == []
    assert rules(thick) == ["wait"]


def test_a_thick_coat_is_ready_later():
    row = CoatFactory(
        surface="wall-1", step="one", start=at(0, "08:00"), end=at(0, "09:00")
    )
    job = replace(job_of(two(2.0)), coats=(row,))
    (found,) = ready(job, at=at(0, "10:30"))
    likely = minutes(found.until.likely, row.end)
    assert likely == pytest.approx(DOUBLE_TOUCH_MIN, abs=1)
    assert (found.state, found.laid) == ("soon", Laid(coat=2.0))
    plan = planned(replace(job, now=at(0, "10:30")))  # the logged coat binds the plan
    assert stint(plan, 1, "two").start >= at(0, "11:12")


def test_a_date_counts_the_thickness_of_the_last_coat():
    by = DateWish(job="small", by=at(0, "10:30"), stage="touch", must=False)
    thin, thick = (
        planned(replace(job_of((coat("one", coat=x),)), dates=(by,)))
        for x in (1.0, 2.0)
    )
    assert thin.late == ()
    # From nine to the safe end, wider by the 0.3 power of 2.2 times as long.
    late = 60 + DOUBLE_TOUCH_MIN * 2.2**0.3 - 150
    assert thick.late[0].by_min == pytest.approx(late, abs=1)


@pytest.mark.parametrize(("thick", "least"), [(1.0, 60.0), (2.0, DOUBLE_TOUCH_MIN)])
def test_dust_keeps_off_a_thick_coat_for_longer(thick, least):
    job = job_of((coat("one", coat=thick),), (dry("rub", makes=("dust",)),))
    pin = PinFactory(surface="wall-1", step="one", start=at(0, "08:00"))
    plan = planned(replace(job, pins=(pin,)))
    waited = minutes(stint(plan, 2, "rub").start, stint(plan, 1, "one").end)
    assert least <= waited <= least * 1.3 + 5


def test_a_rescue_lays_the_earlier_coat_as_thick_as_it_was():
    material = paint(touch=60.0, recoat=60.0, window=300.0)
    steps = (
        coat("one", coat=2.0),
        coat("two", rescue=Rescue(min_m2=1.0, stage="touch")),
    )
    row = CoatFactory(
        surface="wall-1", step="one", start=at(-2, "08:00"), end=at(-2, "09:00")
    )
    job = replace(job_of(steps, materials=(material,)), coats=(row,))
    plan = planned(job)  # the audit, which lays it for itself, has agreed
    rescue, after = stint(plan, 1, "two", "rescue"), stint(plan, 1, "two")
    assert minutes(after.start, rescue.end) >= DOUBLE_TOUCH_MIN


def test_a_thick_coat_gives_off_its_own_water():
    water = {}
    for x in (1.0, 3.0):
        job = job_of((coat("one", coat=x),))
        row = CoatFactory(
            surface="wall-1", step="one", start=at(0, "08:00"), end=at(0, "09:00")
        )
        water[x] = work_water(job, (row,), at(0, "00:00"), 1.0)["room"].sum()
    assert water[3.0] == pytest.approx(3 * water[1.0])


# -- porous ground ---------------------------------------------------------------------


def test_a_first_coat_on_porous_ground_stays_open_for_less():
    plan = planned(on_porous(coat("one"), coat("two")))
    opened = [
        minutes(stint(plan, 1, step).open.likely, stint(plan, 1, step).end)
        for step in ("one", "two")
    ]
    assert opened == pytest.approx([7.0, 10.0], abs=0.1)


def test_porous_ground_shortens_no_wait():
    usual, porous = planned(job_of(two())), planned(on_porous(*two()))
    spans = [[(row.start, row.end) for row in plan.stints] for plan in (usual, porous)]
    assert spans[0] == spans[1]


def test_a_wet_edge_that_porous_ground_shortens_is_planned_with_its_open_time():
    # A strip of 0.4 m and 2.5 m at 12 min a m2 wants 12 / 0.7 = 17.1 min open.
    step = coat("one", minutes=150.0, wet=True)
    materials = (paint(open=21.0),)
    usual = planned(job_of((step,), materials=materials))
    porous = planned(on_porous(step, materials=materials))
    assert not any("open time" in note for note in usual.notes)
    assert any("open time" in note for note in porous.notes)
