"""Publish the JSON Schemas of both formats from the code that reads them."""

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

import scheduling
from jobs.management.line_command import LineCommand
from scheduling.job_file import job_schema
from scheduling.plan_file import plan_schema

FOLDER = Path(scheduling.__file__).parent


def schemas() -> dict[Path, str]:
    """Text of each published schema by its file."""
    return {
        FOLDER / name: json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
        for name, schema in (
            ("job.schema.json", job_schema()),
            ("plan.schema.json", plan_schema()),
        )
    }


class Command(LineCommand, BaseCommand):
    help = "Write the published JSON Schemas; run it after a change to a format."
    requires_system_checks = ()

    def handle(self, **_: Any) -> None:
        for file, text in schemas().items():
            file.write_text(text, encoding="utf-8")
            self.stdout.write(f"Wrote {file.name}")
