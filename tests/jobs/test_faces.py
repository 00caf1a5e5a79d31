"""``plan``, ``ready`` and ``clocks`` held to their published words from outside.

The job is written by hand as a person would, not with the project's own builders.
"""

import copy
import json
import os
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SLOT = timedelta(minutes=5)
NOW = "2026-03-02T07:00:00+00:00"
PAINT = {"open": 20, "touch": 60, "recoat": [120, 240], "hard": 2880}
HUT = {
    "format": "coat-by-coat/1",
    "id": "hut",
    "title": "The hut",
    "now": NOW,
    "site": {
        "zone": "Europe/Lisbon",
        "hours": [{"days": "mon-sun", "from": "00:00", "to": "24:00"}],
    },
    "hands": [{"id": "ana", "skills": []}],
    "materials": [
        {
            "id": "paint",
            "family": "waterborne",
            "label_air": {"temperature_c": 23, "humidity_pct": 50},
            "labels": PAINT,
        }
    ],
    "recipes": [
        {
            "id": "two",
            "steps": [
                {
                    "id": step,
                    "material": "paint",
                    "apply_min_m2": 4,
                    "hands": {"least": 1},
                }
                for step in ("one", "two")
            ],
        }
    ],
    "rooms": [
        {
            "id": "room",
            "volume_m3": 50,
            "air": {"given": [{"at": NOW, "temperature_c": 19, "humidity_pct": 70}]},
        }
    ],
    "surfaces": [
        {
            "id": "wall",
            "room": "room",
            "kind": "wall",
            "width_m": 5,
            "height_m": 2.4,
            "recipe": "two",
        }
    ],
}


@pytest.fixture
def manage(tmp_path):
    """Runs a command far from any database, on a day of one's choice."""
    # Python imports this file by itself at its start.
    (tmp_path / "sitecustomize.py").write_text(
        "import os, time_machine\n"
        "time_machine.travel(os.environ['DAY'], tick=True).start()\n"
    )

    def manage(*arguments, day="2026-03-02"):
        return subprocess.run(
            [sys.executable, "manage.py", *map(str, arguments)],
            cwd=ROOT,
            env={
                "PATH": os.environ["PATH"],
                "PYTHONPATH": str(tmp_path),
                "DAY": day,
                "DATA_DIR": str(tmp_path / "data"),
                "DATABASE_URL": "postgresql://nobody@127.0.0.1:1/none",
            },
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )

    return manage


@pytest.fixture
def file(tmp_path):
    """Writes a job, the hut with some keys changed, and gives its path."""

    def file(name="job.json", **changes):
        path = tmp_path / name
        path.write_text(json.dumps(copy.deepcopy(HUT) | changes), encoding="utf-8")
        return path

    return file


def moments(rng):
    """A range's three moments; never (null) may only be followed by never."""
    assert list(rng) == ["early", "likely", "safe"]
    found = [datetime.fromisoformat(m) for m in rng.values() if m is not None]
    assert found == sorted(found)
    assert list(rng.values())[len(found) :] == [None] * (3 - len(found))
    assert all(moment.utcoffset() is not None for moment in found)
    return found


def clocks_of(manage, label, air="19C/70%", family="waterborne", *more):
    done = manage(
        *("clocks", "--family", family, "--label", label, f"--air={air}", "--json"),
        *more,
    )
    assert (done.returncode, done.stderr) == (0, "")
    return json.loads(done.stdout)


def test_a_plan_waits_as_long_as_the_clocks_say_and_no_slot_longer(
    manage, file, tmp_path
):
    out = tmp_path / "plan.json"
    done = manage("plan", file(), "--out", out, "--budget", "0.5")
    assert (done.returncode, done.stderr) == (0, "")
    plan = json.loads(out.read_text())
    assert list(plan) == [
        *("format", "job_sha256", "outcome", "finish", "bound", "late", "air"),
        *("stints", "reasons", "changes", "notes"),
    ]
    assert plan["format"] == "coat-by-coat-plan/1"
    assert list(plan["bound"]) == ["finish_not_before", "proved", "air"]
    one, two = plan["stints"]
    label = "open=20min,touch=60min,recoat=2-4h,hard=48h"
    clocks = clocks_of(manage, label)["clocks"]
    end = datetime.fromisoformat(one["to"])
    start = datetime.fromisoformat(two["from"])
    safe = end + timedelta(minutes=clocks["recoat"]["safe_min"])
    assert safe <= start < safe + SLOT
    assert plan["finish"] == two["to"]
    for stage in ("touch", "recoat", "hard"):
        told = moments(one["ready"][stage])
        for moment, name in zip(told, ("early", "likely", "safe"), strict=True):
            exact = end + timedelta(minutes=clocks[stage][f"{name}_min"])
            assert abs(moment - exact) <= timedelta(seconds=1)
    assert moments(one["open"])
    assert one["kind"] == "work"
    assert one["hands"] == ["ana"]


def test_the_day_it_is_run_on_changes_no_byte(manage, file, tmp_path):
    job = file()
    outs = []
    for day in ("2001-01-01", "2041-07-01"):
        out = tmp_path / f"{day}.json"
        done = manage("plan", job, "--budget", "0.5", "--out", out, day=day)
        told = manage("ready", job, "--json", day=day)
        assert (done.returncode, told.returncode) == (0, 0)
        outs.append((done.stdout, told.stdout, out.read_bytes()))
    assert outs[0] == outs[1]


def test_ready_tells_a_logged_wall_in_the_words_of_the_format(manage, file):
    job = file(
        coats=[
            {
                "surface": "wall",
                "step": "one",
                "from": "2026-03-02T08:00:00+00:00",
                "to": "2026-03-02T09:00:00+00:00",
            }
        ],
        readings=[
            {
                "at": "2026-03-02T08:30:00+00:00",
                "room": "room",
                "temperature_c": 19,
                "humidity_pct": 70,
            }
        ],
    )
    done = manage("ready", job, "--at", "2026-03-02T11:00:00+01:00", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    answer = json.loads(done.stdout)
    assert datetime.fromisoformat(answer["at"]) == datetime.fromisoformat(
        "2026-03-02T10:00:00+00:00"
    )
    (wall,) = answer["surfaces"]
    clocks = clocks_of(manage, "recoat=2-4h")["clocks"]["recoat"]
    likely = datetime.fromisoformat("2026-03-02T09:00:00+00:00") + timedelta(
        minutes=clocks["likely_min"]
    )
    assert abs(moments(wall["until"])[1] - likely) <= timedelta(seconds=1)
    assert (wall["surface"], wall["room"], wall["step"]) == ("wall", "room", "two")
    assert wall["state"] == "today"
    assert wall["held_by"][0]["code"] == "wait"
    assert moments(wall["held_by"][0]["until"]) == moments(wall["until"])
    assert wall["test"]
    assert wall["sure"] in ("high", "medium", "low")
    assert wall["reading_age_min"] == 90.0


def test_at_stands_in_for_a_job_without_now(manage, tmp_path):
    job = {key: value for key, value in HUT.items() if key != "now"}
    path = tmp_path / "job.json"
    path.write_text(json.dumps(job))
    done = manage("plan", path)
    assert done.returncode == 2
    assert done.stderr.startswith("--at: null: ")
    done = manage("plan", path, "--at", "2026-03-02T08:00:00", "--budget", "0.5")
    assert done.returncode == 2
    assert done.stderr.startswith('--at: "2026-03-02T08:00:00": ')
    assert len(done.stderr.splitlines()) == 1
    done = manage("plan", path, "--at", "2026-03-03T08:00:00Z", "--budget", "0.5")
    assert done.returncode == 0
    assert "Tue 03 Mar  08:00-08:50" in done.stdout


def test_a_must_that_comes_too_soon_exits_3_and_a_wish_0(manage, file, tmp_path):
    wish = {"job": "hut", "by": "2026-03-02T09:00:00+00:00", "stage": "recoat"}
    out = tmp_path / "plan.json"
    job = file(dates=[wish | {"must": True}])
    done = manage("plan", job, "--budget", "0.5", "--out", out)
    assert (done.returncode, done.stderr) == (3, "")
    plan = json.loads(out.read_text())
    assert plan["outcome"] == "no-plan"
    assert plan["reasons"]
    job = file(dates=[wish | {"must": False}])
    done = manage("plan", job, "--budget", "0.5", "--out", out)
    assert (done.returncode, done.stderr) == (0, "")
    (late,) = json.loads(out.read_text())["late"]
    assert late["date"] == 0
    assert late["by_min"] > 0


def test_every_fault_of_a_file_has_a_line_with_path_value_and_allowed(manage, file):
    job = file(title="", colour="red", hands=[{"id": "ana"}])
    done = manage("ready", job)
    assert (done.returncode, done.stdout) == (2, "")
    lines = [line.split(": ") for line in done.stderr.splitlines()]
    assert {line[0] for line in lines} == {"title", "colour", "hands[0].skills"}
    assert all(len(line) >= 3 for line in lines)


def test_what_is_no_job_at_all_exits_2_in_one_line(manage, tmp_path):
    garbage = tmp_path / "garbage.json"
    garbage.write_bytes(bytes(range(256)) * 20)
    nested = tmp_path / "nested.json"
    nested.write_text("[" * 2_500_000 + "]" * 2_500_000)
    for path in (garbage, nested, tmp_path):
        done = manage("plan", path)
        assert (done.returncode, done.stdout) == (2, "")
        assert len(done.stderr.splitlines()) == 1
        assert done.stderr.startswith('file: "')  # a long path is shortened


def test_clocks_answer_a_damp_day_in_the_words_of_the_format(manage):
    answer = clocks_of(manage, "open=20min,recoat=2-4h,hard=48h", "19C/80%")
    assert list(answer) == [
        *("air", "surface_c", "margin_c", "may_start", "cautions", "clocks"),
    ]
    assert list(answer["air"]) == [
        *("temperature_c", "humidity_pct", "dew_point_c", "vapour_pa"),
        "humidity_ratio_g_kg",
    ]
    # Dew point of 19 C, 80 % by the Magnus formula of WMO-No. 8: 15.5 C.
    assert answer["air"]["dew_point_c"] == pytest.approx(15.5, abs=0.1)
    assert answer["margin_c"] == pytest.approx(3.5, abs=0.1)
    assert answer["may_start"] is True
    assert [set(c) for c in answer["cautions"]] == [{"code", "text", "source"}]
    assert answer["cautions"][0]["code"] == "open-capped"
    opened, recoat = answer["clocks"]["open"], answer["clocks"]["recoat"]
    assert list(recoat) == [
        *("label_min", "early_min", "likely_min", "safe_min", "plan_min"),
    ]
    assert recoat["label_min"] == [120, 240]
    assert recoat["plan_min"] == recoat["safe_min"]
    assert opened["plan_min"] == opened["early_min"]
    assert opened["safe_min"] == 30  # 1.5 times the label and no more
    # Times and divided by exp(0.3 |ln factor|), which is under the 1.4 allowed here.
    factor = recoat["likely_min"] / 180
    assert recoat["early_min"] == pytest.approx(120 * factor / factor**0.3)
    assert recoat["safe_min"] == pytest.approx(240 * factor * factor**0.3)


def test_clocks_in_the_labels_own_air_are_the_labels_own_ends(manage):
    answer = clocks_of(
        manage, "recoat=2-4h,hard=48h", "64.4F/65%", "waterborne", "--label-air=18C/65%"
    )
    recoat = answer["clocks"]["recoat"]
    ends = [recoat[f"{end}_min"] for end in ("early", "likely", "safe")]
    assert ends == pytest.approx([120, 180, 240])


def test_never_is_null_in_frost_and_the_clocks_are_answered_all_the_same(manage):
    answer = clocks_of(manage, "open=20min,recoat=2-4h", "-22F/100%")
    assert answer["air"]["temperature_c"] == pytest.approx(-30)
    assert answer["may_start"] is False
    codes = {caution["code"] for caution in answer["cautions"]}
    assert {"cold", "frozen", "humid", "dew-margin", "outside-range"} <= codes
    assert answer["clocks"]["recoat"]["safe_min"] is None
    assert answer["clocks"]["recoat"]["plan_min"] is None
