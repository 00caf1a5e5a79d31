"""The last good forecast is kept whatever comes; a job plans from one taken."""

from datetime import UTC, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from jobs.factories import AirHourFactory, small_job
from jobs.forecasts import choose_weather, ends_at, fetch_forecast, take_forecast
from jobs.models import Forecast, Job, User, WeatherService
from jobs.translation import job_value
from jobs.weather.outcomes import Got, NotFetched, Unchanged
from tests.jobs.conftest import NOW
from tests.jobs.weather.service import Reply, Service, http, met_norway

HOUR = timedelta(hours=1)
MADE = NOW - HOUR
FIRST = NOW.replace(minute=0)


@pytest.fixture
def sited(job: Job) -> Job:
    choose_weather_of(job)
    return job


def choose_weather_of(job: Job, latitude: float = 38.7) -> None:
    choose_weather(
        job=job, source="met-norway", latitude=latitude, longitude=-9.4,
        altitude_m=None, now=NOW,
    )  # fmt: skip


def good(**headers: str) -> Reply:
    body = met_norway(FIRST.astimezone(UTC), MADE.astimezone(UTC), [1] * 5)
    return Reply(body=body, headers=headers)


def ask(job: Job, after: timedelta = timedelta(0)) -> Any:
    return fetch_forecast(job=job, by=None, now=NOW + after)


def test_a_good_reply_is_kept_and_not_planned_from_yet(
    sited: Job, service: Service, lead: User
) -> None:
    service.answers(good(ETag='"one"'))
    outcome = fetch_forecast(job=sited, by=lead, now=NOW)
    assert isinstance(outcome, Got)
    kept = sited.forecasts.get()
    assert (kept.name, kept.etag, kept.by) == ("MET Norway", '"one"', lead)
    assert (kept.made_at, kept.fetched_at) == (MADE, NOW)
    assert len(kept.hours) == 6
    assert kept.taken_at is None
    assert not sited.outdoors.exists()


@pytest.mark.parametrize(
    "reply",
    [Reply(status=500), Reply(status=403), Reply(status=429), Reply(raw=b"{"),
     Reply(body={"properties": {}})],
)  # fmt: skip
def test_a_bad_reply_overwrites_nothing(
    sited: Job, service: Service, reply: Reply
) -> None:
    service.answers(good())
    ask(sited)
    before = Forecast.objects.values().get()
    service.answers(reply)
    assert isinstance(ask(sited, HOUR), NotFetched)
    assert Forecast.objects.values().get() == before


def test_the_service_is_not_asked_before_its_reply_expires(
    sited: Job, service: Service
) -> None:
    service.answers(good(Expires=http(NOW + HOUR)))
    ask(sited)
    early = ask(sited, timedelta(minutes=59))
    assert (early.why, early.retry_at) == ("still-good", NOW + HOUR)
    assert len(service.asked) == 1
    ask(sited, HOUR)
    assert len(service.asked) == 2


def test_an_unchanged_forecast_is_looked_at_again_and_keeps_its_age(
    sited: Job, service: Service
) -> None:
    service.answers(good(**{"Last-Modified": http(MADE)}))
    ask(sited)
    service.answers(Reply(status=304))
    assert isinstance(ask(sited, HOUR), Unchanged)
    assert service.asked[-1].headers["If-Modified-Since"] == http(MADE)
    kept = sited.forecasts.get()
    assert (kept.made_at, kept.fetched_at, kept.checked_at) == (MADE, NOW, NOW + HOUR)


def test_a_site_that_moved_asks_anew(sited: Job, service: Service) -> None:
    service.answers(good(**{"Last-Modified": http(MADE)}))
    ask(sited)
    choose_weather_of(sited, latitude=40.0)
    ask(sited, timedelta(seconds=2))
    assert "If-Modified-Since" not in service.asked[-1].headers
    assert "lat=40" in service.asked[-1].path


def test_a_service_that_asks_to_be_left_alone_is_by_every_job(
    sited: Job, service: Service, stored: Any
) -> None:
    service.answers(Reply(status=429, headers={"Retry-After": "900"}))
    ask(sited)
    other = stored(small_job(id="other"))
    choose_weather_of(other)
    told = ask(other, timedelta(minutes=14))
    assert (told.why, told.retry_at) == ("wait", NOW + timedelta(minutes=15))
    assert len(service.asked) == 1
    service.answers(good())
    assert isinstance(ask(other, timedelta(minutes=15)), Got)
    assert WeatherService.objects.get().not_before is None


def test_all_jobs_together_ask_a_service_once_a_second(
    sited: Job, service: Service, stored: Any
) -> None:
    other = stored(small_job(id="other"))
    choose_weather_of(other)
    service.answers(good())
    ask(sited)
    assert ask(other, timedelta(milliseconds=400)).why == "wait"
    assert isinstance(ask(other, timedelta(seconds=1)), Got)


def test_without_a_place_a_source_or_a_contact_nobody_is_asked(
    job: Job, service: Service, settings: Any
) -> None:
    assert "Choose a weather service" in ask(job).text
    choose_weather(
        job=job, source="met-norway", latitude=None, longitude=None,
        altitude_m=None, now=NOW,
    )  # fmt: skip
    assert "latitude" in ask(job).text
    settings.WEATHER_CONTACT = ""
    assert "WEATHER_CONTACT" in ask(job).text
    assert service.asked == []


def test_half_a_place_is_refused(job: Job) -> None:
    with pytest.raises(ValidationError) as refusal:
        choose_weather(
            job=job, source="", latitude=3.0, longitude=None, altitude_m=None, now=NOW
        )
    assert "longitude" in refusal.value.message_dict


# -- planning from it ----------------------------------------------------------------


def test_a_taken_forecast_replaces_what_is_to_come_and_leaves_what_was(
    stored: Any, service: Service
) -> None:
    old = tuple(
        AirHourFactory(at=FIRST + n * HOUR, temperature_c=30.0)
        for n in (-800, -2, 0, 9)
    )
    sited = stored(outdoors=old)
    choose_weather_of(sited)
    service.answers(good())
    ask(sited)
    take_forecast(job=sited, forecast=sited.forecasts.get(), now=NOW)
    value = job_value(Job.objects.get())
    assert [hour.at for hour in value.outdoors] == [
        FIRST - 2 * HOUR, *(FIRST + n * HOUR for n in range(6))
    ]  # fmt: skip
    assert value.outdoors[1].temperature_c == 8
    assert sited.forecasts.get().taken_at == NOW
    assert ends_at(sited.forecasts.get()) == FIRST + 6 * HOUR


def test_a_forecast_that_has_ended_is_not_planned_from(
    sited: Job, service: Service
) -> None:
    service.answers(good())
    ask(sited)
    with pytest.raises(ValidationError, match="has ended"):
        take_forecast(
            job=sited, forecast=sited.forecasts.get(), now=NOW + timedelta(days=1)
        )
    assert not sited.outdoors.exists()
