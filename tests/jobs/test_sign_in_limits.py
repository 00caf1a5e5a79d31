"""Wrong passwords are counted by account and address, across processes."""

import os
import subprocess
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.test import Client

from jobs.models import User
from jobs.sign_in_limits import MOST_FROM_ADDRESS, MOST_ON_ACCOUNT
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import words

ROOT = Path(__file__).resolve().parents[2]
RIGHT = "paper and pigment"


def signs_in(email: str, password: str = "wrong", address: str = "192.0.2.1") -> int:
    """The status: 302 in, 422 wrong, 429 without looking."""
    client = Client(REMOTE_ADDR=address)
    typed = {"username": email, "password": password}
    return client.post("/sign-in/", typed).status_code


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False) as clock:
        yield clock


def test_eight_wrong_passwords_shut_an_account_to_one_address_for_a_quarter_hour(
    lead: User, the_clock: Any
) -> None:
    assert {signs_in(lead.email) for _ in range(7)} == {422}
    assert signs_in(lead.email) == 429
    assert signs_in(lead.email, RIGHT) == 429
    assert signs_in(lead.email, RIGHT, address="192.0.2.2") == 302
    the_clock.shift(timedelta(minutes=16))
    assert signs_in(lead.email, RIGHT) == 302


def test_an_account_spelt_in_many_ways_is_one_account(lead: User) -> None:
    name, _, host = lead.email.partition("@")
    spelt = [f"{name[:at].upper()}{name[at:]}@{host}" for at in range(5)]
    spelt += [f" {lead.email}", f"{lead.email} ", lead.email.upper()]
    for email in spelt:
        signs_in(email)
    assert signs_in(lead.email, RIGHT) == 429


def test_one_address_that_tries_many_accounts_is_shut_out(lead: User) -> None:
    for number in range(MOST_FROM_ADDRESS - 1):
        assert signs_in(f"person-{number}@example.com") == 422
    assert signs_in("person-x@example.com") == 429
    assert signs_in(lead.email, RIGHT) == 429
    assert signs_in(lead.email, RIGHT, address="192.0.2.2") == 302


def test_one_account_tried_from_many_addresses_is_shut(lead: User, hand: User) -> None:
    for number in range(MOST_ON_ACCOUNT - 1):
        assert signs_in(lead.email, address=f"198.51.100.{number}") == 422
    assert signs_in(lead.email, address="198.51.100.99") == 429
    assert signs_in(lead.email, RIGHT) == 429
    assert signs_in(hand.email, RIGHT) == 302


def test_a_success_does_not_clear_what_was_tried_on_others(lead: User) -> None:
    for number in range(MOST_FROM_ADDRESS - 1):
        signs_in(f"person-{number}@example.com")
    assert signs_in(lead.email, RIGHT) == 302
    assert signs_in("person-x@example.com") == 429
    assert signs_in(lead.email, RIGHT) == 429


def test_trying_on_does_not_keep_it_shut(lead: User, the_clock: Any) -> None:
    for _ in range(8):
        signs_in(lead.email)
    the_clock.shift(timedelta(minutes=10))
    assert signs_in(lead.email) == 429
    the_clock.shift(timedelta(minutes=6))
    assert signs_in(lead.email, RIGHT) == 302


def test_who_is_shut_out_is_told_for_how_long(lead: User) -> None:
    for _ in range(8):
        signs_in(lead.email)
    client = Client(REMOTE_ADDR="192.0.2.1")
    answer = client.post("/sign-in/", {"username": lead.email, "password": RIGHT})
    assert "Wait a quarter of an hour" in words(answer.content.decode())


TRIES = """
import django, sys
django.setup()
from django.core.management import call_command
from django.test import Client
if sys.argv[2:]:
    call_command("migrate", verbosity=0)
    call_command("start_company", "Harbour", "lead@example.com", verbosity=0)
typed = {"username": "lead@example.com", "password": "wrong"}
for _ in range(int(sys.argv[1])):
    answer = Client(SERVER_NAME="localhost").post("/sign-in/", typed)
print(answer.status_code)
"""


def test_processes_count_together(tmp_path: Path) -> None:
    own = {
        "PATH": os.environ["PATH"],
        "DATA_DIR": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "COAT_PASSWORD": RIGHT,
        "DEBUG": "true",  # pages without collected static files
    }

    def status(*given: str) -> str:
        run = subprocess.run(
            [sys.executable, "-c", TRIES, *given],
            cwd=ROOT, env=own, check=True, capture_output=True, text=True,
        )  # fmt: skip
        return run.stdout.split()[-1]

    assert status("4", "first") == "422"
    assert status("4") == "429"
