"""The job format: what is kept, what is refused, and how it is said."""

import copy
import json
import math
from datetime import UTC, datetime, timedelta, timezone

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.errors import BadInput
from scheduling.job_file import job_schema, job_sha256, read_job, write_job
from scheduling.problem import (
    AIRBORNE,
    FAMILIES,
    GROUNDS,
    KINDS,
    MAKES,
    PREFERS,
    PROMISES,
)

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
    "waste_pct": 12.5,
    "site": {
        "zone": "Europe/Lisbon",
        "latitude": 38.5,
        "longitude": -9,
        "altitude_m": 12,
        "hours": HOURS,
        "closed": ["2026-12-25"],
        "quiet": [{"days": "mon-sun", "from": "20:00", "to": "24:00"}],
        "smell_free": [{"days": "thu", "from": "16:00", "to": "20:00"}],
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
            "tins_l": [1, 2.5],
            "lead_days": 5,
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
                    "coat": 1.5,
                    "seals": False,
                    "prefers": "late",
                    "same_hand": True,
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
            "smell_free": [{"days": "sun", "from": "08:00", "to": "12:00"}],
            "others": [
                {"name": "Carpenter", "from": AT, "to": LATER, "makes": ["dust"]}
            ],
            "any_order": True,
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
            "gates": [{"name": "sample signed", "not_before": AT, "not_after": LATER}],
            "ground": "porous",
            "opposite": "south",
        },
        {
            "id": "south",
            "room": "hall",
            "kind": "wall",
            "width_m": 4,
            "height_m": 2.5,
            "recipe": "two",
        },
    ],
    "outdoors": [{"at": AT, **AIR, "wind_m_s": 3}],
    "outdoors_from": {"source": "A logger on the roof", "made": AT},
    "readings": [{"at": AT, "room": "hall", **AIR, "surface_c": 17.5}],
    "moisture": [
        {"at": AT, "surface": "north", "moisture_pct": 6.5, "of": "plaster"},
        {"at": AT, "room": "hall", "moisture_pct": 14, "of": "wood"},
    ],
    "coats": [
        {"surface": "north", "section": "1", "step": "one", "from": AT, "to": LATER}
    ],
    "pins": [
        {
            "surface": "north",
            "section": "2",
            "step": "rub",
            "hands": ["lead"],
            "from": LATER,
        }
    ],
    "bans": [
        {"surface": "north", "section": "2", "step": "rub", "hands": ["lead"]},
        {"surface": "north", "step": "rub", "from": AT, "to": LATER},
    ],
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
    "most", "bans", "breaks", "relay", "coat", "seals", "ground", "prefers",
    "same_hand", "opposite",
    "moisture", "smell_free", "others", "any_order", "not_before",
    "not_after", "outdoors_from", "tins_l", "lead_days", "waste_pct",
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


def test_a_gate_opens_or_shuts_and_opens_first():
    gate = ("surfaces", 0, "gates", 0)
    job = changed(gate, {"name": "scaffold"})
    assert (
        faults(job)["surfaces[0].gates[0]"].allowed == "not_before, not_after or both"
    )
    job = changed((*gate, "not_after"), AT)
    assert "later than" in faults(job)["surfaces[0].gates[0].not_after"].allowed


def test_another_trade_leaves_after_it_has_come():
    job = changed(("rooms", 0, "others", 0, "to"), AT)
    assert "later than" in faults(job)["rooms[0].others[0].to"].allowed


@pytest.mark.parametrize("path", list(keys()), ids=spelt)
def test_each_key_is_required_or_optional_as_the_format_says(path):
    name, job = path[-1], without(path)
    under = path[-2] if len(path) > 1 else ""
    free = under in ("labels", "promises", "parts")  # names of their own
    if under == "pins" or (isinstance(under, int) and path[0] == "pins"):
        free = free or name == "hands"
    if path[0] == "bans" and name in ("hands", "from", "to"):
        allowed = faults(job)[spelt(path[:-1])].allowed
        assert allowed == "either hands, or from and to"
        return
    if name == "hours" and path[0] == "hands":
        free = True
    if name in ("surface", "room", "job", "stage", "promise") and path[0] == "dates":
        assert any(fault.startswith("dates[") for fault in faults(job))
    elif name in ("surface", "room") and path[0] == "moisture":
        assert faults(job)[spelt(path[:-1])].allowed == "exactly one of surface, room"
    elif name == "of" and job["moisture"][path[1]].get("room"):
        assert "wood, plaster" in faults(job)[spelt(path)].allowed
    elif name == "of" or (name == "stage" and under == "rescue"):
        assert write_job(read_job(job)) == job
    elif name == "name" and {"gates", "others"} & set(path):
        assert faults(job)[spelt(path)].allowed == "required"
    elif name in OPTIONAL | LISTS or free:
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
        (("materials", 0, "tins_l"), [0]),
        (("materials", 0, "tins_l"), [61]),
        (("materials", 0, "tins_l"), [1] * 7),
        (("materials", 0, "tins_l"), 2.5),
        (("materials", 0, "lead_days"), -1),
        (("materials", 0, "lead_days"), 1.5),
        (("materials", 0, "lead_days"), 366),
        (("waste_pct",), 101),
        (("waste_pct",), None),
        (("recipes", 0, "steps"), []),
        (("recipes", 0, "steps", 0, "hands", "least"), 0),
        (("recipes", 0, "steps", 0, "hands", "least"), 1.5),
        (("recipes", 0, "steps", 0, "makes"), ["smoke"]),
        (("rooms", 0, "others", 0, "makes"), ["noise"]),
        (("recipes", 0, "steps", 0, "coat"), 0),
        (("recipes", 0, "steps", 0, "coat"), 10.5),
        (("recipes", 0, "steps", 0, "coat"), -1),
        (("recipes", 0, "steps", 0, "coat"), "double"),
        (("recipes", 0, "steps", 0, "coat"), None),
        (("recipes", 0, "steps", 0, "coat"), math.nan),
        (("recipes", 0, "steps", 1, "coat"), 2),  # it puts nothing on
        (("recipes", 0, "steps", 0, "seals"), "yes"),
        (("recipes", 0, "steps", 0, "seals"), None),
        (("recipes", 0, "steps", 0, "prefers"), "noon"),
        (("recipes", 0, "steps", 0, "prefers"), None),
        (("recipes", 0, "steps", 0, "same_hand"), "yes"),
        (("moisture", 0, "moisture_pct"), -1),
        (("moisture", 0, "moisture_pct"), 200.5),
        (("moisture", 0, "moisture_pct"), "dry"),
        (("moisture", 0, "moisture_pct"), None),
        (("moisture", 0, "moisture_pct"), math.nan),
        (("moisture", 0, "at"), "2026-10-12"),
        (("moisture", 0, "of"), "brick"),
        (("moisture", 0), {}),
        (("moisture",), {"at": AT}),
        (("surfaces", 0, "ground"), "sucking"),
        (("surfaces", 0, "ground"), True),
        (("surfaces", 0, "ground"), None),
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
        (("pins", 0, "section"), "9", "1, 2, 3"),
        (("bans", 0, "hands", 0), "nobody", "lead"),
        (("bans", 0, "section"), "9", "1, 2, 3"),
        (("bans", 1, "step"), "three", "one, rub"),
        (("readings", 0, "room"), "attic", "hall, bar"),
        (("moisture", 0, "surface"), "east", "north, south"),
        (("moisture", 1, "room"), "attic", "hall, bar"),
        (("dates", 0, "surface"), "east", "north, south"),
        (("dates", 2, "job"), "other", "inn"),
    ],
)
def test_a_name_that_refers_to_nothing_is_refused_with_those_there_are(
    path, value, told
):
    assert told in faults(changed(path, value))[spelt(path)].allowed


@pytest.mark.parametrize(
    ("walls", "fault", "told"),
    [
        ([{"opposite": "a"}], (0, "a"), "with the same recipe: b, c"),
        ([{"opposite": "attic"}], (0, "attic"), "with the same recipe: b, c"),
        ([{"opposite": "b"}, {"room": "bar"}], (0, "b"), "the same recipe: c"),
        ([{"opposite": "b"}, {"recipe": "plain"}], (0, "b"), "the same recipe: c"),
        ([{"opposite": "b"}, {"kind": "door"}], (0, "b"), "the same recipe: c"),
        ([{"opposite": "b", "kind": "panel"}], (0, "b"), "a is no wall but a panel"),
        ([{"opposite": "b"}, {"opposite": "c"}], (0, "b"), "b names c"),
        ([{"opposite": "b"}, {}, {"opposite": "b"}], (2, "b"), "a names it"),
        (
            [{"opposite": "b"}, {"room": "bar"}, {"kind": "trim"}],
            (0, "b"),
            "the same recipe: there is none",
        ),
    ],
)
def test_a_wall_is_opposite_one_of_its_room_and_recipe_that_agrees(walls, fault, told):
    job = opposites(*walls)
    number, value = fault
    found = faults(job)[f"surfaces[{number}].opposite"]
    assert (found.value, told in found.allowed) == (value, True)


def test_one_of_two_opposite_walls_may_leave_it_out():
    for walls in (
        [{"opposite": "b"}],
        [{}, {"opposite": "a"}],
        [{"opposite": "b"}, {"opposite": "a"}],
    ):
        read_job(opposites(*walls))


def opposites(*walls):
    """The whole job with three walls a, b and c of its hall, changed as told."""
    job = whole_job()
    plain = {**job["recipes"][0], "id": "plain"}
    job["recipes"].append(plain)
    south = {**job["surfaces"][1]}
    changes = (*walls, {}, {}, {})
    job["surfaces"] += [
        {**south, "id": name, **change}
        for name, change in zip("abc", changes, strict=False)
    ]
    for surface in job["surfaces"][:2]:
        surface.pop("opposite", None)
        surface["room"] = "bar"
        surface["kind"] = "panel"
    job["surfaces"] = [*job["surfaces"][2:], *job["surfaces"][:2]]
    return job


def test_a_moisture_reading_is_of_a_surface_or_of_a_room():
    fault = faults(changed(("moisture", 0, "room"), "hall"))["moisture[0]"]
    assert fault.allowed == "exactly one of surface, room"


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
    assert "only once" in faults(job)["surfaces[2].id"].allowed


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


# -- whole jobs, drawn ---------------------------------------------------------------

words = st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]), min_size=1)
names = words.filter(lambda text: len(text) <= 200)
moments = st.builds(
    lambda minute, zone: (
        datetime.fromtimestamp(1_770_000_000 + 60 * minute, UTC)
        .astimezone(zone)
        .isoformat()
    ),
    st.integers(0, 500_000),
    st.sampled_from([UTC, timezone(timedelta(hours=5, minutes=45))]),
)
clocks = st.builds("{:02}:{:02}".format, st.integers(0, 10), st.integers(0, 59))
late_clocks = st.builds("{:02}:{:02}".format, st.integers(13, 23), st.integers(0, 59))
breaks = st.sampled_from(
    [["11:00", "11:30"], {"from": "11:00", "to": "12:00", "relay": True}]
)


def numbers(low, high):
    whole = st.integers(math.ceil(low), math.floor(high))
    return whole | st.floats(low, high, allow_nan=False)


def rows(row, **more):
    return st.lists(row, max_size=2, **more)


airs = {"temperature_c": numbers(-60, 70), "humidity_pct": numbers(0, 100)}
hours = st.fixed_dictionaries(
    {"days": st.sampled_from(["mon-fri", "sat", "mon,wed-thu"])}
    | {"from": clocks, "to": late_clocks},
    optional={"breaks": st.lists(breaks, min_size=1, max_size=2)},
)
some_hours = st.lists(hours, min_size=1, max_size=2)
flag = st.just(True)  # a key that says the usual is left out when written


def labels(low):
    high = st.floats(1, 2).map(lambda times: low * times)
    return high.map(lambda end: [low, end]) | st.just(low)


@st.composite
def drawn_materials(draw, name):
    family = draw(st.sampled_from(FAMILIES))
    air = {
        "temperature_c": draw(numbers(15, 30)),
        "humidity_pct": draw(numbers(30, 70)),
    }
    stages = {"touch": 60, "recoat": 180, "hard": 2000, "cured": 40_000, "tack": 90}
    return draw(
        st.fixed_dictionaries(
            {
                "id": st.just(name),
                "family": st.just(family),
                "label_air": st.just(air),
                "labels": st.fixed_dictionaries(
                    {stage: labels(stages[stage]) for stage in ("recoat", "tack")},
                    optional={"hard": labels(2000), "cured": labels(40_000)},
                ),
            },
            optional={
                "name": names,
                "points": st.just(
                    [
                        {"air": {"temperature_c": 18, "humidity_pct": 60}}
                        | {"labels": {"recoat": 300}}
                    ]
                ),
                "promises": st.dictionaries(
                    st.sampled_from(PROMISES), labels(5000), min_size=1
                ),
                "water_share": numbers(0, 1),
                "spread_m2_per_l": numbers(0.1, 100),
                "parts": st.just({"colour": 1, "medium": 2.5}),
                "oily": flag,
                "solvent": flag,
                "tins_l": st.lists(numbers(0.05, 60), min_size=1, max_size=6),
                "lead_days": st.integers(0, 365),
            },
        )
    )


def drawn_steps(name, before):
    after = (
        {}
        if before is None
        else {
            "after": st.just({"step": before, "stage": "recoat"}),
            "rescue": st.fixed_dictionaries(
                {"min_m2": numbers(0, 100)}, optional={"stage": st.just("recoat")}
            ),
        }
    )
    return st.fixed_dictionaries(
        {
            "id": st.just(name),
            "material": st.sampled_from(["m-1", "m-2"]),
            "apply_min_m2": numbers(0, 100),
            "hands": st.just({"least": 1}) | st.just({"least": 2, "most": 3}),
        },
        optional={
            "name": names,
            "work_min_m2": numbers(0.1, 9),
            "setup_min": numbers(1, 60),
            "skill": st.just("glazing"),
            "wet": flag,
            "splits": flag,
            "makes": st.lists(st.sampled_from(MAKES), min_size=1, max_size=2),
            "coat": numbers(1.5, 10) | st.just(0.1),
            "seals": st.booleans(),
            "prefers": st.sampled_from(PREFERS),
            "same_hand": flag,
        }
        | after,
    )


control = st.fixed_dictionaries(
    {
        "changes_per_h": numbers(0, 100),
        "day_c": numbers(-30, 50),
        "night_c": numbers(-30, 50),
    },
    optional={"dehumidifier_l_day": numbers(0, 1000)},
)
given_air = st.fixed_dictionaries(
    {"given": st.lists(st.fixed_dictionaries({"at": moments} | airs), min_size=1)}
)
drawn_trades = st.fixed_dictionaries(
    {"name": names, "from": st.just(AT), "to": st.just(LATER)},
    optional={
        "makes": st.lists(st.sampled_from(AIRBORNE), min_size=1, max_size=2),
    },
)
drawn_rooms = st.fixed_dictionaries(
    {"id": st.just("hall"), "volume_m3": numbers(1, 9000), "air": control | given_air},
    optional={
        "name": names,
        "access": some_hours,
        "opens": some_hours,
        "connected": st.just(["bar"]),
        "hands_most": st.integers(1, 50),
        "hand_back": moments,
        "smell_free": some_hours,
        "others": st.lists(drawn_trades, min_size=1),
        "any_order": flag,
    },
)
drawn_surfaces = st.fixed_dictionaries(
    {
        "id": st.just("north"),
        "room": st.sampled_from(["hall", "bar"]),
        "kind": st.sampled_from(KINDS),
        "width_m": numbers(4, 999),
        "height_m": numbers(2, 999),
        "recipe": st.just("two"),
    },
    optional={
        "name": names,
        "openings_m2": numbers(1, 7),
        "stop_lines_m": st.just([1, 2.5]),
        "outside": flag,
        "u_w_m2k": numbers(0.1, 9),
        "sun": some_hours,
        "priority": st.integers(-9, 9),
        "ground": st.sampled_from(GROUNDS),
        "gates": st.lists(
            st.fixed_dictionaries({"name": names, "not_before": moments})
            | st.fixed_dictionaries({"name": names, "not_after": moments}),
            min_size=1,
        ),
    },
)


@st.composite
def drawn_walls(draw):
    """One surface, or a wall with the one across the room, which either names."""
    north = draw(drawn_surfaces)
    if north["kind"] != "wall" or draw(st.booleans()):
        return [north]
    south = {**north, "id": "south"}
    if draw(st.booleans()):
        north["opposite"] = "south"
    if draw(st.booleans()):
        south["opposite"] = "north"
    return [north, south]


meters = st.builds(
    lambda what, row: what | row,
    st.sampled_from(
        [
            {"surface": "north"},
            {"surface": "north", "of": "wood"},
            {"room": "bar", "of": "plaster"},
        ]
    ),
    st.fixed_dictionaries({"at": moments, "moisture_pct": numbers(0, 200)}),
)
aims = st.sampled_from([{"surface": "north"}, {"room": "bar"}, {"job": "drawn"}])
dates = st.builds(
    lambda aim, until, more: aim | until | more,
    aims,
    st.sampled_from([{"stage": "recoat"}, {"promise": "wash"}]),
    st.fixed_dictionaries(
        {"by": moments, "must": st.booleans()}, optional={"weight": numbers(2, 9)}
    ),
)


@st.composite
def drawn_jobs(draw):
    """A valid job as JSON, each key that may be missing there or not."""
    hour = {"at": moments} | airs
    coat = {"surface": "north", "step": "one", "from": AT, "to": LATER}
    pin = {"surface": "north", "step": "two", "from": LATER}
    ban = {"surface": "north", "step": "two"}
    span = {"from": AT, "to": LATER}
    bar = {"id": "bar", "volume_m3": 30, "air": {"given": [{"at": AT, **AIR}]}}
    recipe = {"id": "two", "steps": [draw(drawn_steps("one", None))]}
    recipe["steps"].append(draw(drawn_steps("two", "one")))
    hand = {"id": st.just("lead"), "skills": st.just(["glazing"])}
    optional = {"name": names, "hours": some_hours}
    optional["away"] = st.just([[AT, LATER]])
    site = {"zone": st.sampled_from(["Europe/Lisbon", "America/New_York", "UTC"])}
    there = {"latitude": numbers(-90, 90), "longitude": numbers(-180, 180)}
    there |= {"altitude_m": numbers(-500, 6000), "quiet": some_hours}
    there["closed"] = st.just(["2026-12-25"])
    there["typical_air"] = st.lists(
        st.fixed_dictionaries({"from": clocks} | airs), min_size=1, max_size=2
    )
    return draw(
        st.fixed_dictionaries(
            {
                "format": st.just("coat-by-coat/1"),
                "id": st.just("drawn"),
                "title": names,
                "site": st.fixed_dictionaries(
                    site | {"hours": some_hours}, optional=there
                ),
                "hands": st.fixed_dictionaries(hand, optional=optional).map(
                    lambda row: [row]
                ),
                "materials": st.tuples(
                    drawn_materials("m-1"), drawn_materials("m-2")
                ).map(list),
                "recipes": st.just([recipe]),
                "rooms": drawn_rooms.map(lambda room: [room, bar]),
                "surfaces": drawn_walls(),
                "outdoors": st.lists(
                    st.fixed_dictionaries(hour, optional={"wind_m_s": numbers(0, 120)}),
                    min_size=1,
                    max_size=2,
                ),
                "readings": rows(
                    st.fixed_dictionaries(
                        hour | {"room": st.just("bar")},
                        optional={"surface_c": numbers(-60, 70)},
                    )
                ),
                "coats": rows(st.sampled_from([coat, coat | {"section": "1"}])),
                "dates": rows(dates),
            },
            optional={
                "now": moments,
                "waste_pct": numbers(0, 100),
                "moisture": st.lists(meters, min_size=1, max_size=2),
                "outdoors_from": st.fixed_dictionaries(
                    {"source": names, "made": moments}
                ),
                "pins": st.sampled_from(
                    [[pin], [pin | {"hands": ["lead"]}], [pin | {"section": "1"}]]
                ),
                "bans": st.sampled_from([[ban | {"hands": ["lead"]}], [ban | span]]),
            },
        )
    )


@settings(max_examples=60)
@given(drawn_jobs())
def test_every_job_reads_back_as_it_was_and_fits_the_schema(job):
    jsonschema.Draft202012Validator(job_schema()).validate(job)
    read = read_job(job)
    written = json.loads(json.dumps(write_job(read), allow_nan=False))
    assert written == job
    assert read_job(written) == read
    assert job_sha256(read_job(written)) == job_sha256(read)


# -- more nonsense -------------------------------------------------------------------


def test_a_long_order_is_followed_quickly_and_a_long_circle_is_told_once():
    step = whole_job()["recipes"][0]["steps"][0]
    job = whole_job()
    job["coats"] = job["pins"] = job["bans"] = []
    job["recipes"][0]["steps"] = steps = [step | {"id": f"s{n}"} for n in range(600)]
    assert len(read_job(job).recipes[0].steps) == 600
    steps[0]["after"] = {"step": "s599", "stage": "recoat"}
    (fault,) = faults(job).values()
    assert fault.path == "recipes[0].steps[0].after"
    assert fault.allowed.startswith("an order without a circle; now s0 after s599")


def test_a_step_after_itself_is_a_circle():
    job = changed(
        ("recipes", 0, "steps", 1),
        whole_job()["recipes"][0]["steps"][0]
        | {"id": "rub", "after": {"step": "rub", "stage": "recoat"}},
    )
    (fault,) = faults(job).values()
    assert fault.allowed.endswith("now rub after rub")


def test_a_step_after_one_that_puts_nothing_on_says_so():
    job = whole_job()
    job["recipes"][0]["steps"].append(
        {"id": "wax", "material": "base", "after": {"step": "rub", "stage": "hard"}}
        | {"apply_min_m2": 1, "hands": {"least": 1}}
    )
    fault = faults(job)["recipes[0].steps[2].after.step"]
    assert "rub puts nothing on" in fault.allowed


@pytest.mark.parametrize("rows", ["hands", "materials", "recipes", "rooms", "surfaces"])
def test_ids_are_unique_in_every_list(rows):
    job = whole_job()
    job[rows].append(copy.deepcopy(job[rows][0]))
    assert "only once" in faults(job)[f"{rows}[{len(job[rows]) - 1}].id"].allowed


def test_a_value_nested_a_thousand_deep_is_refused_or_named():
    deep = []
    for _ in range(900):
        deep = [deep]
    assert faults(changed(("surfaces", 0, "sun"), deep))
    assert faults(changed(("title",), deep))
