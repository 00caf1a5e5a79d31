"""The real services answer, keep what they are told, and are never skipped."""

import psycopg
import pytest
import redis
from django.core.exceptions import ImproperlyConfigured

from config.environment import broker, database
from tests.services.servers import MissingProgram, program


def test_redis_keeps_a_value_and_never_evicts(redis_url: str) -> None:
    with redis.Redis.from_url(redis_url, decode_responses=True) as client:
        client.set("coat", "second")
        assert client.get("coat") == "second"
        assert client.config_get("maxmemory-policy") == {
            "maxmemory-policy": "noeviction"
        }


def test_postgresql_keeps_a_row(postgresql_url: str) -> None:
    with psycopg.connect(postgresql_url) as connection:
        connection.execute("CREATE TEMPORARY TABLE coats (name text)")
        connection.execute("INSERT INTO coats VALUES ('second')")
        row = connection.execute("SELECT name FROM coats").fetchone()
        assert row == ("second",)


def test_a_missing_service_is_an_error_that_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("PATH", "/nowhere")
    with pytest.raises(MissingProgram, match="apt-get install redis-server"):
        program("redis-server", package="redis-server")


def test_the_settings_understand_both_addresses(
    redis_url: str,
    postgresql_url: str,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    monkeypatch.setenv("BROKER_URL", redis_url)
    monkeypatch.setenv("DATABASE_URL", postgresql_url)
    unused = tmp_path_factory.getbasetemp() / "unused.sqlite3"

    assert broker("BROKER_URL", default="filesystem://") == redis_url
    entry = database("DATABASE_URL", default=unused)
    with psycopg.connect(
        host=entry["HOST"],
        port=entry["PORT"],
        user=entry["USER"],
        dbname=entry["NAME"],
    ) as connection:
        assert connection.execute("SELECT 1").fetchone() == (1,)

    monkeypatch.setenv("DATABASE_URL", postgresql_url.replace("postgresql", "mysql"))
    with pytest.raises(ImproperlyConfigured, match="DATABASE_URL: 'mysql://"):
        database("DATABASE_URL", default=unused)
