"""A new password for somebody who cannot get a link: a lead without e-mail."""

from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from jobs.management.line_command import LineCommand
from jobs.management.password_input import password_given
from jobs.models import User
from jobs.people import give_password
from scheduling.errors import shown


class Command(LineCommand, BaseCommand):
    help = (
        "Give a person a new password and end their sessions. It comes from "
        "COAT_PASSWORD, from the first line of standard input, or is asked for."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "email", metavar="EMAIL", help="the person signs in with it"
        )
        parser.add_argument("--password-stdin", action="store_true")

    def handle(self, **given: Any) -> None:
        email = given["email"].strip().lower()
        person = User.objects.filter(email=email).first()
        if person is None:
            message = f"email: {shown(given['email'])}: somebody who signs in here"
            raise CommandError(message, returncode=2)
        password = password_given(from_stdin=given["password_stdin"])
        try:
            ended = give_password(person=person, password=password)
        except ValidationError as error:
            message = f"password: {' '.join(error.messages)}"
            raise CommandError(message, returncode=2) from None
        self.stdout.write(
            f"{person.email} has a new password; sessions ended: {ended}."
        )
