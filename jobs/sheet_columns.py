"""The columns of a sheet of rooms and of one of surfaces, and which headings they have.

A column is a key of the job format. Its heading is that key, or plain words, with the
unit in brackets behind if the numbers are not in the reader's own.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from jobs.measures import AREA, LENGTH, TEMPERATURE, VOLUME, WATER_A_DAY, Quantity
from jobs.sheet_cells import (
    FLAG,
    HOURS,
    JSON,
    MOMENT,
    NAMED,
    NAMES,
    NUMBER,
    TEXT,
    WORD,
    Kind,
    list_of,
    measure,
)
from scheduling.job_file import job_schema

_UNIT = re.compile(r"(.*?)\s*[(\[]([^()\[\]]*)[)\]]\s*", re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column: where its values stand in the format, and what people call it.

    ``words`` are the headings, the first the one we write; ``unit`` that of a number
    which has only one. ``needed``: no row can do without it.
    """

    path: str
    kind: Kind
    words: tuple[str, ...]
    quantity: Quantity | None = None
    unit: str = ""
    si: str = ""
    needed: bool = False
    says: str = ""

    @property
    def key(self) -> str:
        """Its name in the job format."""
        return self.path.rpartition(".")[2]

    @property
    def headings(self) -> set[str]:
        """All that it may be called, in small letters."""
        return {_plain(word) for word in (self.key, *self.words)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading as it stands, the column it means, and the unit of its bare numbers."""

    text: str
    column: Column | None = None
    unit: str = ""
    fault: str = ""


def heading_of(text: str, columns: Mapping[str, Column], units: str) -> Heading:
    """What a heading means; no column where it is called like none."""
    found = _UNIT.fullmatch(text.strip())
    words, unit = (found[1], found[2].strip()) if found else (text, "")
    column = columns.get(_plain(words)) or columns.get(_plain(text))
    if column is None:
        return Heading(text=text)
    if column.quantity is None:
        if unit and column.unit and _bare(unit) != _bare(column.unit):
            fault = f"{unit}: give it in {column.unit}"
            return Heading(text=text, column=column, fault=fault)
        return Heading(text=text, column=column)
    if unit and not column.quantity.knows(unit):
        known = ", ".join(column.quantity.units)
        fault = f"{unit}: give one of {known}"
        return Heading(text=text, column=column, fault=fault)
    own = column.si if _plain(words) == _plain(column.key) else ""
    usual = column.quantity.unit(units)
    return Heading(text=text, column=column, unit=unit or own or usual)


def columns_of(part: str) -> dict[str, Column]:
    """The columns of "rooms" or "surfaces" by each of their headings."""
    return {word: column for column in PARTS[part] for word in column.headings}


def _plain(text: str) -> str:
    return " ".join(text.replace("_", " ").replace("-", " ").casefold().split())


def _bare(unit: str) -> str:
    plain = unit.casefold().replace("²", "2").replace("³", "3")
    return re.sub(r"[\s.·]", "", plain)


def _length(path: str, *words: str, says: str, needed: bool = False) -> Column:
    return Column(
        path=path, kind=measure(LENGTH), words=words, quantity=LENGTH, si="m",
        needed=needed, says=says,
    )  # fmt: skip


def _degrees(path: str, *words: str, says: str) -> Column:
    return Column(
        path=path, kind=measure(TEMPERATURE), words=words, quantity=TEMPERATURE,
        si="C", says=says,
    )  # fmt: skip


def _water(path: str, *words: str, says: str) -> Column:
    return Column(
        path=path, kind=measure(WATER_A_DAY), words=words, quantity=WATER_A_DAY,
        si="l/day", says=says,
    )  # fmt: skip


def _hours(path: str, *words: str, says: str) -> Column:
    return Column(path=path, kind=HOURS, words=words, says=says)


_ID = Column(
    path="id", kind=TEXT, words=("id",),
    says="1 to 40 of a-z, 0-9 and -; made from the name where it is left out",
)  # fmt: skip

_ROOMS = (
    _ID,
    Column(path="name", kind=TEXT, words=("name", "room", "room name"),
           says="what people call the room"),
    Column(path="volume_m3", kind=measure(VOLUME), words=("volume", "room volume"),
           quantity=VOLUME, si="m3", needed=True, says="length by width by height"),
    Column(path="air.changes_per_h", kind=NUMBER, unit="1/h",
           words=("air changes an hour", "air changes", "air changes per hour"),
           says="0.5 with windows shut, 3 with one on the latch: common practice"),
    _degrees("air.day_c", "temperature by day", "day temperature", "day",
             says="what it is heated to in working hours"),
    _degrees("air.night_c", "temperature by night", "night temperature", "night",
             says="what it is heated to else"),
    _water("air.dehumidifier_l_day", "dehumidifier", says="what its plate says"),
    _water("air.humidifier_l_day", "humidifier", says="what its plate says"),
    _degrees("air.cooling_c", "cooled to", "cooling",
             says="the warmest that cooling lets the room get"),
    Column(path="air.occupants_g_h", kind=NUMBER, unit="g/h",
           words=("water of people", "people"),
           says="what people and household give off"),
    Column(path="air.doors_m3_h", kind=NUMBER, unit="m3/h",
           words=("air through doors", "door air"),
           says="what goes to and fro through each door to a room next to it"),
    Column(path="air.given", kind=JSON, words=("given air",),
           says="its air hour by hour, as in a job file, in place of all the above"),
    Column(path="connected", kind=NAMES, words=("doors to", "connected", "next to"),
           says="rooms, with semicolons between"),
    Column(path="hands_most", kind=NUMBER, words=("hands at most", "most hands"),
           says="how many can work in it at one time"),
    Column(path="hand_back", kind=MOMENT, words=("hand back", "handed back"),
           says="when all work in it has ended, such as 2026-10-16 12:00"),
    Column(path="any_order", kind=FLAG, words=("any order",),
           says="yes where low surfaces may go before high ones"),
    _hours("access", "access", "open to us",
           says="when we may be in it, such as mon-fri 08:00-16:30"),
    _hours("opens", "open to the public", "opens",
           says="when it is open to the public"),
    _hours("smell_free", "smell free", "no smell", says="when nothing may smell"),
    Column(path="others", kind=JSON, words=("other trades",), says="as in a job file"),
)  # fmt: skip

_SURFACES = (
    _ID,
    Column(path="name", kind=TEXT, words=("name", "surface", "surface name"),
           says="what people call it"),
    Column(path="room", kind=NAMED, words=("room", "room name", "room id"), needed=True,
           says="a room of this job, by its name or id"),
    Column(path="kind", kind=WORD, words=("kind", "type"), needed=True,
           says="ceiling, wall, panel, column, door, trim or floor"),
    _length("width_m", "width", "length", needed=True, says="from end to end"),
    _length("height_m", "height", needed=True, says="from foot to top"),
    Column(path="openings_m2", kind=measure(AREA), words=("openings", "opening area"),
           quantity=AREA, si="m2", says="doors and windows in it, taken off its area"),
    Column(path="stop_lines_m", kind=list_of(measure(LENGTH)),
           words=("stop lines", "stop lines at"), quantity=LENGTH, si="m",
           says="how far from the left, with semicolons between"),
    Column(path="recipe", kind=NAMED, words=("recipe", "finish"), needed=True,
           says="a recipe of this job, by its name or id"),
    Column(path="outside", kind=FLAG, words=("outside wall", "outside"),
           says="yes where the weather is behind it"),
    Column(path="u_w_m2k", kind=NUMBER, unit="W/m2K", words=("U value", "u"),
           says="of an outside wall"),
    Column(path="ground", kind=WORD, words=("ground",), says="porous or sealed"),
    Column(path="priority", kind=NUMBER, words=("priority",),
           says="1 for what matters most"),
    _hours("sun", "sun on it", "sun", says="when the sun is on it"),
    Column(path="gates", kind=JSON, words=("gates",), says="as in a job file"),
)  # fmt: skip


def _whole(part: str, columns: tuple[Column, ...]) -> tuple[Column, ...]:
    """With a column for each key of the format that has none of its own."""
    known = {column.path.partition(".")[0] for column in columns}
    keys = job_schema()["properties"][part]["items"]["properties"]
    more = (
        Column(path=key, kind=JSON, words=(key.replace("_", " "),),
               says="as in a job file")
        for key in keys
        if key not in known
    )  # fmt: skip
    return (*columns, *more)


PARTS: Mapping[str, tuple[Column, ...]] = {
    "rooms": _whole("rooms", _ROOMS),
    "surfaces": _whole("surfaces", _SURFACES),
}
