"""Private links never reach a log."""

import logging
import secrets
from datetime import timedelta
from types import SimpleNamespace

import pytest
from gunicorn.config import Config

from config.logs import HideTokens, hide_tokens
from config.web_server import TokenFreeLogger


@pytest.mark.parametrize(
    "address",
    ["/feeds/{}.ics", "/walls/{}/", "/readings/{}", "https://x.example/client/{}?a=1"],
)
def test_a_link_token_is_hidden_wherever_it_stands(address: str) -> None:
    token = secrets.token_urlsafe(32)
    line = hide_tokens(f"GET {address.format(token)} HTTP/1.1")
    assert token not in line
    assert line == f"GET {address.format('(hidden)')} HTTP/1.1"


def test_ordinary_addresses_stay_readable() -> None:
    line = "GET /jobs/casa-do-rio/plans/12/?day=2026-03-02 HTTP/1.1"
    assert hide_tokens(line) == line


def test_the_filter_cleans_arguments_too() -> None:
    token = secrets.token_urlsafe(32)
    record = logging.LogRecord(
        "django.request", 30, "", 0, "Not Found: %s", (f"/feeds/{token}.ics",), None
    )
    assert HideTokens().filter(record)
    assert record.getMessage() == "Not Found: /feeds/(hidden).ics"


def test_the_access_log_shows_no_token_in_any_of_its_parts() -> None:
    token = secrets.token_urlsafe(32)
    path = f"/feeds/{token}.ics"
    environ = {
        "REQUEST_METHOD": "GET",
        "RAW_URI": path,
        "PATH_INFO": path,
        "SERVER_PROTOCOL": "HTTP/1.1",
        "REMOTE_ADDR": "127.0.0.1",
        "HTTP_REFERER": f"https://plans.example.com{path}",
    }
    answer = SimpleNamespace(status="200 OK", sent=10, headers=[("Location", path)])
    request = SimpleNamespace(headers=[("REFERER", f"https://x.example{path}")])

    atoms = TokenFreeLogger(Config()).atoms(
        answer, request, environ, timedelta(seconds=1)
    )

    assert atoms["r"] == "GET /feeds/(hidden).ics HTTP/1.1"
    assert not [name for name, value in atoms.items() if token in str(value)]
