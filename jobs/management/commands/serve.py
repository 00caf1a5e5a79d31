"""The whole service on one machine: pages, planning worker and beat, supervised."""

import socket
import sys
from argparse import ArgumentParser
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from jobs.management.line_command import LineCommand
from jobs.store_copies import Refused, in_use
from jobs.supervisor import Child, Supervisor

WEB_SETTINGS = "python:config.web_server"


class Command(LineCommand, BaseCommand):
    help = "Serve pages and plan jobs until stopped. Brings the database up to date."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="127.0.0.1 unless told")
        parser.add_argument("--port", default="8000", help="8000 unless told")

    def handle(self, **given: Any) -> None:
        host, port = given["host"], _port(given["port"])
        _check_free(host, port)
        try:
            with _store_in_use():
                self._serve(host, port)
        except Refused as refusal:
            raise CommandError(str(refusal)) from None

    def _serve(self, host: str, port: str) -> None:
        call_command("migrate", interactive=False, verbosity=0)
        call_command("collectstatic", interactive=False, verbosity=0)
        address = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
        self.stdout.write(f"Serving http://{address}/ (stop with Ctrl-C)")
        self.stdout.flush()
        status = Supervisor(children(address)).run()
        if status:
            raise SystemExit(status)


def _store_in_use() -> AbstractContextManager[None]:
    """Keep ``restore`` from changing the store under those who work on it."""
    if connection.vendor != "sqlite":
        return nullcontext()
    return in_use(Path(connection.settings_dict["NAME"]))


def children(address: str) -> list[Child]:
    """What runs; one beat only, or every minute's sweep would come twice."""
    celery = (sys.executable, "-m", "celery", "--app", "config")
    schedule = str(settings.DATA_DIR / "beat-schedule")
    # Threads: the solver works outside Python's lock, and nothing is forked.
    pool = ("--pool", "threads", "--concurrency", "2")
    alone = ("--without-gossip", "--without-mingle")
    return [
        Child(
            name="web",
            command=(
                sys.executable,
                "-m",
                "gunicorn",
                "-c",
                "python:config.web_server",
            ),
            environment={"WEB_LISTEN": address},
        ),
        Child(
            name="worker",
            command=(*celery, "worker", *pool, *alone, "--loglevel", "INFO"),
        ),
        Child(
            name="beat",
            command=(*celery, "beat", "--pidfile=", "--schedule", schedule),
        ),
    ]


def _port(given: str) -> int:
    if not (given.isascii() and given.isdigit()) or not 1 <= int(given) <= 65535:
        message = f'--port: "{given}": a whole number from 1 to 65535'
        raise CommandError(message, returncode=2)
    return int(given)


def _check_free(host: str, port: int) -> None:
    """Say it before anything is started, not in a log after six tries."""
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError):
        message = f'--host: "{host}": a name or address of this machine'
        raise CommandError(message, returncode=2) from None
    family, kind, protocol, _, address = found[0]
    with socket.socket(family, kind, protocol) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(address)
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            message = f"--port: {port}: a free port of {host} ({why})"
            raise CommandError(message, returncode=2) from None
