"""Start the first company and its lead: sign-up is closed."""

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from jobs.actions import start_company
from jobs.management.line_command import LineCommand
from jobs.management.password_input import password_given


class Command(LineCommand, BaseCommand):
    help = (
        "Start a company and its first lead. The password comes from COAT_PASSWORD, "
        "from the first line of standard input, or is asked for."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", metavar="NAME", help="the company's name")
        parser.add_argument("email", metavar="EMAIL", help="the lead signs in with it")
        parser.add_argument("--person", default="", help="the lead's own name")
        parser.add_argument("--password-stdin", action="store_true")

    def handle(self, **given: Any) -> None:
        try:
            lead = start_company(
                name=given["name"],
                email=given["email"],
                password=password_given(from_stdin=given["password_stdin"]),
                person=given["person"],
            )
        except ValidationError as error:
            lines = [
                f"{field}: {' '.join(messages)}"
                for field, messages in error.message_dict.items()
            ]
            raise CommandError("\n".join(lines), returncode=2) from None
        self.stdout.write(
            f"{lead.company} is ready. Run `python manage.py serve`, open "
            f"{settings.SITE_URL} and sign in as {lead.email}."
        )
