"""Older job files: brought up version by version, newer ones refused, nothing lost."""

import copy
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.factories import small_job
from scheduling.errors import BadInput
from scheduling.job_file import FORMAT, read_job, write_job
from scheduling.job_upgrades import UPGRADES, brought_up_to_date

Json = dict[str, Any]


def rooms_get_a_floor(file: Json) -> Json:
    """An invented second version: each room says on which floor it is."""
    for room in file["rooms"]:
        room["floor"] = 0
    return file


def walls_become_surfaces(file: Json) -> Json:
    """An invented third version: the list of walls has another name."""
    return {name: rows for name, rows in file.items() if name != "walls"} | {
        "surfaces": file["walls"]
    }


CHAIN = {1: rooms_get_a_floor, 2: walls_become_surfaces}
OLDEST = {"format": "coat-by-coat/1", "rooms": [{"id": "hall"}], "walls": ["north"]}


def test_a_file_goes_up_version_by_version() -> None:
    file = brought_up_to_date(OLDEST, to="coat-by-coat/3", upgrades=CHAIN)
    assert file == {
        "format": "coat-by-coat/3",
        "rooms": [{"id": "hall", "floor": 0}],
        "surfaces": ["north"],
    }


def test_a_file_starts_from_its_own_version() -> None:
    second = OLDEST | {"format": "coat-by-coat/2"}
    file = brought_up_to_date(second, to="coat-by-coat/3", upgrades=CHAIN)
    assert file["rooms"] == [{"id": "hall"}]
    assert "walls" not in file


def test_what_was_given_stays_as_it_was() -> None:
    given_file = copy.deepcopy(OLDEST)
    brought_up_to_date(given_file, to="coat-by-coat/3", upgrades=CHAIN)
    assert given_file == OLDEST


def test_a_file_of_this_version_is_left_alone() -> None:
    assert brought_up_to_date(OLDEST, to="coat-by-coat/1", upgrades=CHAIN) is OLDEST


@pytest.mark.parametrize("newer", ["coat-by-coat/4", "coat-by-coat/10"])
def test_a_newer_file_is_refused_in_words(newer: str) -> None:
    with pytest.raises(BadInput) as refused:
        brought_up_to_date(
            OLDEST | {"format": newer}, to="coat-by-coat/3", upgrades=CHAIN
        )
    assert str(refused.value) == (
        f'format: "{newer}": coat-by-coat/3 or older; '
        "a newer version of the program wrote this file"
    )


@pytest.mark.parametrize(
    "named",
    [None, 1, "", "coat-by-coat", "coat-by-coat/0", "coat-by-coat/01", "coat-by-coat/x",
     "coat-by-coat/-1", "coat-by-coat/1\n", "coat-by-coat/٢", "other/1",
     "coat-by-coat/" + "9" * 5000],
)  # fmt: skip
def test_what_names_no_version_is_refused_by_the_reader(named: object) -> None:
    file = write_job(small_job()) | {"format": named}
    with pytest.raises(BadInput, match=r"^format: .*one of coat-by-coat/1$"):
        read_job(file)


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text(max_size=5),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(max_size=6), inner),
        max_leaves=8,
    )
)
def test_json_that_is_no_job_comes_back_unchanged(value: object) -> None:
    assert brought_up_to_date(value, to="coat-by-coat/3", upgrades=CHAIN) is value


def test_a_version_without_a_way_up_stops_there() -> None:
    file = brought_up_to_date(OLDEST, to="coat-by-coat/3", upgrades={2: CHAIN[2]})
    assert file == OLDEST


def test_a_newer_file_is_refused_on_import() -> None:
    newer = write_job(small_job()) | {"format": "coat-by-coat/2", "ladders": []}
    with pytest.raises(BadInput) as refused:
        read_job(newer)
    assert [fault.path for fault in refused.value.faults] == ["format"]


def test_every_older_version_of_the_format_has_a_way_up() -> None:
    last = int(FORMAT.rpartition("/")[2])
    assert sorted(UPGRADES) == list(range(1, last))


def test_files_of_this_version_read_as_before() -> None:
    job = small_job()
    assert read_job(json.loads(json.dumps(write_job(job)))) == job
