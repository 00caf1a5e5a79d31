"""What a changed job changes, as plain values that can be kept and applied later.

A change holds, for each list of the job format, what entries got other values and which
are new, and what the site got other. Applied to a later state of the job, all else that
was typed in the meantime stays.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from scheduling.errors import bad
from scheduling.job_file import read_job, write_job
from scheduling.problem import Job

Change = Mapping[str, Any]  # {"site": {key: value}, "rooms": {"set": {...}, "add": []}}


def change_of(job: Job, other: Job) -> Change:
    """What makes ``other`` of ``job``; nothing may be missing in ``other``."""
    before, after = write_job(job), write_job(other)
    found: dict[str, Any] = {}
    for key, value in after.items():
        old: Any = before.get(key)
        if value == old:
            continue
        if key == "site":
            found[key] = _other_values(old, value)
            continue
        rows = {row["id"]: row for row in old}
        found[key] = {
            "set": {
                row["id"]: _other_values(rows[row["id"]], row)
                for row in value
                if row["id"] in rows and row != rows[row["id"]]
            },
            "add": [row for row in value if row["id"] not in rows],
        }
    return found


def with_changes(job: Job, changes: Iterable[Change]) -> Job:
    """The job with the changes made, one after the other.

    BadInput where two of them set the same value otherwise, or where what one changes
    is not in the job any more. A new entry whose id is taken gets a free one.
    """
    written = write_job(job)
    made: dict[tuple[str, ...], Any] = {}
    for change in changes:
        for key, value in change.items():
            if key == "site":
                _set(written["site"], value, ("site",), made)
                continue
            rows = {row["id"]: row for row in written[key]}
            for name, values in value["set"].items():
                if name not in rows:
                    raise bad(key, name, "something that is still in the job")
                _set(rows[name], values, (key, name), made)
            for row in value["add"]:
                name = _free(row["id"], {other["id"] for other in written[key]})
                written[key].append({**row, "id": name})
    return read_job(written)


def _other_values(old: Mapping[str, Any], new: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in new.items() if old.get(key) != value}


def _set(
    row: dict[str, Any],
    values: Mapping[str, Any],
    path: tuple[str, ...],
    made: dict[tuple[str, ...], Any],
) -> None:
    for key, value in values.items():
        if made.setdefault((*path, key), value) != value:
            told = ".".join((*path, key))
            raise bad(told, value, "set by one of these ways only; take one of them")
        row[key] = value


def _free(wanted: str, taken: set[str]) -> str:
    number, name = 1, wanted
    while name in taken:
        number += 1
        name = f"{wanted}-{number}"
    return name
