"""A label that learns: the clock then says what was watched, or comes nearer to it."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.factories import AirFactory, MaterialFactory
from jobs.starting_set import starting_materials
from scheduling.errors import BadInput
from scheduling.problem import FAMILIES, Air, LabelPoint, Material
from scheduling.samples import likely_min, pointed, relabelled, same_air

OWN = AirFactory()
COOL = Air(temperature_c=18.0, humidity_pct=62.0)


def paint(**labels) -> Material:
    return MaterialFactory(
        id="paint",
        labels={"open": 10.0, "touch": 60.0, "recoat": (120.0, 240.0)} | labels,
    )


def test_in_its_own_air_a_label_says_the_minutes_watched() -> None:
    learnt = pointed(paint(), OWN, {"open": 14.0, "recoat": 270.0})
    assert learnt.labels["recoat"] == pytest.approx((180.0, 360.0))
    assert learnt.labels["open"] == pytest.approx(14.0)
    assert learnt.labels["touch"] == 60.0
    assert learnt.points == ()


@given(
    material=st.sampled_from(starting_materials()),
    temperature_c=st.floats(12, 30),
    humidity_pct=st.floats(30, 75),
    watched=st.floats(1, 5000),
)
def test_a_label_set_from_a_sample_gives_its_minutes_in_its_air(
    material: Material, temperature_c: float, humidity_pct: float, watched: float
) -> None:
    air = Air(temperature_c=temperature_c, humidity_pct=humidity_pct)
    stage = next(iter(material.labels))
    learnt = relabelled(material, air, {stage: watched})
    assert likely_min(learnt, stage, air) == pytest.approx(watched, rel=0.006)
    low, high = material.label_min(stage)
    now_low, now_high = learnt.label_min(stage)
    assert now_high / now_low == pytest.approx(high / low, rel=0.012)


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("slower", [1.3, 1 / 1.3])
def test_a_point_brings_the_clock_nearer_and_leaves_the_label_alone(
    family: str, slower: float
) -> None:
    stage = "tack" if family.endswith("size") else "recoat"
    labels = {stage: (120.0, 240.0)}
    material = MaterialFactory(id="paint", family=family, labels=labels)
    before = likely_min(material, stage, COOL)
    learnt = pointed(material, COOL, {stage: before * slower})
    after = likely_min(learnt, stage, COOL)
    assert abs(after - before * slower) <= abs(before - before * slower)
    assert learnt.labels == material.labels
    own = likely_min(material, stage, OWN)
    assert likely_min(learnt, stage, OWN) == pytest.approx(own)


def test_a_second_sample_in_the_same_air_takes_the_place_of_the_first() -> None:
    first = pointed(paint(), COOL, {"touch": 100.0, "recoat": 300.0})
    near = Air(temperature_c=18.5, humidity_pct=64.0)
    second = pointed(first, near, {"recoat": 350.0})
    assert second.points == (
        LabelPoint(air=near, labels={"touch": 100.0, "recoat": 350.0}),
    )


def test_samples_in_other_airs_stand_beside_each_other() -> None:
    damp = Air(temperature_c=18.0, humidity_pct=75.0)
    learnt = pointed(pointed(paint(), COOL, {"recoat": 300.0}), damp, {"recoat": 500.0})
    assert [point.air for point in learnt.points] == [COOL, damp]


def test_a_stage_that_the_label_does_not_know_gets_the_label_that_fits() -> None:
    learnt = pointed(paint(), COOL, {"hard": 3000.0, "recoat": 300.0})
    assert likely_min(learnt, "hard", COOL) == pytest.approx(3000.0, rel=0.006)
    assert set(learnt.labels) == {"open", "touch", "recoat", "hard"}
    assert [set(point.labels) for point in learnt.points] == [{"recoat"}]


def test_a_label_set_anew_drops_the_points_that_bent_the_old_one() -> None:
    bent = pointed(paint(), COOL, {"touch": 100.0, "recoat": 300.0})
    learnt = relabelled(bent, OWN, {"recoat": 200.0})
    assert learnt.points == (LabelPoint(air=COOL, labels={"touch": 100.0}),)


def test_in_an_air_in_which_it_never_ends_nothing_is_learnt() -> None:
    dew = Air(temperature_c=18.0, humidity_pct=100.0)
    with pytest.raises(BadInput, match=r"labels.recoat.*an air in which it ends"):
        relabelled(paint(), dew, {"recoat": 900.0})


@pytest.mark.parametrize(
    ("off", "same"),
    [
        ((1.0, 3.0), True),
        ((1.1, 0.0), False),
        ((0.0, -3.1), False),
        ((-1.0, 0.0), True),
    ],
)
def test_a_hygrometers_own_error_makes_no_other_air(
    off: tuple[float, float], same: bool
) -> None:
    other = replace(
        OWN,
        temperature_c=OWN.temperature_c + off[0],
        humidity_pct=OWN.humidity_pct + off[1],
    )
    assert same_air(OWN, other) is same
