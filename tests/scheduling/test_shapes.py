"""What a JSON value may be: what is read, refused, written and described alike."""

import json
import math
from collections.abc import Callable
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.shapes import (
    WRONG,
    Choice,
    Day,
    Flag,
    ListOf,
    MapOf,
    Moment,
    NullOr,
    Number,
    PairOf,
    Text,
    Zone,
    clock_time,
    ident,
    week_days,
)

values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=5,
)
SHAPES = {
    "number": Number(-5, 70),
    "above": Number(0, 10, above=True),
    "whole": Number(1, 50, whole=True),
    "flag": Flag(),
    "text": Text(),
    "id": ident(),
    "clock": clock_time(),
    "days": week_days(),
    "choice": Choice(("wall", "door")),
    "moment": Moment(),
    "day": Day(),
    "zone": Zone(),
    "list": ListOf(Number(0, 1), least=1, most=2),
    "pair": PairOf(Number(0, 9)),
    "map": MapOf(Flag(), names=("wash", "load"), least=1),
    "null": NullOr(Flag()),
}


def read(shape: Any, value: Any) -> tuple[Any, list[str]]:
    faults: list[Any] = []
    found = shape.read(value, "place", faults)
    return found, [str(fault) for fault in faults]


@given(st.sampled_from(sorted(SHAPES)), values)
def test_any_value_is_read_or_refused_in_words_and_reads_back(name, value):
    shape = SHAPES[name]
    found, faults = read(shape, value)
    if found is WRONG:
        assert faults
        assert all(told.startswith("place") for told in faults)
        assert all(told.count(": ") >= 2 for told in faults)
        return
    if not faults:
        again, none = read(shape, json.loads(json.dumps(shape.write(found))))
        assert (again, none) == (found, [])
        jsonschema.Draft202012Validator(shape.schema()).validate(shape.write(found))


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("number", math.nan),
        ("number", math.inf),
        ("number", 10**400),
        ("number", True),
        ("number", "5"),
        ("number", 70.000001),
        ("above", 0),
        ("above", -0.0),
        ("whole", 2.0),
        ("flag", 0),
        ("flag", "true"),
        ("text", ""),
        ("text", "a\tb"),
        ("text", "\ud83d"),
        ("text", "x" * 201),
        ("id", "Wall"),
        ("id", "wall\n"),
        ("id", "w" * 41),
        ("id", "wänd"),
        ("clock", "24:01"),
        ("clock", "8:00"),
        ("clock", "08:60"),
        ("clock", "08:00\n"),
        ("days", "mon - fri"),
        ("days", "Mon"),
        ("choice", "fence"),
        ("choice", []),
        ("moment", "2026-10-12T08:00:00"),
        ("moment", "2026-10-12"),
        ("moment", "1999-12-31T23:59:59+00:00"),
        ("moment", "2199-12-31T23:59:59-01:00"),
        ("moment", 1760000000),
        ("day", "2026-02-29"),
        ("day", "12.10.2026"),
        ("zone", "Europe"),
        ("zone", "../etc/passwd"),
        ("zone", "Europe/Lisbon\x00"),
        ("zone", "x" * 5000),
        ("zone", None),
        ("list", []),
        ("list", [0, 1, 0]),
        ("list", {"0": 1}),
        ("pair", [2, 1]),
        ("pair", [1, 1]),
        ("pair", [1]),
        ("map", {}),
        ("map", {"paint": True}),
        ("null", 0),
    ],
)
def test_what_is_outside_is_refused(name: str, value: Any) -> None:
    _, faults = read(SHAPES[name], value)
    assert faults
    assert all(told.startswith("place") for told in faults)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("number", -5),
        ("number", 70.0),
        ("above", 1e-300),
        ("text", "Hôtel 🏨"),
        ("clock", "24:00"),
        ("days", "sat"),
        ("days", "mon,wed-thu"),
        ("days", "fri-mon"),
        ("moment", "2026-10-12T08:00:00Z"),
        ("moment", "2026-10-12T08:00+05:45"),
        ("day", "2028-02-29"),
        ("zone", "America/Argentina/Buenos_Aires"),
        ("null", None),
    ],
)
def test_what_is_just_inside_is_read(name: str, value: Any) -> None:
    found, faults = read(SHAPES[name], value)
    assert faults == []
    assert found is not WRONG


def test_a_list_too_long_is_told_how_long_it_may_be() -> None:
    _, (told,) = read(SHAPES["list"], [0, 0, 0])
    assert told == "place: [0, 0, 0]: a list of 1 to 2 entries"


@pytest.mark.parametrize("wrong", [{"id": 1}, {}, None, "a", [["id"]]])
def test_rows_without_a_usable_id_do_not_trouble_the_search_for_twins(
    wrong: Any,
) -> None:
    class Anything:
        read: Callable[..., Any] = staticmethod(lambda value, path, faults: value)

    rows = [wrong, {"id": "a"}, wrong, {"id": "a"}]
    _, faults = read(ListOf(Anything(), unique=True), rows)
    assert faults == ['place[3].id: "a": an id used only once']
