"""Hours as they are tapped and typed."""

import pytest
from django.core.exceptions import ValidationError
from django.http import QueryDict
from hypothesis import given
from hypothesis import strategies as st

from jobs.set_up_hours import DAYS, HoursList, clock_of, days_of, say_rules
from scheduling.problem import Hours

LUNCH = {"days": "mon-fri", "from": "08:00", "to": "16:30",
         "breaks": [["12:00", "12:30"]]}  # fmt: skip
RELAY = {"days": "sat,mon-tue", "from": "07:00", "to": "24:00",
         "breaks": [{"from": "10:00", "to": "10:20", "relay": True}]}  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "clock"),
    [("8", "08:00"), ("830", "08:30"), ("0830", "08:30"), ("8.30", "08:30"),
     ("16:30", "16:30"), ("24", "24:00"), ("8h15", "08:15")],
)  # fmt: skip
def test_a_time_is_read_however_a_thumb_types_it(typed: str, clock: str) -> None:
    assert clock_of(typed) == clock


@pytest.mark.parametrize("typed", ["25", "24:01", "8:60", "noon", "٨", "-1", "12345"])
def test_what_is_no_time_of_day_is_told(typed: str) -> None:
    with pytest.raises(ValidationError, match='a time of day like "08:00"'):
        clock_of(typed)


@given(st.sets(st.sampled_from(DAYS), min_size=1))
def test_days_are_written_so_that_the_engine_reads_the_same_days(days: set) -> None:
    written = days_of(days)
    numbers = Hours(days=written, start="08:00", end="09:00").weekdays
    assert numbers == {DAYS.index(day) for day in days}


def posted(rules: HoursList) -> QueryDict:
    """What a browser sends when nothing was touched."""
    data = QueryDict(mutable=True)
    for form in rules.forms:
        for name in form.fields:
            value = form[name].value() or ""
            key = form.add_prefix(name)
            if isinstance(value, list):
                data.setlist(key, value)
            elif value or name != "days":
                data[key] = value
    return data


def test_hours_left_as_they_are_shown_come_back_as_they_were() -> None:
    stored = [LUNCH, RELAY]
    shown = HoursList("hours", "Hours", data=None, stored=stored, with_breaks=True)
    again = HoursList(
        "hours", "Hours", data=posted(shown), stored=stored, with_breaks=True
    )
    assert again.value == [LUNCH, {**RELAY, "days": "mon-tue,sat"}]


def test_half_a_rule_is_refused_where_it_lacks() -> None:
    data = QueryDict("hours-0-days=mon&hours-0-start=8&hours-0-end=")
    rules = HoursList("hours", "Hours", data=data, stored=None)
    assert rules.value is None
    assert rules.forms[0].errors == {"end": ["Empty: give a time."]}


def test_what_the_engine_refuses_stands_beside_the_line_it_is_about() -> None:
    data = QueryDict(
        "hours-0-start=&hours-0-end="  # a line left empty counts as none
        "&hours-1-days=mon&hours-1-start=9&hours-1-end=8"
    )
    rules = HoursList("hours", "Hours", data=data, stored=None)
    assert rules.value == [{"days": "mon", "from": "09:00", "to": "08:00"}]
    rules.refuse(0, "to", "later than 09:00")
    assert rules.forms[1].errors == {"end": ["later than 09:00"]}
    assert rules.is_open


def test_hours_are_said_in_a_line() -> None:
    assert say_rules([LUNCH]) == "Mon to Fri 08:00 to 16:30, break 12:00-12:30"
    assert say_rules([["09:00", "12:00"]]) == "Mon to Sun 09:00 to 12:00"
    assert say_rules([RELAY]).endswith("break 10:00-10:20 in turn")
