"""The plan format: what was planned reads back, nonsense is refused in words."""

import copy
import json
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.errors import BadInput
from scheduling.plan import Bound, Change, Late, Plan, Range, Reason, Stint
from scheduling.plan_file import read_plan, write_plan
from scheduling.problem import PROMISES, STAGES, AirHour
from tests.scheduling.planning_jobs import MONDAY, coat, job_of, planned

ids = st.from_regex(r"[a-z0-9-]{1,12}", fullmatch=True)
texts = st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]), min_size=1)
moments = st.integers(-500_000, 500_000).map(
    lambda minutes: MONDAY + timedelta(minutes=minutes)
)


@st.composite
def ranges(draw):
    """Early, likely and safe in order; from some end on perhaps never."""
    known = sorted(draw(st.lists(moments, max_size=3)))
    early, likely, safe = [*known, None, None, None][:3]
    return Range(early=early, likely=likely, safe=safe)


reasons = st.builds(Reason, code=ids, text=texts, other=st.none() | ids)
stints = st.builds(
    Stint,
    id=ids,
    kind=st.sampled_from(["work", "test", "rescue"]),
    surface=ids,
    section=st.none() | ids,
    step=ids,
    hands=st.lists(ids, max_size=3).map(tuple),
    start=moments,
    end=moments,
    open=st.none() | ranges(),
    ready=st.dictionaries(st.sampled_from(STAGES), ranges(), max_size=3),
    closes=st.none() | ranges(),
    promises=st.dictionaries(st.sampled_from(PROMISES), ranges(), max_size=2),
    reason=reasons,
)
hours = st.builds(
    AirHour,
    at=moments,
    temperature_c=st.floats(-60, 70),
    humidity_pct=st.floats(0, 100),
    wind_m_s=st.none(),
)
plans = st.builds(
    Plan,
    job_sha256=st.from_regex(r"[0-9a-f]{64}", fullmatch=True),
    outcome=st.sampled_from(["plan", "no-plan"]),
    finish=st.none() | moments,
    bound=st.builds(
        Bound,
        finish_not_before=st.none() | moments,
        proved=st.booleans(),
        air=texts,
    ),
    late=st.lists(
        st.builds(Late, date=st.integers(0, 99), by_min=st.none() | st.floats(0, 1e9)),
        max_size=2,
    ).map(tuple),
    air=st.dictionaries(ids, st.lists(hours, max_size=2).map(tuple), max_size=2),
    stints=st.lists(stints, max_size=2, unique_by=lambda row: row.id).map(tuple),
    reasons=st.lists(reasons, max_size=2).map(tuple),
    changes=st.lists(
        st.builds(
            Change,
            stint=ids,
            surface=ids,
            step=ids,
            kind=st.sampled_from(["moved", "hands", "added", "dropped"]),
            text=texts,
            was=st.none() | moments,
            now=st.none() | moments,
        ),
        max_size=2,
    ).map(tuple),
    notes=st.lists(texts, max_size=2).map(tuple),
)


@settings(max_examples=60)
@given(plans)
def test_every_plan_reads_back_as_it_was_written(plan):
    written = json.loads(json.dumps(write_plan(plan), allow_nan=False))
    assert read_plan(written) == plan
    assert write_plan(read_plan(written)) == written


@pytest.fixture(scope="module")
def written():
    plan = planned(job_of((coat("one"), coat("two"))), budget=0.2)
    return json.loads(json.dumps(write_plan(plan)))


@pytest.mark.parametrize(
    "key",
    [
        *("format", "job_sha256", "outcome", "finish", "bound", "late", "air"),
        *("stints", "reasons", "changes", "notes"),
    ],
)
def test_each_key_of_a_plan_is_required(written, key):
    with pytest.raises(BadInput) as caught:
        read_plan({name: value for name, value in written.items() if name != key})
    (fault,) = caught.value.faults
    assert (fault.path, fault.allowed) == (key, "required")


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("outcome",), "late"),
        (("finish",), "2026-10-12T09:00:00"),
        (("bound", "proved"), None),
        (("stints", 0, "kind"), "rest"),
        (("stints", 0, "id"), "One"),
        (("stints", 0, "ready", "dry"), {"early": None, "likely": None, "safe": None}),
        (("stints", 0, "ready", "recoat"), {"early": None}),
        (("stints", 0, "colour"), "red"),
        (("late",), [{"date": 0, "by_min": -1}]),
        (("air", "room", 0, "humidity_pct"), 105),
    ],
)
def test_nonsense_in_a_plan_is_refused_with_its_place(written, path, value):
    changed = copy.deepcopy(written)
    place = changed
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    spelt = "".join(f"[{s}]" if isinstance(s, int) else f".{s}" for s in path)[1:]
    with pytest.raises(BadInput) as caught:
        read_plan(changed)
    assert all(fault.path.startswith(spelt) for fault in caught.value.faults)


def test_a_stint_given_twice_is_refused(written):
    changed = copy.deepcopy(written)
    changed["stints"].append(changed["stints"][0])
    with pytest.raises(BadInput, match="only once"):
        read_plan(changed)
