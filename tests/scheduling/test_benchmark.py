"""The yardstick's command, and small networks settled by trying all."""

import json
import subprocess
import sys
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.benchmark import MOST_SLOTS, answer, main
from scheduling.errors import BadInput
from scheduling.networks import Activity, Network, job_shop, project
from scheduling.solver import Effort

ROOT = Path(__file__).resolve().parents[2]
SOME = Effort(budget=10)
# Machine 0 first for both: the second job waits 3, so the work takes 3 + 1 + 5.
SHOP = "2 2\n0 3 1 2\n0 1 1 5\n"


# -- by trying all -------------------------------------------------------------------


def shortest(network):
    """The makespan by trying every start, None where no starts keep everything.

    Up to the sum over activities of the larger of duration and distances from it,
    the usual limit for these projects (Neumann, Schwindt and Zimmermann, Project
    Scheduling with Time Windows, from memory): the best plan, if any, ends by then.
    """
    activities = network.activities
    most = [a.length for a in activities]
    for (before, _), distance in network.apart.items():
        most[before] = max(most[before], distance)
    best = None
    for starts in product(
        *(range((sum(most) if a.latest is None else a.latest) + 1) for a in activities)
    ):
        ends = [s + a.length for s, a in zip(starts, activities, strict=True)]
        if best is not None and max(ends) >= best:
            continue
        if any(starts[j] - starts[i] < d for (i, j), d in network.apart.items()):
            continue
        if all(_fits(network, starts, moment) for moment in range(max(ends))):
            best = max(ends)
    return best


def _fits(network, starts, moment):
    running = [
        a
        for s, a in zip(starts, network.activities, strict=True)
        if s <= moment < s + a.length
    ]
    machines = [a.machine for a in running if a.machine is not None]
    drawn = [sum(a.demand[k] for a in running) for k in range(len(network.capacity))]
    within = all(d <= most for d, most in zip(drawn, network.capacity, strict=True))
    return within and len(machines) == len(set(machines))


@st.composite
def small_networks(draw):
    """Three or four activities, two resources, distances of either sign."""
    count = draw(st.integers(3, 4))
    lengths = st.integers(0, 3)
    demand = st.tuples(st.integers(0, 2), st.integers(0, 2))
    activities = [Activity(length=0, demand=(0, 0), latest=0)]
    activities += [
        Activity(length=draw(lengths), demand=draw(demand)) for _ in range(count - 1)
    ]
    pairs = [(i, j) for i in range(count) for j in range(count) if i != j]
    chosen = draw(st.lists(st.sampled_from(pairs), unique=True, max_size=5))
    apart = {pair: draw(st.integers(-4, 3)) for pair in chosen}
    return Network(activities=tuple(activities), apart=apart, capacity=(2, 3))


def as_sch(network):
    """The network in ProGen/max's form."""
    count = len(network.activities)
    rows = [f"{count - 2} {len(network.capacity)} 0 0"]
    for number in range(count):
        followers = {j: d for (i, j), d in network.apart.items() if i == number}
        words = [number, 1, len(followers), *followers]
        rows.append("\t".join(map(str, [*words, *([d] for d in followers.values())])))
    for number, activity in enumerate(network.activities):
        rows.append("\t".join(map(str, (number, 1, activity.length, *activity.demand))))
    return "\n".join([*rows, "\t".join(map(str, network.capacity))])


@settings(max_examples=60)
@given(small_networks())
def test_small_networks_end_when_trying_all_says_they_do(network):
    read = project(as_sch(network))
    assert read == network
    found = answer(read, SOME)
    best = shortest(network)
    assert found.makespan == best
    assert found.bound == best
    assert found.status == ("infeasible" if best is None else "optimal")


@st.composite
def small_shops(draw):
    """Two or three jobs on two machines, one time in two with a longest wait."""
    jobs = draw(st.integers(2, 3 if draw(st.booleans()) else 2))
    rows = [f"{jobs} 2"]
    for _ in range(jobs):
        first = draw(st.integers(0, 1))
        rows.append(f"{first} {draw(st.integers(0, 2))} {1 - first} "
                    f"{draw(st.integers(1, 2))}")  # fmt: skip
    return job_shop("\n".join(rows), most_wait=draw(st.none() | st.integers(0, 2)))


@settings(max_examples=25)
@given(small_shops())
def test_small_shops_end_when_trying_all_says_they_do(network):
    found = answer(network, SOME)
    assert (found.status, found.makespan) == ("optimal", shortest(network))


def test_distances_that_contradict_each_other_are_proved_so():
    network = Network(
        activities=(Activity(length=1), Activity(length=1)),
        apart={(0, 1): 3, (1, 0): -2},
    )
    assert answer(network, SOME).status == "infeasible"


def test_a_demand_above_what_there_is_is_infeasible():
    network = Network(
        activities=(Activity(length=1, demand=(2,)),), apart={}, capacity=(1,)
    )
    assert answer(network, SOME).status == "infeasible"


def test_what_takes_no_time_may_end_the_project_after_all_work():
    network = Network(
        activities=(Activity(length=2), Activity(length=0)), apart={(0, 1): 5}
    )
    found = answer(network, SOME)
    assert (found.status, found.makespan, found.bound) == ("optimal", 5, 5)


def test_an_answer_is_in_the_unit_of_the_file_whatever_divides_it():
    ten = answer(job_shop("2 2\n0 30 1 20\n0 10 1 50\n"), SOME)
    assert (ten.makespan, ten.bound) == (80, 80)


def test_too_long_a_network_is_refused_with_what_is_allowed():
    with pytest.raises(BadInput, match=str(MOST_SLOTS)):
        answer(job_shop(f"1 2\n0 {MOST_SLOTS} 0 1\n"), SOME)


def test_the_same_network_gets_the_same_answer():
    network = job_shop(SHOP)
    one, other = answer(network, SOME), answer(network, SOME)
    assert (one.makespan, one.bound) == (other.makespan, other.bound) == (8, 8)


# -- the command ---------------------------------------------------------------------


@pytest.fixture
def shop(tmp_path):
    file = tmp_path / "shop.txt"
    file.write_text(SHOP)
    return file


def test_the_command_answers_in_json_with_the_stated_keys(shop):
    run = subprocess.run(
        [sys.executable, "-m", "scheduling.benchmark", str(shop), "--json"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    answered = json.loads(run.stdout)
    assert list(answered) == ["status", "makespan", "bound", "seconds"]
    assert answered["seconds"] > 0
    assert (answered["status"], answered["makespan"], answered["bound"]) == (
        "optimal", 8, 8,
    )  # fmt: skip
    assert run.stderr == ""


@pytest.mark.parametrize("more", [[], ["--seconds", "5"], ["--no-wait"]])
def test_the_command_says_it_in_words(shop, capsys, more):
    assert main([str(shop), *more]) == 0
    assert "proved the shortest" in capsys.readouterr().out


def test_an_infeasible_project_has_null_for_its_numbers(tmp_path, capsys):
    file = tmp_path / "none.sch"
    file.write_text("1 0 0 0\n0 1 1 1 [2]\n1 1 1 0 [-1]\n2 1 0\n0 1 0\n1 1 1\n2 1 0\n")
    assert main([str(file), "--json"]) == 0
    answered = json.loads(capsys.readouterr().out)
    assert answered | {"seconds": None} == {
        "status": "infeasible", "makespan": None, "bound": None, "seconds": None,
    }  # fmt: skip


def refused(capsys, *arguments):
    """What stands on stderr after exit 2, nothing on stdout."""
    try:
        code = main([str(argument) for argument in arguments])
    except SystemExit as left:
        code = left.code
    out, err = capsys.readouterr()
    assert (code, out) == (2, "")
    return err.splitlines()


def test_a_mistake_in_the_file_is_one_line_with_file_line_and_value(shop, capsys):
    shop.write_text("1 2\n0 3 7 2\n")
    assert refused(capsys, shop) == [f'{shop}: line 2, "7": a machine from 0 to 1']


@pytest.mark.parametrize("seconds", ["0", "-1", "nan", "inf", "soon", ""])
def test_a_time_that_is_none_is_refused(shop, capsys, seconds):
    assert refused(capsys, shop, f"--seconds={seconds}") == [
        f'--seconds: "{seconds}": a number of seconds above 0'
    ]


def test_a_file_that_cannot_be_read_is_refused(tmp_path, capsys):
    missing, binary = tmp_path / "missing.txt", tmp_path / "binary.txt"
    binary.write_bytes(b"1 1\n\xff\xfe")
    assert refused(capsys, missing) == [
        f'{missing}: "No such file or directory": a file to be read'
    ]
    assert refused(capsys, tmp_path) == [
        f'{tmp_path}: "Is a directory": a file to be read'
    ]
    assert refused(capsys, binary) == [f'{binary}: byte 4, "not text": UTF-8 text']


def test_no_wait_is_for_job_shops_only(tmp_path, capsys):
    file = tmp_path / "a.sch"
    file.write_text("")
    assert refused(capsys, file, "--no-wait") == [
        f'{file}: "--no-wait": job shops only; a project states its distances'
    ]


def test_an_unknown_option_is_one_line(shop, capsys):
    assert refused(capsys, shop, "--fast") == [
        "benchmark: unrecognized arguments: --fast"
    ]
