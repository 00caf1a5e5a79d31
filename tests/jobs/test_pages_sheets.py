"""Sheets in and out: a preview that stores nothing, one press, and what is said."""

import csv
import io
import re
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.demo_job import marram_house
from jobs.factories import MONDAY, RecipeFactory, RoomFactory, SurfaceFactory
from jobs.models import Job, User
from jobs.sheet_actions import bring_in
from jobs.sheet_file import MOST_BYTES, table_of
from jobs.sheet_forms import kept_sheet
from jobs.translation import job_json, job_value
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import words

SHEETS, BRING_IN = "/jobs/job/sheets/", "/jobs/job/sheets/bring-in/"
GOOD = "name,room,kind,width,height,recipe\nNorth,room,wall,5,2.5,recipe\n"
BAD = "name,room,kind,width,height,recipe\nNorth,attic,wall,-5,2.5,recipe\n"


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def leads(client: Client, lead: User, job: Job) -> Client:
    client.force_login(lead)
    return client


def look(
    client: Client, text: str, part: str = "surfaces", **more: Any
) -> HttpResponse:
    return client.post(SHEETS, {"part": part, "text": text, **more})


def signed_in(answer: HttpResponse) -> str:
    """What the preview would send back."""
    return str(answer.context["signed"])


def test_a_preview_shows_every_cell_and_keeps_nothing(leads: Client, job: Job) -> None:
    before = job_json(job)
    answer = look(leads, GOOD)
    said = words(answer.content.decode())
    assert answer.status_code == 200
    assert "1 surface would come in. Nothing is kept yet." in said
    for cell in ("North", "room", "wall", "5", "2.5", "recipe"):
        assert f">{cell}</td>" in answer.content.decode()
    assert job_json(job) == before


def test_a_press_brings_them_in_and_a_second_one_changes_nothing(
    leads: Client, job: Job
) -> None:
    signed = signed_in(look(leads, GOOD))
    answer = leads.post(BRING_IN, {"sheet": signed}, follow=True)
    assert "1 surface brought in." in words(answer.content.decode())
    assert job.surfaces.get(key="room-north").width_m == 5
    after = job_json(job)
    answer = leads.post(BRING_IN, {"sheet": signed}, follow=True)
    assert "All were in already: 1 surface." in words(answer.content.decode())
    assert job_json(job) == after


def test_plans_made_before_are_out_of_date_only_where_something_came_in(
    job: Job,
) -> None:
    for changed in (True, False):
        Job.objects.update(changed_at=MONDAY)
        bring_in(
            job=job, table=table_of(GOOD), part="surfaces", units="metric", now=NOW
        )
        job.refresh_from_db()
        assert (job.changed_at == NOW) is changed


def test_a_bad_cell_has_its_message_beside_it_and_nothing_can_come_in(
    leads: Client, job: Job
) -> None:
    answer = look(leads, BAD)
    html = answer.content.decode()
    assert answer.status_code == 422
    assert "2 places need another look." in words(html)
    assert "attic<span" in html
    assert "&quot;attic&quot;: give one of room." in html
    assert "Bring these in" not in html
    assert leads.post(BRING_IN, {"sheet": signed_in(answer)}).status_code == 422
    assert job.surfaces.count() == 1


def test_the_cells_are_kept_to_be_mended(leads: Client) -> None:
    html = look(leads, BAD).content.decode()
    assert "North,attic,wall,-5,2.5,recipe" in html
    assert re.search(r'value="surfaces"[^>]*checked', html)


def test_a_file_is_read_like_pasted_cells(leads: Client, job: Job) -> None:
    file = SimpleUploadedFile("walls.csv", GOOD.replace(",", ";").encode("utf-8-sig"))
    answer = leads.post(SHEETS, {"part": "surfaces", "file": file})
    assert answer.status_code == 200
    leads.post(BRING_IN, {"sheet": signed_in(answer)})
    assert job.surfaces.count() == 2


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"part": "surfaces"}, "Nothing chosen or pasted"),
        ({"text": GOOD}, "Nothing chosen: give rooms or surfaces."),
        ({"text": GOOD, "part": "coats"}, "coats: give rooms or surfaces."),
        ({"text": 'name\n"x', "part": "rooms"}, "a quotation mark is never closed"),
        ({"text": "a" * (MOST_BYTES + 1), "part": "rooms"}, "at most 300 kB"),
    ],
)
def test_what_is_no_sheet_is_refused_in_words_and_kept(
    leads: Client, given: dict[str, str], why: str
) -> None:
    answer = leads.post(SHEETS, given)
    assert answer.status_code == 422
    assert why in words(answer.content.decode())
    kept = answer.context["form"]["text"].value() or ""
    assert kept == given.get("text", "")


@pytest.mark.parametrize(
    "content", [b"\0\0", b"\x81\x8d", b"a" * (MOST_BYTES + 9), b""]
)
def test_files_that_are_no_text_are_refused(leads: Client, content: bytes) -> None:
    file = SimpleUploadedFile("walls.csv", content)
    answer = leads.post(SHEETS, {"part": "surfaces", "file": file})
    assert answer.status_code == 422


def test_a_preview_that_was_changed_on_its_way_brings_nothing_in(
    leads: Client, job: Job, stored: Callable[..., Job]
) -> None:
    signed = signed_in(look(leads, GOOD))
    other = stored(id="other")
    assert kept_sheet(job, signed) is not None
    assert kept_sheet(other, signed) is None  # a sheet is for the job it was read for
    for sent in ("", signed[:-1], "x" + signed, "a:b:c"):
        answer = leads.post(BRING_IN, {"sheet": sent})
        assert answer.status_code == 422
        assert "no longer whole" in words(answer.content.decode())
    assert job.surfaces.count() == 1


def test_a_job_that_changed_since_the_preview_says_what_is_wrong_now(
    leads: Client, job: Job
) -> None:
    sheet = "id,name,room,kind,width,height,recipe\na,A,room,wall,5,2,recipe\n"
    signed = signed_in(look(leads, sheet))
    leads.post(BRING_IN, {"sheet": signed_in(look(leads, sheet.replace(",5,", ",6,")))})
    answer = leads.post(BRING_IN, {"sheet": signed})
    assert answer.status_code == 422
    assert "A has it already" in words(answer.content.decode())
    assert job.surfaces.get(key="a").width_m == 6


def test_a_person_who_reads_feet_types_feet(
    leads: Client, lead: User, job: Job
) -> None:
    lead.units = User.Units.US
    lead.save()
    leads.post(BRING_IN, {"sheet": signed_in(look(leads, GOOD))})
    assert job.surfaces.get(key="room-north").width_m == pytest.approx(5 * 0.3048)


def test_units_are_those_the_form_was_shown_in(leads: Client, job: Job) -> None:
    leads.post(BRING_IN, {"sheet": signed_in(look(leads, GOOD, units="us"))})
    assert job.surfaces.get(key="room-north").width_m == pytest.approx(5 * 0.3048)


def test_what_is_typed_is_never_markup(leads: Client) -> None:
    html = look(leads, GOOD.replace("North", "<b>x</b>")).content.decode()
    assert "<b>x</b>" not in html


@pytest.mark.parametrize("part", ["rooms", "surfaces"])
def test_a_sheet_that_goes_out_comes_in_again(
    client: Client, lead: User, stored: Callable[..., Job], part: str
) -> None:
    demo = stored(marram_house(MONDAY.date()))
    client.force_login(lead)
    answer = client.get(f"/jobs/{demo.key}/sheets/{part}.csv")
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert f'filename="{demo.key}-{part}.csv"' in answer["Content-Disposition"]
    back = client.post(
        f"/jobs/{demo.key}/sheets/",
        {"part": part, "file": SimpleUploadedFile("a.csv", answer.content)},
    )
    assert back.status_code == 200
    assert "All of it is in already, just so" in words(back.content.decode())


def test_no_cell_of_a_sheet_that_goes_out_runs(
    client: Client, lead: User, stored: Callable[..., Job]
) -> None:
    name = '=HYPERLINK("http://elsewhere.example","look")'
    stored(
        rooms=(RoomFactory(id="room", name=name),),
        recipes=(RecipeFactory(id="recipe", name="@two"),),
        surfaces=(SurfaceFactory(id="-wall", name="+1", priority=-5),),
    )
    client.force_login(lead)
    for part in ("rooms", "surfaces"):
        text = client.get(f"/jobs/job/sheets/{part}.csv").content.decode("utf-8-sig")
        cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
        assert not [
            cell for cell in cells if cell[:1] in tuple("=+-@") and cell != "-5"
        ]


def test_an_empty_sheet_has_headings_in_the_readers_units(
    leads: Client, lead: User
) -> None:
    text = leads.get("/jobs/job/sheets/empty/surfaces.csv").content.decode("utf-8-sig")
    assert "width (m),height (m),openings (m²)" in text
    lead.units = User.Units.US
    lead.save()
    text = leads.get("/jobs/job/sheets/empty/surfaces.csv").content.decode("utf-8-sig")
    assert "width (ft),height (ft),openings (ft²)" in text


def test_there_is_no_sheet_of_anything_else(leads: Client) -> None:
    for name in ("coats", "empty/coats"):
        assert leads.get(f"/jobs/job/sheets/{name}.csv").status_code == 404


def test_queries_of_a_sheet_do_not_grow_with_its_rows(leads: Client) -> None:
    head, row = GOOD.splitlines()
    counts = []
    for rows in (2, 200):
        lines = [row.replace("North", f"N {number}") for number in range(rows)]
        with CaptureQueriesContext(connection) as looked:
            answer = look(leads, "\n".join([head, *lines]))
        with CaptureQueriesContext(connection) as pressed:
            leads.post(BRING_IN, {"sheet": signed_in(answer)})
        # New rows go in by the hundred, as many as the database takes at once.
        read = [
            query
            for query in pressed.captured_queries
            if not query["sql"].startswith("INSERT")
        ]
        counts.append((len(looked), len(read)))
    assert counts[0] == counts[1]


def test_sheets_are_found_from_the_list_of_jobs(leads: Client, hand: User) -> None:
    assert f'href="{SHEETS}"' in leads.get("/").content.decode()
    leads.force_login(hand)
    assert f'href="{SHEETS}"' not in leads.get("/").content.decode()


def test_the_page_counts_what_is_there(leads: Client, job: Job) -> None:
    said = words(leads.get(SHEETS).content.decode())
    assert "1 room " in said
    assert "1 surface " in said
    assert len(job_value(job).rooms) == 1
