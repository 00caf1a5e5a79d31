"""What every page keeps to; signing in; jobs and their files in and out."""

import json
import re
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.factories import (
    small_job,
)
from jobs.models import Job, Plan, User
from jobs.translation import job_value, store_plan
from scheduling.job_file import write_job
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import plan_value, words

UNSAFE_MARKUP = re.compile(r"<(?:style|script(?! src=))|\sstyle=|\son[a-z]+=", re.I)


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def page(client: Client, lead: User) -> Callable[..., str]:
    """Gets a page of the small job as the lead."""
    client.force_login(lead)

    def get(path: str = "", status: int = 200, **query: str) -> str:
        answer = client.get(f"/jobs/job/{path}", query)
        assert answer.status_code == status
        return answer.content.decode()

    return get


@pytest.fixture
def planned(job: Job) -> Callable[..., Plan]:
    def store(**changes: Any) -> Plan:
        value = job_value(job)
        return store_plan(
            job, plan_value(value, **changes), planned=value, planned_at=NOW
        )

    return store


@pytest.mark.parametrize(
    "path",
    ["", "week/", "recipes/", "recipes/recipe/", "calendars/", "reading/",
     "coat/?surface=wall", "test/?surface=wall", "coat/"],
)  # fmt: skip
def test_no_page_has_a_style_or_a_script_of_its_own(
    path: str, job: Job, planned: Callable[..., Plan], page: Callable[..., str]
) -> None:
    planned()
    assert UNSAFE_MARKUP.findall(page(path)) == []


def test_numbers_in_a_drawing_have_a_point_whatever_the_language(
    job: Job, planned: Callable[..., Plan], page: Callable[..., str], settings: Any
) -> None:
    planned()
    settings.LANGUAGE_CODE = "de"
    settings.USE_THOUSAND_SEPARATOR = True
    drawing = re.search(r'<svg viewBox="0 0 1182.*?</svg>', page("week/"), re.S)
    assert drawing is not None
    numbers = re.findall(r'\s(?:x|y|width|height|cx|cy)="([^"]+)"', drawing[0])
    assert len(numbers) > 20
    assert [number for number in numbers if not re.fullmatch(r"[\d.]+", number)] == []


def test_a_page_that_is_not_there_says_so(client: Client, lead: User) -> None:
    client.force_login(lead)
    answer = client.get("/jobs/nowhere/")
    assert answer.status_code == 404
    assert "Nothing at this address" in words(answer.content.decode())


def test_a_hand_is_told_what_is_the_leads_and_whom_to_ask(
    client: Client, lead: User, hand: User, stranger: User
) -> None:
    client.force_login(hand)
    answer = client.get("/import/")
    assert answer.status_code == 403
    said = words(answer.content.decode())
    assert "This is for the lead" in said
    assert "calendar links are the lead’s; ask lead@example.com." in said


def test_a_form_without_its_safety_mark_says_what_to_do(lead: User) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(lead)
    answer = client.post("/account/", {"name": "Ann"})
    assert answer.status_code == 403
    assert "This page was open too long" in words(answer.content.decode())


def test_the_pages_let_their_forms_say_where_they_come_from(
    client: Client, lead: User
) -> None:
    # Fetch standard, "origin" of a navigation: with the policy no-referrer it is null,
    # and a form that came from null is refused.
    client.force_login(lead)
    assert client.get("/")["Referrer-Policy"] == "same-origin"


def test_a_wrong_password_does_not_say_which_half_was_wrong(
    client: Client, lead: User
) -> None:
    for name in (lead.email, "nobody@example.com"):
        answer = client.post("/sign-in/", {"username": name, "password": "wrong"})
        assert answer.status_code == 422
        assert "do not belong together" in words(answer.content.decode())


def test_signing_in_leads_to_the_page_that_was_wanted(
    client: Client, job: Job, lead: User
) -> None:
    answer = client.post(
        "/sign-in/?next=/jobs/job/week/",
        {"username": lead.email, "password": "paper and pigment"},
    )
    assert answer.url == "/jobs/job/week/"


def test_signing_in_never_leads_to_another_site(client: Client, lead: User) -> None:
    answer = client.post(
        "/sign-in/?next=https://elsewhere.example/",
        {"username": lead.email, "password": "paper and pigment"},
    )
    assert answer.url == "/"


def test_an_empty_list_says_what_to_do_first(client: Client, lead: User) -> None:
    client.force_login(lead)
    said = client.get("/").content.decode()
    assert "No job is here yet" in said
    assert "/import/" in said


def test_the_list_shows_only_the_companys_own(
    client: Client, job: Job, stranger: User
) -> None:
    client.force_login(stranger)
    assert "One wall" not in client.get("/").content.decode()


def test_the_list_takes_as_many_queries_for_twenty_jobs_as_for_two(
    client: Client, lead: User, stored: Callable[..., Job]
) -> None:
    client.force_login(lead)
    counts = []
    for total in (2, 20):
        for number in range(lead.company.jobs.count(), total):
            stored(id=f"job-{number}")
        with CaptureQueriesContext(
            connection,
        ) as queries:
            client.get("/")
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_a_pasted_job_comes_in_and_goes_out_the_same(
    client: Client, lead: User
) -> None:
    client.force_login(lead)
    text = json.dumps(write_job(small_job()))
    answer = client.post("/import/", {"text": text})
    assert answer.url == "/jobs/job/week/"
    assert client.get("/jobs/job/file.json").json() == json.loads(text)


def test_a_chosen_file_comes_in(client: Client, lead: User) -> None:
    client.force_login(lead)
    content = json.dumps(write_job(small_job())).encode()
    file = SimpleUploadedFile("job.json", b"\xef\xbb\xbf" + content)
    assert client.post("/import/", {"file": file}).status_code == 302


def test_every_fault_of_a_file_is_listed_and_its_text_is_kept(
    client: Client, lead: User
) -> None:
    client.force_login(lead)
    written = write_job(small_job())
    written["id"] = "Not An Id"
    written["surfaces"][0]["width_m"] = -4
    file = SimpleUploadedFile("job.json", json.dumps(written).encode())
    answer = client.post("/import/", {"file": file})
    assert answer.status_code == 422
    errors = answer.context["form"].errors["file"]
    assert [error.split(":")[0] for error in errors] == ["id", "surfaces[0].width_m"]
    assert "-4" in errors[1]
    assert answer.context["form"]["text"].value() == json.dumps(written)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "Nothing chosen or pasted"),
        ("{", "JSON (line 1, column 2"),
        ("[" * 100_000, "nested"),
        ('{"id": ' + "9" * 5000 + "}", "digits"),
        ('{"id": NaN}', "NaN"),
        ('{"id": 1, "id": 2}', "only once"),
        ("null", "object"),
        ('"🧱"', "object"),
    ],
)
def test_a_text_that_is_no_job_says_why(
    text: str, said: str, client: Client, lead: User
) -> None:
    client.force_login(lead)
    answer = client.post("/import/", {"text": text})
    assert answer.status_code == 422
    assert said in str(answer.context["form"].errors)


def test_a_file_that_is_no_text_says_so(client: Client, lead: User) -> None:
    client.force_login(lead)
    answer = client.post(
        "/import/", {"file": SimpleUploadedFile("photo.jpg", b"\xff\xd8\xff\x00")}
    )
    assert answer.status_code == 422
    assert "UTF-8" in str(answer.context["form"].errors)


def test_a_taken_id_is_refused_unless_it_may_take_its_place(
    client: Client, lead: User, job: Job
) -> None:
    client.force_login(lead)
    text = json.dumps(write_job(small_job(title="Two walls")))
    assert client.post("/import/", {"text": text}).status_code == 422
    assert client.post("/import/", {"text": text, "replace": "on"}).status_code == 302
    job.refresh_from_db()
    assert job.title == "Two walls"


def test_a_job_of_any_id_has_its_own_page(
    client: Client, lead: User, stored: Callable[..., Job]
) -> None:
    client.force_login(lead)
    for key in ("new", "import", "account", "0"):
        stored(id=key, title=f"The job {key}")
        assert f"The job {key}" in client.get(f"/jobs/{key}/").content.decode()


def test_a_list_of_errors_stays_a_list_for_those_who_hear_it(
    client: Client, lead: User
) -> None:
    # ARIA in HTML: a list that is given the role of an alert has no list items.
    client.force_login(lead)
    nobody = Client()
    wrong = {"username": lead.email, "password": "wrong"}
    for answer in (
        client.post("/account/", {"units": "cubits"}),
        nobody.post("/sign-in/", wrong),
    ):
        html = answer.content.decode()
        assert answer.status_code == 422
        assert 'role="alert"' in html
        assert re.search(r'<ul[^>]*role="alert"', html) is None
