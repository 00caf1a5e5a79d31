"""Every address, by who asks and how: made from the addresses, so none is forgotten.

A new address needs a row in ``ROWS``; without one the first test fails.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

import pytest
import time_machine
from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern, reverse

from jobs.actions import request_plan
from jobs.feed_links import make_link
from jobs.forecasts import keep_hours
from jobs.holding import keep_ban, keep_pin
from jobs.models import Ban, FeedLink, Forecast, Invitation, Job, Pin, Sample, Tap, User
from jobs.people import invite, new_password_address
from jobs.problems import say_problem
from jobs.recipe_changes import change_material, change_recipe
from jobs.samples import log_sample
from jobs.sensors import make_sensor_link
from jobs.translation import job_value, store_plan
from jobs.urls import urlpatterns
from scheduling.job_file import write_material, write_recipe
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import at, hours_typed, plan_value

# What a page answers to each role. "in": the page, or where it leads on; "sign-in":
# sent there; a number: that status. A client with a link is no person: all that a
# link opens is the page of its own token: "feed", "my-walls", "client-page".
ROLES = ("lead", "hand", "stranger", "client", "nobody")
ALL = dict.fromkeys(ROLES, "in")  # machines, and people who are about to sign in
SIGNED_IN = ALL | {"client": "sign-in", "nobody": "sign-in"}  # each sees what is theirs
OF_LEADS = SIGNED_IN | {"hand": 403}  # the stranger leads another company
OF_COMPANY = SIGNED_IN | {"stranger": 404}
OF_ITS_LEADS = OF_LEADS | {"stranger": 404}
REFUSED = SIGNED_IN | {"lead": 405, "hand": 405, "stranger": 405}
REFUSED_ALL = dict.fromkeys(ROLES, 405)
UNREADY = dict.fromkeys(ROLES, 503)  # to all alike: no worker runs beside this test

READ = (OF_COMPANY, REFUSED)
FORM = (OF_COMPANY, OF_COMPANY)
LEADS_FORM = (OF_ITS_LEADS, OF_ITS_LEADS)
LEADS_BUTTON = (REFUSED, OF_ITS_LEADS)
ROWS: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {  # by GET, by POST
    "healthz": (ALL, REFUSED_ALL),
    "readyz": (UNREADY, REFUSED_ALL),
    "robots": (ALL, REFUSED_ALL),
    "feed": (ALL, REFUSED_ALL),
    "client-page": (ALL, REFUSED_ALL),
    "my-walls": (ALL, ALL),
    "my-walls-worker": (ALL, REFUSED_ALL),
    "sign-in": (ALL, ALL),
    "sign-out": (REFUSED, SIGNED_IN),
    "jobs": (SIGNED_IN, REFUSED),
    "account": (SIGNED_IN, SIGNED_IN),
    "units": (REFUSED, SIGNED_IN),
    "book": (SIGNED_IN, REFUSED),
    "book-recipe": (SIGNED_IN, REFUSED),
    "bring-recipe": (REFUSED, OF_LEADS),
    "people": (OF_LEADS, REFUSED),
    "invite": (REFUSED, OF_LEADS),
    "withdraw-invitation": LEADS_BUTTON,
    "person": (OF_ITS_LEADS, OF_ITS_LEADS),
    "new-password-link": LEADS_BUTTON,
    "remove-person": (OF_ITS_LEADS, OF_ITS_LEADS),
    "invited": (ALL, ALL),
    "change-password": (SIGNED_IN, SIGNED_IN),
    "sign-out-elsewhere": (REFUSED, SIGNED_IN),
    "forgotten": (ALL, ALL),
    "forgotten-sent": (ALL, REFUSED_ALL),
    "new-password": (ALL, ALL),
    "import-job": (OF_LEADS, OF_LEADS),
    "job": READ,
    "export-job": READ,
    "coat-on": FORM,
    "test": FORM,
    "reading": FORM,
    "undo": (REFUSED, OF_COMPANY),
    "problem": FORM,
    "seen-to": (REFUSED, OF_COMPANY),
    "wall": READ,
    "forward": (OF_COMPANY, OF_ITS_LEADS),
    "forward-part": READ,
    "turn": (OF_COMPANY, OF_ITS_LEADS),
    "turn-part": READ,
    "turn-accept": LEADS_BUTTON,
    "week": READ,
    "paper": READ,
    "paper-pdf": READ,
    "run": READ,
    "plan-again": LEADS_BUTTON,
    "stop-run": LEADS_BUTTON,
    "post-reading": (REFUSED_ALL, ALL),
    "sensors": READ,
    "readings-file": FORM,
    "make-sensor": LEADS_BUTTON,
    "switch-off-sensor": LEADS_BUTTON,
    "take-back-readings": LEADS_BUTTON,
    "weather": READ,
    "weather-place": LEADS_FORM,
    "fetch-weather": LEADS_BUTTON,
    "weather-file": LEADS_FORM,
    "weather-days": LEADS_FORM,
    "take-forecast": LEADS_BUTTON,
    "drop-forecast": LEADS_BUTTON,
    "stint": (OF_ITS_LEADS, OF_ITS_LEADS),
    "take-off-pin": LEADS_BUTTON,
    "take-off-ban": LEADS_BUTTON,
    "issue-plan": (OF_ITS_LEADS, OF_ITS_LEADS),
    "closing-up": READ,
    "tick": (REFUSED, OF_COMPANY),
    "untick": (REFUSED, OF_COMPANY),
    "quantities": READ,
    "quantities-table": READ,
    "set-waste": LEADS_BUTTON,
    "material-order": (OF_ITS_LEADS, OF_ITS_LEADS),
    "recipes": READ,
    "recipe": READ,
    "change-recipe": (OF_ITS_LEADS, OF_ITS_LEADS),
    "new-recipe": (OF_ITS_LEADS, OF_ITS_LEADS),
    "recipe-version": (OF_COMPANY, OF_ITS_LEADS),
    "change-material": (OF_ITS_LEADS, OF_ITS_LEADS),
    "bring-label-back": LEADS_BUTTON,
    "new-material": (OF_ITS_LEADS, OF_ITS_LEADS),
    "log-sample": FORM,
    "sample": (OF_COMPANY, OF_ITS_LEADS),
    "calendars": READ,
    "new-job": (OF_LEADS, OF_LEADS),
    "set-up": READ,
    "set-up-site": LEADS_FORM,
    "set-up-air": LEADS_FORM,
    "new-room": LEADS_FORM,
    "change-room": LEADS_FORM,
    "remove-room": LEADS_FORM,
    "new-surface": LEADS_FORM,
    "all-round": LEADS_FORM,
    "change-surface": LEADS_FORM,
    "remove-surface": LEADS_FORM,
    "one-recipe": LEADS_FORM,
    "new-hand": LEADS_FORM,
    "change-hand": LEADS_FORM,
    "remove-hand": LEADS_FORM,
    "gate": LEADS_FORM,
    "trade": LEADS_FORM,
    "new-date": LEADS_FORM,
    "change-date": LEADS_FORM,
    "make-calendar": LEADS_BUTTON,
    "switch-off-calendar": LEADS_BUTTON,
    "sheets": LEADS_FORM,
    "bring-in-sheet": LEADS_BUTTON,
    "export-sheet": READ,
    "blank-sheet": READ,
    "copy-job": LEADS_FORM,
    "copy-room": LEADS_FORM,
    "copy-recipe": LEADS_FORM,
}
OF_THE_BOOK = {"book-recipe", "bring-recipe"}
NAMES = sorted(pattern.name or "" for pattern in urlpatterns)
POLICY = {
    "default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self'",
    "connect-src 'self'", "font-src 'self'", "form-action 'self'",
    "manifest-src 'self'", "base-uri 'none'", "frame-ancestors 'none'",
}  # fmt: skip
UNSAFE_MARKUP = re.compile(r"<(?:style|script(?! src=))|\sstyle=|\son[a-z]+=", re.I)


@dataclass(frozen=True)
class Scene:
    """A job with a plan, a run and a link, and those who come to see it."""

    job: Job
    link: FeedLink
    token: str
    walls: str
    for_client: str
    sensor: str
    forecast: Forecast
    invitation: Invitation
    sample: Sample
    way_in: str
    new_password: str
    people: dict[str, User]
    pin: Pin
    ban: Ban
    tap: Tap

    def address(self, name: str) -> str:
        """The page of that name, of this job where it is of one."""
        if name == "invited":
            return self.way_in
        if name == "new-password":
            return self.new_password
        if name in {"my-walls", "my-walls-worker"}:
            return reverse(name, kwargs={"token": self.walls})
        if name == "client-page":
            return reverse(name, kwargs={"token": self.for_client})
        if name == "post-reading":
            return reverse(name, kwargs={"token": self.sensor})
        given = {
            "job": self.job.key, "number": 1, "part": "rooms",
            "surface": "wall", "room": "room", "stint": "wall-coat-1", "hand": "hand",
            "recipe": "wall-paint" if name in OF_THE_BOOK else "recipe",
            "material": "material", "sample": self.sample.pk,
            "forecast": self.forecast.pk, "wish": self.job.dates.get().pk,
            "pin": self.pin.pk, "ban": self.ban.pk, "tap": self.tap.pk,
            "kind": "days",
            "link": self.link.pk, "token": self.token,
            # The last lead: may be asked to go, and stays.
            "person": self.people["lead"].pk, "invitation": self.invitation.pk,
        }  # fmt: skip
        wanted = next(row for row in urlpatterns if row.name == name)
        assert isinstance(wanted, URLPattern)
        names = {**wanted.pattern.regex.groupindex, **wanted.pattern.converters}
        return reverse(name, kwargs={key: given[key] for key in names})

    def ask(self, name: str, role: str, method: str) -> HttpResponse:
        """What the page answers to somebody."""
        client = Client()
        address = self.address(name)
        if role in self.people:
            client.force_login(self.people[role])
        if role == "client":  # the token opens nothing but its own address
            client.cookies["sessionid"] = self.token
            client.defaults["HTTP_AUTHORIZATION"] = f"Bearer {self.token}"
            address += f"?token={self.token}"
        return getattr(client, method)(address)


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


def _forecast(job: Job) -> Forecast:
    hours = hours_typed(NOW)
    return keep_hours(
        job=job, source="typed", name="By hand", hours=hours, by=None, now=NOW
    )


@pytest.fixture
def scene(job: Job, lead: User, hand: User, stranger: User, sent: list[int]) -> Scene:
    link, token = make_link(job=job, at=NOW)
    job.dates.create(by=NOW, must=False, stage="touch")
    value = job_value(job)
    store_plan(job, plan_value(value), planned=value, planned_at=NOW)
    written = write_recipe(value.recipes[0]) | {"name": "Two coats"}
    change_recipe(job=job, written=written, version=1, by=lead, now=NOW)
    request_plan(job=job, by=lead, now=NOW)
    label = write_material(value.materials[0]) | {"name": "Paint"}
    change_material(job=job, written=label, version=1, by=lead, now=NOW)
    invitation, way_in = invite(
        company=lead.company, email="new@example.com", by=lead, now=NOW
    )
    forgetful = User.objects.create_user("third@example.com", company=lead.company)
    people = {"lead": lead, "hand": hand, "stranger": stranger}
    wall = job.surfaces.get()
    asked = {"surface": wall, "step": wall.recipe.steps.first(), "job": job, "now": NOW}
    pin = keep_pin(start=at(1, 9), hands=(), section="", **asked)
    return Scene(
        job=job,
        link=link,
        token=token,
        walls=make_link(
            job=job, hand_key="hand", purpose=FeedLink.Purpose.WALLS, at=NOW
        )[1],
        for_client=make_link(job=job, purpose=FeedLink.Purpose.CLIENT, at=NOW)[1],
        sensor=make_sensor_link(room=job.rooms.get(), at=NOW)[1],
        forecast=_forecast(job),
        invitation=invitation,
        sample=log_sample(
            material=job.materials.get(),
            laid_at=NOW - timedelta(days=1),
            temperature_c=18.0,
            humidity_pct=60.0,
            minutes={"recoat": 300.0},
            by=hand,
            now=NOW,
        ),
        way_in=reverse("invited", kwargs={"token": way_in}),
        new_password=urlsplit(new_password_address(forgetful)).path,
        people=people,
        tap=say_problem(
            surface=wall, problem=Tap.Problem.RUNS, key=uuid4(), by=hand, now=NOW
        ),
        pin=pin,
        ban=keep_ban(hands=("hand",), section="", **asked),
    )


def found(answer: HttpResponse) -> Any:
    """``in``, ``sign-in``, or the status of a refusal."""
    moved = answer.headers.get("Location", "")
    if moved.startswith("/sign-in/?next="):
        return "sign-in"
    # 422 is a form shown again: whoever sees it may fill it in.
    return "in" if answer.status_code in {200, 302, 422} else answer.status_code


def test_every_address_has_a_name_and_a_row() -> None:
    assert all(NAMES)
    assert sorted(ROWS) == NAMES


@pytest.mark.parametrize("name", sorted(ROWS))
def test_each_role_sees_and_does_what_is_theirs(name: str, scene: Scene) -> None:
    by_get, by_post = ROWS[name]
    for method, expected in (("get", by_get), ("post", by_post), ("head", by_get)):
        answers = {role: scene.ask(name, role, method) for role in ROLES}
        assert {role: found(answers[role]) for role in ROLES} == expected, method
        for answer in answers.values():
            _is_kept_in(answer)
    if name not in {"sign-in", "new-password"}:  # which lead on whatever is asked
        for role in ROLES:  # what neither reads nor posts is refused to all
            assert found(scene.ask(name, role, "delete")) in {"sign-in", 405}


def _is_kept_in(answer: HttpResponse) -> None:
    """No page runs or paints what is typed, is framed, or tells others its address."""
    assert set(answer["Content-Security-Policy"].split("; ")) == POLICY
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["X-Frame-Options"] == "DENY"
    assert answer["Referrer-Policy"] in {"same-origin", "no-referrer"}
    if answer.headers.get("Content-Type", "").startswith("text/html"):
        assert UNSAFE_MARKUP.findall(answer.content.decode()) == []


def test_a_token_that_was_made_up_opens_nothing(scene: Scene) -> None:
    for address in (
        "/feeds/{}.ics",
        "/walls/{}/",
        "/walls/{}/worker.js",
        "/client/{}/",
    ):
        assert Client().get(address.format("a" * 43)).status_code == 404


def test_a_colleagues_link_of_another_job_is_not_found(
    scene: Scene, lead: User, stored: Callable[..., Job], client: Client
) -> None:
    other = stored(id="other")
    link, _ = make_link(job=other, at=NOW)
    client.force_login(lead)
    address = scene.address("switch-off-calendar").replace(
        f"/{scene.link.pk}/", f"/{link.pk}/"
    )
    assert client.post(address).status_code == 404
    link.refresh_from_db()
    assert link.is_live
