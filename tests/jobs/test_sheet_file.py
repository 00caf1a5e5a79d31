"""Sheets as files: what spreadsheet programs write, and what nobody should hand in."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.sheet_file import (
    BOM,
    MOST_BYTES,
    MOST_COLUMNS,
    MOST_ROWS,
    guarded,
    sheet_text,
    table_of,
    text_of,
    unguarded,
)
from scheduling.errors import BadInput

# Signs by which spreadsheet programs tell a formula: OWASP, CSV injection; the wide
# ones are what an East Asian keyboard types.
RUNS = "=+-@\t\r\n＝＋－＠"
cells = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12
)


@pytest.mark.parametrize(
    ("separator", "decimal_comma"), [(",", False), (";", True), ("\t", True)]
)
def test_what_stands_between_the_cells_is_seen_from_the_headings(
    separator: str, decimal_comma: bool
) -> None:
    rows = [["name", "width"], ["a, b; c", "2,5"]]
    out = io.StringIO()
    csv.writer(out, delimiter=separator).writerows(rows)
    table = table_of(out.getvalue())
    assert table.separator == separator
    assert table.rows == (("a, b; c", "2,5"),)
    assert table.decimal_comma is decimal_comma


def test_quoted_headings_do_not_count_towards_it() -> None:
    assert table_of('"width, m, of all";height\n1;2\n').separator == ";"


def test_a_line_that_names_the_separator_counts() -> None:
    table = table_of("sep=;\nname, in full;width\nhall;2\n")
    assert table.head == ("name, in full", "width")
    assert table.numbers == (3,)


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_lines_may_end_as_any_system_ends_them(ending: str) -> None:
    table = table_of(ending.join(["name,width", "hall,2", "", ",", "snug,3", ""]))
    assert table.rows == (("hall", "2"), ("snug", "3"))
    assert table.numbers == (2, 5)


def test_a_short_row_is_filled_up_and_blank_cells_past_the_end_are_nothing() -> None:
    table = table_of("name,width\nhall\nsnug,2,,\n")
    assert table.rows == (("hall", ""), ("snug", "2"))


@pytest.mark.parametrize(
    "content",
    ["name,width\nCafé,2\n".encode(), (BOM + "name,width\nCafé,2\n").encode(),
     "name,width\nCafé,2\n".encode("cp1252")],
)  # fmt: skip
def test_accents_are_read_as_either_kind_of_system_writes_them(content: bytes) -> None:
    assert table_of(text_of(content, "a.csv")).rows == (("Café", "2"),)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"name,width\nha\0ll,2\n", "text: save the sheet as CSV"),
        ("name\nhall\n".encode("utf-16"), "text: save the sheet as CSV"),
        (b"\x81\x8d\x8f", "byte 1 is neither"),
        (b"a" * (MOST_BYTES + 1), "at most 300 kB"),
    ],
)
def test_bytes_that_are_no_sheet_are_refused(content: bytes, why: str) -> None:
    with pytest.raises(BadInput, match=why):
        text_of(content, "a.csv")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "a row of headings"),
        ("\n\n , \n", "a row of headings"),
        ("name,width\n", "at least one row"),
        ('name,width\n"hall,2\nsnug,3\n', "a quotation mark is never closed"),
        ('name,width\n"hall"x,2\n', "line 2: text goes on after a closing quotation"),
        (f"name\n{'a' * 200_000}\n", "line 2: a cell is too long"),
        (",".join(["width"] * 100_000), f"at most {MOST_COLUMNS} columns, not 100000"),
        ("name\n" + "a\n" * (MOST_ROWS + 1), f"at most {MOST_ROWS} rows"),
        ("name,width\nhall,2,3\n", "no more cells than the 2 headings .line 2 has 3"),
        ("sep=x\nnamexwidth\n1x2\n", "a comma, a semicolon or a tab"),
        ("é" * MOST_BYTES, "at most 300 kB"),
    ],
)  # fmt: skip
def test_text_that_is_no_sheet_is_refused_with_its_line(text: str, why: str) -> None:
    if len(text) > MOST_BYTES and not text.startswith("é"):
        text = text[:MOST_BYTES]
        why = why.replace("100000", str(text.count(",") + 1))
    with pytest.raises(BadInput, match=why):
        table_of(text)


@given(st.text(max_size=200))
def test_any_text_is_a_table_or_refused(text: str) -> None:
    try:
        table = table_of(text)
    except BadInput:
        return
    assert all(len(row) == len(table.head) for row in table.rows)


@given(cells)
def test_a_cell_never_runs_and_reads_back_as_it_was(cell: str) -> None:
    written = guarded(cell)
    assert not written.startswith(tuple(RUNS)) or float(written) is not None
    assert unguarded(written) == cell


@pytest.mark.parametrize("sign", list(RUNS))
def test_a_formula_is_kept_as_text(sign: str) -> None:
    cell = f'{sign}HYPERLINK("http://elsewhere.example")'
    assert guarded(cell) == "'" + cell


def test_a_number_below_zero_stays_a_number() -> None:
    assert guarded("-5") == "-5"
    assert guarded("-5+cmd") == "'-5+cmd"


@given(
    st.lists(st.lists(cells, min_size=2, max_size=2), min_size=1, max_size=5).filter(
        lambda rows: all(any(guarded(cell).strip() for cell in row) for row in rows)
    )
)
def test_what_is_written_reads_back_cell_by_cell(rows: list[list[str]]) -> None:
    table = table_of(BOM + sheet_text(["one", "two"], rows))
    assert [[unguarded(cell) for cell in row] for row in table.rows] == rows
