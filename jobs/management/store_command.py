"""What the commands on the embedded store share."""

from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.db import connection

from jobs.management.line_command import LineCommand
from jobs.store_copies import Refused


class StoreCommand(LineCommand):
    """Says a refusal in a line, status 2. Stands before BaseCommand."""

    requires_system_checks = ()  # a damaged or older store must be no hindrance
    instead: str  # on PostgreSQL

    def handle(self, **given: Any) -> None:
        """Run on the store's file, if the records are in one."""
        if connection.vendor != "sqlite":
            raise CommandError(self.instead, returncode=2)
        try:
            self.run(Path(connection.settings_dict["NAME"]), **given)
        except Refused as refusal:
            raise CommandError(str(refusal), returncode=2) from None
        except OSError as error:
            message = f"{error.filename or 'file'}: {error.strerror}"
            raise CommandError(message, returncode=2) from None

    def run(self, store: Path, **given: Any) -> None:
        """What the command does."""
        raise NotImplementedError
