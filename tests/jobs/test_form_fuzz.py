"""Random posts at every address and random job files: no 500, and nothing is lost.

Addresses come from the resolver and fields from the forms that pages show, so that a
new page is met without being named here. A refused post leaves the job as it was. The
same posts in every run; ``make measure`` makes ten thousand new ones and prints their
seed.
"""

import copy
import json
import random
from collections import Counter
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlsplit

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client

from jobs.factories import small_job
from jobs.models import Company, Job, User
from jobs.translation import job_json
from scheduling.errors import BadInput
from scheduling.job_file import read_job, write_job
from tests.jobs.conftest import NOW
from tests.jobs.test_nonsense import FIELDS, NONSENSE
from tests.jobs.test_permissions import NAMES, Scene
from tests.jobs.test_permissions import scene as scene_of_all_pages
from tests.scheduling.test_job_file import whole_job

scene = scene_of_all_pages  # the fixture, with something at every address
Fields = dict[str, list[str]]

LIKELY = [
    "1", "5", "20", "68 F", "2.6 m", "8'6\"", "on", "yes", "2026-10-12T07:00",
    "2026-10-13", "08:00", "mon-fri", "wall", "room", "hand", "recipe", "job", "coat-1",
    "ready", "lead", "us", "metric", "rooms", "surfaces", "Hall 2", "[]", "{}", "null",
    "name,volume\nSnug,40\n", "name;width\n'=1;2,5\n", '{"format": "coat-by-coat/1"}',
]  # fmt: skip


@pytest.fixture(autouse=True)
def the_clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


class Forms(HTMLParser):
    """The forms of a page: where each posts to, and what its fields may hold."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, Fields]] = []
        self._choice = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Fields and their values, by the form that they stand in."""
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.found.append((given.get("action", ""), {}))
        if not self.found:
            return
        fields = self.found[-1][1]
        name = given.get("name", "")
        if tag == "option":
            fields.setdefault(self._choice, []).append(given.get("value", ""))
        elif name and tag in {"input", "button", "textarea", "select"}:
            self._choice = name
            fields.setdefault(name, []).append(given.get("value", ""))


def forms_of(client: Client, scene: Scene) -> dict[str, list[Fields]]:
    """What each address may be posted: from every page's forms, else nothing known."""
    posts: dict[str, list[Fields]] = {scene.address(name): [] for name in NAMES}
    for page in list(posts):
        answer = client.get(page)
        if answer.headers.get("Content-Type", "").startswith("text/html"):
            reader = Forms()
            reader.feed(answer.content.decode())
            for action, fields in reader.found:
                posts.setdefault(urlsplit(action).path or page, []).append(fields)
    return posts


def some_fields(chance: random.Random, forms: list[Fields]) -> dict[str, Any]:
    """A form filled in more or less as it should be, or fields out of nowhere."""
    fields: dict[str, Any] = {}
    for name, values in (chance.choice(forms) if forms else {}).items():
        turn = chance.random()
        if turn < 0.5:
            fields[name] = chance.choice(values)
        elif turn < 0.7:
            fields[name] = chance.choice(LIKELY)
        elif turn < 0.9:
            fields[name] = chance.choice(NONSENSE)
        elif turn < 0.95:
            fields[name] = [chance.choice(values), chance.choice(NONSENSE)]
    for name in chance.sample(FIELDS, chance.choice((0, 0, 1, 3))):
        fields[name] = chance.choice((*LIKELY, *NONSENSE))
    if "file" in fields or chance.random() < 0.05:
        content = chance.choice((*LIKELY, *NONSENSE)).encode()
        content = chance.choice((content, b"\0\1\2", b"\xff" * 40, b""))
        fields["file"] = SimpleUploadedFile("given.csv", content)
    return fields


def post_at_random(scene: Scene, client: Client, seed: int, count: int) -> Counter[int]:
    """So many posts in a row; how often each status was answered."""
    chance = random.Random(seed)
    lead, hand = scene.people["lead"], scene.people["hand"]
    client.force_login(lead)
    posts = forms_of(client, scene)
    addresses = sorted(posts)
    came: Counter[int] = Counter()
    before = kept(lead.company)
    for number in range(count):
        # Each address in turn, then at random; one in ten posts is by a hand.
        turn = number < len(addresses)
        address = addresses[number] if turn else chance.choice(addresses)
        fields = some_fields(chance, posts[address])
        client.force_login(hand if chance.random() < 0.1 else lead)
        answer = client.post(address, fields)
        told = f"post {number} of seed {seed}: {address} {fields}"
        assert answer.status_code < 500, told
        after = kept(lead.company)
        if is_refused(answer):
            assert after == before, told
        assert after.keys() >= before.keys(), told
        before = after
        came[answer.status_code] += 1
        # Whoever was removed by a post comes back for the next.
        User.objects.filter(pk__in=(lead.pk, hand.pk)).update(is_active=True)
    return came


def is_refused(answer: HttpResponse) -> bool:
    """Whether the post was not done: shown again, not allowed, not found."""
    return answer.status_code >= 400


def kept(company: Company) -> dict[str, Any]:
    """All that the company's jobs hold, by their ids."""
    return {job.key: job_json(job) for job in company.jobs.all()}


def test_random_posts_are_done_or_refused_and_a_refusal_loses_nothing(
    scene: Scene, service: Any
) -> None:
    client = Client(raise_request_exception=False)
    came = post_at_random(scene, client, seed=1, count=160)
    assert came[422] > 5  # forms were met,
    assert came[302] > 5  # and some were filled in well


@pytest.mark.measure
def test_ten_thousand_random_posts(scene: Scene, service: Any) -> None:
    seed = random.SystemRandom().randrange(10**9)
    client = Client(raise_request_exception=False)
    print(f"\nseed {seed}: {post_at_random(scene, client, seed, 10_000)}")


# Job files ------------------------------------------------------------------------

SPOILS: list[Any] = [
    None, True, 0, -1, 1e308, 10**30, 0.1, "", "x" * 300, "\0", "🖌️", [], {}, [[]],
    {"id": "x"}, "2026-10-12T08:00:00+01:00", "9999-12-31T23:59:59+00:00", "hall",
    "coat-by-coat/2",
]  # fmt: skip


def spoiled(chance: random.Random, file: Any) -> Any:
    """A job file with one or two places changed, dropped or doubled."""
    file = copy.deepcopy(file)
    for _ in range(chance.choice((1, 1, 1, 2))):
        branch, key = chance.choice(list(places(file)))
        inner = branch[key]
        alike = [
            other[place]
            for other, place in places(file)
            if type(other[place]) is type(inner)
        ]
        turn = chance.random()
        if isinstance(inner, int | float) and turn < 0.4:
            branch[key] = inner * chance.choice((0.5, 1, 2))
        elif turn < 0.4:  # another name, another moment: it may well be allowed
            branch[key] = copy.deepcopy(chance.choice(alike))
        elif turn < 0.7:
            branch[key] = copy.deepcopy(chance.choice(SPOILS))
        elif turn < 0.9:
            del branch[key]
        elif isinstance(branch, list):
            branch.append(copy.deepcopy(inner))
        else:
            branch[f"{key}-2"] = copy.deepcopy(inner)
    return file


def places(value: Any) -> Iterator[tuple[Any, Any]]:
    """Every place of a file: what it stands in, and its key or number there."""
    if isinstance(value, dict | list):
        for key in list(value) if isinstance(value, dict) else range(len(value)):
            yield value, key
            yield from places(value[key])


def import_at_random(company: Company, client: Client, seed: int, count: int) -> int:
    """So many spoiled job files; how many came in all the same."""
    chance = random.Random(seed)
    files = [whole_job(), write_job(small_job())]
    came_in = 0
    before = kept(company)
    for number in range(count):
        file = spoiled(chance, chance.choice(files))
        fields = {"text": json.dumps(file)}
        if chance.random() < 0.7:
            fields["replace"] = "on"
        answer = client.post("/import/", fields)
        told = f"file {number} of seed {seed}: {json.dumps(file)[:3000]}"
        assert answer.status_code in {302, 422}, told
        after = kept(company)
        if answer.status_code == 422:
            assert after == before, told
        else:
            came_in += 1
            key = file["id"]
            assert read_job(after[key]).id == read_job(file).id, told
            pages = ("", "week/", "recipes/", "calendars/", "sheets/", "copy/")
            for page in chance.sample(pages, 2):
                status = client.get(f"/jobs/{key}/{page}").status_code
                assert status < 500, f"{page} after {told}"
        assert after.keys() >= before.keys(), told
        before = after
    return came_in


def test_random_job_files_come_in_whole_or_not_at_all(job: Job, lead: User) -> None:
    client = Client(raise_request_exception=False)
    client.force_login(lead)
    came_in = import_at_random(lead.company, client, seed=1, count=80)
    assert 4 < came_in < 76


@pytest.mark.measure
def test_two_thousand_random_job_files(job: Job, lead: User) -> None:
    seed = random.SystemRandom().randrange(10**9)
    client = Client(raise_request_exception=False)
    client.force_login(lead)
    came_in = import_at_random(lead.company, client, seed, 2_000)
    print(f"\nseed {seed}: {came_in} of 2,000 came in")


def test_a_spoiled_file_is_mostly_refused_by_the_format_itself() -> None:
    chance = random.Random(7)
    refused = 0
    for _ in range(50):
        try:
            read_job(spoiled(chance, whole_job()))
        except BadInput:
            refused += 1
    assert refused > 25
