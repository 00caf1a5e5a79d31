"""Sheets of rooms and surfaces: what their cells mean, and what is said of bad ones."""

import csv
import io
import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.demo_job import marram_house
from jobs.factories import (
    MONDAY,
    RecipeFactory,
    RoomFactory,
    SiteFactory,
    small_job,
)
from jobs.sheet_columns import PARTS
from jobs.sheet_file import table_of
from jobs.sheet_reading import IN, NEW, Sheet, empty_sheet, read_sheet, written_sheet
from scheduling.errors import BadInput
from scheduling.job_file import job_schema, read_job, write_job
from scheduling.problem import Job, TypicalAir
from tests.scheduling.test_job_file import drawn_jobs

METRIC, US = "metric", "us"
SURFACE = {"room": "room", "kind": "wall", "width": "5", "height": "2.5",
           "recipe": "recipe"}  # fmt: skip
ROOM = {
    "name": "Snug",
    "volume": "40",
    "air changes": "0.5",
    "day": "20",
    "night": "17",
}
AIRED = small_job(
    site=SiteFactory(
        typical_air=(TypicalAir(start="00:00", temperature_c=12.0, humidity_pct=80.0),)
    )
)


def sheet(
    *rows: dict[str, str], part: str = "surfaces", job: Job = AIRED,
    units: str = METRIC, separator: str = ",",
) -> Sheet:  # fmt: skip
    out = io.StringIO()
    heads = list(dict.fromkeys(head for row in rows for head in row))
    writer = csv.DictWriter(out, heads, delimiter=separator)
    writer.writeheader()
    writer.writerows(rows)
    return read_sheet(table_of(out.getvalue()), part, job, units)


def only(sheet: Sheet) -> Any:
    assert said(sheet) == []
    (row,) = sheet.rows
    return row.value


def said(sheet: Sheet) -> list[str]:
    """Everything that is wrong."""
    cells = [cell.fault for row in sheet.rows for cell in row.cells if cell.fault]
    rows = [fault for row in sheet.rows for fault in row.faults]
    found = [*sheet.faults, *rows, *cells]
    assert len(found) == sheet.wrong
    return found


def bare(job: Job, part: str) -> Job:
    """The job before that sheet came in."""
    gone: dict[str, Any] = {
        part: (),
        "surfaces": (),
        "coats": (),
        "pins": (),
        "bans": (),
    }
    return replace(job, **gone, dates=(), readings=(), moisture=())


# There and back --------------------------------------------------------------------


@settings(max_examples=60)
@given(drawn_jobs(), st.sampled_from([METRIC, US]))
def test_a_written_sheet_reads_back_as_the_same(
    written: dict[str, Any], units: str
) -> None:
    job = read_job(written)
    for part in PARTS:
        read = read_sheet(
            table_of(written_sheet(part, job)), part, bare(job, part), units
        )
        assert said(read) == []
        assert getattr(read.job, part) == getattr(job, part)


@given(
    st.text(
        st.characters(exclude_categories=["Cs"], min_codepoint=32), min_size=1,
        max_size=200,
    )
    | st.from_regex(r"\A[=+@'-] ?[A-Z(]{0,5} ?\Z")
)  # fmt: skip
def test_any_name_comes_back_and_none_runs(name: str) -> None:
    job = small_job(rooms=(RoomFactory(id="room", name=name),))
    text = written_sheet("rooms", job)
    for row in csv.reader(io.StringIO(text, newline="")):
        for cell in row:
            assert not cell.startswith(tuple("=+-@\t\r")) or re.fullmatch(
                r"-?\d+(\.\d+)?", cell
            )
    read = read_sheet(table_of(text), "rooms", bare(job, "rooms"), METRIC)
    assert read.job.rooms == job.rooms


def test_a_sheet_saved_again_with_decimal_commas_reads_the_same() -> None:
    job = marram_house(MONDAY.date())
    for part in PARTS:
        out = io.StringIO()
        writer = csv.writer(out, delimiter=";")
        for row in csv.reader(io.StringIO(written_sheet(part, job))):
            number = re.compile(r"(\d+)\.(\d+)")
            writer.writerow(
                number.sub(r"\1,\2", cell) if number.fullmatch(cell) else cell
                for cell in row
            )
        read = read_sheet(table_of(out.getvalue()), part, bare(job, part), US)
        assert said(read) == []
        assert getattr(read.job, part) == getattr(job, part)


def test_a_sheet_that_is_in_already_adds_nothing() -> None:
    job = marram_house(MONDAY.date())
    for part in PARTS:
        read = read_sheet(table_of(written_sheet(part, job)), part, job, METRIC)
        assert (said(read), read.new) == ([], 0)
        assert read.known == len(getattr(job, part))


@pytest.mark.parametrize("units", [METRIC, US])
@pytest.mark.parametrize("part", list(PARTS))
def test_every_heading_of_an_empty_sheet_is_known(part: str, units: str) -> None:
    table = table_of(empty_sheet(part, units) + "x\n")
    read = read_sheet(table, part, small_job(), units)
    assert read.left_out == []
    assert [head.column for head in read.headings] == list(PARTS[part])
    assert read.faults == ()


@pytest.mark.parametrize("part", list(PARTS))
def test_every_key_of_the_format_has_a_column_and_no_heading_two(part: str) -> None:
    keys = job_schema()["properties"][part]["items"]["properties"]
    assert {column.path.partition(".")[0] for column in PARTS[part]} == set(keys)
    headings = [word for column in PARTS[part] for word in column.headings]
    assert len(headings) == len(set(headings))


# What cells mean --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("heading", "text", "units", "width_m"),
    [
        ("width_m", "2.5", US, 2.5),
        ("Width", "2.5", METRIC, 2.5),
        ("WIDTH", "10", US, 3.048),
        ("width (ft)", "10", METRIC, 3.048),
        ("width [cm]", "250", US, 2.5),
        ("width (feet)", "8 1/2", METRIC, 2.5908),
        ("width", "8'6\"", METRIC, 2.5908),
        ("width (ft)", "2.6 m", US, 2.6),
        ("width", "1/2", METRIC, 0.5),
        ("width", "2.5e0", METRIC, 2.5),
        ("width", "\u00a02.5 ", METRIC, 2.5),
    ],
)
def test_a_length_is_in_its_own_unit_its_headings_or_the_readers(
    heading: str, text: str, units: str, width_m: float
) -> None:
    row = {head: cell for head, cell in SURFACE.items() if head != "width"}
    surface = only(sheet(row | {heading: text}, units=units))
    assert surface.width_m == pytest.approx(width_m, rel=1e-12)


def test_degrees_are_the_readers_or_the_headings() -> None:
    read = sheet(ROOM | {"day": "68", "night": "14 C"}, part="rooms", units=US)
    assert only(read).air.day_c == pytest.approx(20)
    assert only(read).air.night_c == pytest.approx(14)
    row = {
        "night (°F)" if head == "night" else head: cell for head, cell in ROOM.items()
    }
    assert only(sheet(row | {"night (°F)": "50"}, part="rooms")).air.night_c == (
        pytest.approx(10)
    )


@pytest.mark.parametrize("minus", ["-", "−", "'-"])
def test_a_minus_is_read_however_it_was_typed(minus: str) -> None:
    assert only(sheet(ROOM | {"night": f"{minus}5"}, part="rooms")).air.night_c == -5


def test_a_comma_is_the_decimal_sign_where_it_parts_no_cells() -> None:
    row = SURFACE | {"width": "1,200", "height": "2,5 m"}
    surface = only(sheet(row, separator=";"))
    assert (surface.width_m, surface.height_m) == (1.2, 2.5)


@pytest.mark.parametrize(
    ("separator", "width", "height"), [(",", "1,200", "2.5"), (";", "1.200", "2,5")]
)
def test_a_number_that_could_mean_two_is_refused(
    separator: str, width: str, height: str
) -> None:
    row = SURFACE | {"width": width, "height": height}
    (fault,) = said(sheet(row, separator=separator))
    assert "could mean both" in fault


def test_rooms_and_recipes_go_by_name_or_id() -> None:
    job = replace(
        AIRED,
        rooms=(RoomFactory(id="r-1", name="Long room"), RoomFactory(id="long-room-2")),
        recipes=(RecipeFactory(id="two", name="Two coats"),),
        surfaces=(),
    )
    for room, key in (("LONG room", "r-1"), ("r-1", "r-1"), ("long-room-2",) * 2):
        row = SURFACE | {"room": room, "recipe": "two coats"}
        surface = only(sheet(row, job=job))
        assert (surface.room, surface.recipe) == (key, "two")


def test_a_name_that_two_rooms_have_is_asked_for_by_id() -> None:
    twice = (RoomFactory(id="a", name="Bed"), RoomFactory(id="b", name="Bed"))
    job = replace(AIRED, rooms=twice, surfaces=())
    assert said(sheet(SURFACE | {"room": "bed"}, job=job)) == [
        '"bed": give one of a; b.'
    ]
    assert only(sheet(SURFACE | {"room": "b"}, job=job)).room == "b"


def test_rooms_of_one_sheet_may_lie_next_to_each_other() -> None:
    rows = (ROOM | {"doors to": "Landing; room"}, ROOM | {"name": "Landing"})
    snug, landing = sheet(*rows, part="rooms").rows
    assert snug.value.connected == ("landing", "room")
    assert landing.value.id == "landing"


def test_lists_hours_moments_and_flags_are_read_as_people_write_them() -> None:
    room = only(
        sheet(
            ROOM
            | {
                "access": "mon-fri 08:00-16:30; sat 09:00-12:00",
                "hand back": "2026-10-16 12:00",
                "any order": "Yes",
            },
            part="rooms",
        )
    )
    assert [(rule.days, rule.start) for rule in room.access] == [
        ("mon-fri", "08:00"),
        ("sat", "09:00"),
    ]
    assert room.hand_back.isoformat() == "2026-10-16T12:00:00+01:00"
    assert room.any_order is True
    surface = only(sheet(SURFACE | {"stop lines (ft)": "5; 10 ft"}, units=METRIC))
    assert surface.stop_lines_m == pytest.approx((1.524, 3.048))


# Ids --------------------------------------------------------------------------------


def test_ids_are_made_from_room_and_name_and_never_meet() -> None:
    rows = [SURFACE | {"name": name} for name in ("North", "North", "Room east", "")]
    read = sheet(*rows, job=replace(AIRED, surfaces=()))
    assert [row.value.id for row in read.rows] == [
        *("room-north", "room-north-2", "room-east", "room-wall"),
    ]


def test_rows_without_ids_come_in_once_however_often_they_are_handed_in() -> None:
    rows = [SURFACE | {"name": name} for name in ("North", "North", "")]
    first = sheet(*rows, job=replace(AIRED, surfaces=()))
    again = sheet(*rows, job=first.job)
    assert {row.state for row in first.rows} == {NEW}
    assert {row.state for row in again.rows} == {IN}
    assert again.job == first.job


def test_an_id_that_the_job_has_with_other_values_is_named() -> None:
    job = small_job()
    (fault,) = said(sheet(SURFACE | {"id": "wall", "width": "6"}, job=job))
    assert fault == (
        '"wall": give another id, or leave the row out: '
        "wall has it already, with other values."
    )


def test_an_id_twice_in_a_sheet_is_named() -> None:
    rows = (SURFACE | {"id": "a"}, SURFACE | {"id": "a", "width": "6"})
    assert said(sheet(*rows)) == ['"a": give an id used only once.']


# What cannot be ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cells", "fault"),
    [
        ({"width": "0"}, '"0": give a number above 0, at most 1000 m.'),
        ({"width": "9" * 400}, "give a length such as"),
        ({"width": "1e999"}, "give a number above 0, at most 1000 m."),
        ({"width": "nan"}, '"nan": give a length such as'),
        ({"width": "٣"}, "give a length such as"),
        ({"width": ""}, "Empty: every row needs a value."),
        ({"width": "=2+2"}, '"=2+2": give a length'),
        ({"width": "-5"}, '"-5": give a number above 0, at most 1000 m.'),
        ({"kind": "rug"}, '"rug": give one of ceiling, wall, panel'),
        ({"room": "attic"}, '"attic": give one of room.'),
        ({"recipe": "gilding"}, '"gilding": give one of recipe.'),
        ({"outside": "maybe"}, '"maybe": give yes or no.'),
        ({"openings": "40"}, "give less than width times height, which is 12.5."),
        ({"stop lines": "3; 1"}, "give rising, between 0 and the width of 5."),
        ({"sun": "all day"}, "give hours such as mon-fri 08:00-16:30"),
        ({"gates": "[{"}, "give text as in a job file"),
        ({"gates": '[{"name": "x"}]'}, "give not_before, not_after or both."),
        ({"name": "two\nlines"}, "give text of 1 to 200 characters."),
        ({"id": "Wall One"}, '"Wall One": give 1 to 40 of a-z, 0-9 and -.'),
        ({"width (stone)": "3"}, "width (stone): stone: give one of m, cm"),
        ({"width_m": "5"}, "width_m: width says the same"),
    ],
)
def test_what_cannot_be_is_said_beside_its_cell(
    cells: dict[str, str], fault: str
) -> None:
    row = SURFACE | cells
    if "width (stone)" in cells:
        del row["width"]
    (found,) = said(sheet(row))
    assert fault in found


def test_every_bad_cell_is_told_at_once() -> None:
    read = sheet(SURFACE | {"width": "x"}, SURFACE | {"height": "y", "kind": "z"})
    assert len(said(read)) == 3
    assert [row.is_wrong for row in read.rows] == [True, True]


def test_a_missing_column_is_told_once_and_not_row_by_row() -> None:
    row = {head: cell for head, cell in SURFACE.items() if head != "height"}
    assert said(sheet(row, row)) == [
        "height: no column is called so; every row needs it."
    ]


def test_a_room_without_its_air_is_told_what_it_needs() -> None:
    (fault,) = said(sheet({"name": "Snug", "volume": "40"}, part="rooms"))
    assert fault.startswith("air changes an hour, temperature by day, temperature by")


def test_heated_rooms_need_an_outdoor_air_in_the_job() -> None:
    (fault,) = said(sheet(ROOM, part="rooms", job=small_job()))
    assert fault.startswith("outdoors: []: at least one hour, since room snug")


def test_a_column_called_like_none_stays_out_and_is_named() -> None:
    read = sheet(SURFACE | {"Colour": "blue", "": "x"})
    assert read.left_out == ["Colour", "(none)"]
    assert said(read) == []


def test_a_huge_sheet_of_nonsense_is_read_in_a_moment() -> None:
    heads = list(SURFACE)
    text = "\n".join([",".join(heads), *[",".join(["9e99999,"[:7]] * 5)] * 1000])
    read = read_sheet(table_of(text), "surfaces", AIRED, METRIC)
    assert len(read.rows) == 1000
    assert read.wrong >= 3000


@settings(max_examples=150)
@given(
    st.lists(st.sampled_from([*SURFACE, "id", "gates", "sun", "stop lines"]) | st.text(
        max_size=8), min_size=1, max_size=6),
    st.lists(
        st.lists(
            st.sampled_from(
                ["", "5", "-5", "1e400", "=A1", "room", "[[[", "8'6\"", "\0", "−3",
                 "{}", "null", "[1]", "mon-sun 24:00-00:00"]
            )
            | st.text(max_size=10),
            min_size=1, max_size=6,
        ),
        min_size=1, max_size=4,
    ),
    st.sampled_from(list(PARTS)),
)  # fmt: skip
def test_no_sheet_breaks_the_reading_and_a_bad_one_adds_nothing_unsound(
    heads: list[str], rows: list[list[str]], part: str
) -> None:
    out = io.StringIO()
    csv.writer(out).writerows([heads, *(row[: len(heads)] for row in rows)])
    try:
        read = read_sheet(table_of(out.getvalue()), part, AIRED, METRIC)
    except BadInput:
        return
    if not read.wrong:
        assert read_job(write_job(read.job)) == read.job
