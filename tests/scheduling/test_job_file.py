"""The job format: what is kept, what is refused, and how it is said."""

import copy
import json
import math
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.errors import BadInput
from scheduling.job_file import job_sha256, read_job, write_job

HOURS = [
    {"days": "mon-fri", "from": "08:00", "to": "16:30", "breaks": [["12:00", "12:30"]]},
    {
        "days": "sat",
        "from": "09:00",
        "to": "24:00",
        "breaks": [{"from": "12:00", "to": "13:00", "relay": True}],
    },
]
AIR = {"temperature_c": 21, "humidity_pct": 56}
AT = "2026-10-12T08:00:00+01:00"
LATER = "2026-10-12T09:00:00+01:00"


def whole_job():
    """Every key of the format once; a copy of its own each time."""
    return copy.deepcopy(WHOLE)


WHOLE = {
    "format": "coat-by-coat/1",
    "id": "inn",
    "title": "The inn",
    "now": AT,
    "site": {
        "zone": "Europe/Lisbon",
        "latitude": 38.5,
        "longitude": -9,
        "altitude_m": 12,
        "hours": HOURS,
        "closed": ["2026-12-25"],
        "quiet": [{"days": "mon-sun", "from": "20:00", "to": "24:00"}],
        "typical_air": [{"from": "00:00", **AIR}],
    },
    "hands": [
        {
            "id": "lead",
            "name": "Lead",
            "skills": ["glazing"],
            "hours": HOURS,
            "away": [[AT, LATER]],
        }
    ],
    "materials": [
        {
            "id": "base",
            "name": "Base",
            "family": "waterborne",
            "label_air": AIR,
            "labels": {"open": 10, "touch": 60, "recoat": [120, 240], "hard": 2880},
            "points": [{"air": AIR, "labels": {"recoat": 200}}],
            "promises": {"wash": [20160, 43200]},
            "water_share": 0.5,
            "spread_m2_per_l": 10.5,
            "parts": {"colour": 1, "medium": 1},
            "oily": True,
            "solvent": True,
        }
    ],
    "recipes": [
        {
            "id": "two",
            "name": "Two coats",
            "steps": [
                {
                    "id": "one",
                    "name": "One",
                    "material": "base",
                    "apply_min_m2": 3,
                    "work_min_m2": 1.5,
                    "setup_min": 10,
                    "hands": {"least": 1, "most": 2},
                    "skill": "glazing",
                    "wet": True,
                },
                {
                    "id": "rub",
                    "material": None,
                    "after": {"step": "one", "stage": "hard"},
                    "rescue": {"min_m2": 2, "stage": "recoat"},
                    "apply_min_m2": 0,
                    "hands": {"least": 1},
                    "splits": True,
                    "makes": ["dust"],
                },
            ],
        }
    ],
    "rooms": [
        {
            "id": "hall",
            "name": "Hall",
            "volume_m3": 60,
            "air": {
                "changes_per_h": 0.5,
                "day_c": 20,
                "night_c": 16,
                "dehumidifier_l_day": 20,
            },
            "access": HOURS[:1],
            "opens": [{"days": "mon-sun", "from": "17:00", "to": "23:00"}],
            "connected": ["bar"],
            "hands_most": 2,
            "hand_back": LATER,
        },
        {"id": "bar", "volume_m3": 30, "air": {"given": [{"at": AT, **AIR}]}},
    ],
    "surfaces": [
        {
            "id": "north",
            "name": "North wall",
            "room": "hall",
            "kind": "wall",
            "width_m": 4,
            "height_m": 2.5,
            "openings_m2": 1.2,
            "stop_lines_m": [1, 2.5],
            "outside": True,
            "u_w_m2k": 1.1,
            "sun": [{"days": "mon-sun", "from": "14:00", "to": "17:00"}],
            "recipe": "two",
            "priority": 1,
            "gates": [{"name": "sample signed", "not_before": AT}],
        }
    ],
    "outdoors": [{"at": AT, **AIR, "wind_m_s": 3}],
    "readings": [{"at": AT, "room": "hall", **AIR, "surface_c": 17.5}],
    "coats": [
        {"surface": "north", "section": "1", "step": "one", "from": AT, "to": LATER}
    ],
    "pins": [{"surface": "north", "step": "rub", "hands": ["lead"], "from": LATER}],
    "dates": [
        {"surface": "north", "by": LATER, "stage": "hard", "must": True},
        {"room": "hall", "by": LATER, "promise": "wash", "must": False, "weight": 2},
        {"job": "inn", "by": LATER, "stage": "touch", "must": False},
    ],
}


def faults(value):
    with pytest.raises(BadInput) as caught:
        read_job(value)
    return {fault.path: fault for fault in caught.value.faults}


def changed(path, value):
    """The whole job with one place changed; a path like ("rooms", 0, "volume_m3")."""
    job = whole_job()
    place = job
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    return job


def spelt(path):
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else f".{step}"
    return text.lstrip(".")


def test_every_key_is_kept_as_it_was():
    job = whole_job()
    assert write_job(read_job(job)) == job
    assert write_job(read_job(write_job(read_job(job)))) == job


def places(value, path=()):
    yield path
    if isinstance(value, dict):
        for name, entry in value.items():
            yield from places(entry, (*path, name))
    elif isinstance(value, list):
        for number, entry in enumerate(value):
            yield from places(entry, (*path, number))


OPTIONAL = {
    "now", "latitude", "longitude", "altitude_m", "closed", "quiet", "typical_air",
    "name", "away", "points", "promises", "water_share", "spread_m2_per_l", "parts",
    "oily", "solvent", "after", "rescue", "work_min_m2", "setup_min", "skill", "wet",
    "splits", "makes", "dehumidifier_l_day", "access", "opens", "connected",
    "hands_most", "hand_back", "openings_m2", "stop_lines_m", "outside", "u_w_m2k",
    "sun", "priority", "gates", "wind_m_s", "surface_c", "section", "pins", "weight",
    "most", "breaks", "relay",
}  # fmt: skip
LISTS = {"outdoors", "readings", "coats", "dates"}  # nothing has happened: may be left


def keys():
    for path in places(whole_job()):
        if path and isinstance(path[-1], str):
            yield path


def without(path):
    job = whole_job()
    place = job
    for step in path[:-1]:
        place = place[step]
    del place[path[-1]]
    return job


@pytest.mark.parametrize("path", list(keys()), ids=spelt)
def test_each_key_is_required_or_optional_as_the_format_says(path):
    name, job = path[-1], without(path)
    under = path[-2] if len(path) > 1 else ""
    free = under in ("labels", "promises", "parts")  # names of their own
    if under == "pins" or (isinstance(under, int) and path[0] == "pins"):
        free = free or name == "hands"
    if name == "hours" and path[0] == "hands":
        free = True
    if name in ("surface", "room", "job", "stage", "promise") and path[0] == "dates":
        assert any(fault.startswith("dates[") for fault in faults(job))
    elif name == "stage" and under == "rescue":
        assert write_job(read_job(job)) == job
    elif (name in OPTIONAL | LISTS or free) and "gates" not in path[:-1]:
        told = ""
        try:
            read_job(job)
        except BadInput as error:  # a value elsewhere may have referred to it
            told = str(error)
        assert "required" not in told
    elif name == "given":
        assert faults(job)["rooms[1].air.changes_per_h"].allowed == "required"
    else:
        fault = faults(job)[spelt(path)]
        assert fault.allowed == "required"


def test_a_key_outside_the_format_is_refused_with_those_that_are_known():
    fault = faults(changed(("rooms", 0, "volume"), 60))["rooms[0].volume"]
    assert "volume_m3" in fault.allowed


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("outdoors", 0, "humidity_pct"), 105),
        (("outdoors", 0, "temperature_c"), 300),
        (("rooms", 0, "volume_m3"), -5),
        (("rooms", 0, "volume_m3"), 0),
        (("rooms", 0, "volume_m3"), math.nan),
        (("rooms", 0, "volume_m3"), math.inf),
        (("rooms", 0, "volume_m3"), 10**400),
        (("rooms", 0, "volume_m3"), "60"),
        (("rooms", 0, "volume_m3"), True),
        (("rooms", 0, "air"), {}),
        (("rooms", 0, "air"), None),
        (("rooms", 1, "air", "given"), []),
        (("site", "zone"), "Mars/Base"),
        (("site", "zone"), ""),
        (("site", "hours"), []),
        (("site", "hours", 0, "days"), "monday"),
        (("site", "hours", 0, "from"), "25:00"),
        (("site", "hours", 0, "from"), "8:00"),
        (("site", "closed", 0), "2026-02-30"),
        (("now",), "2026-10-12T08:00:00"),
        (("now",), "2026-10-12"),
        (("now",), "tomorrow"),
        (("now",), 5),
        (("now",), "9999-12-31T23:59:59+00:00"),
        (("id",), "Capital"),
        (("id",), "a" * 41),
        (("id",), "line\n"),
        (("title",), ""),
        (("title",), "a\x00b"),
        (("title",), "\ud800"),
        (("title",), "x" * 10_000),
        (("hands", 0, "skills", 0), "Big Skill"),
        (("materials", 0, "family"), "magic"),
        (("materials", 0, "labels", "recoat"), [240, 120]),
        (("materials", 0, "labels", "recoat"), [1, 2, 3]),
        (("materials", 0, "labels", "recoat"), 0),
        (("materials", 0, "labels", "dry"), 60),
        (("materials", 0, "water_share"), 1.5),
        (("recipes", 0, "steps"), []),
        (("recipes", 0, "steps", 0, "hands", "least"), 0),
        (("recipes", 0, "steps", 0, "hands", "least"), 1.5),
        (("recipes", 0, "steps", 0, "makes"), ["noise"]),
        (("surfaces", 0, "kind"), "fence"),
        (("surfaces", 0, "openings_m2"), 10),
        (("surfaces", 0, "stop_lines_m"), [3, 2]),
        (("surfaces", 0, "stop_lines_m"), [4]),
        (("format",), "coat-by-coat/2"),
    ],
)
def test_nonsense_is_refused_with_its_place_its_value_and_what_is_allowed(path, value):
    found = faults(changed(path, value))
    named = [fault for where, fault in found.items() if where.startswith(spelt(path))]
    assert named, found
    assert all(str(fault).count(": ") >= 2 for fault in named)


@pytest.mark.parametrize(
    ("path", "value", "told"),
    [
        (("surfaces", 0, "room"), "attic", "hall, bar"),
        (("surfaces", 0, "recipe"), "three", "two"),
        (("recipes", 0, "steps", 0, "material"), "gold", "base"),
        (("recipes", 0, "steps", 1, "after", "step"), "zero", "one, rub"),
        (("recipes", 0, "steps", 1, "after", "stage"), "cured", "open, touch"),
        (("rooms", 0, "connected", 0), "attic", "hall, bar"),
        (("coats", 0, "step"), "three", "one, rub"),
        (("coats", 0, "section"), "9", "1, 2, 3"),
        (("pins", 0, "hands", 0), "nobody", "lead"),
        (("readings", 0, "room"), "attic", "hall, bar"),
        (("dates", 0, "surface"), "south", "north"),
        (("dates", 2, "job"), "other", "inn"),
    ],
)
def test_a_name_that_refers_to_nothing_is_refused_with_those_there_are(
    path, value, told
):
    assert told in faults(changed(path, value))[spelt(path)].allowed


def test_a_circular_order_is_named():
    job = changed(
        ("recipes", 0, "steps", 0, "after"), {"step": "rub", "stage": "touch"}
    )
    job["recipes"][0]["steps"][1]["material"] = "base"
    found = faults(job)
    assert any("circle" in fault.allowed for fault in found.values())


def test_an_id_used_twice_is_named():
    job = whole_job()
    job["surfaces"].append(copy.deepcopy(job["surfaces"][0]))
    assert "only once" in faults(job)["surfaces[1].id"].allowed


def test_a_label_whose_touch_is_later_than_its_recoat_is_refused():
    found = faults(changed(("materials", 0, "labels", "touch"), 300))
    fault = found["materials[0].labels.recoat"]
    assert "touch" in fault.allowed


def test_all_faults_are_told_at_once():
    job = changed(("rooms", 0, "volume_m3"), -1)
    job["surfaces"][0]["width_m"] = "wide"
    job["title"] = ""
    assert {"rooms[0].volume_m3", "surfaces[0].width_m", "title"} <= set(faults(job))


def test_a_modelled_room_needs_outdoor_air():
    job = changed(("outdoors",), [])
    del job["site"]["typical_air"]
    assert "hall" in faults(job)["outdoors"].allowed


def test_bare_pairs_of_clock_times_stand_for_every_day():
    job = changed(("surfaces", 0, "sun"), [["14:00", "17:00"]])
    written = write_job(read_job(job))
    assert written["surfaces"][0]["sun"] == [
        {"days": "mon-sun", "from": "14:00", "to": "17:00"}
    ]


def test_the_fingerprint_is_of_values_not_of_spellings():
    job = whole_job()
    other = changed(("rooms", 0, "volume_m3"), 60.0)
    other["now"] = datetime.fromisoformat(AT).astimezone(UTC).isoformat()
    assert job_sha256(read_job(job)) == job_sha256(read_job(other))
    assert job_sha256(read_job(job)) != job_sha256(
        read_job(changed(("rooms", 0, "volume_m3"), 61))
    )


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from(["mon-fri", "08:00", AT, "base", "one", "hall"]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(list(places(whole_job()))[1:]), json_values)
def test_any_value_anywhere_is_read_or_refused_never_worse(path, value):
    told = ""
    try:
        told = json.dumps(write_job(read_job(changed(path, value))))
    except BadInput as error:
        told = str(error)
    assert told


@given(json_values)
def test_any_value_as_a_file_is_read_or_refused(value):
    with pytest.raises(BadInput):
        read_job(value)
