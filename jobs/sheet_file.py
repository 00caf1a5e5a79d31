"""Sheets as spreadsheet programs keep them: comma-separated bytes <-> rows of cells.

Knows nothing of rooms or surfaces. A file that is no sheet, or too large a one, is a
BadInput; what the cells mean is read elsewhere.
"""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scheduling.errors import BadInput, bad

# Assumed: forty rooms of eight surfaces are a large hotel; three times that is a slip.
MOST_BYTES = 300_000
MOST_ROWS = 1_000
MOST_COLUMNS = 60
SEPARATORS = (",", ";", "\t")  # of equals the first one counts
BOM = "\ufeff"

# A cell that begins so is a formula to one spreadsheet program or another; the wide
# signs are what East Asian keyboards type. The apostrophe marks a cell as text.
_RUNS = tuple("=+-@\t\r\n＝＋－＠")
_MARK = "'"
_NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?(e[+-]?[0-9]+)?")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
_SEPARATOR_LINE = re.compile(r"sep=(.)\r?\n", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A sheet's cells as they stand in the file, by row; blank rows are left out.

    ``numbers`` are the rows' own in the sheet, from 1 with the head. With
    ``decimal_comma`` a comma in a number is its decimal sign and a point may part
    thousands.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...]
    separator: str
    decimal_comma: bool


def text_of(content: bytes, name: str) -> str:
    """A sheet's text, UTF-8 or Windows-1252; BadInput where it is neither."""
    if len(content) > MOST_BYTES:
        raise bad("file", name, f"a sheet of at most {MOST_BYTES // 1000} kB")
    if b"\0" in content:
        allowed = "text: save the sheet as CSV, in UTF-8 where it asks"
        raise bad("file", name, allowed)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        pass
    try:
        return content.decode("cp1252")
    except UnicodeDecodeError as error:
        allowed = f"text in UTF-8 or Windows-1252 (byte {error.start + 1} is neither)"
        raise bad("file", name, allowed) from None


def table_of(text: str, name: str = "sheet") -> Table:
    """The cells of a sheet's text; BadInput says in which line it goes wrong."""
    if len(text.encode("utf-8", "replace")) > MOST_BYTES:
        raise bad("file", name, f"a sheet of at most {MOST_BYTES // 1000} kB")
    text = text.removeprefix(BOM)
    told = _SEPARATOR_LINE.match(text)
    skipped = 0
    if told is not None:
        text, skipped = text[told.end() :], 1
    separator = told[1] if told is not None else _separator(text)
    if separator not in SEPARATORS:
        raise bad("file", name, "cells with a comma, a semicolon or a tab between")
    found = list(_rows(text, separator, name, skipped))
    if not found:
        raise bad("file", name, "a sheet with a row of headings and rows under it")
    (_, head), *rows = found
    if len(head) > MOST_COLUMNS:
        raise bad("file", name, f"at most {MOST_COLUMNS} columns, not {len(head)}")
    if not rows:
        raise bad("file", name, "at least one row under the headings")
    for number, row in rows:
        if len(row) > len(head) and any(cell.strip() for cell in row[len(head) :]):
            allowed = f"no more cells than the {len(head)} headings"
            raise bad("file", name, f"{allowed} (line {number} has {len(row)})")
    cells = [cell.strip() for _, row in rows for cell in row]
    return Table(
        head=tuple(head),
        rows=tuple(
            (*row[: len(head)], *[""] * (len(head) - len(row))) for _, row in rows
        ),
        numbers=tuple(number for number, _ in rows),
        separator=separator,
        decimal_comma=separator != ","
        and any(_DECIMAL_COMMA.fullmatch(cell) for cell in cells),
    )


def sheet_text(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Comma-separated text that no spreadsheet program takes a formula from."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([guarded(cell) for cell in head])
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    return out.getvalue()


def guarded(cell: str) -> str:
    """The cell, behind an apostrophe where it could run or lose its blanks."""
    if _NUMBER.fullmatch(cell) is not None:
        return cell  # a number runs nothing, and stays one
    at_risk = cell.startswith((*_RUNS, _MARK)) or cell != cell.strip()
    return _MARK + cell if at_risk else cell


def unguarded(cell: str) -> str:
    """What a cell says: without an apostrophe of ours, else without outer blanks."""
    rest = cell.removeprefix(_MARK)
    marked = rest != cell and (rest.startswith((*_RUNS, _MARK)) or rest != rest.strip())
    if marked:
        return rest
    return cell.strip()


def _separator(text: str) -> str:
    """What stands between the headings most often, quoted text left out."""
    head = next((line for line in text.splitlines() if line.strip()), "")
    bare = re.sub(r'"[^"]*"', "", head)
    return max(SEPARATORS, key=bare.count)  # the first of equals


def _rows(
    text: str, separator: str, name: str, skipped: int
) -> Iterable[tuple[int, list[str]]]:
    """Each row that is not blank, with the number of the line it ends on."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    count = 0
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise _broken(name, reader.line_num + skipped, error) from None
        if any(cell.strip() for cell in row):
            count += 1
            if count > MOST_ROWS + 1:
                raise bad("file", name, f"at most {MOST_ROWS} rows under the headings")
            yield reader.line_num + skipped, row


def _broken(name: str, line: int, error: csv.Error) -> BadInput:
    why = str(error)
    if "end of data" in why:
        why = "a quotation mark is never closed"
    elif "expected after" in why:
        why = "text goes on after a closing quotation mark"
    elif "field larger" in why:
        why = "a cell is too long"
    return bad("file", name, f"a sheet that can be read (line {line}: {why})")
