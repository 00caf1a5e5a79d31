"""Calendar addresses: who gets what, what is not sent twice, and what leaks nowhere."""

import hashlib
import io
import logging
import re
import time
from dataclasses import replace
from datetime import UTC, timedelta

import icalendar
import pytest
import recurring_ical_events
import time_machine
from django.conf import settings
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.db import OperationalError, connection
from django.test import Client

from config.logs import HideTokens
from jobs import calendar_feed
from jobs.actions import issue_plan
from jobs.calendar_entries import update_entries
from jobs.feed_links import feed_address, make_link, revoke_link, webcal_address
from jobs.models import CalendarEntry, FeedLink, Job
from tests.jobs.calendar_cast import (
    after,
    draft,
    issued,
    moved,
    stint,
    stored_job,
    week_stints,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _friday_and_no_cache():
    cache.clear()
    with time_machine.travel(after(0), tick=False):
        yield


@pytest.fixture
def job() -> Job:
    """The job with its week issued."""
    row = stored_job()
    publish(row, week_stints(), after(0))
    return row


def publish(job, stints, at) -> None:
    update_entries(issued(job, stints, at), at)


def address(job: Job, **scope: str) -> str:
    return path_of(make_link(job=job, at=after(0), **scope)[1])


def path_of(token: str) -> str:
    return f"/feeds/{token}.ics"


def events(response) -> list[icalendar.Event]:
    assert response.status_code == 200
    return icalendar.Calendar.from_ical(response.content).events


def summaries(response) -> set[str]:
    return {str(event["summary"]) for event in events(response)}


# Who gets what ---------------------------------------------------------------------


def test_a_hand_gets_own_work_tests_and_windows_but_no_drying(client, job) -> None:
    assert summaries(client.get(address(job, hand_key="ben"))) == {
        "drag glaze · End wall, Lounge",
        "size · Panel, Hall",
        "Gold size ready for leaf 07:00 to 15:00 · Panel, Hall",
        "Test before leaf · Panel, Hall",
        "leaf · Panel, Hall",
    }
    assert summaries(client.get(address(job, hand_key="ann"))) == {
        "base · End wall, Lounge",
        "drag glaze · End wall, Lounge",
    }


def test_a_room_gets_its_own_entries_with_the_drying(client, job) -> None:
    assert summaries(client.get(address(job, room_key="lounge"))) == {
        "base · End wall, Lounge",
        "drag glaze · End wall, Lounge",
        "Drying until ready for drag glaze: Base white · End wall, Lounge",
        "Drying until dry: Umber glaze · End wall, Lounge",
    }


def test_a_job_gets_everything_and_work_alone_blocks_time(client, job) -> None:
    found = events(client.get(address(job)))
    assert len(found) == 9
    kinds = {(str(e["categories"].cats[0]), str(e["transp"])) for e in found}
    assert kinds == {
        ("Work", "OPAQUE"),
        ("Test", "OPAQUE"),
        ("Drying", "TRANSPARENT"),
        ("Window", "TRANSPARENT"),
    }


def test_the_calendar_bears_the_name_of_whose_it_is(client, job) -> None:
    def name(**scope: str) -> str:
        content = client.get(address(job, **scope)).content
        return str(icalendar.Calendar.from_ical(content)["name"])

    assert name() == "Sea hotel"
    assert name(hand_key="ann") == "Ann · Sea hotel"
    assert name(room_key="hall") == "Hall · Sea hotel"


def test_a_draft_never_shows(client, job) -> None:
    path = address(job)
    before = client.get(path).content
    draft(job, moved(week_stints(), "panel-size", 2))
    assert client.get(path).content == before


def test_issuing_a_plan_is_what_makes_it_show(client) -> None:
    job = stored_job()
    path = address(job, hand_key="ann")
    plan = draft(job, week_stints())
    assert len(events(client.get(path))) == 1
    issue_plan(plan=plan, by=None, now=after(0))
    assert "base · End wall, Lounge" in summaries(client.get(path))


def test_another_job_with_the_same_keys_does_not_show(client, job) -> None:
    other = stored_job(title="Elsewhere")
    publish(other, moved(week_stints(), "wall-base", 1), after(0))
    assert len(events(client.get(address(job, hand_key="ann")))) == 2


def test_a_key_that_begins_like_another_does_not_show(client, job) -> None:
    CalendarEntry.objects.filter(stint_key="wall-base").update(hands=("ann-2",))
    assert len(events(client.get(address(job, hand_key="ann")))) == 1


def test_a_hand_without_work_gets_one_entry_that_says_so(client) -> None:
    job = stored_job()  # nothing issued yet
    response = client.get(address(job, hand_key="ann"))
    # RFC 5545 3.6: at least one component, else some programs refuse the file.
    assert summaries(response) == {"Nothing planned yet: Ann · Sea hotel"}
    assert client.get(response.wsgi_request.path, headers={
        "If-None-Match": response["ETag"]}).status_code == 304  # fmt: skip


# What is told after a re-plan ------------------------------------------------------


def test_a_replan_keeps_uids_and_raises_the_sequence_of_what_moved(client, job) -> None:
    path = address(job)
    before = {str(event["uid"]): event for event in events(client.get(path))}
    publish(job, moved(week_stints(), "panel-size", 0.5), after(0))
    now = {str(event["uid"]): event for event in events(client.get(path))}
    assert before.keys() == now.keys()
    rises = {
        str(event["summary"])[:9]: event["sequence"] - before[uid]["sequence"]
        for uid, event in now.items()
    }
    assert {start for start, rise in rises.items() if rise} == {
        "size · Pa",
        "Drying un",
        "Gold size",
    }
    for uid, event in now.items():
        moved_start = event["dtstart"].dt != before[uid]["dtstart"].dt
        assert event["sequence"] == before[uid]["sequence"] or moved_start


def test_a_dropped_stint_is_shown_cancelled_for_14_days_and_then_not(
    client, job
) -> None:
    path = address(job, hand_key="ben")
    without = tuple(s for s in week_stints() if s.id != "panel-leaf")
    publish(job, without, after(0))
    leaf = "CANCELLED: leaf · Panel, Hall"
    assert leaf in summaries(client.get(path))
    CalendarEntry.objects.update(ends=after(24 * 30))  # still within sight
    with time_machine.travel(after(24 * 14)):
        assert leaf in summaries(client.get(path))
    with time_machine.travel(after(24 * 15)):
        assert leaf not in summaries(client.get(path))


def test_a_hand_taken_off_a_stint_sees_it_cancelled_and_the_others_do_not(
    client, job
) -> None:
    ann, ben = address(job, hand_key="ann"), address(job, hand_key="ben")
    swapped = tuple(
        replace(s, hands=("ann",)) if s.id == "wall-glaze" else s for s in week_stints()
    )
    publish(job, swapped, after(0))
    assert "CANCELLED: drag glaze · End wall, Lounge" in summaries(client.get(ben))
    assert "drag glaze · End wall, Lounge" in summaries(client.get(ann))


def test_entries_long_past_and_far_ahead_are_left_out(client, job) -> None:
    stints = (
        stint("wall-base", start=after(-24 * 15)),
        stint("wall-glaze", start=after(24 * 119)),
        stint("panel-size", start=after(24 * 121)),
    )
    publish(job, stints, after(-24 * 16))
    shown = summaries(client.get(address(job)))
    assert "drag glaze · End wall, Lounge" in shown
    assert not any(words.startswith(("base", "size")) for words in shown)


def test_more_than_a_thousand_entries_are_cut_and_the_calendar_says_so(
    client, job, monkeypatch
) -> None:
    monkeypatch.setattr(calendar_feed, "MOST", 4)
    response = client.get(address(job))
    assert len(events(response)) == 4
    about = str(icalendar.Calendar.from_ical(response.content)["description"])
    assert about == "From 14 days back to 120 days ahead. Only the first 4 entries."


@pytest.mark.parametrize("zone", ["Europe/Lisbon", "America/Vancouver", "Asia/Tokyo"])
def test_another_reader_finds_the_plans_own_instants_as_the_clocks_go_back(
    client, zone
) -> None:
    row = stored_job(zone=zone)
    publish(row, week_stints(), after(0))
    content = client.get(address(row)).content
    calendar = icalendar.Calendar.from_ical(content)
    found = recurring_ical_events.of(calendar).between(after(-24), after(24 * 7))
    read = {
        (event["dtstart"].dt.astimezone(UTC), event["dtend"].dt.astimezone(UTC))
        for event in found
        if str(event["transp"]) == "OPAQUE"
    }
    assert read == {
        (s.start.astimezone(UTC), s.end.astimezone(UTC)) for s in week_stints()
    }
    # 08:00 in Lisbon on that Friday is midnight in Vancouver and 16:00 in Tokyo.
    clock = {"Europe/Lisbon": "08:00 to 09:00", "America/Vancouver": "00:00 to 01:00",
             "Asia/Tokyo": "16:00 to 17:00"}[zone]  # fmt: skip
    (base,) = (e for e in found if str(e["summary"]) == "base · End wall, Lounge")
    assert f"Friday 23 October 2026, {clock} (site time, {zone})" in base["description"]


# What is sent, and what is not sent twice ------------------------------------------


def test_the_answer_says_what_it_is_and_who_may_keep_it(client, job) -> None:
    response = client.get(address(job), headers={"Accept-Encoding": "gzip"})
    assert response["Content-Type"] == "text/calendar; charset=utf-8"
    assert response["ETag"] == f'"{hashlib.sha256(response.content).hexdigest()}"'
    assert response["Cache-Control"] == "private, max-age=300"
    assert response["X-Robots-Tag"] == "noindex"
    assert response["Referrer-Policy"] == "no-referrer"
    assert "Last-Modified" not in response
    assert "Content-Encoding" not in response  # some programs cannot take gzip
    assert "Set-Cookie" not in response.headers


@pytest.mark.parametrize("form", ["{}", "W/{}", '"other", {}', "*"])
def test_an_unchanged_calendar_is_not_sent_again(client, job, form: str) -> None:
    path = address(job)
    first = client.get(path)
    # RFC 9110 13.1.2: If-None-Match compares weakly.
    match = form.format(first["ETag"])
    again = client.get(path, headers={"If-None-Match": match})
    assert (again.status_code, again.content) == (304, b"")
    assert again["ETag"] == first["ETag"]
    assert again["Cache-Control"] == first["Cache-Control"]


def test_an_unchanged_plan_is_304_after_another_issue_a_changed_one_is_sent(
    client, job
) -> None:
    path = address(job)
    etag = client.get(path)["ETag"]
    publish(job, week_stints(), after(0))
    cache.clear()
    assert client.get(path, headers={"If-None-Match": etag}).status_code == 304
    publish(job, moved(week_stints(), "wall-base", 0.5), after(0))
    assert client.get(path, headers={"If-None-Match": etag}).status_code == 200


def test_head_answers_like_get_without_the_file(client, job) -> None:
    path = address(job)
    get, head = client.get(path), client.head(path)
    assert (head.status_code, head.content) == (200, b"")
    for name in ("ETag", "Content-Type", "Content-Length", "Cache-Control"):
        assert head[name] == get[name]
    match = {"If-None-Match": get["ETag"]}
    assert client.head(path, headers=match).status_code == 304


@pytest.mark.parametrize("method", ["post", "put", "delete", "patch"])
def test_nothing_can_be_sent_to_an_address(client, job, method: str) -> None:
    assert getattr(client, method)(address(job)).status_code == 405


def test_a_get_changes_nothing_but_the_hour_of_last_use(
    client, job, django_assert_num_queries
) -> None:
    path = address(job)
    client.get(path)
    (link,) = FeedLink.objects.values()
    assert link["last_used_at"] == after(0)
    with time_machine.travel(after(0.9)), django_assert_num_queries(2):
        client.get(path)  # the link and what its bytes follow from; nothing written
    assert FeedLink.objects.get().last_used_at == after(0)
    entries = list(CalendarEntry.objects.values())
    with time_machine.travel(after(1), tick=False):
        client.get(path)
    assert FeedLink.objects.get().last_used_at == after(1)
    assert list(CalendarEntry.objects.values()) == entries


def test_a_feed_is_read_with_the_same_number_of_queries_whatever_its_length(
    client, job, django_assert_num_queries
) -> None:
    path = address(job)
    client.get(path)
    cache.clear()
    with django_assert_num_queries(3):  # link, signature, entries
        client.get(path)
    many = [stint(f"wall-base-{n}", start=after(n / 10)) for n in range(60)]
    publish(job, many, after(0))
    with django_assert_num_queries(3):
        assert len(events(client.get(path))) > 60


# Tokens and links ------------------------------------------------------------------


def test_a_token_is_32_random_bytes_and_only_its_hash_is_kept(job) -> None:
    link, token = make_link(job=job, at=after(0), hand_key="ann")
    assert re.fullmatch(r"[A-Za-z0-9_-]{43}", token)
    row = FeedLink.objects.filter(pk=link.pk).values().get()
    assert row["token_sha256"] == hashlib.sha256(token.encode()).hexdigest()
    assert token not in repr(row)
    assert make_link(job=job, at=after(0), hand_key="ben")[1] != token


@pytest.mark.parametrize(
    "path",
    [
        "/feeds/" + "A" * 43 + ".ics",
        "/feeds/short.ics",
        "/feeds/" + "A" * 5000 + ".ics",
        "/feeds/%00" + "A" * 42 + ".ics",
        "/feeds/.ics",
    ],
)
def test_an_unknown_token_is_404_and_says_nothing_more(client, job, path) -> None:
    make_link(job=job, at=after(0))
    response = client.get(path)
    assert response.status_code == 404
    assert "Location" not in response


def test_the_stored_hash_is_no_token(client, job) -> None:
    link, _ = make_link(job=job, at=after(0))
    assert client.get(path_of(link.token_sha256)).status_code == 404


def test_a_new_address_switches_off_the_one_before_it(client, job) -> None:
    old = address(job, hand_key="ann")
    other = address(job, hand_key="ben")
    new = address(job, hand_key="ann")
    assert summaries(client.get(old)) == {"This calendar address was switched off"}
    assert len(events(client.get(new))) == 2
    assert len(events(client.get(other))) == 5


def test_a_switched_off_address_says_so_for_30_days_and_is_then_unknown(
    client, job
) -> None:
    link, token = make_link(job=job, at=after(0), hand_key="ben")
    live = client.get(path_of(token))
    assert revoke_link(link, after(1))
    assert not revoke_link(link, after(2))  # it stays off since then
    with time_machine.travel(after(2)):
        response = client.get(path_of(token), headers={"If-None-Match": live["ETag"]})
        (event,) = events(response)
    assert str(event["summary"]) == "This calendar address was switched off"
    assert str(event["transp"]) == "TRANSPARENT"
    assert event["dtstart"].dt == after(1).date()
    with time_machine.travel(after(1 + 30 * 24) - timedelta(seconds=1)):
        again = client.get(path_of(token), headers={"If-None-Match": response["ETag"]})
        assert again.status_code == 304
    with time_machine.travel(after(1 + 30 * 24)):
        assert client.get(path_of(token)).status_code == 404


def test_addresses_are_the_sites_own_whoever_asks(job, settings) -> None:
    settings.SITE_URL = "https://coats.example:8443"
    _, token = make_link(job=job, at=after(0))
    assert feed_address(token) == f"https://coats.example:8443/feeds/{token}.ics"
    assert webcal_address(token) == f"webcal://coats.example:8443/feeds/{token}.ics"


@pytest.mark.parametrize(
    ("scope", "message"),
    [
        ({"hand_key": "zoe"}, "'zoe': one of ann, ben."),
        ({"room_key": "attic"}, "'attic': one of hall, lounge."),
        ({"purpose": "secret"}, "'secret': one of calendar, client, walls."),
        ({"hand_key": "ann", "room_key": "hall"}, "for a hand or a room, not both"),
    ],
)
def test_a_link_for_nobody_is_refused_with_what_is_allowed(job, scope, message) -> None:
    with pytest.raises(ValidationError, match=re.escape(message)):
        make_link(job=job, at=after(0), **scope)


def test_nobody_needs_to_sign_in_for_a_feed_or_for_robots(job) -> None:
    stranger = Client()
    assert stranger.get(address(job)).status_code == 200
    robots = stranger.get("/robots.txt")
    assert robots.content.decode().splitlines() == [
        "User-agent: *",
        "Allow: /feeds/",
        "Disallow: /",
    ]


def test_no_log_line_holds_a_token(client, job) -> None:
    link, token = make_link(job=job, at=after(0))
    written = io.StringIO()
    handler = logging.StreamHandler(written)
    handler.addFilter(HideTokens())
    logging.getLogger().addHandler(handler)
    level = logging.getLogger().level
    logging.getLogger().setLevel(logging.DEBUG)
    try:
        client.get(path_of(token))
        client.post(path_of(token))
        revoke_link(link, after(-24 * 40))
        assert client.get(path_of(token)).status_code == 404
    finally:
        logging.getLogger().removeHandler(handler)
        logging.getLogger().setLevel(level)
    assert "Not Found" in written.getvalue()  # something was logged at all
    assert token not in written.getvalue()
    assert "hide_tokens" in settings.LOGGING["handlers"]["console"]["filters"]


def test_a_database_that_cannot_be_written_to_still_answers(client, job) -> None:
    def refuse_writes(execute, sql, params, many, context):
        if sql.startswith("UPDATE"):
            raise OperationalError("database is locked")
        return execute(sql, params, many, context)

    path = address(job)
    with connection.execute_wrapper(refuse_writes):
        assert client.get(path).status_code == 200
    assert FeedLink.objects.get().last_used_at is None


# How fast --------------------------------------------------------------------------


def test_three_hundred_entries_come_in_time(client, job) -> None:
    many = [
        stint(f"wall-glaze-{n}", start=after(n / 10), hands=("ann", "ben"))
        for n in range(300)
    ]
    publish(job, many, after(0))
    path = address(job, hand_key="ann")
    started = time.perf_counter()
    first = client.get(path)
    uncached_s = time.perf_counter() - started
    started = time.perf_counter()
    match = {"If-None-Match": first["ETag"]}
    assert client.get(path, headers=match).status_code == 304
    cached_s = time.perf_counter() - started
    print(
        f"\n300 entries: {len(first.content)} B, {uncached_s * 1000:.0f} ms;", end=" "
    )
    print(f"unchanged {cached_s * 1000:.1f} ms")
    # Goals 200 and 10 ms; ten times as much here, since machines are shared.
    assert uncached_s < 2.0
    assert cached_s < 0.1
