"""My walls: a hand's day by a link, what is sent from it, and what leaks nowhere."""

import io
import logging
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext

from config.logs import HideTokens
from jobs.actions import issue_plan
from jobs.feed_links import link_address, make_link, revoke_link
from jobs.models import Coat, FeedLink, Job, Reading, Tap, User
from jobs.queries import last_logged
from jobs.undoing import take_back
from tests.jobs.calendar_cast import (
    after,
    base_stint,
    draft,
    moved,
    stint,
    stored_job,
    week_stints,
)
from tests.jobs.page_cast import words

pytestmark = pytest.mark.django_db

WALLS = FeedLink.Purpose.WALLS
SATURDAY = after(28.5)  # half an hour before the glaze
JSON = {"HTTP_ACCEPT": "application/json"}


@pytest.fixture
def at() -> Any:
    """The clock, on the Saturday of the glaze."""
    with time_machine.travel(SATURDAY, tick=False) as traveller:
        yield traveller


@pytest.fixture
def job(at: Any) -> Job:
    """The job with its week issued on the Friday."""
    row = stored_job()
    issue(row, week_stints())
    return row


def issue(job: Job, stints: Any, at: datetime | None = None) -> None:
    plan = draft(job, stints)
    issue_plan.__wrapped__(plan=plan, by=None, now=at or after(0))


def path_of(job: Job, hand: str = "ann", **options: Any) -> str:
    _, token = make_link(job=job, hand_key=hand, purpose=WALLS, at=after(0), **options)
    return urlsplit(link_address(WALLS, token)).path


@pytest.fixture
def walls(job: Job) -> str:
    """The path of Ann's walls."""
    return path_of(job)


@pytest.fixture
def send(walls: str) -> Callable[..., HttpResponse]:
    """Sends a tap from Ann's walls, as the script does unless told otherwise."""

    def sent(kind: str, *, script: bool = True, **fields: Any) -> HttpResponse:
        given = {"kind": kind, "key": uuid4(), **fields}
        return Client().post(walls, given, **(JSON if script else {}))

    return sent


# What stands there --------------------------------------------------------------------


def test_a_hand_reads_the_day_with_its_reasons_and_the_mix(walls: str) -> None:
    said = words(Client().get(walls).content.decode())
    assert "My walls Sea hotel, by plan 1, issued Fri 07:00" in said
    assert "12:00 to 13:30 drag glaze: End wall, Lounge" in said
    assert "Base white is hard at 11:00." in said
    assert "Hands Ann, Ben" in said
    assert (
        "Mix Umber glaze, by parts colour 1 : medium 4, about 1.2 l for 12.5 m²" in said
    )
    assert "Stays open at least 21 min" in said
    assert "Air Fans off, windows shut" in said
    assert "Test first" in said
    assert "Hard under it likely 08:00, safe 11:00" in said


def test_strips_are_for_the_hands_of_the_stint_in_the_air_of_its_hour(at: Any) -> None:
    job = stored_job()
    at.move_to(after(0.5))  # the Friday, when the site is open
    issue(job, [stint("wall-glaze", start=after(1), hours=1.5, hands=("ann", "ben"))])
    said = words(Client().get(path_of(job)).content.decode())
    assert re.search(
        r"Strips [\d.]+ m wide, \d+ in all, about 50 min . "
        r"Start by \d\d:\d\d at the latest: the break is at 12:00.",
        said,
    ), said


def test_the_next_days_stand_below_in_a_line_each(job: Job) -> None:
    said = words(Client().get(path_of(job, "ben")).content.decode())
    assert "Next days Sun 25 Oct" in said
    assert "Test before leaf: Panel, Hall" in said
    assert "Its window shuts Sun 15:00" in said


def test_work_that_nobody_logged_yesterday_is_still_asked_for(walls: str) -> None:
    assert "Fri 23 Oct, 08:00 to 09:00 base: End wall" in words(
        Client().get(walls).content.decode()
    )


def test_us_units_are_those_of_who_made_the_link(job: Job) -> None:
    said = words(Client().get(path_of(job, units="us")).content.decode())
    assert "for 135 ft²" in said
    assert "Temperature, °F" in said


def test_without_an_issued_plan_nothing_of_a_draft_shows(at: Any) -> None:
    job = stored_job()
    draft(job, week_stints())
    said = words(Client().get(path_of(job)).content.decode())
    assert "No plan is issued yet" in said
    assert "glaze" not in said


def test_a_later_draft_changes_nothing(job: Job, walls: str) -> None:
    def shown() -> str:
        return words(Client().get(walls).content.decode())

    before = shown()
    draft(job, moved(week_stints(), "wall-glaze", 2))
    assert shown() == before
    issue(job, moved(week_stints(), "wall-glaze", 1), SATURDAY)
    assert "13:00 to 14:30 drag glaze" in shown()


def test_others_work_is_not_in_it(job: Job) -> None:
    assert "base: End wall" not in words(
        Client().get(path_of(job, "ben")).content.decode()
    )


def test_queries_do_not_grow_with_the_stints(job: Job, walls: str) -> None:
    def asked() -> int:
        with CaptureQueriesContext(
            connection,
        ) as found:
            Client().get(walls)
        return len(found)

    asked()
    before = asked()
    many = [
        stint(f"wall-base-{n}", start=after(24 + n / 10), hours=0.1) for n in range(60)
    ]
    issue(job, [base_stint(after(1)), *many], SATURDAY)
    assert asked() == before


# What is sent -------------------------------------------------------------------------


def test_done_is_a_coat_that_ended_when_it_was_said(
    job: Job, send: Callable[..., HttpResponse]
) -> None:
    answer = send("done", stint="wall-base", ended=30)
    assert answer.status_code == 200, answer.content
    assert answer.json() == {"status": "Done: base on Lounge, End wall"}
    coat = job.coats.get()
    assert (coat.step.key, coat.surface.key) == ("base", "wall")
    assert coat.end == SATURDAY - timedelta(minutes=30)
    assert coat.end - coat.start == timedelta(hours=1)  # as long as it was planned


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("done", {"stint": "wall-base", "ended": 0}),
        ("test", {"stint": "wall-glaze", "result": "ready"}),
        ("set", {"stint": "wall-glaze", "minutes": 60}),
        ("problem", {"stint": "wall-glaze", "problem": "damp"}),
        ("reading", {"room": "lounge", "temperature": 19.5, "humidity_pct": 72}),
    ],
)
def test_a_double_tap_or_a_retry_is_one_record(
    kind: str, fields: dict[str, Any], job: Job, send: Callable[..., HttpResponse]
) -> None:
    key = uuid4()
    answers = [send(kind, key=key, **fields) for _ in range(3)]
    assert [answer.status_code for answer in answers] == [200, 200, 200]
    assert len({answer.content for answer in answers}) == 1
    assert job.taps.count() == 1
    kept = job.coats.count() + job.coat_tests.count() + job.readings.count()
    assert kept == (0 if kind in {"set", "problem"} else 1)


def test_a_retry_that_comes_after_it_was_taken_back_does_not_make_it_anew(
    job: Job, send: Callable[..., HttpResponse]
) -> None:
    key = uuid4()
    send("done", key=key, stint="wall-base", ended=0)
    take_back(row=job.coats.get(), now=SATURDAY)
    assert send("done", key=key, stint="wall-base", ended=0).status_code == 200
    assert not job.coats.exists()


def test_a_tap_made_without_a_line_counts_from_when_it_was_made(
    job: Job, send: Callable[..., HttpResponse]
) -> None:
    send("reading", ago_s=5400, room="lounge", temperature=19.5, humidity_pct=72)
    reading = job.readings.get()
    assert reading.at == SATURDAY - timedelta(minutes=90)
    assert (reading.temperature_c, reading.humidity_pct) == (19.5, 72)
    assert job.taps.get().received_at == SATURDAY


def test_a_tap_outlives_the_plan_it_was_made_under(
    job: Job, send: Callable[..., HttpResponse]
) -> None:
    issue(job, week_stints()[1:], SATURDAY)
    assert send("done", stint="wall-base", ended=0).status_code == 200


def test_what_a_link_brought_is_taken_back_like_any_other(
    job: Job, send: Callable[..., HttpResponse]
) -> None:
    send("done", stint="wall-base", ended=0)
    last = last_logged(job)
    assert last is not None
    assert (last.kind, last.by) == ("coat", "Ann")


def test_without_script_it_is_a_form_and_leads_back(
    job: Job, walls: str, send: Callable[..., HttpResponse]
) -> None:
    answer = send("done", script=False, stint="wall-base", ended=0)
    assert (answer.status_code, answer["Location"]) == (302, f"{walls}#sent")
    page = words(Client().get(walls).content.decode())
    assert "08:00 to 09:00 base" not in page  # no longer left over
    assert "What you sent Sat 11:30 Done: base on Lounge, End wall" in page


@pytest.mark.parametrize(
    ("kind", "fields", "why"),
    [
        ("paint", {}, "give one of done, test, set, problem, reading"),
        ("done", {"stint": "panel-size", "ended": 0}, "not among your stints"),
        ("done", {"stint": "wall-base", "ended": 7}, "7 is not one of the available"),
        ("set", {"stint": "wall-glaze", "minutes": "soon"}, "soon"),
        ("problem", {"stint": "wall-glaze", "problem": "ghosts"}, "ghosts"),
        ("reading", {"room": "attic", "temperature": 20, "humidity_pct": 50}, "attic"),
        ("reading", {"room": "lounge", "temperature": 99, "humidity_pct": 50}, "99"),
        ("reading", {"room": "lounge", "temperature": "", "humidity_pct": 50}, "Temp"),
        ("done", {"stint": "wall-base", "ended": 0, "ago_s": -5}, "greater than"),
        ("done", {"stint": "wall-base", "ended": 0, "key": "x"}, "valid UUID"),
    ],
)
def test_what_cannot_be_is_refused_in_words(
    kind: str,
    fields: dict[str, Any],
    why: str,
    job: Job,
    send: Callable[..., HttpResponse],
) -> None:
    answer = send(kind, **fields)
    assert answer.status_code == 422
    assert why in answer.json()["status"]
    page = send(kind, script=False, **fields)
    assert page.status_code == 422
    assert why in words(page.content.decode())
    assert not job.taps.exists()
    assert not job.coats.exists()


def test_a_coat_logged_already_is_refused_and_says_so(
    job: Job, send: Callable[..., HttpResponse]
) -> None:
    send("done", stint="wall-base", ended=60)
    answer = send("done", stint="wall-base", ended=0)
    assert answer.status_code == 422
    assert "logged already" in answer.json()["status"]
    assert job.coats.count() == 1


def test_the_lead_sees_problems_and_coats_that_set_late(
    job: Job, send: Callable[..., HttpResponse], client: Client
) -> None:
    send("problem", stint="wall-glaze", problem="damp")
    send("set", stint="wall-glaze", minutes=120)
    lead = User.objects.create_user(
        "lead@example.com", company=job.company, role=User.Role.LEAD
    )
    client.force_login(lead)
    said = words(client.get(f"/jobs/{job.key}/").content.decode())
    assert "Problem at drag glaze on Lounge, End wall: A damp patch. Ann" in said
    assert "Under drag glaze on Lounge, End wall: set 2 h late. Ann" in said


# The link itself ----------------------------------------------------------------------


def test_a_link_of_one_kind_opens_no_page_of_another(job: Job, walls: str) -> None:
    token = walls.split("/")[2]
    assert Client().get(f"/feeds/{token}.ics").status_code == 404
    _, calendar = make_link(job=job, hand_key="ann", at=after(0))
    assert Client().get(f"/walls/{calendar}/").status_code == 404
    assert Client().post(f"/walls/{calendar}/", {"kind": "done"}).status_code == 404


def test_a_guessed_token_is_not_found(job: Job, walls: str) -> None:
    token = walls.split("/")[2]
    stored = FeedLink.objects.get(purpose=WALLS).token_sha256
    for guess in (token[:-1] + ("A" if token[-1] != "A" else "B"), "A" * 43, stored):
        assert Client().get(f"/walls/{guess}/").status_code == 404


def test_a_link_switched_off_shows_and_takes_nothing(
    job: Job, walls: str, send: Callable[..., HttpResponse]
) -> None:
    revoke_link(job.feed_links.get(), SATURDAY)
    answer = Client().get(walls)
    assert answer.status_code == 410
    assert "glaze" not in answer.content.decode()
    assert send("done", stint="wall-base", ended=0).status_code == 410
    assert Client().get(f"{walls}worker.js").status_code == 410
    assert not job.coats.exists()


def test_a_new_link_switches_the_one_before_off_and_no_other(
    job: Job, walls: str
) -> None:
    ben = path_of(job, "ben")
    _, calendar = make_link(job=job, hand_key="ann", at=after(0))
    fresh = path_of(job)
    assert Client().get(walls).status_code == 410
    for path in (fresh, ben, f"/feeds/{calendar}.ics"):
        assert Client().get(path).status_code == 200


def test_only_a_hand_has_walls(job: Job) -> None:
    for scope in ({}, {"room_key": "lounge"}, {"hand_key": "nobody"}):
        with pytest.raises(ValidationError):
            make_link(job=job, purpose=WALLS, at=after(0), **scope)


def test_reading_changes_nothing_but_the_hour_of_last_use(job: Job, walls: str) -> None:
    Client().get(walls)
    assert job.feed_links.get().last_used_at == SATURDAY
    with CaptureQueriesContext(connection) as asked:
        Client().get(walls)
    changing = ("INSERT", "UPDATE", "DELETE")
    assert [q["sql"] for q in asked if q["sql"].startswith(changing)] == []
    fields = {"kind": "done", "stint": "wall-base", "ended": 0, "key": uuid4()}
    Client().get(walls, fields)
    assert not Coat.objects.exists()
    assert not Tap.objects.exists()
    assert not Reading.objects.exists()


def test_no_cache_no_search_and_no_other_site_gets_the_address(walls: str) -> None:
    for path in (walls, f"{walls}worker.js", f"/walls/{'A' * 43}/"):
        answer = Client().get(path)
        assert "no-store" in answer["Cache-Control"]
        assert answer["X-Robots-Tag"] == "noindex"
        assert answer["Referrer-Policy"] == "no-referrer"
    assert walls.split("/")[2] not in Client().get(walls).content.decode()


def test_no_log_shows_the_address(walls: str) -> None:
    out = io.StringIO()
    handler = logging.StreamHandler(out)
    handler.addFilter(HideTokens())
    root = logging.getLogger()
    root.addHandler(handler)
    try:
        Client().delete(walls)
        Client().get(walls.replace("/walls/", "/wall/"))
    finally:
        root.removeHandler(handler)
    assert "Not" in out.getvalue()
    assert walls.split("/")[2] not in out.getvalue()


def test_another_sites_form_needs_the_address_and_no_cookie_helps(
    job: Job, walls: str
) -> None:
    strict = Client(enforce_csrf_checks=True)
    fields = {"kind": "done", "stint": "wall-base", "ended": 0, "key": uuid4()}
    assert strict.post(walls, fields, HTTP_ORIGIN="null").status_code == 302
    assert strict.post("/walls/", fields).status_code == 404
