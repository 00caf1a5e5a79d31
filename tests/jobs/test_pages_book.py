"""The recipe book: what the company has, and bringing a recipe into a job."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.factories import MaterialFactory, RecipeFactory, small_job
from jobs.models import Company, Job, User
from jobs.recipe_changes import bring_recipe
from jobs.starting_set import starting_book
from jobs.translation import job_value, store_job
from jobs.views.book import entry_or_404
from scheduling.job_file import read_job, write_job
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import words


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def signed_in(client: Client, lead: User) -> Client:
    client.force_login(lead)
    return client


def test_the_book_lists_the_jobs_recipes_and_the_starting_set(
    job: Job, signed_in: Client
) -> None:
    html = signed_in.get("/book/").content.decode()
    assert 'href="/jobs/job/recipes/recipe/"' in html
    for entry in starting_book():
        assert f'href="/book/{entry.recipe.id}/"' in html


def test_a_recipe_of_the_book_says_how_each_number_is_known(signed_in: Client) -> None:
    said = words(signed_in.get("/book/strie/").content.decode())
    assert (
        "3 + 6.5 min/m², 2 hands, glazing, wet edge (common practice, no source)"
        in said
    )
    assert "Stays open 20 min to 35 min practice" in said
    assert "once Base 2 is hard" in said


def test_paces_are_in_the_readers_units(signed_in: Client, lead: User) -> None:
    lead.units = User.Units.US
    lead.save()
    said = words(signed_in.get("/book/strie/").content.decode())
    assert "0.279 + 0.604 min/ft²" in said


def test_a_recipe_is_brought_into_a_job_with_its_materials(
    job: Job, signed_in: Client
) -> None:
    answer = signed_in.post("/book/strie/bring/", {"job": "job"}, follow=True)
    assert answer.redirect_chain[-1][0] == "/jobs/job/recipes/strie/"
    assert "is in One wall." in words(answer.content.decode())
    entry = entry_or_404("strie")
    value = job_value(Job.objects.get(pk=job.pk))
    assert value.recipe("strie") == entry.recipe
    assert all(value.material(row.id) == row for row in entry.materials)
    assert read_job(write_job(value)) == value


@pytest.mark.parametrize("entry", starting_book(), ids=lambda row: row.recipe.id)
def test_every_recipe_of_the_book_can_be_brought_in(entry: Any, job: Job) -> None:
    bring_recipe.__wrapped__(job=job, entry=entry, now=NOW)
    assert job_value(job).recipe(entry.recipe.id) == entry.recipe


def test_brought_in_twice_it_comes_under_an_id_of_its_own(
    job: Job, signed_in: Client
) -> None:
    for _ in range(3):
        signed_in.post("/book/wax/bring/", {"job": "job"})
    keys = ["recipe", "wax", "wax-2", "wax-3"]
    assert list(job.recipes.values_list("key", flat=True)) == keys
    assert job.recipes.get(key="wax-3").name == "Wax (3)"
    assert job.materials.count() == 2


def test_a_material_that_the_job_has_stays_the_jobs_own(
    stored: Callable[..., Job], signed_in: Client
) -> None:
    entry = entry_or_404("wall-paint")
    own = replace(
        entry.materials[-1], labels=entry.materials[-1].labels | {"recoat": 300.0}
    )
    job = stored(materials=(MaterialFactory(id="material"), own))
    answer = signed_in.post("/book/wall-paint/bring/", {"job": "job"}, follow=True)
    assert f"It uses the job’s own {own.name}." in words(answer.content.decode())
    assert job_value(job).material(own.id) == own


def test_a_job_whose_own_material_lacks_the_stage_is_told_so(
    stored: Callable[..., Job], signed_in: Client
) -> None:
    bare = MaterialFactory(id="eggshell", name="Eggshell")
    job = stored(materials=(MaterialFactory(id="material"), bare))
    answer = signed_in.post("/book/strie/bring/", {"job": "job"})
    assert answer.status_code == 422
    said = words(answer.content.decode())
    assert "a stage that the label of eggshell (step base-2) knows" in said
    assert job.recipes.count() == 1


def test_a_job_of_others_or_none_is_refused_beside_the_field(
    job: Job, signed_in: Client, stranger: User
) -> None:
    store_job(stranger.company, small_job(id="theirs"))
    for asked, said in (
        ("theirs", "theirs is not here: give one of One wall."),
        ("", "Nothing chosen: give one of One wall."),
    ):
        answer = signed_in.post("/book/wax/bring/", {"job": asked})
        assert answer.status_code == 422
        assert said in answer.content.decode()


def test_what_is_not_in_the_book_is_not_found(signed_in: Client) -> None:
    assert signed_in.get("/book/fresco/").status_code == 404


def test_the_book_takes_as_many_queries_for_200_recipes_as_for_2(
    company: Company, signed_in: Client
) -> None:
    counts = []
    for number in (2, 200):
        recipes = tuple(
            RecipeFactory(id="recipe" if not n else f"recipe-{n}")
            for n in range(number)
        )
        store_job(company, small_job(recipes=recipes), replace=True)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert signed_in.get("/book/").status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_hand_reads_the_book_and_brings_nothing_in(
    job: Job, client: Client, hand: User
) -> None:
    client.force_login(hand)
    html = client.get("/book/strie/").content.decode()
    assert "Bring it in" not in html
    assert client.post("/book/strie/bring/", {"job": "job"}).status_code == 403
