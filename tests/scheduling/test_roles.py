"""Who lays and who works it. Common practice, no source."""

from dataclasses import replace

import pytest

from jobs.factories import HandFactory
from scheduling.plan_file import read_plan, write_plan
from scheduling.roles import roles_at
from tests.scheduling.planning_jobs import coat, job_of, people, planned

CREW = (
    HandFactory(id="ada", skills=()),
    HandFactory(id="bo", skills=("dragging",)),
    HandFactory(id="cy", skills=()),
)
DRAG = coat("drag", 60, wet=True, work_min_m2=4.8, hands=people(2), skill="dragging")
JOB = job_of((DRAG,), hands=CREW)


def test_one_lays_and_the_hand_with_the_skill_works_it():
    assert roles_at(JOB, DRAG, ("ada", "bo")) == {"ada": "lays", "bo": "works"}


def test_a_hand_that_leads_works_it_whoever_has_the_skill():
    assert roles_at(JOB, DRAG, ("ada", "bo"), lead="ada")["ada"] == "works"


@pytest.mark.parametrize(("work", "working"), [(2.4, 1), (4.8, 1), (9.6, 2)])
def test_of_three_as_many_work_it_as_keep_level_with_those_who_lay(work, working):
    step = replace(DRAG, work_min_m2=work)  # laid at 4.8 min a m2
    found = roles_at(JOB, step, ("ada", "bo", "cy"))
    assert list(found.values()).count("works") == working


@pytest.mark.parametrize(
    "changes", [{"wet": False}, {"work_min_m2": 0.0}, {"apply_min_m2": 0.0}]
)
def test_there_are_no_parts_to_play_where_there_is_no_wet_edge_to_work(changes):
    assert roles_at(JOB, replace(DRAG, **changes), ("ada", "bo")) == {}


def test_one_alone_does_both():
    assert roles_at(JOB, DRAG, ("bo",)) == {}


def test_the_plan_says_who_does_what_and_its_file_keeps_it():
    plan = planned(JOB)
    (stint,) = plan.stints
    assert stint.roles == {"ada": "lays", "bo": "works"}
    assert read_plan(write_plan(plan)) == plan
