"""Which surface of a job file can take its next coat: no database, no clock."""

import json
from argparse import ArgumentParser
from collections.abc import Iterable
from typing import Any

from django.core.management.base import BaseCommand

from jobs import job_input
from jobs.calendar_words import names_in
from jobs.management.file_command import (
    FileCommand,
    add_units,
    in_units,
    moment_of,
    place,
    table,
    units_of,
)
from jobs.measures import METRIC
from scheduling import problem
from scheduling.readiness import ready_answer


class Command(FileCommand, BaseCommand):
    help = (
        "Tell which surfaces of a job can take their next coat, and what holds others."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("job", metavar="JOB.json")
        parser.add_argument("--at", metavar="ISO", help="at this moment")
        parser.add_argument("--json", action="store_true", help="for programs")
        add_units(parser)

    def run(self, **given: Any) -> int:
        job = job_input.job_of_file(given["job"])
        units = units_of(given["units"])
        answer = ready_answer(job, at=moment_of(given["at"], job))
        if given["json"]:
            self.stdout.write(json.dumps(answer, indent=1))
        else:
            self.print_lines(told(job, answer, units))
        return 0


def told(
    job: problem.Job, answer: dict[str, Any], units: str = METRIC
) -> Iterable[str]:
    """The answer as a table, in the order it came."""
    names = names_in(job)
    yield f"At {_moment(answer['at'])}"
    rows = []
    for entry in answer["surfaces"]:
        moments = entry.get("since") or entry.get("until") or {}
        word = "since" if entry.get("since") else "until"
        likely = moments.get("likely")
        when = f"{word} {_moment(likely)}" if likely else ("never" if moments else "")
        told = (*entry.get("held_by", ()), *entry.get("cautions", ()))
        why = "; ".join(in_units(reason["text"], units, names) for reason in told)
        rows.append(
            (
                entry["state"],
                place(job, entry["surface"]),
                entry.get("step") or "-",
                when,
                entry.get("sure") or "",
                "; ".join(filter(None, (why, entry.get("test")))),
            )
        )
    yield from table(
        ("state", "where", "step", "when", "sure", "why, what to test"), rows
    )


def _moment(written: str) -> str:
    return written[:16].replace("T", " ")
