"""Inviting, taking up, changing and removing; passwords and where one is signed in."""

import hashlib
from collections.abc import Callable
from datetime import timedelta
from typing import Any
from urllib.parse import urlsplit

import pytest
from axes.models import AccessAttempt
from django.contrib.sessions.backends.base import UpdateError
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs import people, tasks
from jobs.factories import small_job
from jobs.feed_links import make_link
from jobs.models import Invitation, Job, SignedIn, User
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import log_first_coat, words

PASSWORD = "oak-graining-comb-7"


@pytest.fixture
def leads(client: Client, lead: User) -> Client:
    client.force_login(lead)
    return client


@pytest.fixture
def other_lead(lead: User) -> User:
    return User.objects.create_user(
        "second@example.com", PASSWORD, company=lead.company, role=User.Role.LEAD
    )


def way_in(page: str) -> str:
    """The address that the page shows once."""
    return page.split('id="made-address"')[1].split('value="')[1].split('"')[0]


def invited(leads: Client, email: str = "new@example.com", **given: str) -> str:
    answer = leads.post("/people/invite/", {"email": email, "role": "hand", **given})
    assert answer.status_code == 200, words(answer.content.decode())
    assert "no-store" in answer["Cache-Control"]
    return urlsplit(way_in(answer.content.decode())).path


# Inviting -------------------------------------------------------------------------


def test_an_invited_person_comes_in_with_the_role_the_lead_chose(
    leads: Client, job: Job
) -> None:
    path = invited(leads, "New@Example.com", hand_key="hand")
    visitor = Client()
    page = visitor.get(path).content.decode()
    assert "Harbour Finishes invites you" in words(page)
    answer = visitor.post(path, {"name": "Ann", "password": PASSWORD})
    assert answer.url == "/"
    person = User.objects.get(email="new@example.com")
    assert (person.name, person.role, person.hand_key) == ("Ann", "hand", "hand")
    assert person.check_password(PASSWORD)
    assert "Welcome to Harbour Finishes, Ann" in words(
        visitor.get("/").content.decode()
    )


def test_a_way_in_works_once(leads: Client) -> None:
    path = invited(leads)
    assert Client().post(path, {"name": "A", "password": PASSWORD}).status_code == 302
    again = Client().post(path, {"name": "B", "password": PASSWORD})
    assert again.status_code == 404
    assert "opens nothing" in words(again.content.decode())
    assert User.objects.filter(email="new@example.com").count() == 1


def test_looking_at_a_way_in_changes_nothing(leads: Client) -> None:
    path = invited(leads)
    before = Invitation.objects.values().get()
    for _ in range(3):  # mail programs and phones look at links by themselves
        assert Client().get(path).status_code == 200
        assert Client().head(path).status_code == 200
    assert Invitation.objects.values().get() == before
    assert not User.objects.filter(email="new@example.com").exists()


def test_only_the_hash_of_a_way_in_is_kept_and_no_page_shows_it_again(
    leads: Client,
) -> None:
    token = invited(leads).split("/")[2]
    row = Invitation.objects.get()
    assert row.token_sha256 == hashlib.sha256(token.encode()).hexdigest()
    assert token not in str(Invitation.objects.values().get())
    assert token not in leads.get("/people/").content.decode()


def test_a_way_in_is_shut_after_a_week(lead: User) -> None:
    _, token = people.invite(
        company=lead.company, email="new@example.com", by=lead, now=NOW
    )
    week = timedelta(days=7)
    assert people.invitation_of(token, NOW + week - timedelta(seconds=1)) is not None
    assert people.invitation_of(token, NOW + week) is None
    with pytest.raises(ValidationError, match="too old"):
        people.take_up(token=token, name="Ann", password=PASSWORD, now=NOW + week)


def test_inviting_again_shuts_the_first_way_in(leads: Client) -> None:
    first, second = invited(leads), invited(leads)
    assert Client().get(first).status_code == 404
    assert Client().get(second).status_code == 200


def test_a_way_in_taken_back_is_shut(leads: Client) -> None:
    path = invited(leads)
    leads.post(f"/people/invited/{Invitation.objects.get().pk}/withdraw/")
    assert Client().get(path).status_code == 404


def test_a_strangers_invitation_is_not_found(leads: Client, stranger: User) -> None:
    row, _ = people.invite(
        company=stranger.company, email="x@example.com", by=stranger, now=NOW
    )
    assert leads.post(f"/people/invited/{row.pk}/withdraw/").status_code == 404
    assert leads.get(f"/people/{stranger.pk}/").status_code == 404
    assert leads.post(f"/people/{stranger.pk}/remove/").status_code == 404
    assert "elsewhere.example" not in leads.get("/people/").content.decode()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"email": "ann"}, "ann is no e-mail address"),
        ({"email": ""}, "Empty: give a value."),
        ({"email": "lead@example.com"}, "belongs to Harbour Finishes already"),
        ({"email": "a@example.com", "role": "boss"}, "boss is not here: give one of"),
        ({"email": "a@example.com", "hand_key": "nobody"}, "nobody is not here"),
    ],
)
def test_what_cannot_be_invited_is_said_beside_the_field(
    given: dict[str, str], said: str, leads: Client, job: Job
) -> None:
    answer = leads.post("/people/invite/", {"role": "hand", **given})
    assert answer.status_code == 422
    assert said in words(answer.content.decode())
    assert not Invitation.objects.exists()


def test_two_people_are_never_one_hand(leads: Client, hand: User, job: Job) -> None:
    people.change_person(person=hand, role="hand", hand_key="hand")
    answer = leads.post(
        "/people/invite/",
        {"email": "a@example.com", "role": "hand", "hand_key": "hand"},
    )
    assert answer.status_code == 422
    assert "is hand@example.com already" in words(answer.content.decode())


def test_a_weak_password_is_refused_and_the_way_in_stays_open(leads: Client) -> None:
    path = invited(leads)
    answer = Client().post(path, {"name": "Ann", "password": "12345678"})
    assert answer.status_code == 422
    assert "too common" in words(answer.content.decode())
    assert Client().get(path).status_code == 200


def test_who_is_signed_in_takes_up_nobody_elses_invitation(
    leads: Client, hand: User
) -> None:
    path = invited(leads)
    other = Client()
    other.force_login(hand)
    answer = other.post(path, {"name": "Ann", "password": PASSWORD})
    assert "You are signed in as hand@example.com" in words(answer.content.decode())
    assert not User.objects.filter(email="new@example.com").exists()


def test_an_address_of_another_company_is_not_taken_over(
    leads: Client, stranger: User
) -> None:
    path = invited(leads, stranger.email)
    answer = Client().post(path, {"name": "Ann", "password": PASSWORD})
    assert answer.status_code == 422
    assert "another address" in words(answer.content.decode())
    stranger.refresh_from_db()
    assert stranger.check_password("paper and pigment")


def test_an_invitation_is_mailed_where_mail_is_set_up(
    leads: Client, settings: Any, mailoutbox: list[Any]
) -> None:
    invited(leads)
    assert mailoutbox == []
    settings.MAIL_ON = True
    path = invited(leads, "b@example.com")
    assert [mail.to for mail in mailoutbox] == [["b@example.com"]]
    assert f"{settings.SITE_URL}{path}" in mailoutbox[0].body


def test_a_mail_that_does_not_go_out_is_said(
    leads: Client, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: Any) -> None:
        raise ConnectionRefusedError

    settings.MAIL_ON = True
    monkeypatch.setattr("jobs.views.people.send_mail", refuse)
    answer = leads.post("/people/invite/", {"email": "a@example.com", "role": "hand"})
    assert answer.status_code == 200
    assert "did not go out" in words(answer.content.decode())
    assert (
        Client().get(urlsplit(way_in(answer.content.decode())).path).status_code == 200
    )


# Changing and removing ------------------------------------------------------------


def test_the_last_lead_stays_a_lead_and_stays(
    leads: Client, lead: User, hand: User
) -> None:
    answer = leads.post(f"/people/{lead.pk}/", {"role": "hand", "hand_key": ""})
    assert answer.status_code == 422
    assert "the last lead" in words(answer.content.decode())
    answer = leads.post(f"/people/{lead.pk}/remove/")
    assert answer.status_code == 422
    assert "the last lead" in words(answer.content.decode())
    lead.refresh_from_db()
    assert lead.is_lead


def test_a_lead_may_go_when_another_stays(
    leads: Client, lead: User, other_lead: User
) -> None:
    assert leads.post(f"/people/{lead.pk}/remove/").url == "/sign-in/"
    assert leads.get("/").url.startswith("/sign-in/")
    with pytest.raises(ValidationError, match="the last lead"):
        people.remove_person(person=other_lead, now=NOW)


def test_a_switched_off_lead_does_not_count(lead: User, other_lead: User) -> None:
    User.objects.filter(pk=other_lead.pk).update(is_active=False)
    with pytest.raises(ValidationError, match="the last lead"):
        people.remove_person(person=lead, now=NOW)


def test_what_a_removed_person_logged_stays_without_the_name(
    leads: Client, hand: User, job: Job
) -> None:
    hand.name = "Quillon"
    hand.save()
    coat = log_first_coat(job, hand)
    leads.post(f"/people/{hand.pk}/remove/")
    coat.refresh_from_db()
    assert coat.logged_by is None
    for path in ("/people/", "/jobs/job/", "/jobs/job/week/", "/jobs/job/file.json"):
        assert "Quillon" not in leads.get(path).content.decode().replace(
            "Quillon is removed", ""
        )


def test_nothing_of_a_removed_person_works_or_is_kept(
    leads: Client, hand: User, job: Job, stored: Callable[..., Job]
) -> None:
    people.change_person(person=hand, role="hand", hand_key="hand")
    mine, _ = make_link(job=job, at=NOW, hand_key="hand")
    everyones, _ = make_link(job=job, at=NOW)
    theirs = Client()
    theirs.force_login(hand)
    AccessAttempt.objects.create(
        username=hand.email, ip_address="192.0.2.1", failures_since_start=1
    )
    leads.post(f"/people/{hand.pk}/remove/")
    assert theirs.get("/").url.startswith("/sign-in/")
    assert not SignedIn.objects.filter(user_id=hand.pk).exists()
    assert not AccessAttempt.objects.filter(username=hand.email).exists()
    mine.refresh_from_db()
    everyones.refresh_from_db()
    assert (mine.is_live, everyones.is_live) == (False, True)
    assert Client().get("/").url.startswith("/sign-in/")


def test_looking_at_a_removal_removes_nobody(leads: Client, hand: User) -> None:
    page = words(leads.get(f"/people/{hand.pk}/remove/").content.decode())
    assert "the coats, tests and readings they logged, without their name" in page
    assert User.objects.filter(pk=hand.pk).exists()


def test_a_hand_made_a_lead_may_plan_at_once(leads: Client, hand: User) -> None:
    theirs = Client()
    theirs.force_login(hand)
    assert theirs.get("/people/").status_code == 403
    leads.post(f"/people/{hand.pk}/", {"role": "lead", "hand_key": ""})
    assert theirs.get("/people/").status_code == 200
    leads.post(f"/people/{hand.pk}/", {"role": "hand", "hand_key": ""})
    assert theirs.get("/people/").status_code == 403


def test_hands_of_all_jobs_are_there_to_choose_from(
    leads: Client, job: Job, stored: Callable[..., Job], stranger: User
) -> None:
    other = stored(small_job(id="other"))
    other.hands.update(key="ann", name="Ann")
    assert people.hands_of(job.company) == {"ann": "Ann", "hand": "hand"}
    assert people.hands_of(stranger.company) == {}


# Passwords ------------------------------------------------------------------------


def asked(client: Client, email: str, run: Callable[..., Any]) -> Any:
    with run(execute=True):
        return client.post("/forgotten/", {"email": email})


@pytest.fixture
def mail_on(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Mail that is set up, and a queue that does at once what it is given."""
    settings.MAIL_ON = True
    monkeypatch.setattr(tasks.mail_new_password, "delay", tasks.mail_new_password)


def link_in(mail: Any) -> str:
    return next(
        urlsplit(line).path
        for line in mail.body.splitlines()
        if "/new-password/" in line
    )


def test_a_forgotten_password_is_made_new_by_mail_once(
    client: Client, hand: User, mail_on: None, mailoutbox: list[Any],
    django_capture_on_commit_callbacks: Callable[..., Any],
) -> None:  # fmt: skip
    signed_in = Client()
    signed_in.force_login(hand)
    asked(client, "HAND@example.com", django_capture_on_commit_callbacks)
    [mail] = mailoutbox
    assert mail.to == [hand.email]
    link = link_in(mail)
    page = client.get(link)
    assert link.split("/")[3] not in page.url  # so that no page can tell it on
    typed = {"new_password1": PASSWORD, "new_password2": PASSWORD}
    assert client.post(page.url, typed).url == "/sign-in/"
    hand.refresh_from_db()
    assert hand.check_password(PASSWORD)
    assert signed_in.get("/").url.startswith("/sign-in/")
    assert not SignedIn.objects.filter(user=hand).exists()
    again = Client().get(link)
    assert again.status_code == 404
    assert "opens nothing" in words(again.content.decode())


def test_the_answer_is_the_same_whether_or_not_somebody_has_the_address(
    hand: User, mail_on: None, mailoutbox: list[Any],
    django_capture_on_commit_callbacks: Callable[..., Any],
) -> None:  # fmt: skip
    answers = [
        asked(Client(), email, django_capture_on_commit_callbacks)
        for email in (hand.email, "nobody@example.com")
    ]
    assert [(a.status_code, a.url, a.content) for a in answers] == [
        (302, "/forgotten/sent/", b"")
    ] * 2
    assert len(mailoutbox) == 1


def test_a_mailbox_is_not_filled(
    client: Client, hand: User, mail_on: None, mailoutbox: list[Any],
    django_capture_on_commit_callbacks: Callable[..., Any],
) -> None:  # fmt: skip
    for _ in range(5):
        asked(client, hand.email, django_capture_on_commit_callbacks)
    assert len(mailoutbox) == 1
    now = timezone.now()
    assert not people.may_mail_password(hand, now + timedelta(minutes=4))
    assert people.may_mail_password(hand, now + timedelta(minutes=6))


def test_with_the_queue_away_the_answer_is_still_the_same(
    client: Client, hand: User, settings: Any, monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: Callable[..., Any],
) -> None:  # fmt: skip
    def away(_: str) -> None:
        raise ConnectionError

    settings.MAIL_ON = True
    monkeypatch.setattr(tasks.mail_new_password, "delay", away)
    answer = asked(client, hand.email, django_capture_on_commit_callbacks)
    assert answer.url == "/forgotten/sent/"


def test_without_mail_the_page_says_whom_to_ask(client: Client, hand: User) -> None:
    page = words(client.get("/forgotten/").content.decode())
    assert "A lead can give you a link" in page
    assert "manage.py new_password" in page
    assert client.post("/forgotten/", {"email": hand.email}).status_code == 422


def test_a_lead_hands_over_a_link_for_a_new_password(leads: Client, hand: User) -> None:
    answer = leads.post(f"/people/{hand.pk}/link/")
    assert "no-store" in answer["Cache-Control"]
    visitor = Client()
    page = visitor.get(urlsplit(way_in(answer.content.decode())).path)
    typed = {"new_password1": PASSWORD, "new_password2": PASSWORD}
    visitor.post(page.url, typed)
    hand.refresh_from_db()
    assert hand.check_password(PASSWORD)


def test_a_changed_password_signs_out_everywhere_else_and_says_where(
    client: Client, hand: User
) -> None:
    others = [Client(), Client()]
    for one in (client, *others):
        one.force_login(hand)
    assert "in 2 other places" in words(client.get("/account/").content.decode())
    answer = client.post(
        "/account/password/",
        {
            "old_password": "paper and pigment",
            "new_password1": PASSWORD,
            "new_password2": PASSWORD,
        },
        follow=True,
    )
    said = words(answer.content.decode())
    assert "Your password is changed. 2 other places were signed out." in said
    assert "Here and nowhere else" in said
    assert all(one.get("/").url.startswith("/sign-in/") for one in others)


def test_a_wrong_old_password_changes_nothing(client: Client, hand: User) -> None:
    client.force_login(hand)
    answer = client.post(
        "/account/password/",
        {
            "old_password": "wrong",
            "new_password1": PASSWORD,
            "new_password2": PASSWORD,
        },
    )
    assert answer.status_code == 422
    assert "This is not your password" in words(answer.content.decode())
    hand.refresh_from_db()
    assert hand.check_password("paper and pigment")


def test_sessions_elsewhere_are_ended_by_a_button(client: Client, hand: User) -> None:
    other = Client()
    for one in (client, other):
        one.force_login(hand)
    said = words(client.post("/account/elsewhere/", follow=True).content.decode())
    assert "1 other place was signed out" in said
    assert other.get("/").url.startswith("/sign-in/")
    assert client.get("/").status_code == 200


def test_a_request_under_way_brings_back_no_removed_persons_session(
    client: Client, hand: User, other_lead: User
) -> None:
    client.force_login(hand)
    under_way = client.session
    under_way["seen"] = True  # read, and not yet written
    people.remove_person(person=hand, now=NOW)
    with pytest.raises(UpdateError):  # Django answers 400 to it
        under_way.save()
    assert not SignedIn.objects.exists()


def test_the_shell_gives_a_new_password_and_ends_sessions(
    client: Client, lead: User, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    client.force_login(lead)
    monkeypatch.setenv("COAT_PASSWORD", PASSWORD)
    call_command("new_password", "Lead@example.com")
    lead.refresh_from_db()
    assert lead.check_password(PASSWORD)
    assert "sessions ended: 1" in capsys.readouterr().out
    assert client.get("/").url.startswith("/sign-in/")


@pytest.mark.parametrize(
    ("email", "password", "field"),
    [
        ("nobody@example.com", PASSWORD, "email"),
        ("lead@example.com", "123", "password"),
    ],
)
def test_the_shell_says_what_is_wrong_with_a_new_password(
    email: str, password: str, field: str, lead: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COAT_PASSWORD", password)
    with pytest.raises(CommandError, match=f"^{field}: ") as caught:
        call_command("new_password", email)
    assert caught.value.returncode == 2
    lead.refresh_from_db()
    assert lead.check_password("paper and pigment")


def test_every_page_of_people_says_its_address_in_words(leads: Client) -> None:
    # The link is at the site's own address, whatever host the lead came by.
    answer = leads.post(
        "/people/invite/",
        {"email": "a@example.com", "role": "hand"},
        headers={"host": "127.0.0.1"},
    )
    assert way_in(answer.content.decode()).startswith("http://localhost:8000/invited/")
    assert reverse("people") == "/people/"
