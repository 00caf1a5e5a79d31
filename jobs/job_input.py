"""Files a person hands in: bytes -> JSON -> job or plan, refused with what is allowed.

Reads nothing but the named file; what the JSON must say is known to ``scheduling``.
"""

import json
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from scheduling import plan as engine_plan
from scheduling import problem
from scheduling.errors import Fault, bad
from scheduling.job_file import read_job
from scheduling.plan_file import read_plan

# Assumed: a hundred rooms with a year of hourly air each are 60 MB; nobody plans that.
MOST_BYTES = 32_000_000
MOST_DEEP = 50  # the formats need ten; far deeper ones upset whatever prints them


def job_of_file(name: str) -> problem.Job:
    """The job in that file; BadInput with every fault."""
    return read_job(json_of_file(name))


def plan_of_file(name: str) -> engine_plan.Plan:
    """The plan in that file; BadInput with every fault."""
    return read_plan(json_of_file(name))


def json_of_file(name: str) -> Any:
    """Parsed JSON of a UTF-8 file; BadInput says why it could not be read."""
    try:
        with Path(name).open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise bad("file", name, f"a file that can be read ({why})") from None
    except ValueError:  # a name with a null character
        raise bad("file", name, "the name of a file") from None
    return json_of(content, name)


def json_of(content: bytes, name: str = "file") -> Any:
    """Parsed JSON of a file's bytes; ``name`` is what people call the file."""
    if len(content) > MOST_BYTES:
        raise bad("file", name, f"a file of at most {MOST_BYTES // 1_000_000} MB")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        where = f"byte {error.start + 1} is not"
        raise bad("file", name, f"text in UTF-8 ({where})") from None
    too_deep = bad("file", name, f"JSON nested at most {MOST_DEEP} deep")
    try:
        value = json.loads(
            text, object_pairs_hook=_object_without_twins, parse_constant=_no_constant
        )
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}: {error.msg.lower()}"
        raise bad("file", name, f"JSON ({where})") from None
    except RecursionError:
        raise too_deep from None
    except ValueError:  # Python's own limit on the digits of a whole number
        raise bad("file", name, "numbers of fewer than 4,300 digits") from None
    level = [value]
    for _ in range(MOST_DEEP):
        level = [entry for branch in level for entry in _entries(branch)]
        if not level:
            return value
    raise too_deep


def _entries(branch: Any) -> Iterable[Any]:
    if isinstance(branch, dict):
        return branch.values()
    return branch if isinstance(branch, list) else ()


def _object_without_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Two values for one key: JSON parsers differ on which counts, so neither does."""
    entries: dict[str, Any] = {}
    for key, value in pairs:
        if key in entries:
            raise bad(key, value, "a key given only once in its object")
        entries[key] = value
    return entries


def _no_constant(name: str) -> Any:
    raise bad("file", name, "a number that JSON knows; NaN and Infinity are none")


def write_json(name: str, written: Any, path: str) -> None:
    """Write the file whole or not at all; BadInput at ``path`` where it cannot be.

    A link is followed, and what is no plain file (a device, a pipe) is written into.
    """
    target = Path(os.path.realpath(name))
    text = json.dumps(written, ensure_ascii=False, indent=1) + "\n"
    draft = ""
    try:
        if not name:
            raise ValueError("it has no name")
        if target.exists() and not target.is_file():
            target.write_text(text, encoding="utf-8")
            return
        handle, draft = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}-")
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
        # A draft is private; the plan gets the rights that any new file gets.
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(draft, 0o666 & ~umask)
        os.replace(draft, target)
    except (OSError, ValueError) as error:
        if draft:
            Path(draft).unlink(missing_ok=True)
        why = (getattr(error, "strerror", None) or str(error)).lower()
        raise bad(path, name, f"a file that can be written ({why})") from None


def refusal(fault: Fault) -> str:
    """A fault on one line: a value may hold line breaks of its own."""
    return " ".join(str(fault).split())
