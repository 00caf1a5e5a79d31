"""Job-shop text and .sch projects: what is read, and how a mistake is named."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.errors import BadInput
from scheduling.networks import Activity, Network, job_shop, project

PROJECT = """\
2 1 0 0
0 1 2 1 2 [0] [0]
1 1 2 2 3 [-3] [4]
2 1 2 3 1 [2] [-5]
3 1 0
0 1 0 0
1 1 4 2
2 1 2 1
3 1 0 0
2
"""


def test_a_job_shop_is_read_with_comments_and_empty_lines():
    text = "# two jobs\n\n2 2  # jobs, machines\n0 3 1 2\n1 4 0 0\n"
    network = job_shop(text)
    assert network.machines == 2
    assert [(a.machine, a.length) for a in network.activities] == [
        (0, 3), (1, 2), (1, 4), (0, 0),
    ]  # fmt: skip
    assert network.apart == {(0, 1): 3, (2, 3): 4}


def test_a_longest_wait_bounds_the_distance_from_above():
    network = job_shop("1 2\n0 3 1 2\n", most_wait=4)
    assert network.apart == {(0, 1): 3, (1, 0): -7}


def test_a_project_is_read_as_distances_demands_and_capacities():
    assert project(PROJECT) == Network(
        activities=(
            Activity(length=0, demand=(0,), latest=0),
            Activity(length=4, demand=(2,)),
            Activity(length=2, demand=(1,)),
            Activity(length=0, demand=(0,)),
        ),
        apart={(0, 1): 0, (0, 2): 0, (1, 2): -3, (1, 3): 4, (2, 3): 2, (2, 1): -5},
        capacity=(2,),
    )


def test_a_space_inside_brackets_is_no_mistake():
    assert project(PROJECT.replace("[-3]", "[ -3 ]")) == project(PROJECT)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", 'line 1: "end of file": the numbers of jobs and machines'),
        ("2\n", 'line 1: "2": two numbers, of jobs and of machines'),
        ("x 2\n", 'line 1: "x": a number of jobs, 1 or more'),
        ("0 2\n", 'line 1: "0": a number of jobs, 1 or more'),
        ("1 2.5\n", 'line 1: "2.5": a number of machines, 1 or more'),
        (
            "2 1\n0 3\n",
            'line 3: "end of file": a line for each of 2 jobs, this one for 1',
        ),
        (
            "1 2\n0 3 1\n",
            'line 2: "3 numbers": 2 pairs of machine and duration, 4 numbers',
        ),
        ("1 2\n0 3 2 1\n", 'line 2: "2": a machine from 0 to 1'),
        ("1 2\n0 3 1 -1\n", 'line 2: "-1": a duration, a whole number from 0'),
        ("1 2\n0 3 1 ١\n", 'line 2: "١": a duration, a whole number from 0'),
        ("1 1\n0 3\n0 4\n", 'line 3: "0 4": nothing after the last line'),
    ],
)
def test_a_mistake_in_a_job_shop_is_named_with_line_and_value(text, said):
    with pytest.raises(BadInput) as wrong:
        job_shop(text)
    assert str(wrong.value) == said


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("2 1 0 0", "2 1 0", "line 1: \"2 1 0\": four numbers"),
        ("2 1 0 0", "2 1 1 0", 'line 1: "1": 0: only resources that renew are read'),
        ("0 1 2 1 2", "5 1 2 1 2", "line 2: \"5\": 0, the number of this line's"),
        ("0 1 2 1 2", "0 2 2 1 2", 'line 2: "2": 1: activities have one mode'),
        ("[0] [0]", "[0]", 'line 2: "3 words": 2 followers and as many distances'),
        ("[0] [0]", "[0] 0", 'line 2: "0": a distance, a whole number in brackets'),
        ("1 1 2 2 3", "1 1 2 1 3", "line 3: \"1\": an activity other than the line's"),
        ("1 1 2 2 3", "1 1 2 2 4", 'line 3: "4": an activity from 0 to 3'),
        ("1 1 4 2", "1 1 4", 'line 7: "3 numbers": 4 numbers: activity, mode,'),
        ("1 1 4 2", "1 1 -4 2", 'line 7: "-4": a duration, a whole number from 0'),
        ("1 1 4 2", "1 1 4 x", 'line 7: "x": a demand, a whole number from 0'),
        ("\n2\n", "\n2 2\n", 'line 10: "2 numbers": 1 capacities'),
        ("\n2\n", "\n", 'line 10: "end of file": 1 capacities'),
        ("\n2\n", "\n2\n7\n", 'line 11: "7": nothing after the last line'),
    ],
)  # fmt: skip
def test_a_mistake_in_a_project_is_named_with_line_and_value(old, new, said):
    with pytest.raises(BadInput) as wrong:
        project(PROJECT.replace(old, new, 1))
    assert str(wrong.value).startswith(said)


@given(
    st.text(alphabet="0123 -[].#\nx", max_size=60), st.sampled_from([job_shop, project])
)
def test_any_text_is_read_or_refused_by_line(text, read):
    places = []
    try:
        read(text)
    except BadInput as wrong:
        places = [fault.path for fault in wrong.faults]
    assert all(place.startswith("line ") for place in places)
