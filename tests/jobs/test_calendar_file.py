"""Calendar files against RFC 5545 and 7986, and against an independent reader."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from uuid import UUID
from zoneinfo import ZoneInfo

import icalendar
import pytest
import recurring_ical_events
from hypothesis import given
from hypothesis import strategies as st

from jobs.calendar_file import Entry, calendar_bytes

GOLDEN = Path(__file__).resolve().parents[1] / "golden"
CHANGED = datetime(2026, 10, 20, 7, 3, tzinfo=UTC)
LONG = (
    "Glacé à l'éponge, «Salão» · tête-à-tête 🎨🖌️ "
    "and a hand-mitt finish; see C:\\mix, then\nthe second line: água, 50 % \t ok"
)


def entry(number: int = 1, **changes: object) -> Entry:
    """An hour's work on a Monday at nine, UTC."""
    starts = datetime(2026, 10, 12, 9, tzinfo=UTC)
    values: dict[str, object] = {
        "uid": UUID(int=number),
        "sequence": 0,
        "changed_at": CHANGED,
        "status": "CONFIRMED",
        "starts": starts,
        "ends": starts + timedelta(hours=1),
        "summary": "Drag glaze · End wall, Lounge",
        "busy": True,
    }
    return Entry(**{**values, **changes})  # type: ignore[arg-type]


def lines_of(content: bytes) -> list[str]:
    """Unfolded content lines, by the letter of RFC 5545 3.1, without the library."""
    text = content.decode("utf-8")
    return re.sub("\r\n[ \t]", "", text).split("\r\n")[:-1]


def read(content: bytes) -> list[icalendar.Event]:
    return icalendar.Calendar.from_ical(content).events


def test_every_line_ends_with_crlf_and_has_at_most_75_octets() -> None:
    content = calendar_bytes(LONG, [entry(summary=LONG * 3, description=LONG * 9)])
    assert content.endswith(b"\r\n")
    assert b"\r" not in content.replace(b"\r\n", b"")
    assert b"\n" not in content.replace(b"\r\n", b"")
    folded = content.split(b"\r\n")
    assert max(len(line) for line in folded) == 75  # some line is folded at all
    for line in folded:
        line.decode("utf-8")  # no character is cut in two


@given(st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=200))
def test_any_text_comes_back_as_it_was_but_for_control_characters(text: str) -> None:
    (event,) = read(calendar_bytes("Name", [entry(description=f"x{text}x")]))
    expected = text.replace("\r\n", "\n").replace("\r", "\n")
    # RFC 5545 3.1 allows no control character in a text but the tab.
    expected = "".join(c for c in expected if c in "\n\t" or " " <= c != "\x7f")
    assert str(event["description"]) == f"x{expected}x"


def test_commas_semicolons_backslashes_and_line_breaks_are_escaped() -> None:
    content = calendar_bytes("a, b", [entry(summary="a, b; c\\d\ne")])
    # RFC 5545 3.3.11: the four characters that a TEXT escapes.
    assert r"SUMMARY:a\, b\; c\\d\ne" in lines_of(content)
    assert r"NAME:a\, b" in lines_of(content)


def test_half_a_character_does_not_stop_the_file() -> None:
    (event,) = read(calendar_bytes("Name", [entry(summary="ann \ud83d")]))
    assert str(event["summary"]) == "ann ?"


def test_every_property_that_is_required_is_there_once() -> None:
    lines = lines_of(calendar_bytes("Ann", [entry(), entry(2)], zone="Europe/Lisbon"))
    # RFC 5545 3.6: VERSION and PRODID. 3.6.1: UID, DTSTAMP; DTSTART without METHOD.
    for name in ("VERSION", "PRODID"):
        assert sum(line.startswith(f"{name}:") for line in lines) == 1
    for name in ("UID", "DTSTAMP", "DTSTART"):
        assert sum(line.startswith(f"{name}:") for line in lines) == 2
    assert not any(line.startswith("METHOD") for line in lines)
    assert "NAME:Ann" in lines  # RFC 7986 5.1
    assert "X-WR-CALNAME:Ann" in lines
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT1H" in lines  # RFC 7986 5.7
    assert "X-PUBLISHED-TTL:PT1H" in lines
    assert "X-WR-TIMEZONE:Europe/Lisbon" in lines


def test_no_time_zone_is_described_and_all_times_are_utc() -> None:
    lisbon = ZoneInfo("Europe/Lisbon")
    starts = datetime(2026, 10, 24, 17, tzinfo=lisbon)
    shown = entry(starts=starts, ends=datetime(2026, 10, 25, 9, tzinfo=lisbon))
    lines = lines_of(calendar_bytes("Ann", [shown]))
    assert "DTSTART:20261024T160000Z" in lines  # one hour behind in summer
    assert "DTEND:20261025T090000Z" in lines  # none any more
    assert not any("VTIMEZONE" in line or "TZID" in line for line in lines)


def test_stamp_and_last_modified_are_the_stored_moment_of_change() -> None:
    lines = lines_of(calendar_bytes("Ann", [entry(sequence=4)]))
    # RFC 5545 3.8.7.2: without METHOD the DTSTAMP is the last revision's moment.
    assert "DTSTAMP:20261020T070300Z" in lines
    assert "LAST-MODIFIED:20261020T070300Z" in lines
    assert "SEQUENCE:4" in lines


def test_a_cancelled_entry_says_so_in_words_and_blocks_nobody() -> None:
    (event,) = read(calendar_bytes("Ann", [entry(status="CANCELLED")]))
    assert str(event["summary"]) == "CANCELLED: Drag glaze · End wall, Lounge"
    assert str(event["status"]) == "CANCELLED"
    assert str(event["transp"]) == "TRANSPARENT"


@pytest.mark.parametrize(("busy", "transp"), [(True, "OPAQUE"), (False, "TRANSPARENT")])
def test_work_blocks_time_and_drying_does_not(busy: bool, transp: str) -> None:
    (event,) = read(calendar_bytes("Ann", [entry(busy=busy)]))
    assert str(event["transp"]) == transp


def test_an_entry_without_an_end_takes_the_whole_day() -> None:
    lines = lines_of(
        calendar_bytes("Ann", [entry(starts=date(2026, 10, 12), ends=None)])
    )
    assert "DTSTART;VALUE=DATE:20261012" in lines
    assert not any(line.startswith("DTEND") for line in lines)


def test_there_is_no_alarm() -> None:
    assert b"VALARM" not in calendar_bytes("Ann", [entry()])


@pytest.mark.parametrize("zone", ["Europe/Lisbon", "America/Vancouver", "Asia/Tokyo"])
def test_another_reader_finds_the_same_instants_in_any_zone(zone: str) -> None:
    here = ZoneInfo(zone)
    # A week that holds the end of summer time in Europe (25 October) and in America
    # (1 November): work from eight local, an hour and a half each.
    days = [datetime(2026, 10, 23, 8, tzinfo=here) + timedelta(n) for n in range(14)]
    shown = [
        entry(n, starts=day, ends=day + timedelta(hours=1.5))
        for n, day in enumerate(days)
    ]
    parsed = icalendar.Calendar.from_ical(calendar_bytes("Ann", shown, zone=zone))
    found = recurring_ical_events.of(parsed).between(days[0], days[-1] + timedelta(1))
    starts = sorted(event["DTSTART"].dt for event in found)
    assert [moment.astimezone(UTC) for moment in starts] == [
        day.astimezone(UTC) for day in days
    ]
    assert {moment.astimezone(here).hour for moment in starts} == {8}
    lengths = {event["DTEND"].dt - event["DTSTART"].dt for event in found}
    assert lengths == {timedelta(hours=1.5)}


def test_the_file_is_one_calendar_with_its_entries_in_the_order_given() -> None:
    content = calendar_bytes("Ann", [entry(2), entry(1)])
    assert content.count(b"BEGIN:VCALENDAR\r\n") == 1
    assert content.endswith(b"END:VEVENT\r\nEND:VCALENDAR\r\n")
    assert [str(event["uid"]) for event in read(content)] == [
        str(UUID(int=2)),
        str(UUID(int=1)),
    ]


def test_equal_entries_give_equal_bytes() -> None:
    entries = [
        entry(n, description=LONG, categories=("Work", "Lounge")) for n in (1, 2)
    ]
    copies = [replace(shown) for shown in entries]
    assert calendar_bytes("Ann", entries) == calendar_bytes("Ann", copies)


def test_accents_emoji_and_a_cancellation_are_written_as_in_the_golden_file() -> None:
    content = calendar_bytes(
        "Ânia · Sea hotel",
        [
            entry(
                description=LONG,
                location="Salão, Sea hotel",
                categories=("Work", "Salão, west"),
                latitude=38.7,
                longitude=-9.14,
                sequence=2,
            ),
            entry(2, status="CANCELLED", sequence=3),
            entry(3, status="TENTATIVE", busy=False, summary="Drying until hard"),
        ],
        about="From 14 days back to 120 days ahead.",
        zone="Europe/Lisbon",
    )
    golden = GOLDEN / "accents_emoji_and_a_cancellation.ics"
    assert content == golden.read_bytes()
