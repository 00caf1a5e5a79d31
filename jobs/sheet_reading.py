"""A sheet of rooms or surfaces against the job that it is for: what each row would add.

Reads and compares, stores nothing. Every row becomes one of the job format's entries
and passes the format's own checks; what is wrong stands beside its cell.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from jobs.free_ids import free_id
from jobs.sheet_cells import NotRead, Reading
from jobs.sheet_columns import PARTS, Column, Heading, columns_of, heading_of
from jobs.sheet_file import Table, sheet_text, unguarded
from scheduling import problem
from scheduling.errors import BadInput, Fault, shown
from scheduling.job_file import read_entry, reference_faults, write_job

Json = dict[str, Any]
REQUIRED = "required"  # the format's word for a key that is not there
NEW, IN, WRONG = "new", "in already", "wrong"
_INDEX = re.compile(r"\[\d+\]")


@dataclass(slots=True, kw_only=True)
class Cell:
    """A cell as it stands, and what is wrong with it, if anything."""

    text: str
    heading: Heading
    fault: str = ""


@dataclass(slots=True, kw_only=True)
class Row:
    """A row of the sheet: ``faults`` are those that none of its cells can show."""

    part: str
    number: int
    cells: list[Cell]
    faults: list[str]
    entry: Json
    value: Any = None
    state: str = NEW

    def refuse(self, path: str, allowed: str) -> None:
        """Put a fault beside the cell that the path leads to, else beside the row."""
        bare = _INDEX.sub("", path).lstrip(".")
        for cell in self.cells:
            column = cell.heading.column
            if column is not None and (bare + ".").startswith(column.path + "."):
                if not (cell.fault or cell.heading.fault):
                    cell.fault = _said(cell, column, allowed)
                return
        columns = [
            column for column in PARTS[self.part] if column.path.startswith(bare)
        ]
        if any(cell.fault for cell in self.cells if cell.heading.column in columns):
            return
        if allowed != REQUIRED or not columns:
            self.faults.append(f"{bare or 'the row'}: {allowed}.")
        elif not columns[0].needed:  # else the headings are at fault
            words = ", ".join(column.words[0] for column in columns[:3])
            self.faults.append(f"{words}: every row needs a value.")

    @property
    def is_wrong(self) -> bool:
        """Whether anything in it keeps it out."""
        return bool(self.faults) or any(cell.fault for cell in self.cells)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet read against a job. ``job`` has its new rows in, where none is wrong."""

    part: str
    headings: tuple[Heading, ...]
    rows: tuple[Row, ...]
    faults: tuple[str, ...]
    job: problem.Job

    @property
    def wrong(self) -> int:
        """Cells, rows and headings that keep it out."""
        cells = sum(bool(cell.fault) for row in self.rows for cell in row.cells)
        return len(self.faults) + cells + sum(len(row.faults) for row in self.rows)

    @property
    def new(self) -> int:
        """Rows that it would add."""
        return sum(row.state == NEW for row in self.rows)

    @property
    def known(self) -> int:
        """Rows that the job has already, as they are here."""
        return sum(row.state == IN for row in self.rows)

    @property
    def left_out(self) -> list[str]:
        """Headings that are called like no column."""
        return [head.text or "(none)" for head in self.headings if head.column is None]


def read_sheet(table: Table, part: str, job: problem.Job, units: str) -> Sheet:
    """The table as rooms or surfaces of that job, read in the reader's units."""
    columns = columns_of(part)
    places = [
        place
        for place, text in enumerate(table.head)
        if text.strip() or any(row[place].strip() for row in table.rows)
    ]
    headings = [
        heading_of(unguarded(table.head[place]), columns, units) for place in places
    ]
    faults = _heading_faults(part, headings)
    rows = [
        Row(
            part=part,
            number=number,
            cells=[
                Cell(text=cells[place], heading=heading)
                for place, heading in zip(places, headings, strict=True)
            ],
            faults=[],
            entry={},
        )
        for number, cells in zip(table.numbers, table.rows, strict=True)
    ]
    how = Reading(
        units=units,
        decimal_comma=table.decimal_comma,
        comma_parts=table.separator == ",",
        zone=job.site.tz,
    )
    named = {
        "room": replace(how, ids=_ids(job.rooms), called=_called(job.rooms)),
        "recipe": replace(how, ids=_ids(job.recipes), called=_called(job.recipes)),
    }
    for row in rows:
        for cell in row.cells:
            _read_cell(row, cell, named, how)
    _settle(part, rows, job)
    if part == "rooms":
        _connect(rows, _ids(job.rooms))
    for row in rows:
        _check(row, part, job)
    with_new = _with_new(part, rows, job)
    if not faults and not any(row.is_wrong for row in rows):
        faults += _reference_faults(part, rows, job, with_new)
    for row in rows:
        row.state = WRONG if row.is_wrong else row.state
    return Sheet(
        part=part,
        headings=tuple(headings),
        rows=tuple(rows),
        faults=tuple(faults),
        job=with_new,
    )


def written_sheet(part: str, job: problem.Job) -> str:
    """The job's rooms or surfaces as a sheet that reads back as the same."""
    entries = write_job(job)[part]
    values = [[_at(entry, column.path) for column in PARTS[part]] for entry in entries]
    kept = [
        (place, column)
        for place, column in enumerate(PARTS[part])
        if column.needed
        or column.path in ("id", "name")
        or any(row[place] is not None for row in values)
    ]
    return sheet_text(
        [column.key for _, column in kept],
        [
            ["" if row[place] is None else column.kind.write(row[place])
             for place, column in kept]
            for row in values
        ],
    )  # fmt: skip


def empty_sheet(part: str, units: str) -> str:
    """The headings of a sheet to fill in, in plain words and the reader's units."""
    heads = []
    for column in PARTS[part]:
        unit = column.quantity.unit(units) if column.quantity else column.unit
        heads.append(f"{column.words[0]} ({unit})" if unit else column.words[0])
    return sheet_text(heads, [])


def _said(cell: Cell, column: Column, allowed: str) -> str:
    if allowed == REQUIRED:
        return "Empty: every row needs a value."
    in_unit = column.si and allowed.startswith(("a number", "a whole number"))
    unit = f" {column.si}" if in_unit else ""
    said = shown(cell.text) if cell.text.strip() else "Empty"
    return f"{said}: give {allowed}{unit}."


def _heading_faults(part: str, headings: Sequence[Heading]) -> list[str]:
    faults = [f"{head.text}: {head.fault}." for head in headings if head.fault]
    seen: dict[str, str] = {}
    for head in headings:
        if head.column is None:
            continue
        other = seen.setdefault(head.column.path, head.text)
        if other is not head.text:
            faults.append(f"{head.text}: {other} says the same; keep one of them.")
    for column in PARTS[part]:
        if column.needed and column.path not in seen:
            faults.append(
                f"{column.words[0]}: no column is called so; every row needs it."
            )
    return faults


def _read_cell(
    row: Row, cell: Cell, named: Mapping[str, Reading], how: Reading
) -> None:
    column, text = cell.heading.column, unguarded(cell.text)
    if column is None or cell.heading.fault or text == "":
        return
    how = replace(named.get(column.path, how), unit=cell.heading.unit)
    try:
        value = column.kind.read(text, how)
    except NotRead as why:
        cell.fault = f"{shown(text)}: give {why}."
    else:
        _put(row.entry, column.path, value)


def _settle(part: str, rows: Sequence[Row], job: problem.Job) -> None:
    """An id for each row: its own, that of the equal row in the job, or a new one."""
    stored = {entry.id: entry for entry in getattr(job, part)}
    given = {row.entry["id"] for row in rows if "id" in row.entry}
    taken = set(given)
    for row in rows:
        if "id" in row.entry:
            continue
        stem = row.entry.get("name") or row.entry.get("kind") or part.removesuffix("s")
        if part == "surfaces":
            room = str(row.entry.get("room", ""))
            named = str(stem).casefold()
            stem = stem if named.startswith(room.casefold()) else f"{room} {stem}"
        passed: set[str] = set()
        while True:
            key = free_id(str(stem), part.removesuffix("s"), taken | passed)
            old = stored.get(key)
            if old is None or _value(part, row.entry | {"id": key}) == old:
                break
            passed.add(key)
        row.entry["id"] = key
        taken.add(key)


def _connect(rows: Sequence[Row], ids: dict[str, str]) -> None:
    """The ids of the rooms next to each other, those of the same sheet among them."""
    entries = [row.entry for row in rows]
    new = {str(entry.get("name", "")).casefold(): entry["id"] for entry in entries}
    known = new | ids | {entry["id"]: entry["id"] for entry in entries}
    for entry in entries:
        if "connected" in entry:
            entry["connected"] = [
                known.get(name, known.get(name.casefold(), name))
                for name in entry["connected"]
            ]


def _check(row: Row, part: str, job: problem.Job) -> None:
    """The row's value by the format's own checks, and whether the job has it."""
    try:
        row.value = read_entry(part, row.entry)
    except BadInput as error:
        for fault in error.faults:
            row.refuse(fault.path, fault.allowed)
        return
    if row.is_wrong:
        return
    old = next((old for old in getattr(job, part) if old.id == row.value.id), None)
    if old is None:
        return
    if old == row.value:
        row.state = IN
        return
    allowed = f"another id, or leave the row out: {old.name or old.id} has it already"
    row.refuse("id", allowed + ", with other values")


def _with_new(part: str, rows: Iterable[Row], job: problem.Job) -> problem.Job:
    new = [row.value for row in rows if row.state == NEW and row.value is not None]
    changes: dict[str, Any] = {part: (*getattr(job, part), *new)}
    return replace(job, **changes)


def _reference_faults(
    part: str, rows: Sequence[Row], job: problem.Job, with_new: problem.Job
) -> list[str]:
    """Names that lead nowhere and ids used twice; what has no row is given back."""
    new = [row for row in rows if row.state == NEW]
    seen: set[str] = set()
    for row in rows:
        if row.value.id in seen:
            row.refuse("id", "an id used only once")
        seen.add(row.value.id)
    first, others = len(getattr(job, part)), []
    for fault in reference_faults(with_new):
        place = re.match(rf"{part}\[(\d+)\]\.?", fault.path)
        if place is not None and int(place[1]) >= first:
            row = new[int(place[1]) - first]
            row.refuse(fault.path[place.end() :], _names_not_ids(fault, job))
        else:
            others.append(f"{fault.path}: {shown(fault.value)}: {fault.allowed}.")
    return others


def _names_not_ids(fault: Fault, job: problem.Job) -> str:
    """A list of known ids, told by the names that people know."""
    names = {entry.id: entry.name for entry in (*job.rooms, *job.recipes) if entry.name}
    head, _, listed = fault.allowed.partition("one of ")
    if head or not listed:
        return fault.allowed
    return "one of " + "; ".join(names.get(key, key) for key in listed.split(", "))


def _value(part: str, entry: Json) -> Any:
    try:
        return read_entry(part, entry)
    except BadInput:
        return None


def _called(entries: Iterable[Any]) -> tuple[str, ...]:
    """What they may be called here: by the id where others have the name too."""
    by_name = _ids(entries)
    names = [(entry.name or entry.id, entry.id) for entry in entries]
    return tuple(
        name if by_name.get(name.strip().casefold()) == key else key
        for name, key in names
    )


def _ids(entries: Iterable[Any]) -> dict[str, str]:
    """Ids by themselves and by name in small letters, but by no name that two share."""
    found: dict[str, str] = {}
    twice: set[str] = set()
    for entry in entries:
        name = (entry.name or entry.id).strip().casefold()
        if name in found:
            twice.add(name)
        found[name] = entry.id
    named = {name: key for name, key in found.items() if name not in twice}
    return named | {entry.id: entry.id for entry in entries}


def _at(entry: Json, path: str) -> Any:
    value: Any = entry
    for key in path.split("."):
        value = value.get(key) if isinstance(value, dict) else None
    return value


def _put(entry: Json, path: str, value: Any) -> None:
    *above, key = path.split(".")
    for name in above:
        entry = entry.setdefault(name, {})
    entry[key] = value
