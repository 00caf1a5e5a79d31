"""The search that plans a job, on job shops whose optimum is published."""

import json

import pytest

from scheduling.benchmark import AsProcess, answer, main
from scheduling.blocks import fixed_blocks, taken_together
from tests.published.job_shops import (
    FOLDER,
    JOB_SHOP,
    NO_WAIT,
    NO_WAIT_10_BY_10,
    published,
    with_limited_wait,
)

BETAS = (0, 0.5, 1, 2, 4, 100)
# Half of the 10 x 10 ones; the others take longer and run under make measure.
SOON = ("ft10", "abz6", "la16", "la20", "orb01", "orb02", "orb06", "orb08", "orb09")
LATER = tuple(name for name in NO_WAIT_10_BY_10 if name not in SOON)


def proved(network, makespan):
    found = answer(network)
    assert (found.status, found.makespan, found.bound) == (
        "optimal", makespan, makespan,
    )  # fmt: skip


@pytest.mark.parametrize("name", JOB_SHOP)
def test_a_job_shop_ends_at_its_published_optimum(name):
    proved(published(name), JOB_SHOP[name])


@pytest.mark.parametrize("name", NO_WAIT)
def test_a_job_shop_without_waits_ends_at_its_published_optimum(name):
    proved(published(name, most_wait=0), NO_WAIT[name])


@pytest.mark.parametrize("name", SOON)
def test_ten_jobs_on_ten_machines_without_waits_end_at_theirs(name):
    proved(published(name, most_wait=0), NO_WAIT_10_BY_10[name])


@pytest.mark.measure
@pytest.mark.parametrize("name", LATER)
def test_the_harder_ten_by_ten_without_waits_end_at_theirs(name):
    proved(published(name, most_wait=0), NO_WAIT_10_BY_10[name])


def falls_between_the_ends(name, betas):
    """A wait more may only help; none is the no-wait optimum, enough the job shop's."""
    found = [answer(with_limited_wait(name, beta)) for beta in betas]
    assert {one.status for one in found} == {"optimal"}
    ends = [one.makespan for one in found]
    assert ends == sorted(ends, reverse=True)
    assert (ends[0], ends[-1]) == (NO_WAIT[name], JOB_SHOP[name])
    assert len(set(ends)) > 2


@pytest.mark.parametrize("name", ["la01", "la03", "la05"])
def test_limited_waits_lead_from_one_known_optimum_to_the_other(name):
    falls_between_the_ends(name, BETAS)


@pytest.mark.measure
@pytest.mark.parametrize("name", ["la01", "la02", "la03", "la04", "la05"])
def test_finer_limits_lead_from_one_known_optimum_to_the_other(name):
    falls_between_the_ends(name, (0, 0.25, 0.5, 0.75, 1, 1.5, 2, 3, 4, 6, 100))


def test_the_command_gives_the_published_optimum_of_a_file(capsys):
    assert main([str(FOLDER / "ft06.txt"), "--no-wait", "--json"]) == 0
    answered = json.loads(capsys.readouterr().out)
    assert answered.pop("seconds") > 0
    assert answered == {"status": "optimal", "makespan": 73, "bound": 73}


def test_jobs_without_waits_are_seen_as_blocks_that_exclude_each_other():
    process = AsProcess(published("la01", most_wait=0)).process()
    blocks = fixed_blocks(process)
    assert [len(block) for block in blocks] == [5] * 10
    for number, one in enumerate(blocks):
        for other in blocks[:number]:
            assert len(taken_together(process, one, other)) == 5  # one a machine
