"""Put a copy of the embedded store back, and keep the store it replaces."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import connection
from django.utils import timezone

from jobs.management.store_command import StoreCommand
from jobs.store_copies import put_back


class Command(StoreCommand, BaseCommand):
    help = (
        "Make FILE, which backup wrote, the records of this service. Stop the service "
        "first. The records of now are kept beside, under another name."
    )
    instead = (
        "The records are in PostgreSQL: use `pg_restore --clean --if-exists "
        "--dbname=ADDRESS FILE` on what pg_dump wrote, with that of DATABASE_URL."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", help="what backup wrote")

    def run(self, store: Path, **given: Any) -> None:
        file = Path(given["file"])
        kept = put_back(
            file, store, now=timezone.now(), bring_up_to_date=_bring_up_to_date
        )
        self.stdout.write(f"The records are those of {file}.")
        if kept is not None:
            self.stdout.write(f"Those of before are kept in {kept}.")


def _bring_up_to_date(draft: Path) -> None:
    """Migrate a copy that is not yet the store."""
    connection.close()
    store = connection.settings_dict["NAME"]
    connection.settings_dict["NAME"] = str(draft)
    try:
        call_command("migrate", interactive=False, verbosity=0)
    finally:
        connection.close()
        connection.settings_dict["NAME"] = store
