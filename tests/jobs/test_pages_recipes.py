"""A recipe and its clocks in an air that a person may change."""

from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.test import Client

from jobs.factories import RecipeFactory, StepFactory, SurfaceFactory, small_job
from jobs.models import Company, Job, User
from jobs.recipe_words import STAGE_WORDS
from jobs.translation import store_job
from scheduling.problem import STAGES
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import words


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


def test_a_recipe_in_the_labels_own_air_gives_the_labels_own_times(
    job: Job, page: Callable[..., str]
) -> None:
    said = words(page("recipes/recipe/", temperature="23", humidity="50"))
    assert "Takes the next coat after 4 h" in said
    assert "early 2 h, likely 3 h, then safe. The label says 2 h to 4 h." in said


def test_damp_air_makes_the_next_coat_wait_longer(
    job: Job, page: Callable[..., str]
) -> None:
    said = words(page("recipes/recipe/", temperature="19", humidity="80"))
    assert "Takes the next coat after 4 h" not in said


def test_an_air_in_which_no_coat_may_start_says_so_with_its_source(
    job: Job, page: Callable[..., str]
) -> None:
    said = words(page("recipes/recipe/", temperature="20", humidity="90"))
    assert "No coat of it should start in this air." in said
    assert "at least 3.0 °C needed" in said
    assert "ISO 8502-4" in said


def test_cautions_speak_the_readers_degrees(
    job: Job, client: Client, lead: User
) -> None:
    lead.units = User.Units.US
    lead.save()
    client.force_login(lead)
    answer = client.get(
        "/jobs/job/recipes/recipe/", {"temperature": "68", "humidity": "90"}
    )
    assert "at least 5.4 °F needed" in words(answer.content.decode())


@pytest.mark.parametrize(
    ("temperature", "humidity", "said"),
    [
        ("700", "50", "700 °C cannot be: give a number from -30 to 60 °C."),
        ("20", "101", "101 % cannot be: give a number from 0 to 100 %."),
        ("", "50", "Empty: give a value."),
        ("warm", "50", "&quot;warm&quot;: give a number"),
        ("nan", "50", "&quot;nan&quot;: give a number"),
        ("1e999", "50", "give a number"),
        ("2" * 500, "50", "at most 60 characters"),
        ("²⁰", "50", "give a number"),
    ],
)
def test_an_air_that_cannot_be_is_refused_beside_its_field_and_kept(
    temperature: str, humidity: str, said: str, job: Job, page: Callable[..., str]
) -> None:
    html = page(
        "recipes/recipe/", status=422, temperature=temperature, humidity=humidity
    )
    assert said in html
    assert f'value="{humidity}"' in html


@pytest.mark.parametrize(("temperature", "humidity"), [("-30", "0"), ("60", "100")])
def test_the_ends_of_what_is_allowed_are_answered(
    temperature: str, humidity: str, job: Job, page: Callable[..., str]
) -> None:
    page("recipes/recipe/", temperature=temperature, humidity=humidity)


def test_every_stage_that_a_step_can_wait_for_is_said_in_words() -> None:
    assert set(STAGE_WORDS) == {"", *STAGES}
    assert all("{}" in words for words in STAGE_WORDS.values())


def test_a_coat_not_laid_as_the_label_has_it_is_told_with_its_own_clocks(
    company: Company, page: Callable[..., str]
) -> None:
    steps = (StepFactory(id="coat-1"), StepFactory(id="coat-2", coat=2.0))
    store_job(
        company,
        small_job(
            recipes=(RecipeFactory(id="recipe", steps=steps),),
            surfaces=(SurfaceFactory(id="wall", ground="porous"),),
        ),
    )
    said = words(page("recipes/recipe/", temperature="23", humidity="50"))
    assert "Laid on porous ground, where it sets sooner." in said
    assert "Laid 2 times as thick as the label’s coat." in said
    first, second = (part.split("Recoat")[0] for part in said.split("Open")[1:])
    assert "worked, joined and wiped for 7 min" in first
    assert "likely 14 min" in second  # the root of label and law, 10 and 20 min
    assert "Takes the next coat after 4 h" in said  # on porous ground
    assert said.count("Takes the next coat after 4 h") == 1  # the thick one later


def test_a_coat_laid_as_the_label_has_it_is_told_once_and_without_more(
    job: Job, page: Callable[..., str]
) -> None:
    said = words(page("recipes/recipe/", temperature="23", humidity="50"))
    assert "Laid" not in said
    assert said.count("Takes the next coat") == 1
