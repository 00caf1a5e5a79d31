"""A lever's change, kept as plain values and made in a later state of the job."""

import json
from dataclasses import replace

import pytest

from jobs.factories import HandFactory, HoursFactory
from scheduling.errors import BadInput
from scheduling.job_changes import change_of, with_changes
from tests.scheduling.planning_jobs import coat, job_of

JOB = job_of((coat(),), (coat(),), hands=2)


def with_hand(job, name="one-more"):
    return replace(job, hands=(*job.hands, HandFactory(id=name)))


def longer(job, end="18:00"):
    return replace(job, site=replace(job.site, hours=(HoursFactory(end=end),)))


def test_a_change_gives_the_other_job_and_is_plain_json():
    other = longer(with_hand(JOB))
    change = json.loads(json.dumps(change_of(JOB, other)))
    assert set(change) == {"hands", "site"}
    assert with_changes(JOB, [change]) == other
    assert change_of(JOB, JOB) == {}


def test_what_was_typed_in_the_meantime_stays():
    change = change_of(JOB, longer(JOB))
    later = replace(JOB, title="Another title", surfaces=JOB.surfaces[:1])
    made = with_changes(later, [change])
    assert (made.title, len(made.surfaces)) == ("Another title", 1)
    assert made.site.hours[0].end == "18:00"


def test_two_new_hands_of_one_id_are_two_hands():
    change = change_of(JOB, with_hand(JOB))
    ids = [hand.id for hand in with_changes(JOB, [change, change]).hands]
    assert ids[-2:] == ["one-more", "one-more-2"]


def test_two_changes_of_one_value_are_refused_by_name():
    changes = [change_of(JOB, longer(JOB, end)) for end in ("18:00", "19:00")]
    with pytest.raises(BadInput, match=r"site\.hours"):
        with_changes(JOB, changes)


def test_a_change_of_what_is_gone_is_refused_by_name():
    other = replace(
        JOB, surfaces=(replace(JOB.surfaces[0], width_m=9.0), *JOB.surfaces[1:])
    )
    change = change_of(JOB, other)
    with pytest.raises(BadInput, match="wall-1"):
        with_changes(replace(JOB, surfaces=JOB.surfaces[1:]), [change])
