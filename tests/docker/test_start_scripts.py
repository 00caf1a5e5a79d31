"""The three start scripts, run as the image runs them, on real Redis and PostgreSQL."""

import os
import secrets
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.services.servers import free_port

ROOT = Path(__file__).resolve().parents[2]
START_LIMIT_S = 90.0


@pytest.fixture(scope="module")
def environment(
    redis_url: str, postgresql_url: str, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, str]:
    """What a container would be given, and the path to this Python."""
    port = free_port()
    return {
        "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}",
        "DATA_DIR": str(tmp_path_factory.mktemp("data")),
        "SECRET_KEY": secrets.token_urlsafe(64),
        "SITE_URL": f"http://127.0.0.1:{port}",
        "WEB_LISTEN": f"127.0.0.1:{port}",
        "DATABASE_URL": postgresql_url,
        "BROKER_URL": redis_url,
        "WORKER_PROCESSES": "1",
    }


@contextmanager
def started(
    script: str, environment: dict[str, str], log: Path
) -> Iterator[subprocess.Popen[bytes]]:
    """The script in a session of its own; nothing of it is left afterwards."""
    with log.open("wb") as output:
        process = subprocess.Popen(
            [str(ROOT / "docker" / script)],
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
        try:
            yield process
        finally:
            process.terminate()
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)
                process.wait()


def until(
    holds: Callable[[], bool], process: subprocess.Popen[bytes], log: Path
) -> None:
    """Waits until it holds; a script that ended or took too long shows its log."""
    give_up = time.monotonic() + START_LIMIT_S
    while not holds():
        assert process.poll() is None, log.read_text(errors="replace")[-4000:]
        assert time.monotonic() < give_up, log.read_text(errors="replace")[-4000:]
        time.sleep(0.2)


def status_of(address: str) -> int | None:
    """The status of one GET; None while nobody listens."""
    try:
        with urllib.request.urlopen(address, timeout=10) as answer:
            return answer.status
    except urllib.error.HTTPError as refused:
        return refused.code
    except OSError:
        return None


def test_the_web_part_migrates_serves_and_logs_no_private_link(
    environment: dict[str, str], tmp_path: Path
) -> None:
    log, site = tmp_path / "web.log", environment["SITE_URL"]
    token = secrets.token_urlsafe(32)
    with started("start-web", environment, log) as process:
        until(lambda: status_of(f"{site}/healthz") == 200, process, log)
        assert status_of(f"{site}/feeds/{token}.ics") == 404
        until(lambda: "/feeds/(hidden).ics" in log.read_text(), process, log)
    assert token not in log.read_text()
    assert "Applying jobs." in log.read_text()


def test_the_worker_connects_and_answers(
    environment: dict[str, str], tmp_path: Path
) -> None:
    log = tmp_path / "worker.log"
    ask = [sys.executable, "-m", "celery", "-A", "config", "inspect", "ping"]
    with started("start-worker", environment, log) as process:
        until(lambda: "ready." in log.read_text(), process, log)
        answer = subprocess.run(
            [*ask, "--timeout", "10"],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert "pong" in answer.stdout, answer.stdout + answer.stderr
        assert "jobs.tasks.sweep" in log.read_text()


def test_beat_starts_and_keeps_its_schedule(
    environment: dict[str, str], tmp_path: Path
) -> None:
    log = tmp_path / "beat.log"
    with started("start-beat", environment, log) as process:
        until(lambda: "beat: Starting" in log.read_text(), process, log)
        folder = Path(environment["DATA_DIR"])
        until(lambda: any(folder.glob("beat-schedule*")), process, log)
