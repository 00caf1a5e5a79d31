"""Starts a real Redis and a real PostgreSQL for tests, each in a throw-away folder.

Neither is ever skipped: a missing program is an error that says what to install.
"""

import glob
import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import psycopg
import redis

START_LIMIT_S = 30.0
INITDB_OPTIONS = ("-A", "trust", "-E", "UTF8", "--no-locale", "--no-sync")


class MissingProgram(Exception):
    """A program that the tests need is not on this machine."""

    def __init__(self, program: str, package: str) -> None:
        super().__init__(program, package)
        self.program, self.package = program, package

    def __str__(self) -> str:
        return (
            f"{self.program} is not installed and this test needs it. On Debian: "
            f"apt-get install {self.package}"
        )


def program(name: str, *, package: str, elsewhere: str = "") -> str:
    """Full path of a program on the path, or of the newest that ``elsewhere`` finds."""
    found = shutil.which(name)
    if found is None and elsewhere:
        found = max(glob.glob(f"{elsewhere}/{name}"), default=None)
    if found is None:
        raise MissingProgram(name, package)
    return found


def free_port() -> int:
    """A port of this machine that nobody listened on a moment ago."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


@contextmanager
def redis_server() -> Iterator[str]:
    """Address of an empty Redis that keeps nothing on disk."""
    server = program("redis-server", package="redis-server")
    with tempfile.TemporaryDirectory(prefix="coat-redis-") as folder:
        port = free_port()
        command = [server, "--port", str(port), "--bind", "127.0.0.1"]
        command += ["--dir", folder, "--save", "", "--appendonly", "no"]
        command += ["--maxmemory-policy", "noeviction"]
        url = f"redis://127.0.0.1:{port}/0"

        def answers() -> bool:
            with redis.Redis.from_url(url) as client:
                return bool(client.ping())

        with _running(command, answers, errors=(redis.RedisError, OSError)):
            yield url


@contextmanager
def postgresql_server() -> Iterator[str]:
    """Address of an empty database ``coat`` on a PostgreSQL of its own.

    PostgreSQL refuses to run as root, so root becomes ``postgres`` for it.
    """
    debian = "/usr/lib/postgresql/*/bin"
    initdb = program("initdb", package="postgresql", elsewhere=debian)
    server = str(Path(initdb).parent / "postgres")
    account = "postgres" if os.geteuid() == 0 else None
    with tempfile.TemporaryDirectory(prefix="coat-pg-") as folder:
        if account is not None:
            shutil.chown(folder, account)
        data = f"{folder}/data"
        subprocess.run(
            [initdb, "-D", data, "-U", "coat", *INITDB_OPTIONS],
            check=True,
            capture_output=True,
            cwd=folder,
            user=account,
        )
        port = free_port()
        command = [server, "-D", data, "-k", folder, "-h", "127.0.0.1"]
        command += ["-p", str(port), "-F"]  # -F: no fsync, the data is thrown away
        address = f"postgresql://coat@127.0.0.1:{port}"

        def answers() -> bool:
            with psycopg.connect(f"{address}/postgres", autocommit=True) as connection:
                connection.execute("CREATE DATABASE coat")
            return True

        with _running(
            command, answers, errors=(psycopg.OperationalError,), account=account
        ):
            yield f"{address}/coat"


@contextmanager
def _running(
    command: list[str],
    answers: Callable[[], bool],
    *,
    errors: tuple[type[Exception], ...],
    account: str | None = None,
) -> Iterator[None]:
    with tempfile.TemporaryFile() as output:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            cwd="/",
            user=account,
        )
        try:
            give_up = time.monotonic() + START_LIMIT_S
            while True:
                with suppress(*errors):
                    if answers():
                        break
                if process.poll() is not None or time.monotonic() > give_up:
                    output.seek(0)
                    said = output.read().decode(errors="replace")[-2000:]
                    raise RuntimeError(f"{command[0]} did not start: {said}")
                time.sleep(0.05)
            yield
        finally:
            process.terminate()
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
