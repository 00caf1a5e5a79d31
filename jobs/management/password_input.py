"""A password for a command: from the environment, standard input, or asked for."""

import getpass
import os
import sys

from django.core.management.base import CommandError


def password_given(*, from_stdin: bool) -> str:
    """COAT_PASSWORD, the first line of standard input, or what is typed twice."""
    if from_stdin:
        return sys.stdin.readline().rstrip("\r\n")
    given = os.environ.get("COAT_PASSWORD")
    if given is not None:
        return given
    if not sys.stdin.isatty():
        message = "password: give it in COAT_PASSWORD or with --password-stdin"
        raise CommandError(message, returncode=2)
    first, second = (getpass.getpass(word) for word in ("Password: ", "Again: "))
    if first != second:
        raise CommandError("password: the two are not the same", returncode=2)
    return first
