"""What is made of a day's lowest and highest temperature."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from jobs.weather.hours import weather_hours
from jobs.weather.typed_days import TypedDay, rows_of_days
from scheduling.psychrometrics import dew_point_c, vapour_pa

LISBON = ZoneInfo("Europe/Lisbon")
TWO = [
    TypedDay(day=date(2026, 10, 12), low_c=8, high_c=18, humidity_pct=50),
    TypedDay(day=date(2026, 10, 13), low_c=10, high_c=14),
]


def test_the_lowest_falls_at_six_and_the_highest_at_three_by_the_sites_clock() -> None:
    rows = {row.at: row for row in rows_of_days(TWO, LISBON)}
    assert len(rows) == 48
    assert min(rows) == datetime(2026, 10, 11, 23, tzinfo=UTC)  # midnight in Lisbon
    assert rows[datetime(2026, 10, 12, 5, tzinfo=UTC)].temperature_c == 8
    assert rows[datetime(2026, 10, 12, 14, tzinfo=UTC)].temperature_c == 18
    assert rows[datetime(2026, 10, 13, 5, tzinfo=UTC)].temperature_c == 10
    assert 8 < rows[datetime(2026, 10, 12, 9, tzinfo=UTC)].temperature_c < 18


def test_a_humidity_is_that_of_the_warm_hours_and_without_one_the_low_is_the_dew() -> (
    None
):
    assert TWO[0].dew_c == pytest.approx(float(dew_point_c(vapour_pa(18.0, 50.0))))
    assert TWO[1].dew_c == 10
    made = datetime(2026, 10, 12, tzinfo=UTC)
    hours = weather_hours(
        rows_of_days(TWO, LISBON), source="typed", made_at=made, fetched_at=made
    )
    warm = next(hour for hour in hours if hour.at.hour == 14)
    assert warm.humidity_pct == pytest.approx(50, abs=2)
    assert all(hour.humidity_pct <= 100 for hour in hours)


@pytest.mark.parametrize(("day", "hours"), [((10, 25), 25), ((3, 29), 23)])
def test_a_day_on_which_the_clocks_change_has_its_own_length(
    day: tuple[int, int], hours: int
) -> None:
    one = TypedDay(day=date(2026, *day), low_c=5, high_c=15)
    rows = rows_of_days([one], LISBON)
    assert len(rows) == hours
    apart = {after.at - row.at for row, after in pairwise(rows)}
    assert apart == {timedelta(hours=1)}
