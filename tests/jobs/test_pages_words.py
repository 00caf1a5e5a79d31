"""Times, degrees and sizes as they stand on the pages."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.measures import say_in
from jobs.templatetags.plan_format import (
    NEVER,
    say_area,
    say_degrees_apart,
    say_minutes,
    say_moment,
    say_place,
    say_temperature,
    say_within,
    strong,
)

ZONE = ZoneInfo("Europe/Lisbon")
NOW = datetime(2026, 10, 14, 8, 18, tzinfo=ZONE)  # a Wednesday


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (None, NEVER),
        (0, "under a minute"),
        (35, "35 min"),
        (130, "2 h 10 min"),
        (240, "4 h"),
        (30 * 60, "30 h"),
        (76 * 60, "3 days 4 h"),
        (14 * 1440, "14 days"),
    ],
)
def test_a_wait_is_said_as_people_say_it(minutes: float | None, said: str) -> None:
    assert say_minutes(minutes) == said


@given(st.floats(0, 1e7))
def test_every_wait_can_be_said_in_a_few_letters(minutes: float) -> None:
    assert len(say_minutes(minutes)) < 20


def test_a_near_day_goes_by_its_name_and_a_far_one_by_its_date() -> None:
    assert say_moment(NOW, ZONE, NOW) == "Wed 08:18"
    assert say_moment(NOW + timedelta(days=5), ZONE, NOW) == "Mon 19 Oct 08:18"
    assert say_moment(NOW.replace(year=2027), ZONE, NOW) == "Thu 14 Oct 2027 08:18"


@given(st.integers(-400, 400), st.integers(-400, 400))
def test_two_moments_on_different_days_are_never_said_alike(one: int, two: int) -> None:
    first, second = NOW + timedelta(days=one), NOW + timedelta(days=two)
    alike = say_moment(first, ZONE, NOW) == say_moment(second, ZONE, NOW)
    assert alike == (one == two)


def test_degrees_follow_the_definition_of_the_fahrenheit_scale() -> None:
    # NIST SP 811, B.8: t(F) = 1.8 t(C) + 32; an interval of 1 K is 1.8 F.
    assert say_temperature(20.0, "us") == "68.0 °F"
    assert say_temperature(-40.0, "us") == "-40.0 °F"
    assert say_degrees_apart(3.0, "us") == "5.4 °F"
    assert say_degrees_apart(3.0, "metric") == "3.0 °C"


def test_square_feet_follow_the_international_foot() -> None:
    # NIST SP 811, B.8: 1 ft2 = 0.092 903 04 m2.
    assert say_area(0.09290304 * 212, "us") == "212 ft²"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Surface 2.1 K over; at least 3.0 K needed.",
         "Surface 3.8 °F over; at least 5.4 °F needed."),
        ("Falls to 4.0 C within a day; 10 C needed.",
         "Falls to 39.2 °F within a day; 50 °F needed."),
        ("Recipe 3C and room K2 stay", "Recipe 3C and room K2 stay"),
        ("Humidity 90 %; at most 85 %.", "Humidity 90 %; at most 85 %."),
    ],
)  # fmt: skip
def test_degrees_in_a_sentence_are_told_in_the_readers_own(
    text: str, said: str
) -> None:
    assert say_in(text, "us") == said


def test_a_surface_is_named_with_its_room_once() -> None:
    assert say_place("Lounge", "Lounge, north wall") == "Lounge, north wall"
    assert say_place("Lounge", "North wall") == "Lounge, North wall"
    assert say_within("Lounge", "Lounge, north wall") == "North wall"
    assert say_within("Lounge", "Lounge") == "Lounge"


def test_bold_words_stay_text() -> None:
    assert strong("about **<b>50 min</b>** left") == (
        "about <strong>&lt;b&gt;50 min&lt;/b&gt;</strong> left"
    )
    assert strong("a ** alone") == "a  alone"
