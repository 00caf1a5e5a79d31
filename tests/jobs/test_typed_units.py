"""Typed values: what is read, and what is refused in which words."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs import typed_units
from scheduling.errors import BadInput


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        ("19C", 19.0),
        ("66.2F", 19.0),
        ("-5C", -5.0),
        ("23 °c", 23.0),
        ("-22F", -30.0),
        ("19,5C", 19.5),
        ("66,2 F", 19.0),
    ],
)
def test_a_temperature_is_read_in_both_scales(text, celsius):
    assert typed_units.temperature_c("air", text) == pytest.approx(celsius)


@pytest.mark.parametrize(
    "text",
    [
        "19",
        "19K",
        "61C",
        "-31C",
        "nanC",
        "",
        "1e1C",
        "١٩C",
        "１９C",
        "²C",
        "1..9C",
        "C",
    ],
)
def test_a_temperature_without_scale_or_out_of_bounds_is_refused(text):
    with pytest.raises(BadInput, match=r"^surface: .*-30C to 60C"):
        typed_units.temperature_c("surface", text)


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("20min", 20.0),
        ("1.5h", 90.0),
        ("2d", 2880.0),
        ("2-4h", (120.0, 240.0)),
        ("2h-4h", (120.0, 240.0)),
        ("30min-2h", (30.0, 120.0)),
    ],
)
def test_a_label_time_is_read_with_its_unit_and_range(text, minutes):
    assert typed_units.label_min("label.recoat", text) == minutes


@pytest.mark.parametrize(
    "text",
    [
        "20",
        "4-2h",
        "0h",
        "2h-",
        "-2h",
        "2h-4",
        "9999d",
        "x",
        "٢h",
        "２h",
        "20mın",
        "1_0h",
    ],
)
def test_a_label_time_that_is_none_is_refused_by_its_stage(text):
    with pytest.raises(BadInput, match=r"^label\.recoat: "):
        typed_units.label_min("label.recoat", text)


@pytest.mark.parametrize(
    "text", ["19C", "19C/80", "19C/101%", "19C/-1%", "99C/50%", "/"]
)
def test_air_needs_a_temperature_and_a_humidity(text):
    with pytest.raises(BadInput, match=r"^air: .*19C/80%"):
        typed_units.air("air", text)


def test_every_fault_of_a_label_is_told_at_once():
    with pytest.raises(BadInput) as caught:
        typed_units.labels("label", "open=20,recoat=2h,recoat=3h,shine=1h")
    paths = [fault.path for fault in caught.value.faults]
    assert paths == ["label.open", "label.recoat", "label"]


@pytest.mark.parametrize("text", ["١", "１.0", "1_0", "1e0", "", "1/2", "nan", "0"])
def test_a_plain_number_is_in_ascii_with_a_point_or_comma(text):
    assert typed_units.number("coat", "1,5", 0.1, 10.0) == 1.5
    with pytest.raises(BadInput, match=r"^coat: .*a number from 0.1 to 10"):
        typed_units.number("coat", text, 0.1, 10.0)


@pytest.mark.parametrize(
    ("text", "metres_a_second"),
    [("0.5", 0.5), ("0,5 m/s", 0.5), ("100ft/min", 0.508), ("100 fpm", 0.508)],
)
def test_moving_air_is_read_in_both_systems(text, metres_a_second):
    read = typed_units.air_speed_m_s("--moving-air", text, 20.0)
    assert read == pytest.approx(metres_a_second)
    with pytest.raises(BadInput, match=r"^--moving-air: "):
        typed_units.air_speed_m_s("--moving-air", "50 mph", 20.0)


def test_a_comma_that_could_part_thousands_is_asked_about():
    with pytest.raises(BadInput, match=r"1\.500 or 1500"):
        typed_units.number("coat", "1,500", 0.1, 10.0)


@given(st.text(max_size=20))
def test_any_text_is_either_read_or_refused(text):
    for read in (
        lambda: typed_units.air("air", text),
        lambda: typed_units.labels("label", text),
        lambda: typed_units.label_min("label", text),
        lambda: typed_units.number("coat", text, 0.1, 10.0),
    ):
        with suppress(BadInput):
            read()


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (None, "never"),
        (4.25, "4.2 min"),
        (59.4, "59 min"),
        (120.0, "2 h"),
        (311.0, "5 h 11 min"),
        (2880.0, "2 d"),
        (5220.0, "3 d 15 h"),
    ],
)
def test_minutes_are_said_as_people_say_them(minutes, said):
    assert typed_units.minutes_as_said(minutes) == said
