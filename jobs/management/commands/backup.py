"""Copy the embedded store into one file while it is in use."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from jobs.management.store_command import StoreCommand
from jobs.store_copies import back_up


class Command(StoreCommand, BaseCommand):
    help = "Copy all records into FILE; the service may go on meanwhile."
    instead = (
        "The records are in PostgreSQL: use `pg_dump --format=custom --file=FILE "
        "ADDRESS` with that of DATABASE_URL."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", help="a new file")

    def run(self, store: Path, **given: Any) -> None:
        file = Path(given["file"])
        size = back_up(store, file)
        self.stdout.write(f"{file}: {size:,} bytes. `manage.py restore` puts it back.")
