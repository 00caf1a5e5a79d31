"""``clocks`` as a shell sees it: exit status, stdout, stderr, and no database."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def clocks(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Runs the command in a process whose database cannot be reached."""
    nowhere = "postgresql://nobody@127.0.0.1:1/none"
    return subprocess.run(
        [sys.executable, "manage.py", "clocks", *arguments],
        cwd=ROOT,
        env={**os.environ, "DATABASE_URL": nowhere},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_a_damp_day_is_answered_in_json_unrounded_and_without_a_database():
    done = clocks(
        *("--family", "waterborne", "--label", "open=20min,recoat=2-4h,wash=14d"),
        *("--air=66.2F/80%", "--surface", "18C", "--json"),
    )
    assert (done.returncode, done.stderr) == (0, "")
    answer = json.loads(done.stdout)
    assert set(answer) == {
        "air",
        "surface_c",
        "margin_c",
        "may_start",
        "cautions",
        "clocks",
    }
    assert answer["air"]["temperature_c"] == pytest.approx(19.0)
    assert answer["may_start"] is False
    assert answer["clocks"]["recoat"]["label_min"] == [120.0, 240.0]
    assert set(answer["clocks"]) == {"open", "recoat", "wash"}


def test_never_is_null_and_cold_may_follow_its_option_after_a_space():
    done = clocks(
        *("--family", "waterborne", "--label", "recoat=2h", "--json"),
        *("--air", "-5C/80%", "--surface", "-6C"),
    )
    answer = json.loads(done.stdout)
    assert answer["clocks"]["recoat"]["safe_min"] is None
    codes = {caution["code"] for caution in answer["cautions"]}
    assert {"frozen", "cold", "never-ends", "outside-range"} <= codes


def test_people_read_hours_and_words():
    done = clocks(
        *("--family", "oil", "--label", "touch=5h,recoat=16-24h", "--air=23C/50%")
    )
    assert done.returncode == 0
    assert "A coat may start." in done.stdout
    assert "16 h to 24 h" in done.stdout


def test_who_types_fahrenheit_reads_it_and_files_stay_as_they_are():
    asked = ("--family", "waterborne", "--label", "recoat=2h", "--surface=62F")
    told = clocks(*asked, "--air=66F/84%").stdout
    assert "Air 66.0 °F, 84 %, dew point 61.0 °F; surface 62.0 °F" in told
    assert "at least 5.4 °F needed" in told  # 3.0 K
    metric = clocks(*asked, "--air=66F/84%", "--units=metric").stdout
    assert "Air 18.9 °C" in metric
    assert "at least 3.0 K needed" in metric


def test_each_fault_has_its_line_and_the_exit_status_is_2():
    done = clocks(
        *("--family", "paint", "--label", "recoat=4-2h", "--air=19C", "--coat", "0")
    )
    assert (done.returncode, done.stdout) == (2, "")
    paths = [line.split(":")[0] for line in done.stderr.splitlines()]
    assert paths == ["--family", "--label.recoat", "--air", "--coat"]


@pytest.mark.parametrize(
    ("label", "more", "path"),
    [
        ("recoat=4h,window=2h", (), "--label.window"),
        ("recoat=4h", ("--label-air=-3C/50%",), "--label-air"),
    ],
)
def test_a_label_that_cannot_be_is_refused(label, more, path):
    done = clocks("--family", "waterborne", "--label", label, "--air=20C/50%", *more)
    assert done.returncode == 2
    assert done.stderr.startswith(f"{path}: ")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("command", ["clocks", "plan", "ready"])
def test_a_command_on_files_touches_no_folder_of_the_service(command, tmp_path):
    nowhere = tmp_path / "none" / "deep"
    environment = {"PATH": os.environ["PATH"], "DATA_DIR": str(nowhere)}
    done = subprocess.run(
        [sys.executable, "manage.py", command, *ASKED[command]],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    # No file of that name: what is wrong is the file, never the folder.
    expected = (0, "") if command == "clocks" else (2, NO_FILE)
    assert (done.returncode, done.stderr) == expected
    assert not nowhere.parent.exists()


ASKED = {
    "clocks": ("--family", "oil", "--label", "recoat=16h", "--air=66F/60%"),
    "plan": ("gone.json",),
    "ready": ("gone.json",),
}
NO_FILE = 'file: "gone.json": a file that can be read (no such file or directory)\n'
