"""A logger's file is read whole and in one way, or its rows are named."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import ValidationError

from jobs.weather.logger_file import MOST_ROWS, LoggerFile, read_logger

LISBON = ZoneInfo("Europe/Lisbon")


def read(*lines: str, **options: object) -> LoggerFile:
    return read_logger("\n".join(lines), **{"zone": LISBON, **options})  # type: ignore[arg-type]


def refusal(*lines: str, **options: object) -> dict[str, list[str]]:
    with pytest.raises(ValidationError) as refused:
        read(*lines, **options)
    return refused.value.message_dict


@pytest.mark.parametrize(
    "lines",
    [
        ("Time,Temperature (°C),Humidity (%)", "2026-10-12T07:30+01:00,18.5,61"),
        ("Timestamp;Temp C;RH %", "12.10.2026 07:30;18,5;61"),
        (
            "No\tDate Time\tcelsius\trh\tBattery",
            "1\t2026-10-12 07:30:00\t18.5\t61\t3.1",
        ),
        ("Date,Time,Temp(°F),Rel. Hum.", "2026-10-12,07:30,65.3,61"),
        ('"Time","Dew point","Temperature_C"', '"10/12/2026 7:30 AM","10.86","18.5"'),
        ("\ufefftemperature,humidity,time", "18.5,61%,2026-10-12T06:30:00Z"),
    ],
)
def test_columns_separators_units_and_dates_are_found(lines: tuple[str, ...]) -> None:
    ((number, row),) = read(*lines, order="month" if "AM" in lines[1] else "day").rows
    assert number == 2
    assert row.at == datetime(2026, 10, 12, 6, 30, tzinfo=UTC)
    assert row.temperature_c == pytest.approx(18.5)
    assert row.humidity_pct == pytest.approx(61) or row.dew_point_c == 10.86


def test_what_was_read_from_where_is_told() -> None:
    found = read("Time,Temp,RH", "2026-10-12T07:30Z,18.5,61", "2026-10-12T08:30Z,,61")
    assert found.notes == (
        "Read: humidity from RH, temperature from Temp, time from Time.",
        'The column "Temp" names no unit: read as °C.',
        "1 of 2 rows lack a value and are left out.",
    )
    warm = read("Time,Temp,RH", "2026-10-12T07:30Z,65.3,61", fahrenheit=True)
    assert warm.rows[0][1].temperature_c == pytest.approx(18.5)


def test_three_ways_of_writing_dates_in_one_file_are_refused_with_their_rows() -> None:
    (told,) = refusal(
        "Time,Temp C,RH",
        "2026-10-12 07:30,18,60",
        "13/10/2026 07:30,18,60",
        "10/14/2026 07:30,18,60",
        "15/10/2026 07:30,18,60",
    ).values()
    assert told == [
        "3 ways of writing dates in one file: write all in one way.",
        'Row 2: "2026-10-12 07:30" is year-month-day.',
        'Row 3: "13/10/2026 07:30" is day/month/year.',
        'Row 4: "10/14/2026 07:30" is month/day/year.',
    ]


def test_a_day_that_could_be_a_month_is_asked_about() -> None:
    lines = "Time,Temp C,RH", "03/04/2026 07:30,18,60"
    assert refusal(*lines) == {
        "order": ['"03/04/2026 07:30": say whether day or month comes first.']
    }
    assert read(*lines, order="day").rows[0][1].at.month == 4
    assert read(*lines, order="month").rows[0][1].at.month == 3
    # One row settles it for the whole file.
    settled = read(*lines, "13/04/2026 07:30,18,60")
    assert [row.at.month for _, row in settled.rows] == [4, 4]


def test_without_offsets_the_clock_is_asked_for() -> None:
    lines = "Time,Temp C,RH", "2026-10-12 07:30,18,60"
    told = refusal(*lines, zone=None)
    assert told == {
        "zone": ['"2026-10-12 07:30" does not say by which clock: choose one.']
    }
    assert read(*lines, zone=UTC).rows[0][1].at.hour == 7
    assert read("Time,Temp C,RH", "2026-10-12T07:30Z,18,60", zone=None).rows


def test_the_hour_that_comes_twice_goes_on_in_the_order_of_the_rows() -> None:
    clocks = ("00:30", "01:00", "01:30", "01:00", "01:30", "02:00")
    lines = [f"2026-10-25 {clock},18,60" for clock in clocks]
    rows = read("Time,Temp C,RH", *lines).rows
    first = datetime(2026, 10, 24, 23, 30, tzinfo=UTC)
    halves = [first + n * timedelta(minutes=30) for n in range(6)]
    assert [row.at for _, row in rows] == halves


def test_an_hour_that_the_clocks_skip_is_named() -> None:
    told = refusal("Time,Temp C,RH", "2026-03-29 01:30,18,60")
    assert told["zone"][0].startswith(
        'Row 2: "2026-03-29 01:30": the clocks go forward'
    )


def test_numbers_and_dates_that_are_none_are_named_and_counted() -> None:
    bad = [f"2026-10-12 07:{n:02},warm,60" for n in range(9)]
    told = refusal("Time,Temp C,RH", *bad)["text"]
    assert told[0] == 'Row 2, Temp C: "warm": give a number.'
    assert told[-1].startswith("And ")
    told = refusal("Time,Temp C,RH", "2026-10-12 07:30,18,60", "soon,18,60")["text"]
    assert told == ['Row 3: "soon": give a day and a time.']


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "give columns"),
        ("just one line", "give columns"),
        ("Time,Temp,RH", "Only one row"),
        ("Time,Pressure\n2026-10-12 07:30,1013", "no column for a temperature and"),
        ("a;b\n\x00;2", "no text"),
        ("Time,Temp,RH\n0001-01-01T00:00+09:00,1,2", "give a day and a time"),
        ("Time,Temp,RH\n9999-12-31T23:59-09:00,1,2", "give a day and a time"),
        ("Time,Temp,RH\n01.01.1970 00:00,1,2", "give a day and a time"),
        ("Time,Temp,RH\n2026-10-12 07:30,,", "No row has both"),
        ("Time,Temp,RH\n" + "2026-10-12 07:30,1,2\n" * (MOST_ROWS + 1), "give at most"),
        ('Time,Temp,RH\n"' + "x" * 200_000 + '",1,2', "Not a CSV file"),
        ("Time,Temp,RH\n2026-10-12 07:30,18", "No row has both"),
    ],
)
def test_what_is_no_logger_file_is_refused(text: str, says: str) -> None:
    with pytest.raises(ValidationError) as refused:
        read_logger(text, zone=LISBON)
    assert says in refused.value.message_dict["text"][0]
