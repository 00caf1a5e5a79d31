"""What the commands on job files share: no database, no clock, one line a fault."""

import os
import re
import sys
from argparse import ArgumentParser
from collections.abc import Iterable, Sequence
from datetime import datetime
from math import isfinite
from typing import Any

from jobs.job_input import refusal
from jobs.management.line_command import BAD_INPUT, LineCommand
from jobs.measures import METRIC, US, say_in
from scheduling import problem
from scheduling.errors import BadInput, Fault, bad
from scheduling.shapes import Moment

READER_GONE = 141  # the same, as a shell tells of SIGPIPE


class FileCommand(LineCommand):
    """Turns bad input into lines on stderr and status 2. Stands before BaseCommand."""

    requires_system_checks = ()  # they look at pages and database; neither is used
    stdout: Any
    stderr: Any

    def run(self, **given: Any) -> int:
        """What the command does; gives the exit status."""
        raise NotImplementedError

    def handle(self, **given: Any) -> None:
        """Run, and leave with the exit status where it is not 0."""
        try:
            status = self.run(**given)
        except BadInput as error:
            for fault in error.faults:
                print(refusal(fault), file=sys.stderr)
            status = BAD_INPUT
        except BrokenPipeError:  # the reader, perhaps head, has seen enough
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            status = READER_GONE
        if status:
            raise SystemExit(status)

    def print_lines(self, lines: Iterable[str]) -> None:
        """To stdout; letters its encoding lacks become escapes, not a traceback."""
        encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
        for line in lines:
            self.stdout.write(
                line.encode(encoding, "backslashreplace").decode(encoding)
            )


def add_units(parser: ArgumentParser) -> None:
    """``--units``: files and ``--json`` stay SI, only what is printed changes."""
    parser.add_argument("--units", metavar="US", help="metric or us, in what is told")


def units_of(given: str | None, usual: str = METRIC) -> str:
    """The reader's units."""
    if given is None:
        return usual
    if given not in (METRIC, US):
        raise bad("--units", given, f"one of {METRIC}, {US}")
    return given


def in_units(text: str, units: str, names: Iterable[str] = ()) -> str:
    """A sentence of the engine; to a metric reader as it is in files, with its K."""
    return say_in(text, US, names) if units == US else text


def moment_of(given: str | None, job: problem.Job) -> datetime:
    """The moment asked for, else the job's own, in the site's zone; never a clock's."""
    if given is None:
        if job.now is None:
            raise bad("--at", None, "a moment, since the job has no now")
        return job.now.astimezone(job.site.tz)
    faults: list[Fault] = []
    moment = Moment().read(given, "--at", faults)
    if faults:
        raise BadInput(faults)
    assert isinstance(moment, datetime)  # noqa: S101 - no fault means a moment
    return moment.astimezone(job.site.tz)


def number_of(option: str, given: str, *, most: float) -> float:
    """A number above 0, in plain digits."""
    allowed = f"a number above 0, at most {most:g}"
    if not re.fullmatch(r"[0-9]+\.?[0-9]*|\.[0-9]+", given.strip()):
        raise bad(option, given, allowed)
    number = float(given)
    if not isfinite(number) or not 0 < number <= most:
        raise bad(option, given, allowed)
    return number


def place(job: problem.Job, surface_id: str, section: str | None = None) -> str:
    """Where the work is, in people's words; a surface may bear its room's name."""
    surface = job.surface(surface_id)
    room = job.room(surface.room)
    room_name, name = room.name or room.id, surface.name or surface.id
    told = name if name.startswith(room_name) else f"{room_name}, {name}"
    return f"{told} {section}" if section else told


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterable[str]:
    """Lines with aligned columns; the last column is as wide as it likes."""
    widths = [
        max(len(row[column]) for row in (head, *rows)) for column in range(len(head))
    ]
    for row in (head, *rows):
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=True)]
        yield "  ".join(cells).rstrip()
