"""Liveness and readiness, as a machine asks for them."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from celery import Celery
from django.db import OperationalError, connection
from django.test import Client
from django.utils import timezone

from jobs.replanning import show_alive


def test_healthz_answers_without_sign_in_and_without_the_database(
    client: Client,
) -> None:
    answer = client.get("/healthz")  # no db fixture: a query would be an error
    assert (answer.status_code, answer.content) == (200, b"ok")
    assert "no-store" in answer["Cache-Control"]


def test_readyz_is_up_when_all_three_are(client: Client, db: None) -> None:
    show_alive(timezone.now())
    answer = client.get("/readyz")
    assert (answer.status_code, answer.json()) == (
        200,
        {"database": "up", "broker": "up", "worker": "up"},
    )
    assert "no-store" in answer["Cache-Control"]


def test_readyz_says_that_the_worker_is_silent(client: Client, db: None) -> None:
    show_alive(timezone.now() - timedelta(minutes=5))
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json() == {"database": "up", "broker": "up", "worker": "down"}


def test_readyz_says_that_the_queues_folder_is_gone(
    client: Client, db: None, settings: Any, tmp_path: Path
) -> None:
    show_alive(timezone.now())
    gone = {"data_folder_out": str(tmp_path / "gone")}
    settings.CELERY_BROKER_TRANSPORT_OPTIONS = gone
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json()["broker"] == "down"


def test_readyz_says_that_redis_is_away(
    client: Client, db: None, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    away = Celery(broker="redis://127.0.0.1:1/0")
    away.conf.broker_transport_options = {"socket_connect_timeout": 1}
    monkeypatch.setattr("jobs.views.health.current_app", away)
    settings.CELERY_BROKER_URL = "redis://127.0.0.1:1/0"
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json()["broker"] == "down"


def test_readyz_knows_a_real_redis(
    client: Client,
    db: None,
    settings: Any,
    redis_url: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("jobs.views.health.current_app", Celery(broker=redis_url))
    settings.CELERY_BROKER_URL = redis_url
    show_alive(timezone.now())
    assert client.get("/readyz").status_code == 200


def test_readyz_says_that_the_database_is_away(
    client: Client, db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    def away(*_: Any, **__: Any) -> None:
        raise OperationalError("gone")

    with monkeypatch.context() as gone:
        gone.setattr(connection, "cursor", away)
        answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json() == {"database": "down", "broker": "up", "worker": "down"}


@pytest.mark.parametrize("path", ["/healthz", "/readyz"])
def test_nothing_is_posted_there(client: Client, path: str) -> None:
    assert client.post(path).status_code == 405
