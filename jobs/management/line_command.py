"""Commands that say what is wrong with their options in a line each, status 2."""

import re
import sys
from collections.abc import Iterable, Sequence
from typing import Any, NoReturn

from django.core.management.base import CommandParser, DjangoHelpFormatter

from scheduling.errors import shown

BAD_INPUT = 2  # exit status


class LineParser(CommandParser):
    """Refuses like every other reader of input, without argparse's usage text."""

    def parse_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Every option that is none is named, not only the first."""
        found, left = self.parse_known_args(args, namespace)
        unknown = [part.partition("=")[0] for part in left if part[:1] == "-"]
        if unknown:
            options = ", ".join(self._long_options())
            refuse(f"{name}: not an option: one of {options}" for name in unknown)
        if left:
            refuse(f"arguments: {shown(part)}: none after the others" for part in left)
        return found

    def error(self, message: str) -> NoReturn:
        """Argparse's own finding as lines of ours."""
        refuse(_lines(message))

    def _long_options(self) -> Sequence[str]:
        names = self._option_string_actions.keys() - DjangoHelpFormatter.show_last
        return sorted(name for name in names if name[:2] == "--")


class LineCommand:
    """Stands before BaseCommand. Shortened options are refused, not guessed at."""

    _called_from_command_line: bool

    def create_parser(self, prog: str, name: str, **options: Any) -> CommandParser:
        """The command's own parser; to a caller in Python it raises as Django's."""
        options.setdefault("allow_abbrev", False)
        parser: CommandParser = super().create_parser(prog, name, **options)  # type: ignore[misc]
        if self._called_from_command_line:
            parser.__class__ = LineParser  # Django names the class of its parsers
        return parser


def refuse(lines: Iterable[str]) -> NoReturn:
    """Each on a line of stderr, then the exit status for bad input."""
    for line in lines:
        print(" ".join(line.split()), file=sys.stderr)
    raise SystemExit(BAD_INPUT)


def _lines(message: str) -> list[str]:
    """The wording is that of Python 3.11 to 3.13; another is passed on as it is."""
    if found := re.fullmatch(r"the following arguments are required: (.*)", message):
        return [f"{name}: null: must be given" for name in found[1].split(", ")]
    if found := re.fullmatch(r"argument (\S+): (.*)", message, re.DOTALL):
        name, what = found[1].rpartition("/")[2], found[2]
        if what == "expected one argument":
            return [f"{name}: null: a value after it"]
        if found := re.fullmatch(r"ignored explicit argument (.*)", what):
            return [f"{name}: {found[1]}: no value after it"]
        if found := re.fullmatch(r"invalid \w+ value: (.*)", what):
            return [f"{name}: {found[1]}: a number"]
        if found := re.fullmatch(r"invalid choice: (.*) \(choose from (.*)\)", what):
            return [f"{name}: {found[1]}: one of {found[2]}"]
        return [f"{name}: {what}"]
    return [message]
