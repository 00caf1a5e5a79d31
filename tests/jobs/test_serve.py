"""The supervisor and ``serve``: children come back, and none is left behind."""

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from jobs import supervisor
from jobs.management.commands.serve import children
from jobs.supervisor import Child, Supervisor
from tests.services.servers import free_port

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 60.0  # a busy machine; each is there in a second or two on an idle one

SUPERVISE = """
import logging, sys
from jobs.supervisor import Child, Supervisor
logging.basicConfig(level=logging.INFO)
sys.exit(Supervisor([Child(name="child", command=sys.argv[1:])]).run())
"""


def until(holds: Callable[[], object]) -> None:
    """Waits until it holds."""
    give_up = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < give_up, "it never came"
        time.sleep(0.05)


def lives(process: int) -> bool:
    """Whether a process is there and no zombie."""
    try:
        state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state != "Z"


def session_of(process: int) -> list[int]:
    """Processes whose session that one leads."""
    found = []
    for entry in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(FileNotFoundError, ProcessLookupError):
            fields = entry.read_text().rpartition(")")[2].split()
            if int(fields[3]) == process and fields[0] != "Z":
                found.append(int(entry.parent.name))
    return found


@contextlib.contextmanager
def supervised(*command: str, log: Path) -> Iterator[subprocess.Popen[bytes]]:
    """A supervisor with one child, in a process of its own."""
    with log.open("wb") as output:
        process = subprocess.Popen(
            [sys.executable, "-c", SUPERVISE, *command],
            cwd=ROOT,
            stdout=output,
            stderr=subprocess.STDOUT,
        )
    try:
        yield process
    finally:
        process.kill()
        process.wait()


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return tmp_path / "log"


def started(log: Path) -> list[int]:
    """Process ids of the children the supervisor has started, in turn."""
    lines = log.read_text().splitlines()
    return [int(line.split()[-1].rstrip(")")) for line in lines if "started" in line]


def test_a_killed_child_is_started_again(log: Path) -> None:
    with supervised("sleep", "600", log=log) as process:
        until(lambda: started(log))
        os.kill(started(log)[0], signal.SIGKILL)
        until(lambda: len(started(log)) == 2)
        assert "ended with -9" in log.read_text()
        process.terminate()
        assert process.wait(PATIENCE_S) == 0
        assert not any(lives(child) for child in started(log))


def test_what_a_killed_child_had_started_goes_with_it(log: Path) -> None:
    with supervised("sh", "-c", "sleep 600 & sleep 600", log=log):
        until(lambda: started(log) and len(session_of(started(log)[0])) == 3)
        first = started(log)[0]
        os.kill(first, signal.SIGKILL)
        until(lambda: len(started(log)) == 2)
        assert session_of(first) == []


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_told_to_stop_it_leaves_nobody_and_exits_0(log: Path, number: int) -> None:
    with supervised("sh", "-c", "sleep 600 & sleep 600", log=log) as process:
        until(lambda: started(log) and len(session_of(started(log)[0])) == 3)
        process.send_signal(number)
        assert process.wait(PATIENCE_S) == 0
        assert session_of(started(log)[0]) == []


def test_told_twice_it_does_not_wait_for_a_child_that_will_not_end(log: Path) -> None:
    stubborn = 'trap "" TERM; echo deaf; while :; do sleep 0.1; done'
    with supervised("sh", "-c", stubborn, log=log) as process:
        until(lambda: "deaf" in log.read_text())
        process.terminate()
        time.sleep(0.3)  # the first word must have been heard before the second
        process.terminate()
        begun = time.monotonic()
        assert process.wait(PATIENCE_S) == 0
        assert time.monotonic() - begun < 10
        assert not lives(started(log)[0])


def test_a_supervisor_killed_outright_takes_its_child_along(log: Path) -> None:
    with supervised("sleep", "600", log=log) as process:
        until(lambda: started(log))
        process.kill()
        until(lambda: not lives(started(log)[0]))


def test_a_child_that_never_stays_up_is_given_up_with_exit_1(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(supervisor, "LONGEST_WAIT_S", 0.05)
    before = {
        n: signal.getsignal(n) for n in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
    }
    try:
        child = Child(name="child", command=("false",))
        assert Supervisor([child]).run() == 1
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    assert child.short_lives == supervisor.GIVE_UP_AFTER


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--port", "x"), '--port: "x": a whole number from 1 to 65535'),
        (("--port", "70000"), '--port: "70000"'),
        (("--host", "no such host"), '--host: "no such host": a name or address'),
    ],
)
def test_an_option_that_cannot_be_is_refused(
    options: tuple[str, str], words: str
) -> None:
    with pytest.raises(CommandError, match=r"^--") as caught:
        call_command("serve", *options)
    assert words in str(caught.value)
    assert caught.value.returncode == 2


def test_a_port_in_use_is_named_before_anything_starts() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        with pytest.raises(CommandError, match=f"--port: {port}: a free port"):
            call_command("serve", "--port", port)


def test_there_is_one_beat_only() -> None:
    names = [child.name for child in children("127.0.0.1:8000")]
    assert names == ["web", "worker", "beat"]


def fetch(address: str) -> tuple[int, bytes]:
    try:
        with urllib.request.urlopen(address, timeout=10) as answer:
            return answer.status, answer.read()
    except urllib.error.HTTPError as error:
        return error.code, error.read()
    except OSError:
        return 0, b""


def test_serve_serves_plans_and_comes_back_when_killed(tmp_path: Path) -> None:
    """The whole of it: one folder, one command, nothing else installed."""
    port = free_port()
    home = f"http://127.0.0.1:{port}"
    ours = {"DATABASE_URL", "BROKER_URL", "DJANGO_SETTINGS_MODULE", "WEB_LISTEN"}
    environment = {key: value for key, value in os.environ.items() if key not in ours}
    environment |= {"DATA_DIR": str(tmp_path / "data"), "SITE_URL": home}
    log = tmp_path / "log"
    with log.open("wb") as output:
        serve = subprocess.Popen(
            [sys.executable, "manage.py", "serve", "--port", str(port)],
            cwd=ROOT,
            env=environment,
            stdout=output,
            stderr=subprocess.STDOUT,
        )
    try:
        until(lambda: fetch(f"{home}/healthz") == (200, b"ok"))
        until(lambda: fetch(f"{home}/readyz")[0] == 200)
        state = json.loads(fetch(f"{home}/readyz")[1])
        assert state == {"database": "up", "broker": "up", "worker": "up"}
        assert fetch(f"{home}/sign-in/")[0] == 200  # with the static files it names
        children_before = started(log)
        assert len(children_before) == 3
        for child in children_before[:2]:  # web and worker
            os.kill(child, signal.SIGKILL)
        until(lambda: len(started(log)) == 5)
        until(lambda: fetch(f"{home}/healthz") == (200, b"ok"))
        serve.terminate()
        assert serve.wait(PATIENCE_S) == 0
        for child in started(log):
            assert session_of(child) == [], log.read_text()
        assert fetch(f"{home}/healthz")[0] == 0
    finally:
        serve.terminate()
        with contextlib.suppress(subprocess.TimeoutExpired):
            serve.wait(30)
        serve.kill()
        serve.wait()
