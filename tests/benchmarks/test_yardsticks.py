"""Published yardsticks timed, and a general library beside; run by ``make measure``."""

import json
import random
import subprocess
import sys
import venv
from pathlib import Path

import pytest

from scheduling.benchmark import answer
from scheduling.networks import Activity, Network
from scheduling.solver import Effort
from tests.published.job_shops import (
    JOB_SHOP,
    NO_WAIT,
    NO_WAIT_10_BY_10,
    published,
    with_limited_wait,
)

pytestmark = pytest.mark.measure
# MIT; named by version so that its answers are the same each time. It brings its own
# OR-Tools and much else, so it lives in an environment of its own.
PYJOBSHOP = "pyjobshop==0.0.9"
ITS_SECONDS = 10.0  # Assumed: enough to tell, and the run stays under three minutes
RUNNER = Path(__file__).with_name("pyjobshop_run.py")


def project_of(seed, count=20):
    """A project with distances of both signs on three resources, made by chance."""
    chance = random.Random(seed)
    activities = [Activity(length=0, demand=(0, 0, 0), latest=0)]
    activities += [
        Activity(
            length=chance.randint(1, 10),
            demand=tuple(chance.randint(0, 6) for _ in range(3)),
        )
        for _ in range(count)
    ]
    apart = {}
    for after in range(2, count + 1):
        for before in chance.sample(range(1, after), min(2, after - 1)):
            apart[before, after] = chance.randint(0, 12)
            if chance.random() < 0.15:
                slack = chance.randint(20, 60)
                apart[after, before] = -apart[before, after] - slack
    return Network(activities=tuple(activities), apart=apart, capacity=(10, 10, 10))


def networks():
    found = {f"{name}, job shop": published(name) for name in JOB_SHOP}
    found |= {f"{name}, no wait": published(name, most_wait=0) for name in NO_WAIT}
    found["ft10, no wait"] = published("ft10", most_wait=0)
    found |= {
        f"{name}, waits to half the mean": with_limited_wait(name, 0.5)
        for name in ("la01", "la02")
    }
    return found | {f"project {seed}": project_of(seed) for seed in range(6)}


def as_json(network):
    return {
        "activities": [
            {"length": a.length, "machine": a.machine, "demand": a.demand,
             "latest": a.latest}
            for a in network.activities
        ],
        "apart": [(i, j, d) for (i, j), d in network.apart.items()],
        "machines": network.machines,
        "capacity": network.capacity,
    }  # fmt: skip


def test_every_job_shop_without_waits_is_proved():
    print()
    for name, makespan in (NO_WAIT | NO_WAIT_10_BY_10).items():
        found = answer(published(name, most_wait=0))
        print(f"{name} without waits: {found.makespan}, {found.seconds:.2f} s")
        assert (found.status, found.makespan) == ("optimal", makespan)


@pytest.fixture(scope="module")
def its_python(tmp_path_factory):
    """A Python that has PyJobShop; the measurement fails where it cannot be had."""
    folder = tmp_path_factory.mktemp("pyjobshop")
    venv.create(folder, with_pip=True)
    python = folder / "bin" / "python"
    made = subprocess.run(
        [python, "-m", "pip", "install", "--quiet", PYJOBSHOP],
        capture_output=True,
        text=True,
        check=False,
    )
    if made.returncode:
        pytest.fail(f"{PYJOBSHOP} could not be installed: {made.stderr[-400:]}")
    return python


def test_no_answer_is_worse_than_that_of_pyjobshop(its_python):
    wanted = networks()
    asked = {
        "seconds": ITS_SECONDS,
        "networks": [as_json(network) for network in wanted.values()],
    }
    run = subprocess.run(
        [its_python, RUNNER],
        input=json.dumps(asked),
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr[-800:]
    theirs = json.loads(run.stdout)
    print(
        f"\n{PYJOBSHOP}, one worker each, its limit {ITS_SECONDS:g} s", file=sys.stdout
    )
    for (name, network), its in zip(wanted.items(), theirs, strict=True):
        ours = answer(network, Effort(budget=60))
        print(
            f"{name}: {ours.status} {ours.makespan} in {ours.seconds:.2f} s, "
            f"beside {its['status']} {its['makespan']} in {its['seconds']:.2f} s, "
            f"{its['seconds'] / ours.seconds:.1f} times ours"
        )
        if its["makespan"] is not None:
            assert ours.makespan is not None
            assert ours.makespan <= its["makespan"]
        if its["status"] in ("optimal", "infeasible"):
            assert (ours.status, ours.makespan) == (its["status"], its["makespan"])
