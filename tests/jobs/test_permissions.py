"""Every address, by who asks: made from the addresses, so that none is forgotten."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import URLPattern, reverse

from jobs.actions import request_plan
from jobs.feed_links import make_link
from jobs.models import Job, User
from jobs.urls import urlpatterns
from tests.jobs.conftest import NOW

# Machines and people who cannot sign in.
OPEN = {"healthz", "readyz", "feed", "robots", "sign-in"}
OWN = {"jobs", "account", "units", "sign-out", "import-job"}  # of no job in particular
LEADS = {
    "import-job",
    "plan-again",
    "stop-run",
    "issue-plan",
    "make-calendar",
    "switch-off-calendar",
}
POSTS = {"undo", "sign-out", "units"} | LEADS - {"import-job"}
NAMES = sorted(pattern.name or "" for pattern in urlpatterns)
OF_A_JOB = sorted(set(NAMES) - OPEN - OWN)


def address(name: str, job: Job, link: int = 1) -> str:
    given = {
        "job": job.key,
        "number": 1,
        "recipe": "recipe",
        "surface": "wall",
        "link": link,
    }
    wanted = next(row for row in urlpatterns if row.name == name)
    assert isinstance(wanted, URLPattern)
    names = wanted.pattern.converters
    return reverse(name, kwargs={key: given[key] for key in names})


@pytest.fixture
def ask(job: Job, lead: User, sent: list[int]) -> Callable[..., int]:
    """Asks for a page as somebody; gives the status."""
    link, _ = make_link(job=job, at=NOW)
    request_plan(job=job, by=lead, now=NOW)

    def status(name: str, user: User | None) -> int:
        client = Client()
        if user is not None:
            client.force_login(user)
        send = client.post if name in POSTS else client.get
        return send(address(name, job, link.pk)).status_code

    return status


def test_every_address_has_a_name() -> None:
    assert all(NAMES)
    assert len(set(NAMES)) == len(NAMES)


@pytest.mark.parametrize("name", OF_A_JOB)
def test_a_strangers_job_does_not_exist(
    name: str, ask: Callable[..., int], stranger: User
) -> None:
    assert ask(name, stranger) == 404


@pytest.mark.parametrize("name", sorted(set(NAMES) - OPEN))
def test_nobody_is_sent_to_sign_in(
    name: str, job: Job, ask: Callable[..., int]
) -> None:
    client = Client()
    send = client.post if name in POSTS else client.get
    answer = send(address(name, job))
    if name == "sign-out":
        assert answer.status_code == 302
    else:
        assert answer.url.startswith("/sign-in/?next=")


@pytest.mark.parametrize("name", sorted(set(NAMES) - OPEN))
def test_the_lead_may_do_everything(
    name: str, ask: Callable[..., int], lead: User
) -> None:
    # There is no plan 1 yet: to the lead that is a plan that does not exist.
    expected = {404} if name == "issue-plan" else {200, 302}
    assert ask(name, lead) in expected


@pytest.mark.parametrize("name", sorted(set(NAMES) - OPEN))
def test_a_hand_looks_and_logs_but_does_not_plan_or_issue(
    name: str, ask: Callable[..., int], hand: User
) -> None:
    status = ask(name, hand)
    assert status == 403 if name in LEADS else status in {200, 302}


@pytest.mark.parametrize("name", sorted(POSTS))
def test_nothing_is_changed_by_looking(
    name: str, job: Job, lead: User, client: Client
) -> None:
    client.force_login(lead)
    assert client.get(address(name, job)).status_code == 405


def test_a_colleagues_link_of_another_job_is_not_found(
    job: Job, lead: User, stored: Callable[..., Job], client: Client
) -> None:
    other = stored(id="other")
    link, _ = make_link(job=other, at=NOW)
    client.force_login(lead)
    answer = client.post(address("switch-off-calendar", job, link.pk))
    assert answer.status_code == 404
    link.refresh_from_db()
    assert link.is_live
