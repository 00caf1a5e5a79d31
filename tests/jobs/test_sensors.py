"""What sensors and loggers bring is kept sparsely, once, and never floods a job."""

from datetime import UTC, datetime, timedelta

import pytest
from django.core.exceptions import ValidationError

from jobs.models import Job, Reading, Room, SensorLink
from jobs.sensors import (
    KEPT_FOR,
    MOST_IN_WINDOW,
    WINDOW,
    Sent,
    keep_file,
    keep_sent,
    make_sensor_link,
    readings_of,
    revoke_sensor_link,
    take_back_files,
    too_often,
)
from jobs.translation import job_json, job_value, store_job, store_plan
from jobs.weather.hours import Row
from scheduling.job_file import read_job
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import plan_value

MINUTE = timedelta(minutes=1)


@pytest.fixture
def room(job: Job) -> Room:
    return job.rooms.get()


@pytest.fixture
def link(room: Room) -> SensorLink:
    return make_sensor_link(room=room, at=NOW)[0]


def sent(after: timedelta = timedelta(0), **changes: float) -> Sent:
    values = {"temperature_c": 18.5, "humidity_pct": 61.0} | changes
    return Sent(at=NOW + after, **values)


def test_a_new_address_switches_the_one_before_off(room: Room) -> None:
    first, one = make_sensor_link(room=room, at=NOW)
    second, two = make_sensor_link(room=room, at=NOW + MINUTE)
    first.refresh_from_db()
    assert first.revoked_at == NOW + MINUTE
    assert second.revoked_at is None
    assert one != two
    assert one not in str(SensorLink.objects.values_list())
    assert revoke_sensor_link(link=second, at=NOW)
    assert not revoke_sensor_link(link=second, at=NOW)


def test_a_reading_puts_the_rooms_air_right_and_is_no_persons(
    job: Job, link: SensorLink
) -> None:
    assert keep_sent(link=link, sent=sent(), now=NOW) == "kept"
    (reading,) = job_value(Job.objects.get()).readings
    assert (reading.temperature_c, reading.humidity_pct) == (18.5, 61.0)
    row = Reading.objects.get()
    assert (row.via, row.taken_by) == ("sensor", None)


def test_the_same_moment_twice_changes_nothing(link: SensorLink) -> None:
    keep_sent(link=link, sent=sent(), now=NOW)
    again = sent(temperature_c=30.0)
    assert keep_sent(link=link, sent=again, now=NOW) == "there already"
    assert Reading.objects.get().temperature_c == 18.5


def test_a_quarter_of_an_hour_keeps_its_latest(link: SensorLink) -> None:
    later = NOW + 20 * MINUTE
    for after in (0, 5, 14, 15):
        keep_sent(
            link=link, sent=sent(after * MINUTE, temperature_c=10.0 + after), now=later
        )
    told = keep_sent(link=link, sent=sent(9 * MINUTE), now=later)
    assert told == "older than what is kept"
    kept = Reading.objects.order_by("at").values_list("temperature_c", flat=True)
    assert list(kept) == [24.0, 25.0]


def test_old_readings_stay_an_hour_apart_and_then_go(link: SensorLink) -> None:
    days = 33
    for hours in range(days * 4 * 6):  # every quarter of every fourth hour
        at = NOW - timedelta(days=days) + hours * 10 * MINUTE
        keep_sent(link=link, sent=Sent(at=at, temperature_c=9, humidity_pct=5), now=at)
        if hours > 60:
            break
    keep_sent(link=link, sent=sent(), now=NOW)
    assert Reading.objects.count() == 1
    for quarter in range(13 * 96 // 4):
        at = NOW - timedelta(days=3) + quarter * 15 * MINUTE
        keep_sent(link=link, sent=Sent(at=at, temperature_c=9, humidity_pct=5), now=at)
    keep_sent(link=link, sent=sent(16 * MINUTE), now=NOW + 16 * MINUTE)
    early = Reading.objects.filter(at__lt=NOW - timedelta(days=2))
    assert {row.at.minute for row in early} <= set(range(15))
    assert early.count() == 24
    assert Reading.objects.filter(at__gte=NOW - timedelta(days=2)).count() > 100


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"temperature_c": 85.0}, "temperature_c"),
        ({"temperature_c": float("nan")}, "temperature_c"),
        ({"humidity_pct": 140.0}, "humidity_pct"),
        ({"humidity_pct": -1.0}, "humidity_pct"),
        ({"after": timedelta(minutes=6)}, "at"),
        ({"after": -KEPT_FOR - MINUTE}, "at"),
    ],
)
def test_what_cannot_be_is_not_kept(link: SensorLink, wrong: dict, field: str) -> None:
    with pytest.raises(ValidationError) as refusal:
        keep_sent(link=link, sent=sent(**wrong), now=NOW)
    assert field in refusal.value.message_dict
    assert not Reading.objects.exists()


def test_a_sensor_that_floods_has_to_wait_out_its_ten_minutes(link: SensorLink) -> None:
    for _ in range(MOST_IN_WINDOW):
        link.refresh_from_db()
        assert too_often(link, NOW + MINUTE) is None
    link.refresh_from_db()
    assert too_often(link, NOW + 3 * MINUTE) == WINDOW - 2 * MINUTE
    assert too_often(link, NOW + MINUTE + WINDOW) is None


def test_only_another_air_makes_a_plan_out_of_date(job: Job, link: SensorLink) -> None:
    keep_sent(link=link, sent=sent(), now=NOW)
    value = job_value(job)
    store_plan(job, plan_value(value), planned=value, planned_at=NOW)
    job.plans.update(made_at=NOW + MINUTE)
    Job.objects.update(changed_at=NOW)
    later = NOW + 30 * MINUTE
    keep_sent(link=link, sent=sent(30 * MINUTE, humidity_pct=66.0), now=later)
    assert Job.objects.get().changed_at == NOW
    damp = later + 15 * MINUTE
    keep_sent(link=link, sent=sent(45 * MINUTE, humidity_pct=70.0), now=damp)
    assert Job.objects.get().changed_at == damp


def test_an_import_keeps_what_brought_a_reading_and_the_address(
    job: Job, link: SensorLink
) -> None:
    keep_sent(link=link, sent=sent(), now=NOW)
    store_job(job.company, read_job(job_json(job)), replace=True)
    assert Reading.objects.get().via == "sensor"
    assert SensorLink.objects.get().revoked_at is None


# -- loggers -------------------------------------------------------------------------


def rows(*minutes_ago: float, **changes: float) -> list[tuple[int, Row]]:
    values = {"temperature_c": 18.5, "humidity_pct": 61.0} | changes
    return [
        (number + 2, Row(at=(NOW - ago * MINUTE).astimezone(UTC), **values))
        for number, ago in enumerate(minutes_ago)
    ]


def test_a_loggers_rows_are_thinned_to_quarters_of_an_hour(room: Room) -> None:
    found = readings_of(rows(*range(60, 0, -1)), NOW)
    assert len(found.readings) == 4
    assert found.notes == ("Of 60 rows, one each quarter of an hour is kept.",)
    assert keep_file(room=room, readings=found.readings, now=NOW) == 4
    assert keep_file(room=room, readings=found.readings, now=NOW) == 0
    assert {row.via for row in Reading.objects.all()} == {"file"}


def test_a_dew_point_becomes_a_humidity() -> None:
    at = datetime(2026, 10, 12, 6, tzinfo=UTC)
    row = Row(at=at, temperature_c=20.0, dew_point_c=9.27)
    # Standard table: 9.3 °C is the dew point of 20 °C and 50 %.
    (reading,) = readings_of([(2, row)], NOW).readings
    assert reading.humidity_pct == pytest.approx(50.0, abs=0.3)


def test_rows_that_cannot_be_are_named_and_old_ones_left_out() -> None:
    with pytest.raises(ValidationError) as refusal:
        readings_of([*rows(30), *rows(-60), *rows(20, humidity_pct=140.0)], NOW)
    told = refusal.value.message_dict["text"]
    assert [text.split(":")[0] for text in told] == ["Row 2", "Row 2"]
    assert "still to come" in told[0]
    assert "140 % cannot be" in told[1]
    found = readings_of([*rows(30), *rows(31 * 24 * 60)], NOW)
    assert found.notes == ("1 rows are over 30 days old and left out.",)
    with pytest.raises(ValidationError, match="older do not count"):
        readings_of(rows(31 * 24 * 60), NOW)


def test_what_files_brought_can_be_taken_back(
    job: Job, room: Room, link: SensorLink
) -> None:
    keep_sent(link=link, sent=sent(), now=NOW)
    keep_file(room=room, readings=readings_of(rows(60, 30), NOW).readings, now=NOW)
    assert take_back_files(room=room, now=NOW) == 2
    assert Reading.objects.get().via == "sensor"
