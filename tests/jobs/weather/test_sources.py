"""What each service's reply becomes, and what every way of failing is told as."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from jobs.weather import client
from jobs.weather.hours import Place
from jobs.weather.outcomes import Got, NotFetched, Unchanged
from jobs.weather.sources import (
    MET_NORWAY,
    OPEN_METEO,
    US_WEATHER_SERVICE,
    fetch,
    offered,
)
from scheduling.psychrometrics import humidity_ratio_g_kg, vapour_pa
from tests.jobs.weather.service import (
    Reply,
    Service,
    grid,
    http,
    met_norway,
    open_meteo,
    points,
)

NOW = datetime(2026, 10, 12, 6, 20, tzinfo=UTC)
SIX = NOW.replace(minute=0)
MADE = NOW - timedelta(hours=2)
PLACE = Place(latitude=38.712349, longitude=-9.4, altitude_m=20.4)
# Whole minutes, as a Retry-After in seconds must not be rounded by the clock.
HOUR = timedelta(hours=1)


def met(steps_h: list[int] | None = None, **headers: str) -> Reply:
    return Reply(body=met_norway(SIX, MADE, steps_h or [1, 1]), headers=headers)


def got(outcome: Any) -> Got:
    assert isinstance(outcome, Got), outcome
    return outcome


def refused(outcome: Any) -> NotFetched:
    assert isinstance(outcome, NotFetched), outcome
    return outcome


# -- one shape from all of them ------------------------------------------------------


def test_a_reply_of_met_norway_becomes_hours_with_their_vapour(
    service: Service,
) -> None:
    service.answers(met())
    found = got(fetch(MET_NORWAY, PLACE, now=NOW))
    hour = found.hours[1]
    assert (hour.at, hour.temperature_c) == (SIX + HOUR, 9)
    assert hour.humidity_pct == pytest.approx(89)
    assert (hour.wind_m_s, hour.source) == (2.5, "MET Norway")
    assert (hour.made_at, hour.fetched_at) == (MADE, NOW)
    # 20 m up the pressure is 0.24 % below the sea's, and the ratio as much above.
    at_sea = humidity_ratio_g_kg(vapour_pa(9.0, 89.0))
    assert hour.vapour_g_kg == pytest.approx(at_sea * 1.0024, rel=2e-4)


def test_met_norway_is_asked_as_its_terms_want(service: Service) -> None:
    service.answers(met())
    fetch(MET_NORWAY, PLACE, now=NOW)
    (asked,) = service.asked
    assert asked.path == (
        "/weatherapi/locationforecast/2.0/compact?lat=38.7123&lon=-9.4&altitude=20"
    )
    assert asked.headers["User-Agent"] == "CoatByCoat/0.1 air@example.com"
    assert "If-Modified-Since" not in asked.headers


def test_steps_of_six_hours_are_filled_by_a_straight_line(service: Service) -> None:
    service.answers(met([1, 6]))
    hours = got(fetch(MET_NORWAY, PLACE, now=NOW)).hours
    assert [hour.at for hour in hours] == [SIX + n * HOUR for n in range(8)]
    assert hours[4].temperature_c == pytest.approx(9.5)
    middle = (hours[1].vapour_g_kg + hours[7].vapour_g_kg) / 2
    assert hours[4].vapour_g_kg == pytest.approx(middle)


def test_nothing_after_a_gap_counts(service: Service) -> None:
    service.answers(met([1, 7, 1]))
    found = got(fetch(MET_NORWAY, PLACE, now=NOW))
    assert [hour.at for hour in found.hours] == [SIX, SIX + HOUR]
    assert found.cautions == (
        "The forecast has a gap after 2026-10-12 08:00 UTC; nothing after it is used.",
    )


def test_the_us_service_is_led_from_the_point_to_spells_by_the_hour(
    service: Service,
) -> None:
    service.answers(Reply(body=points()), Reply(body=grid(SIX, MADE)))
    hours = got(fetch(US_WEATHER_SERVICE, PLACE, now=NOW)).hours
    assert [asked.path for asked in service.asked] == [
        "/points/38.7123,-9.4",
        "/gridpoints/ABC/31,80",  # made from the numbers, not the address it gives
    ]
    assert [hour.temperature_c for hour in hours[:7]] == [12, *[14.5] * 5, 9]
    # 18 km/h for three hours, then not stated.
    assert [hour.wind_m_s for hour in hours[:4]] == [pytest.approx(5.0)] * 3 + [None]
    dew_8c = humidity_ratio_g_kg(vapour_pa(8.0, 100.0))
    assert hours[0].vapour_g_kg == pytest.approx(dew_8c, rel=3e-3)
    # Where the dew point ends the humidity goes on; temperature ends it all.
    assert hours[9].humidity_pct == pytest.approx(70)
    assert len(hours) == 30


def test_open_meteo_has_a_key_only_where_it_is_paid_for(
    service: Service, settings: Any
) -> None:
    assert OPEN_METEO not in offered()
    settings.OPEN_METEO_USE = "paid"
    settings.OPEN_METEO_KEY = "a-key"
    service.answers(Reply(body=open_meteo(SIX, 3)))
    hours = got(fetch(OPEN_METEO, PLACE, now=NOW)).hours
    assert [hour.temperature_c for hour in hours] == [10, 11, 12]
    assert hours[0].made_at == NOW  # it does not say when
    assert "apikey=a-key" in service.asked[0].path
    assert "wind_speed_unit=ms" in service.asked[0].path
    assert OPEN_METEO in offered()


def test_nobody_is_asked_without_a_contact(settings: Any) -> None:
    settings.WEATHER_CONTACT = ""
    assert offered() == ()


# -- conditions and Expires ----------------------------------------------------------


def test_a_kept_reply_is_asked_about_in_its_own_words(service: Service) -> None:
    service.answers(Reply(status=304, headers={"Expires": http(NOW + HOUR)}))
    outcome = fetch(
        MET_NORWAY, PLACE, now=NOW, etag='"abc"', last_modified="Mon, 12 Oct 2026"
    )
    headers = service.asked[0].headers
    assert headers["If-Modified-Since"] == "Mon, 12 Oct 2026"
    assert headers["If-None-Match"] == '"abc"'
    assert isinstance(outcome, Unchanged)
    assert outcome.expires_at == NOW + HOUR


@pytest.mark.parametrize(
    ("headers", "minutes"),
    [
        ({"Expires": http(NOW + timedelta(minutes=33))}, 33),
        ({"Cache-Control": "public, max-age=1800"}, 30),
        ({"Cache-Control": "no-cache"}, 10),
        ({}, 10),
        ({"Expires": "soon"}, 10),
        ({"Expires": http(NOW - timedelta(days=1))}, 10),
        ({"Expires": http(NOW + timedelta(days=9))}, 360),
        # A clock that is three hours slow: what counts is the time between the two.
        (
            {
                "Date": http(NOW - timedelta(hours=3)),
                "Expires": http(NOW - timedelta(hours=3) + timedelta(minutes=40)),
            },
            40,
        ),
    ],
)
def test_a_reply_is_good_until_it_expires(
    service: Service, headers: dict[str, str], minutes: int
) -> None:
    service.answers(met(**headers))
    found = got(fetch(MET_NORWAY, PLACE, now=NOW))
    assert found.expires_at - NOW == timedelta(minutes=minutes)


def test_a_304_to_nothing_kept_is_nonsense(service: Service) -> None:
    service.answers(Reply(status=304))
    assert refused(fetch(MET_NORWAY, PLACE, now=NOW)).why == "nonsense"


# -- what goes wrong -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("status", "why"),
    [(403, "forbidden"), (401, "forbidden"), (404, "outside"), (429, "busy"),
     (500, "broken"), (503, "broken"), (418, "broken")],
)  # fmt: skip
def test_a_refusal_is_told_for_what_it_is(
    service: Service, status: int, why: str
) -> None:
    service.answers(Reply(status=status))
    assert refused(fetch(MET_NORWAY, PLACE, now=NOW)).why == why


@pytest.mark.parametrize(
    ("retry_after", "wait"),
    [
        ("120", timedelta(seconds=120)),
        (http(NOW + timedelta(minutes=7)), timedelta(minutes=7)),
        ("0", timedelta(seconds=1)),
        ("9999999", timedelta(days=1)),
        ("later", timedelta(minutes=10)),
        (None, timedelta(minutes=10)),
    ],
)
def test_too_many_requests_leave_the_service_alone_for_as_long_as_it_asks(
    service: Service, retry_after: str | None, wait: timedelta
) -> None:
    headers = {} if retry_after is None else {"Retry-After": retry_after}
    service.answers(Reply(status=429, headers=headers))
    assert refused(fetch(MET_NORWAY, PLACE, now=NOW)).retry_at == NOW + wait
    assert len(service.asked) == 1  # not asked again by itself


def test_one_error_of_the_service_is_forgiven(service: Service) -> None:
    service.answers(Reply(status=500), met())
    got(fetch(MET_NORWAY, PLACE, now=NOW))
    assert len(service.asked) == 2


def test_a_service_that_asks_for_time_is_given_it(service: Service) -> None:
    service.answers(Reply(status=503, headers={"Retry-After": "90"}))
    outcome = refused(fetch(MET_NORWAY, PLACE, now=NOW))
    assert outcome.retry_at == NOW + timedelta(seconds=90)
    assert len(service.asked) == 1


def test_a_service_that_does_not_answer_is_away(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    pool = client.urllib3.PoolManager(timeout=0.2, retries=client._RETRIES)
    monkeypatch.setattr(client, "_POOL", pool)
    service.answers(Reply(wait_s=0.6))
    assert refused(fetch(MET_NORWAY, PLACE, now=NOW)).why == "away"


def test_a_service_that_is_not_there_is_away(service: Service, settings: Any) -> None:
    settings.WEATHER_ADDRESSES = {"met-norway": "http://127.0.0.1:9"}
    assert refused(fetch(MET_NORWAY, PLACE, now=NOW)).why == "away"


@pytest.mark.parametrize(
    "raw",
    [b"", b"<html>busy</html>", b"{", b"[]", b"null", b"NaN", b'{"properties": 3}',
     b"\xff\xfe", b'{"properties": {"meta": {}, "timeseries": []}}',
     b"[" * 5000 + b"]" * 5000],
)  # fmt: skip
def test_what_is_no_forecast_is_nonsense(service: Service, raw: bytes) -> None:
    service.answers(Reply(raw=raw))
    outcome = refused(fetch(MET_NORWAY, PLACE, now=NOW))
    assert outcome.why == "nonsense"
    assert outcome.text.startswith("MET Norway sent what cannot be read")


@pytest.mark.parametrize(
    ("name", "value"),
    [("air_temperature", None), ("air_temperature", "8"), ("air_temperature", 300),
     ("relative_humidity", -1), ("relative_humidity", 140), ("wind_speed", -3),
     ("air_temperature", True), ("relative_humidity", None)],
)  # fmt: skip
def test_a_value_that_is_missing_or_no_air_is_named(
    service: Service, name: str, value: Any
) -> None:
    body = met_norway(SIX, MADE, [1, 1])
    details = body["properties"]["timeseries"][1]["data"]["instant"]["details"]
    details[name] = value
    if value is None:
        del details[name]
    service.answers(Reply(body=body))
    outcome = refused(fetch(MET_NORWAY, PLACE, now=NOW))
    assert outcome.why == "nonsense"
    assert name in outcome.text.replace("temperature_c", "air_temperature").replace(
        "humidity_pct", "relative_humidity"
    ).replace("wind_m_s", "wind_speed")


def test_another_unit_than_we_know_is_refused(service: Service) -> None:
    body = met_norway(SIX, MADE, [1])
    body["properties"]["meta"]["units"]["air_temperature"] = "fahrenheit"
    service.answers(Reply(body=body))
    outcome = refused(fetch(MET_NORWAY, PLACE, now=NOW))
    assert "units.air_temperature" in outcome.text


@pytest.mark.parametrize("grid_id", ["../x", "abc", 7, None, "ABCD"])
def test_a_grid_of_another_shape_is_not_followed(
    service: Service, grid_id: Any
) -> None:
    body = points()
    body["properties"]["gridId"] = grid_id
    service.answers(Reply(body=body))
    outcome = refused(fetch(US_WEATHER_SERVICE, PLACE, now=NOW))
    assert "gridId" in outcome.text
    assert len(service.asked) == 1


@pytest.mark.parametrize(
    "spell", ["PT", "5H", "P", "PT5", "P9999D", "", "PT-1H", "P400D"]
)
def test_a_spell_that_cannot_be_read_is_named(service: Service, spell: str) -> None:
    body = grid(SIX, MADE)
    body["properties"]["temperature"]["values"][0]["validTime"] = (
        f"{SIX.isoformat()}/{spell}"
    )
    service.answers(Reply(body=points()), Reply(body=body))
    outcome = refused(fetch(US_WEATHER_SERVICE, PLACE, now=NOW))
    assert "temperature.values[0].validTime" in outcome.text


def test_a_place_outside_the_united_states_is_outside(service: Service) -> None:
    service.answers(Reply(status=404))
    assert refused(fetch(US_WEATHER_SERVICE, PLACE, now=NOW)).why == "outside"


def test_a_forecast_that_has_ended_is_of_the_past(service: Service) -> None:
    service.answers(met())
    late = NOW + timedelta(days=2)
    outcome = refused(fetch(MET_NORWAY, PLACE, now=late))
    assert outcome.why == "past"
    assert "2026-10-12 09:00" in outcome.text


def test_clocks_that_disagree_are_told(service: Service) -> None:
    service.answers(met(Date=http(NOW + timedelta(minutes=43))))
    (caution,) = got(fetch(MET_NORWAY, PLACE, now=NOW)).cautions
    assert "43 minutes apart" in caution
    service.answers(met(Date=http(NOW + timedelta(minutes=2))))
    assert got(fetch(MET_NORWAY, PLACE, now=NOW)).cautions == ()


def test_a_forecast_made_tomorrow_is_refused_and_one_made_soon_counts_from_now(
    service: Service,
) -> None:
    service.answers(Reply(body=met_norway(SIX, NOW + timedelta(hours=20), [1])))
    assert refused(fetch(MET_NORWAY, PLACE, now=NOW)).why == "clock"
    service.answers(Reply(body=met_norway(SIX, NOW + timedelta(minutes=30), [1])))
    assert got(fetch(MET_NORWAY, PLACE, now=NOW)).made_at == NOW


def test_open_meteo_in_a_zone_of_its_own_is_refused(
    service: Service, settings: Any
) -> None:
    body = open_meteo(SIX, 3) | {"utc_offset_seconds": 7200}
    service.answers(Reply(body=body))
    assert "utc_offset_seconds" in refused(fetch(OPEN_METEO, PLACE, now=NOW)).text


def test_lists_of_different_lengths_are_refused(service: Service) -> None:
    body = open_meteo(SIX, 3)
    body["hourly"]["temperature_2m"].pop()
    service.answers(Reply(body=body))
    assert "one length" in refused(fetch(OPEN_METEO, PLACE, now=NOW)).text


def test_the_night_the_clocks_go_back_has_its_hours_once_each(service: Service) -> None:
    # 25 October 2026, 01:00 UTC in Lisbon: told in UTC, no hour comes twice.
    first = datetime(2026, 10, 24, 22, tzinfo=UTC)
    service.answers(Reply(body=met_norway(first, first, [1] * 6)))
    hours = got(fetch(MET_NORWAY, PLACE, now=first)).hours
    assert [hour.at for hour in hours] == [first + n * HOUR for n in range(7)]
