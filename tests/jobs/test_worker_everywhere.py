"""A real worker process plans, on every queue and database the service knows.

The embedded pair is what a fresh clone runs with; the other is a host's: Redis and
PostgreSQL, with the start script of the image. The tests look into the database only
from outside, as no worker shares a transaction with them.
"""

import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg
import pytest

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 120.0  # a busy machine; a small plan takes two seconds on an idle one
THREADS = ("--pool", "threads", "--concurrency", "2")
ALONE = ("--without-gossip", "--without-mingle")

SET_UP = """
import django; django.setup()
from django.core.management import call_command
from jobs import actions, demo_job, factories
from scheduling.job_file import write_job
call_command("migrate", interactive=False, verbosity=0)
lead = actions.start_company(
    name="Harbour", email="ann@example.com", password="paper and pigment"
)
week = demo_job.marram_house(factories.MONDAY.date())
for job in (factories.small_job(id="small"), week):
    actions.import_job(company=lead.company, written=write_job(job))
"""
ASK = """
import sys
import django; django.setup()
from jobs.actions import request_plan
from jobs.models import Job
job = Job.objects.get(key=sys.argv[1])
print(request_plan(job=job, by=None, now=job.now).pk)
"""


@dataclass(kw_only=True)
class House:
    """One way to run the service: its environment, worker and database."""

    environment: dict[str, str]
    worker: tuple[str, ...]
    connect: Callable[[], Any]
    log: Path

    def python(self, code: str, *arguments: str) -> str:
        done = subprocess.run(
            [sys.executable, "-c", code, *arguments],
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=PATIENCE_S,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    def ask(self, job: str) -> int:
        """Requests a plan as a page does; the run's key."""
        return int(self.python(ASK, job))

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        connection = self.connect()
        try:
            rows = connection.execute(sql)
            found = rows.fetchall() if rows.description else []
            connection.commit()
        finally:
            connection.close()
        return found

    def run(self, key: int) -> tuple[Any, ...]:
        """State and attempts of a run."""
        sql = f"SELECT state, attempts FROM jobs_planrun WHERE id = {key}"
        return self.rows(sql)[0]

    @contextmanager
    def working(self) -> Iterator[subprocess.Popen[bytes]]:
        """A worker that is stopped as an operator stops it."""
        with self.log.open("ab") as output:
            process = subprocess.Popen(
                self.worker,
                cwd=ROOT,
                env=self.environment,
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
                process.wait(30)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)
                process.wait()

    def until(self, holds: Callable[[], object]) -> None:
        give_up = time.monotonic() + PATIENCE_S
        while not holds():
            assert time.monotonic() < give_up, self.log.read_text()[-4000:]
            time.sleep(0.1)


def plain_environment(data: Path) -> dict[str, str]:
    ours = ("DATABASE_URL", "BROKER_URL", "SECRET_KEY", "SITE_URL", "DATA_DIR")
    return {
        **{key: value for key, value in os.environ.items() if key not in ours},
        "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}",
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "DATA_DIR": str(data),
        "PYTHONPATH": str(ROOT),
    }


def embedded(tmp_path: Path) -> House:
    data = tmp_path / "data"

    def connect() -> Any:
        return sqlite3.connect(data / "coat.sqlite3", timeout=20)

    celery = (sys.executable, "-m", "celery", "-A", "config", "worker")
    return House(
        environment=plain_environment(data),
        worker=(*celery, *THREADS, *ALONE, "--loglevel", "INFO"),
        connect=connect,
        log=tmp_path / "worker.log",
    )


def hosted(tmp_path: Path, redis_url: str, postgresql_url: str) -> House:
    # A database and a queue of its own: other tests use the same two servers.
    server, _, _ = postgresql_url.rpartition("/")
    with psycopg.connect(postgresql_url, autocommit=True) as connection:
        connection.execute("DROP DATABASE IF EXISTS worker WITH (FORCE)")
        connection.execute("CREATE DATABASE worker")
    return House(
        environment={
            **plain_environment(tmp_path / "data"),
            "DATABASE_URL": f"{server}/worker",
            "BROKER_URL": f"{redis_url.rpartition('/')[0]}/7",
            "WORKER_PROCESSES": "1",
        },
        worker=(str(ROOT / "docker" / "start-worker"),),
        connect=lambda: psycopg.connect(f"{server}/worker"),
        log=tmp_path / "worker.log",
    )


@pytest.fixture(params=["embedded", "hosted"])
def house(request: pytest.FixtureRequest, tmp_path: Path) -> House:
    if request.param == "embedded":
        built = embedded(tmp_path)
    else:
        services = ("redis_url", "postgresql_url")
        built = hosted(tmp_path, *(request.getfixturevalue(name) for name in services))
    built.python(SET_UP)
    return built


def test_a_worker_plans_and_its_loss_loses_nothing(house: House) -> None:
    """Plans one job; is killed -9 in the middle of another; the next worker ends it."""
    with house.working() as first:
        small = house.ask("small")
        house.until(lambda: house.run(small) == ("done", 1))
        numbers = house.rows("SELECT number, state, outcome FROM jobs_plan")
        assert numbers == [(1, "draft", "plan")]
        house.until(lambda: house.rows("SELECT at FROM jobs_workerbeat"))

        week = house.ask("marram-house")
        house.until(lambda: house.run(week) == ("running", 1))
        os.killpg(first.pid, signal.SIGKILL)
        first.wait()
    assert house.run(week) == ("running", 1)  # nobody has noticed yet

    # As if half a minute had passed.
    past = "2026-10-12 00:00:00+00:00"
    house.rows(f"UPDATE jobs_planrun SET heartbeat_at = '{past}' WHERE id = {week}")
    with house.working():
        house.until(lambda: house.run(week) == ("done", 2))
    stored = "SELECT job_id, outcome FROM jobs_plan ORDER BY id"
    assert [outcome for _, outcome in house.rows(stored)] == ["plan", "plan"]


@pytest.mark.parametrize("house", ["embedded"], indirect=True)
def test_a_worker_stops_a_search_when_told(house: House) -> None:
    """The stop flag crosses processes: set in one, read by the planner in another."""
    with house.working():
        week = house.ask("marram-house")
        house.until(lambda: house.run(week) == ("running", 1))
        flag = "UPDATE jobs_planrun SET stop_requested = {} WHERE id = {}"
        house.rows(flag.format("TRUE", week))
        house.until(lambda: house.run(week) == ("stopped", 1))
    plans = house.rows("SELECT outcome FROM jobs_plan")
    assert plans == [("plan",)]
