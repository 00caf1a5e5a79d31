"""``plan`` and ``ready`` as a shell sees them: exit status, stdout, stderr."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from jobs.factories import (
    MONDAY,
    AirHourFactory,
    CoatFactory,
    DateWishFactory,
    GivenAirFactory,
    RecipeFactory,
    StepFactory,
    SurfaceFactory,
    small_job,
)
from scheduling import problem
from scheduling.chance import cases_text
from scheduling.job_file import job_sha256, write_job
from scheduling.plan_file import read_plan
from scheduling.planning import plan_job
from scheduling.readiness import ready_answer
from scheduling.risk import chances, chances_answer
from scheduling.what_if import bring_forward

ROOT = Path(__file__).parents[2]
NOW = MONDAY + timedelta(hours=7.5)
Told = tuple[int, str, str]


def two_walls() -> problem.Job:
    """Two walls of seven hours for one hand: the second goes on the next day."""
    step = StepFactory(id="paint", material=None, setup_min=420.0, apply_min_m2=0.0)
    return small_job(
        recipes=(RecipeFactory(id="recipe", steps=(step,)),),
        surfaces=(
            SurfaceFactory(id="first", recipe="recipe", room="room", priority=1),
            SurfaceFactory(id="second", recipe="recipe", room="room"),
        ),
        coats=(),
    )


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., Told]:
    """Runs a command in this process, without a database; exit status, out, err."""

    def run(*arguments: str) -> Told:
        try:
            call_command(*arguments)
            status = 0
        except SystemExit as end:
            status = end.code
        told = capsys.readouterr()
        return status, told.out, told.err

    return run


@pytest.fixture
def file(tmp_path: Path) -> Callable[..., str]:
    """Writes a job, or any JSON, into a file."""

    def file(written: Any = None, name: str = "job.json", **changes: Any) -> str:
        path = tmp_path / name
        value = write_job(small_job(**changes)) if written is None else written
        path.write_text(json.dumps(value), encoding="utf-8")
        return str(path)

    return file


def test_plan_prints_stints_finish_and_bound(
    run: Callable[..., Told], file: Callable[..., str]
) -> None:
    status, out, err = run("plan", file(), "--budget", "0.2")
    assert (status, err) == (0, "")
    plan = plan_job(small_job(), at=NOW, budget=0.2)
    lines = out.splitlines()
    assert lines[0].split() == ["day", "from-to", "where", "step", "hands", "why"]
    assert "Mon 12 Oct" in lines[1]
    assert "coat-1" in lines[1]
    assert plan.stints[0].reason.text in out
    assert f"finish {plan.finish:%a %d %b %H:%M}" in out
    assert "bound: not before" in out


def test_plan_writes_the_engines_plan(
    run: Callable[..., Told], file: Callable[..., str], tmp_path: Path
) -> None:
    out_file = tmp_path / "plan.json"
    status, out, _ = run("plan", file(), "--out", str(out_file), "--budget", "0.2")
    assert status == 0
    assert len(out.splitlines()) < 6  # a summary, no table
    plan = read_plan(json.loads(out_file.read_text(encoding="utf-8")))
    assert plan == plan_job(small_job(), at=NOW, budget=0.2)
    assert plan.job_sha256 == job_sha256(small_job())


def test_plan_tells_how_likely_it_holds_and_its_weakest_points(
    run: Callable[..., Told], file: Callable[..., str]
) -> None:
    _, out, _ = run("plan", file(), "--budget", "0.2")
    job = small_job()
    found = chances(job, plan_job(job, at=NOW, budget=0.2), at=NOW)
    assert found.finish is not None
    assert f"chance: finish kept in {cases_text(found.finish.chance)}" in out
    weak = [line for line in out.splitlines() if line.startswith("weak: ")]
    assert weak == [f"weak: {gate.text}" for gate in found.weak[:3]]


def test_chances_are_printed_or_written_whole(
    run: Callable[..., Told], file: Callable[..., str], tmp_path: Path
) -> None:
    status, out, err = run("plan", file(), "--budget", "0.2", "--chances")
    assert (status, err) == (0, "")
    assert "by itself  on time  late" in out
    out_file = tmp_path / "chances.json"
    run("plan", file(), "--budget", "0.2", "--chances", str(out_file))
    job = small_job()
    found = chances(job, plan_job(job, at=NOW, budget=0.2), at=NOW)
    assert json.loads(out_file.read_text(encoding="utf-8")) == json.loads(
        json.dumps(chances_answer(found))
    )


def test_a_plan_is_made_against_a_chance_and_says_so(
    run: Callable[..., Told], file: Callable[..., str], tmp_path: Path
) -> None:
    out_file = tmp_path / "plan.json"
    options = ("--budget", "0.2", "--chance", "0.8", "--out", str(out_file))
    status, out, _ = run("plan", file(), *options)
    assert status == 0
    assert "in 8 of 10 cases" in out
    plan = read_plan(json.loads(out_file.read_text(encoding="utf-8")))
    assert plan == plan_job(small_job(), at=NOW, budget=0.2, chance=0.8)


def test_forward_prints_the_levers_by_what_they_gain_with_what_they_cost(
    run: Callable[..., Told], file: Callable[..., str]
) -> None:
    job = two_walls()
    written = file(write_job(job))
    status, out, err = run("plan", written, "--budget", "0.2", "--forward", "second")
    assert (status, err) == (0, "")
    found = bring_forward(job, "second", at=NOW, budget=0.2)
    assert len(found.gains) > 1
    lines = out.splitlines()
    at_line = next(n for n, line in enumerate(lines) if line.startswith("forward: "))
    assert f"second ends {found.end:%a %d %b %H:%M}; " in lines[at_line]
    assert f"{found.tried} ways tried, {len(found.gains)} bring it" in lines[at_line]
    told = lines[at_line + 2 :]
    assert len(told) == len(found.gains)
    for line, gain in zip(told, found.gains, strict=True):
        assert gain.lever.text in line
        assert f"  {gain.cost.hands}      {gain.cost.hours:.1f}" in line
        assert gain.cost.text in line
    assert any("1 hand for" in line for line in told)


def test_forward_says_where_nothing_is_left_or_nothing_helps(
    run: Callable[..., Told], file: Callable[..., str]
) -> None:
    job = small_job()
    steps = job.recipes[0].steps
    days = (NOW - timedelta(days=9 - n) for n in range(len(steps)))
    coats = tuple(
        CoatFactory(
            surface="wall", step=step.id, start=day, end=day + timedelta(hours=1)
        )
        for step, day in zip(steps, days, strict=True)
    )
    _, out, _ = run("plan", file(coats=coats), "--budget", "0.2", "--forward", "wall")
    assert "forward: room, wall: no work left on it" in out
    one = (replace(job.recipes[0], steps=steps[:1]),)
    _, out, _ = run("plan", file(recipes=one), "--budget", "0.2", "--forward", "wall")
    assert "none brings it forward" in out


def test_equal_input_gives_equal_files(
    run: Callable[..., Told], file: Callable[..., str], tmp_path: Path
) -> None:
    files = [tmp_path / name for name in ("one.json", "two.json")]
    for out_file in files:
        run("plan", file(), "--out", str(out_file), "--budget", "0.2")
    assert files[0].read_bytes() == files[1].read_bytes()


def test_at_comes_before_the_jobs_own_now(
    run: Callable[..., Told], file: Callable[..., str], tmp_path: Path
) -> None:
    out_file = tmp_path / "plan.json"
    tuesday = "2026-10-13T06:00:00Z"
    run("plan", file(), "--at", tuesday, "--out", str(out_file), "--budget", "0.2")
    plan = read_plan(json.loads(out_file.read_text()))
    assert min(stint.start for stint in plan.stints).isoformat() >= "2026-10-13T07:00"


def test_a_plan_close_to_the_one_before_says_what_changed(
    run: Callable[..., Told], file: Callable[..., str], tmp_path: Path
) -> None:
    before = str(tmp_path / "before.json")
    run("plan", file(), "--out", before, "--budget", "0.2")
    status, out, _ = run(
        *("plan", file(), "--previous", before, "--at", "2026-10-14T06:00:00Z"),
        *("--budget", "0.2"),
    )
    assert status == 0
    assert "change: wall, coat-1" in out


def test_a_date_missed_by_wish_is_a_plan_with_its_lateness(
    run: Callable[..., Told], file: Callable[..., str]
) -> None:
    wish = DateWishFactory(by=NOW + timedelta(minutes=90), must=False)
    status, out, _ = run("plan", file(dates=(wish,)), "--budget", "0.2")
    assert status == 0
    assert "late: the job, touch by Mon 12 Oct 09:00: by" in out


def test_a_must_that_cannot_be_met_exits_3_with_its_reasons(
    run: Callable[..., Told], file: Callable[..., str], tmp_path: Path
) -> None:
    must = DateWishFactory(by=NOW + timedelta(minutes=90), must=True)
    out_file = tmp_path / "plan.json"
    status, out, _ = run(
        "plan", file(dates=(must,)), "--budget", "0.2", "--out", str(out_file)
    )
    assert status == 3
    assert "No plan." in out
    assert "reason: " in out
    assert json.loads(out_file.read_text())["outcome"] == "no-plan"


def broken(**changes: Any) -> dict[str, Any]:
    return {**write_job(small_job()), **changes}


@pytest.mark.parametrize(
    ("written", "lines"),
    [
        (
            broken(title="", hands=[{"id": "Hand", "skills": []}]),
            [
                'title: "": text of 1 to 200 characters',
                'hands[0].id: "Hand": 1 to 40 of a-z, 0-9 and -',
            ],
        ),
        (broken(colour="red"), ['colour: "red": no such key; known are format']),
        ([], ["file: []: an object with format"]),
        (broken(now="2026-10-12T07:30:00"), ['now: "2026-10-12T07:30:00": a date']),
    ],
)
def test_bad_input_exits_2_with_a_line_a_fault(
    run: Callable[..., Told], file: Callable[..., str], written: Any, lines: list[str]
) -> None:
    for command in ("plan", "ready"):
        status, out, err = run(command, file(written))
        assert (status, out) == (2, "")
        told = err.splitlines()
        assert len(told) == len(lines)
        for line, begin in zip(told, lines, strict=True):
            assert line.startswith(begin)


@pytest.mark.parametrize(
    ("options", "line"),
    [
        (("--at", "2026-10-12T08:00:00"), '--at: "2026-10-12T08:00:00": a date and'),
        (("--at", "soon"), '--at: "soon": a date and time with its offset'),
        (("--seconds", "x"), '--seconds: "x": a number above 0'),
        (("--seconds", "0"), '--seconds: "0": a number above 0'),
        (("--budget", "-1"), '--budget: "-1": a number above 0'),
        (("--budget", "nan"), '--budget: "nan": a number above 0'),
        (("--budget", "1", "--seconds", "1"), '--seconds: "1": not together with'),
        (("--chance", "0"), '--chance: "0": a number from 0.5 to 0.99'),
        (("--chance", "1.2"), '--chance: "1.2": a number from 0.5 to 0.99'),
        (("--chance", "nan"), '--chance: "nan": a number from 0.5 to 0.99'),
        (("--chance", "often"), '--chance: "often": a number from 0.5 to 0.99'),
        (("--previous", "gone.json"), 'file: "gone.json": a file that can be read'),
        (("--forward", "cellar"), '--forward: "cellar": one of the job\'s surfaces:'),
        (("--chances", "gone/c.json"), '--chances: "gone/c.json": a file that can be'),
        (("--chances", ""), '--chances: "": '),
        (("--out", "gone/plan.json"), '--out: "gone/plan.json": a file that can be'),
    ],
)
def test_an_option_that_cannot_be_exits_2_with_its_name(
    run: Callable[..., Told], file: Callable[..., str], options: Any, line: str
) -> None:
    given = ("--budget", "0.2") if options[0] in {"--out", "--chances"} else ()
    status, out, err = run("plan", file(), *options, *given)
    assert (status, out, len(err.splitlines())) == (2, "", 1)
    assert err.startswith(line)


def test_without_at_and_now_both_commands_exit_2(
    run: Callable[..., Told], file: Callable[..., str]
) -> None:
    for command in ("plan", "ready"):
        status, _, err = run(command, file(now=None))
        assert status == 2
        assert err == "--at: null: a moment, since the job has no now\n"


def test_a_job_is_no_plan_to_stay_close_to(
    run: Callable[..., Told], file: Callable[..., str]
) -> None:
    status, _, err = run("plan", file(), "--previous", file(name="other.json"))
    assert status == 2
    assert "job_sha256: null: required" in err


def test_ready_answers_for_people_and_programs(
    run: Callable[..., Told], file: Callable[..., str]
) -> None:
    status, out, _ = run("ready", file(), "--json")
    assert status == 0
    answer = ready_answer(small_job(), at=NOW)
    assert json.loads(out) == json.loads(json.dumps(answer))
    status, out, _ = run("ready", file(), "--at", "2026-10-12T09:00:00+01:00")
    assert status == 0
    assert "At 2026-10-12 09:00" in out
    assert "room, wall" in out


def test_the_shell_needs_no_database_and_no_clock(
    file: Callable[..., str], tmp_path: Path
) -> None:
    environment = {
        **{key: value for key, value in os.environ.items() if "DJANGO" not in key},
        "DATABASE_URL": "postgresql://nobody@127.0.0.1:1/none",
        "BROKER_URL": "redis://127.0.0.1:1/0",
        "DATA_DIR": str(tmp_path / "data"),
        "PYTHONIOENCODING": "ascii",
    }
    answers = []
    title = "Hôtel"
    for year in ("2001", "2031"):
        command = [sys.executable, "manage.py", "plan", file(title=title)]
        done = subprocess.run(
            [*command, "--budget", "0.2"],
            cwd=ROOT,
            env={**environment, "SOURCE_DATE_EPOCH": year},
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert (done.returncode, done.stderr) == (0, "")
        answers.append(done.stdout)
    assert answers[0] == answers[1]


def test_a_broken_file_gives_no_traceback_in_the_shell(tmp_path: Path) -> None:
    job = tmp_path / "job.json"
    job.write_bytes(b'{"format": "\\ud800", "\\ud800": "\\ud800"}')
    for command in ("plan", "ready"):
        done = subprocess.run(
            [sys.executable, "manage.py", command, str(job)],
            cwd=ROOT,
            env={**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings"},
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert done.returncode == 2
        assert "Traceback" not in done.stderr
        assert 'format: "' in done.stderr


def test_a_reader_that_has_seen_enough_gives_no_traceback(
    file: Callable[..., str],
) -> None:
    command = [sys.executable, "manage.py", "plan", file(), "--budget", "0.2"]
    with subprocess.Popen(
        command,
        cwd=ROOT,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == 141


def test_the_printed_text_speaks_us_units_when_asked(run, file):
    hour = AirHourFactory(at=MONDAY, temperature_c=20.0, humidity_pct=95.0)
    room = replace(small_job().rooms[0], air=GivenAirFactory(given=(hour,)))
    damp = file(rooms=(room,))
    _, metric, _ = run("ready", damp)
    assert "at least 3.0 K needed" in metric
    _, told, _ = run("ready", damp, "--units", "us")
    assert "at least 5.4 °F needed" in told
    for command in ("ready", "plan"):
        status, _, err = run(command, damp, "--units", "uk")
        assert (status, err) == (2, '--units: "uk": one of metric, us\n')
