"""Options that a command does not know: a line each, as for any other bad input."""

import pytest
from django.core.management import CommandError, call_command, load_command_class

NAMES = ("clocks", "plan", "ready", "demo", "serve", "start_company", "write_schemas")


def refused(capsys: pytest.CaptureFixture[str], name: str, *given: str) -> list[str]:
    """The lines on stderr of a command that must end with status 2."""
    command = load_command_class("jobs", name)
    command._called_from_command_line = True  # as run_from_argv has it
    with pytest.raises(SystemExit) as end:
        command.create_parser("manage.py", name).parse_args(list(given))
    assert end.value.code == 2
    told = capsys.readouterr()
    assert told.out == ""
    return told.err.splitlines()


@pytest.mark.parametrize("name", NAMES)
def test_an_option_that_is_none_is_named_on_one_line(name, capsys):
    needed = {"plan": ["a.json"], "ready": ["a.json"], "start_company": ["A", "a@b.c"]}
    (line,) = refused(capsys, name, *needed.get(name, []), "--foo=3")
    assert line.startswith("--foo: not an option: one of --")
    assert "--help" in line
    assert "usage" not in line


def test_every_wrong_option_has_its_line(capsys):
    lines = refused(capsys, "clocks", "--foo", "3", "--bar", "--air=19C/80%")
    assert [line.split(":")[0] for line in lines] == ["--foo", "--bar"]
    assert "--moving-air" in lines[0]


@pytest.mark.parametrize(
    ("given", "line"),
    [
        ((), "JOB.json: null: must be given"),
        (("a.json", "b.json"), 'arguments: "b.json": none after the others'),
        (("a.json", "--at"), "--at: null: a value after it"),
        (("a.json", "--json=3"), "--json: '3': no value after it"),
        (("a.json", "-v", "9"), "--verbosity: 9: one of 0, 1, 2, 3"),
        (
            ("a.json", "--js"),
            "--js: not an option: one of --at, --help, --json, --units",
        ),
    ],
)
def test_what_is_missing_or_too_much_is_said_by_its_name(given, line, capsys):
    assert refused(capsys, "ready", *given) == [line]


def test_a_caller_in_python_gets_djangos_own_error():
    with pytest.raises(CommandError):
        call_command("ready")
