"""Reads a logger's CSV file: finds its separator, its columns and how it writes dates.

One way of writing dates for the whole file: where rows differ, or day and month could
be either, the rows are named and the person is asked; nothing is guessed row by row.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from django.core.exceptions import ValidationError

from jobs.measures import NotAMeasure, number_of
from jobs.weather.hours import Row
from scheduling.errors import shown
from scheduling.psychrometrics import celsius_from_fahrenheit

MOST_BYTES = 4_000_000
MOST_ROWS = 20_000  # Assumed: two weeks by the minute
ROWS_NAMED = 6
SEPARATORS = ";\t,|"

# What loggers call their columns, longest match first (from memory of common exports).
NAMES = {
    "dew_point_c": ("dew point", "dewpoint", "dew"),
    "humidity_pct": ("relative humidity", "humidity", "rel. hum", "%rh", "rh"),
    "temperature_c": ("temperature", "temp", "celsius", "fahrenheit", "°c", "°f"),
    "wind_m_s": ("wind speed", "wind"),
    "at": ("timestamp", "date time", "date/time", "datetime", "date", "time", "moment"),
}
DAY_FIRST, MONTH_FIRST = "day", "month"
_CLOCKS = ("%H:%M:%S", "%H:%M", "%I:%M:%S %p", "%I:%M %p")
_DATES = {
    "year-month-day": ("%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d"),
    "day/month/year": ("%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y", "%d/%m/%y", "%d.%m.%y"),
    "month/day/year": ("%m/%d/%Y", "%m-%d-%Y", "%m/%d/%y"),
}
_EITHER = {"day/month/year": DAY_FIRST, "month/day/year": MONTH_FIRST}


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggerFile:
    """The rows of a file in its order, each with its line, and what was made of it."""

    rows: tuple[tuple[int, Row], ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Line:
    number: int
    cells: list[str]


def read_logger(
    text: str,
    *,
    zone: tzinfo | None,
    order: str = "",
    fahrenheit: bool = False,
) -> LoggerFile:
    """The rows of a logger's text.

    ``zone`` is whose clock moments without an offset are on; ``order`` says whether the
    day or the month comes first where it could be either; ``fahrenheit`` holds where a
    temperature's column does not name its unit. A ValidationError stands at ``text``,
    ``zone`` or ``order`` and names the rows.
    """
    header, lines = _lines(text)
    columns = _columns(header)
    notes = [_columns_note(header, columns)]
    stamps = [_stamp(line, header, columns["at"]) for line in lines]
    moments = _moments(lines, stamps, zone, order)
    warm = header[columns["temperature_c"]]
    in_f = _in_fahrenheit(warm, fahrenheit)
    if _in_fahrenheit(warm, True) != _in_fahrenheit(warm, False):
        unit = "°F" if in_f else "°C"
        notes.append(f"The column {shown(warm)} names no unit: read as {unit}.")
    wrong: list[str] = []
    rows = []
    for line, at in zip(lines, moments, strict=True):
        values: dict[str, float] = {}
        for name, column in columns.items():
            cell = line.cells[column].strip() if column < len(line.cells) else ""
            if name == "at" or not cell:
                continue
            try:
                values[name] = _number(cell)
            except NotAMeasure:
                wrong.append(
                    f"Row {line.number}, {header[column]}: {shown(cell)}: "
                    "give a number."
                )
        missing = {"temperature_c"} - values.keys()
        if not missing and not values.keys() & {"humidity_pct", "dew_point_c"}:
            missing = {"humidity_pct"}
        if missing or len(wrong) > ROWS_NAMED:
            continue  # a logger's hole, or told already
        if in_f:
            for name in values.keys() & {"temperature_c", "dew_point_c"}:
                values[name] = float(celsius_from_fahrenheit(values[name]))
        rows.append((line.number, Row(at=at, **values)))
    if wrong:
        raise ValidationError({"text": _first(wrong)})
    left_out = len(lines) - len(rows)
    if not rows:
        raise ValidationError({"text": "No row has both a temperature and a humidity."})
    if left_out:
        notes.append(f"{left_out} of {len(lines)} rows lack a value and are left out.")
    return LoggerFile(rows=tuple(rows), notes=tuple(notes))


def _lines(text: str) -> tuple[list[str], list[_Line]]:
    """The header and the rows below it, numbered as an editor numbers them."""
    if "\x00" in text:
        raise ValidationError({"text": "This is no text: give a CSV file."})
    first = next((line for line in text.splitlines() if line.strip()), "")
    separator = max(SEPARATORS, key=first.count)
    if not first.count(separator):
        allowed = (
            "columns parted by a semicolon, a comma or a tab, named in the first row"
        )
        raise ValidationError({"text": f"{shown(first)}: give {allowed}."})
    try:
        reader = csv.reader(io.StringIO(text.lstrip("\ufeff")), delimiter=separator)
        found = [
            _Line(reader.line_num, cells)
            for cells in reader
            if any(map(str.strip, cells))
        ]
    except csv.Error as error:
        raise ValidationError({"text": f"Not a CSV file: {error}."}) from None
    if len(found) < 2:
        message = "Only one row: give the columns' names, and rows below them."
        raise ValidationError({"text": message})
    if len(found) > MOST_ROWS + 1:
        message = f"{len(found) - 1} rows: give at most {MOST_ROWS}."
        raise ValidationError({"text": message})
    return [cell.strip() for cell in found[0].cells], found[1:]


def _columns(header: Sequence[str]) -> dict[str, int]:
    """Which column holds what; ValidationError names what is missing."""
    found: dict[str, int] = {}
    for name, words in NAMES.items():
        taken = set(found.values())
        for word in words:
            place = next(
                (
                    place
                    for place, cell in enumerate(header)
                    if place not in taken and word in cell.casefold()
                ),
                None,
            )
            if place is not None:
                found[name] = place
                break
    wanted = {"at": "a time", "temperature_c": "a temperature"}
    missing = [text for name, text in wanted.items() if name not in found]
    if "humidity_pct" not in found and "dew_point_c" not in found:
        missing.append("a humidity or a dew point")
    if missing:
        names = ", ".join(filter(None, header))
        message = f"The first row names {names}: no column for {' and '.join(missing)}."
        raise ValidationError({"text": message})
    return found


def _columns_note(header: Sequence[str], columns: dict[str, int]) -> str:
    words = {
        "at": "time",
        "temperature_c": "temperature",
        "humidity_pct": "humidity",
        "dew_point_c": "dew point",
        "wind_m_s": "wind",
    }
    read = [f"{words[name]} from {header[place]}" for name, place in columns.items()]
    return f"Read: {', '.join(read)}."


def _stamp(line: _Line, header: Sequence[str], column: int) -> str:
    """A row's day and time, from one column or from a date's and a time's."""
    cells = [*line.cells, *[""] * len(header)]
    stamp = cells[column].strip()
    after = header[column + 1].casefold() if column + 1 < len(header) else ""
    apart = "date" in header[column].casefold() and after.startswith("time")
    return f"{stamp} {cells[column + 1].strip()}" if apart else stamp


def _moments(
    lines: Sequence[_Line], stamps: Sequence[str], zone: tzinfo | None, order: str
) -> list[datetime]:
    ways = {name: [_read(stamp, name) for stamp in stamps] for name in _DATES}
    whole = [name for name, read in ways.items() if all(read)]
    if not whole:
        raise ValidationError({"text": _mixed(lines, stamps, ways)})
    if len(whole) > 1 and ways[whole[0]] != ways[whole[1]]:
        wanted = [name for name in whole if _EITHER.get(name) == order]
        if not wanted:
            message = f"{shown(stamps[0])}: say whether day or month comes first."
            raise ValidationError({"order": message})
        whole = wanted
    read = [moment for moment in ways[whole[0]] if moment is not None]
    if any(moment.tzinfo is None for moment in read):
        if zone is None:
            message = f"{shown(stamps[0])} does not say by which clock: choose one."
            raise ValidationError({"zone": message})
        return list(_on_clock(lines, stamps, read, zone))
    return [moment.astimezone(UTC) for moment in read]


def _read(stamp: str, way: str) -> datetime | None:
    moment = _moment(stamp, way)
    # Other years are a logger whose clock was never set.
    return moment if moment is not None and 2000 <= moment.year < 2100 else None


def _moment(stamp: str, way: str) -> datetime | None:
    if way == "year-month-day":
        try:
            return datetime.fromisoformat(stamp)
        except ValueError:
            pass
    for day in _DATES[way]:
        for clock in _CLOCKS:
            try:
                return datetime.strptime(stamp, f"{day} {clock}")  # noqa: DTZ007
            except ValueError:
                continue
    return None


def _on_clock(
    lines: Sequence[_Line],
    stamps: Sequence[str],
    read: Iterable[datetime],
    zone: tzinfo,
) -> Iterator[datetime]:
    """Local moments in UTC. In an hour that comes twice, rows go on in their order."""
    last: datetime | None = None
    for line, stamp, moment in zip(lines, stamps, read, strict=True):
        if moment.tzinfo is not None:
            at = moment.astimezone(UTC)
        else:
            local = moment.replace(tzinfo=zone)
            at = local.astimezone(UTC)
            if at.astimezone(zone).replace(tzinfo=None) != moment:
                message = (
                    f"Row {line.number}: {shown(stamp)}: the clocks go forward over "
                    "this time. If the logger keeps one time all year, choose that."
                )
                raise ValidationError({"zone": message})
            again = local.replace(fold=1).astimezone(UTC)
            if last is not None and at <= last < again and again - last < _LONGEST_WAIT:
                at = again
        last = at
        yield at


_LONGEST_WAIT = timedelta(hours=2)  # between rows about the hour that comes twice


def _mixed(
    lines: Sequence[_Line],
    stamps: Sequence[str],
    ways: dict[str, list[datetime | None]],
) -> list[str]:
    """Names the first row of each way of writing dates, and rows that are no date."""
    firsts: dict[str, str] = {}
    unread = []
    for place, (line, stamp) in enumerate(zip(lines, stamps, strict=True)):
        fits = [name for name, read in ways.items() if read[place] is not None]
        if fits:
            name = " or ".join(fits)
            firsts.setdefault(name, f"Row {line.number}: {shown(stamp)} is {name}.")
        else:
            text = f"Row {line.number}: {shown(stamp)}: give a day and a time."
            unread.append(text)
    if unread:
        return _first(unread)
    message = f"{len(firsts)} ways of writing dates in one file: write all in one way."
    return [message, *firsts.values()]


def _in_fahrenheit(name: str, unstated: bool) -> bool:
    told = name.casefold()
    if any(word in told for word in ("°f", "fahrenheit", "(f)", "[f]", "_f")):
        return True
    if any(word in told for word in ("°c", "celsius", "(c)", "[c]", "_c")):
        return False
    return unstated


def _number(cell: str) -> float:
    bare = cell.rstrip("%°CFcf ").strip()
    if "/" in bare:
        raise NotAMeasure("a number")
    return number_of(bare)


def _first(messages: list[str]) -> list[str]:
    more = len(messages) - ROWS_NAMED
    return messages[:ROWS_NAMED] + ([f"And {more} more."] if more > 0 else [])
