"""PDFs of the sheets: the right sizes, and nothing fetched but our own files."""

import contextlib
import re
import socket
import zlib
from typing import Any

import pytest
import time_machine
from django.test import Client

from jobs import pdf
from jobs.models import Job, User
from jobs.pdf import OWN, NotOurs, own_file, pdf_of
from tests.jobs.calendar_cast import after, stored_job, week_stints
from tests.jobs.test_pages_my_walls import issue

MM_PER_POINT = 25.4 / 72


@pytest.fixture
def signed_in(db: None) -> Client:
    with time_machine.travel(after(0), tick=False):
        job = stored_job()
        issue(job, week_stints())
    client = Client()
    client.force_login(User.objects.create_user("ann@example.com", company=job.company))
    return client


def page_sizes(content: bytes) -> list[tuple[int, int]]:
    """Width and height of each page in mm, as the file states them."""
    text = content
    for packed in re.findall(rb"stream\r?\n(.*?)endstream", content, re.S):
        with contextlib.suppress(zlib.error):
            text += zlib.decompress(packed)
    boxes = re.findall(rb"/MediaBox ?\[([\d. ]+)\]", text)
    found = []
    for box in boxes:
        _, _, wide, high = (float(number) for number in box.split())
        found.append((round(wide * MM_PER_POINT), round(high * MM_PER_POINT)))
    return found


@pytest.mark.parametrize(
    ("kind", "size"),
    [("days", (148, 210)), ("week", (297, 210)), ("signs", (297, 210))],
)
def test_each_kind_of_sheet_has_its_size(
    kind: str, size: tuple[int, int], signed_in: Client
) -> None:
    job = Job.objects.get()
    with time_machine.travel(after(0), tick=False):
        answer = signed_in.get(f"/jobs/{job.key}/paper/{kind}.pdf?day=2026-10-24")
    assert answer["Content-Type"] == "application/pdf"
    assert "no-store" in answer["Cache-Control"]
    assert answer.content.startswith(b"%PDF-")
    sizes = page_sizes(answer.content)
    assert sizes
    assert set(sizes) == {size}


@pytest.mark.parametrize(
    "address",
    [
        "https://example.com/x.css",
        "http://127.0.0.1:8000/static/jobs/app.css",
        "file:///etc/passwd",
        "data:text/css,p{}",
        f"{OWN}../settings.py",
        f"{OWN}jobs/../../config/settings.py",
        f"{OWN}/etc/passwd",
        f"{OWN}nothing.css",
        "",
    ],
)
def test_nothing_but_our_own_files_is_opened(address: str) -> None:
    with pytest.raises(NotOurs):
        own_file(address)


def test_our_own_stylesheet_is(signed_in: Client) -> None:
    assert own_file(f"{OWN}jobs/app.css").read().startswith(b"/* Paper and pigment")


def test_a_document_that_asks_for_more_gets_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def asked(*_: Any) -> None:
        raise AssertionError("something was asked of the network")

    monkeypatch.setattr(socket, "create_connection", asked)
    monkeypatch.setattr(socket.socket, "connect", asked)
    secret = "<img src='file:///etc/hostname'><img src='http://192.0.2.1/x.png'>"
    link = "<link rel=stylesheet href='https://example.com/x.css'>"
    attached = "<a rel=attachment href='file:///etc/passwd'>x</a>"
    made = pdf_of(f"<html><head>{link}</head><body>{secret}{attached}</body></html>")
    assert made.startswith(b"%PDF-")
    assert b"root:" not in made
    assert b"EmbeddedFile" not in made


def test_a_machine_without_the_library_offers_the_page_alone(
    signed_in: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = Job.objects.get()
    with time_machine.travel(after(0), tick=False):
        assert (
            "As a PDF" in signed_in.get(f"/jobs/{job.key}/paper/days/").content.decode()
        )
        monkeypatch.setattr("jobs.views.paper.weasyprint", lambda: None)
        page = signed_in.get(f"/jobs/{job.key}/paper/days/").content.decode()
        assert "As a PDF" not in page
        answer = signed_in.get(f"/jobs/{job.key}/paper/days.pdf", follow=True)
    assert "This machine makes no PDFs" in answer.content.decode()
    monkeypatch.setattr(pdf, "weasyprint", lambda: None)
    with pytest.raises(RuntimeError):
        pdf_of("<p>")
