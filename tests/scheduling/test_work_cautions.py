"""What each step calls for: its material, what it makes, where it is."""

from dataclasses import replace

import pytest

from jobs.factories import MaterialFactory
from scheduling.problem import FAMILIES, KINDS
from scheduling.work_cautions import SHORT, cautions_of, work_cautions
from tests.scheduling.planning_jobs import coat, dry, job_of

LOW = 1.5


def job(*steps, kind="wall", height_m=LOW, **material):
    """The steps on one surface, of a waterborne paint unless told."""
    given = {"id": "material", "labels": {"touch": 60.0, "recoat": 240.0}} | material
    made = job_of(steps, materials=(MaterialFactory(**given),), kinds=(kind,))
    (surface,) = made.surfaces
    return replace(
        made, surfaces=(replace(surface, height_m=height_m, width_m=12.5 / height_m),)
    )


def codes(made, number=-1):
    (surface,) = made.surfaces
    step = made.recipe(surface.recipe).steps[number]
    return [caution.code for caution in work_cautions(made, surface, step)]


def test_plain_work_in_reach_calls_for_nothing():
    assert codes(job(coat())) == []
    assert codes(job(dry("rub"))) == []


def test_oily_material_calls_for_its_rags_and_solvent_for_its_air():
    assert codes(job(coat(), family="oil", oily=True)) == ["oily-rags"]
    assert codes(job(coat(), family="spirit", solvent=True)) == ["solvent"]
    assert codes(job(coat(), family="oil", oily=True, solvent=True)) == [
        "solvent",
        "oily-rags",
    ]


def test_a_step_may_make_solvent_without_putting_any_on():
    assert "solvent" in codes(job(coat(), dry("wipe", makes=("solvent",))))


def test_rubbing_what_was_there_may_meet_lead():
    sand = dry("sand", makes=("dust",))
    assert "lead-paint" in codes(job(sand, coat(), kind="door"), 0)
    assert "lead-paint" not in codes(job(coat(), sand, kind="door"))


@pytest.mark.parametrize("makes", ["dust", "steam", "solvent"])
def test_stripping_by_any_means_may_meet_lead(makes):
    strip = dry("strip", makes=(makes,))
    assert "lead-paint" in codes(job(strip, coat(), kind="trim"), 0)


def test_noise_alone_is_no_stripping():
    assert codes(job(dry("fix", makes=("noise",)), coat(), kind="trim"), 0) == []


@pytest.mark.parametrize("kind", KINDS)
def test_old_plaster_is_met_on_walls_and_ceilings(kind):
    found = codes(job(dry("sand", makes=("dust",)), coat(), kind=kind), 0)
    assert ("silica" in found) == (kind in {"wall", "ceiling"})


@pytest.mark.parametrize("family", FAMILIES)
def test_rubbing_down_new_plaster_meets_quartz(family):
    sand = dry("sand", makes=("dust",))
    found = codes(job(coat(), sand, family=family, kind="column"))
    assert ("silica" in found) == (family in {"lime", "gypsum"})


def test_lime_burns_when_it_is_laid_not_when_it_has_set():
    made = job(coat(), dry("wax"), family="lime", kind="trim")
    assert codes(made, 0) == ["lime"]
    assert codes(made, 1) == []


@pytest.mark.parametrize(
    ("kind", "height_m", "high"),
    [
        ("wall", 2.0, False),
        ("wall", 2.1, True),
        ("ceiling", 1.0, True),  # its depth, and it is overhead
        ("floor", 9.0, False),
        ("door", 2.4, True),
    ],
)
def test_height_is_minded_above_the_reach_of_a_hand(kind, height_m, high):
    found = codes(job(dry("rub"), kind=kind, height_m=height_m))
    assert ("height" in found) == high


@pytest.mark.parametrize(
    ("family", "wet", "wired"),
    [
        ("lime", False, True),
        ("distemper", False, True),
        ("glaze", True, True),
        ("glaze", False, False),
        ("waterborne", False, False),
        ("oil", True, False),
    ],
)
def test_wires_are_minded_where_a_wall_is_wetted(family, wet, wired):
    found = codes(job(coat(wet=wet), family=family))
    assert ("live-wires" in found) == wired
    assert "live-wires" not in codes(job(coat(wet=wet), family=family, kind="door"))


def test_steam_is_wet_work():
    found = codes(job(dry("strip", makes=("steam",)), coat()), 0)
    assert "live-wires" in found


def test_each_says_its_source_and_who_decides():
    every = cautions_of(SHORT)
    assert [caution.code for caution in every] == list(SHORT)
    for caution in every:
        assert caution.source.endswith("local codes and licensed practice decide")
        assert not caution.stops
        assert len(caution.text) < 240


def test_a_code_that_is_none_is_refused():
    with pytest.raises(KeyError, match="smoke"):
        cautions_of(["smoke"])
