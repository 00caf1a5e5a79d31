"""The form that changes a recipe: judged by the engine, nothing typed is lost."""

from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.actions import issue_plan, log_coat
from jobs.factories import MaterialFactory, RecipeFactory, StepFactory, small_job
from jobs.models import Company, Job, User
from jobs.recipe_changes import change_recipe
from jobs.recipe_typed import FLAGS, MOST_STEPS, TEXTS, free_key, moved, shown_step
from jobs.starting_set import starting_materials, starting_recipes
from jobs.translation import job_json, job_value, store_job, store_plan
from scheduling.job_file import write_recipe
from scheduling.problem import After, HandsNeeded, Recipe, Rescue
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import as_shown, log_first_coat, plan_value, words

ADDRESS = "/jobs/job/recipes/recipe/change/"


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def signed_in(client: Client, lead: User) -> Client:
    client.force_login(lead)
    return client


def typed(recipe: Recipe, version: int = 1, **fields: Any) -> dict[str, Any]:
    """What the form posts of a recipe that nobody has touched, but for ``fields``."""
    data: dict[str, Any] = {"name": recipe.name or recipe.id, "version": version}
    for number, step in enumerate(recipe.steps):
        row = shown_step(step) | {
            "apply_min_m2": f"{step.apply_min_m2:g}",
            "work_min_m2": f"{step.work_min_m2:g}" if step.work_min_m2 else "",
            "rescue_min_m2": f"{step.rescue.min_m2:g}" if step.rescue else "",
        }
        for name, value in row.items():
            if name not in FLAGS or value:
                data[f"step-{number}-{name}"] = "on" if name in FLAGS else value
    return data | {name.replace("__", "-"): value for name, value in fields.items()}


def step(number: int, name: str) -> str:
    return f"step-{number}-{name}"


@pytest.fixture
def send(signed_in: Client, job: Job) -> Callable[..., HttpResponse]:
    """Posts the small job's recipe with some of its fields typed over."""

    def post(changes: dict[str, Any] | None = None, **more: Any) -> HttpResponse:
        recipe = job_value(job).recipes[0]
        version = job.recipes.get().version
        return signed_in.post(ADDRESS, typed(recipe, version) | (changes or {}), **more)

    return post


def test_a_step_is_changed_and_the_next_version_kept(
    send: Callable[..., HttpResponse], job: Job
) -> None:
    answer = send(
        {
            step(1, "name"): "Second coat",
            step(1, "apply_min_m2"): "6,5",
            step(1, "work_min_m2"): "2",
            step(1, "hands_least"): "2",
            step(1, "hands_most"): "3",
            step(1, "skill"): "glazing",
            step(1, "setup_min"): "12",
            step(1, "wet"): "on",
            step(1, "same_hand"): "on",
            step(1, "makes"): ["dust", "noise"],
            step(1, "after_stage"): "touch",
            step(1, "rescue_min_m2"): "3",
            step(1, "coat"): "1.5",
            step(1, "prefers"): "late",
            step(1, "seals"): "no",
        },
        follow=True,
    )
    assert "Kept: recipe, version 2." in words(answer.content.decode())
    kept = job_value(job).recipes[0].step("coat-2")
    assert kept == StepFactory(
        id="coat-2",
        name="Second coat",
        apply_min_m2=6.5,
        work_min_m2=2,
        hands=HandsNeeded(least=2, most=3),
        skill="glazing",
        setup_min=12,
        wet=True,
        same_hand=True,
        makes=("dust", "noise"),
        after=After(step="coat-1", stage="touch"),
        rescue=Rescue(min_m2=3),
        coat=1.5,
        prefers="late",
        seals=False,
    )


@pytest.mark.parametrize("recipe", starting_recipes(), ids=lambda row: row.id)
@pytest.mark.parametrize("units", [User.Units.METRIC, User.Units.US])
def test_a_form_kept_untouched_changes_nothing(
    recipe: Recipe, units: str, company: Company, signed_in: Client, lead: User
) -> None:
    lead.units = units
    lead.save()
    job = store_job(company, _job_with(recipe))
    html = signed_in.get(f"/jobs/job/recipes/{recipe.id}/change/").content.decode()
    answer = signed_in.post(
        f"/jobs/job/recipes/{recipe.id}/change/", as_shown(html), follow=True
    )
    assert "Nothing was changed." in words(answer.content.decode())
    assert job_value(job).recipe(recipe.id) == recipe


def _job_with(recipe: Recipe) -> Any:
    return small_job(
        recipes=(RecipeFactory(id="recipe"), recipe),
        materials=(MaterialFactory(id="material"), *starting_materials()),
    )


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("apply_min_m2", "", "Empty: give a value."),
        ("apply_min_m2", "quick", '"quick": give a pace from 0 to 10000 min/m²'),
        ("apply_min_m2", "-3", '"-3": give a pace from 0 to 10000'),
        ("hands_least", "0", "0: give a whole number from 1 to 50."),
        ("hands_least", "1.5", "1.5: give a whole number from 1 to 50."),
        ("hands_least", "two", '"two": give a number.'),
        ("setup_min", "2000", "2000: give a number from 0 to 1440."),
        ("coat", "20", "20: give a number from 0.1 to 10."),
        ("skill", "Fine work", '"Fine work": give 1 to 40 of a-z, 0-9 and -.'),
        (
            "after_stage",
            "hard",
            '"hard": give a stage that the label of material (step coat-1) knows: '
            "open, touch, recoat.",
        ),
        ("rescue_stage", "hard", "Empty: give a value."),
        ("name", "x" * 201, "at most 200 characters"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field_and_kept(
    field: str,
    value: str,
    said: str,
    send: Callable[..., HttpResponse],
    job: Job,
) -> None:
    answer = send({step(1, field): value, step(0, "name"): "As typed"})
    assert answer.status_code == 422
    html = unescape(answer.content.decode())
    at = html.index(f'name="{step(1, field)}"')
    if field != "rescue_stage":
        assert said in html[at : at + 9000]
    assert said in html
    assert 'value="As typed"' in html
    assert "One field needs another look." in html
    assert job.recipes.get().version == 1


def test_most_hands_below_the_least_is_said_beside_the_most(
    send: Callable[..., HttpResponse],
) -> None:
    answer = send({step(0, "hands_least"): "3", step(0, "hands_most"): "2"})
    html = unescape(answer.content.decode())
    assert "2: give 3 or more." in html[html.index('name="step-0-hands_most"') :][:400]


def test_two_steps_that_wait_for_each_other_are_refused(
    send: Callable[..., HttpResponse],
) -> None:
    answer = send(
        {step(0, "after_step"): "coat-2", step(0, "after_stage"): "recoat",
         step(1, "after_step"): "coat-1", step(1, "after_stage"): "recoat"}
    )  # fmt: skip
    assert answer.status_code == 422
    assert "an order without a circle" in answer.content.decode()


def test_moving_a_step_keeps_all_that_was_typed_and_saves_nothing(
    send: Callable[..., HttpResponse], job: Job
) -> None:
    answer = send(
        {step(0, "apply_min_m2"): "quick", "name": "New name", "do": "down-0"}
    )
    assert answer.status_code == 200
    shown = as_shown(answer.content.decode())
    assert [shown[step(n, "id")] for n in (0, 1)] == ["coat-2", "coat-1"]
    assert (shown[step(1, "apply_min_m2")], shown["name"]) == ("quick", "New name")
    assert "needs another look" not in answer.content.decode()
    assert job.recipes.get().version == 1


def test_a_step_is_added_and_kept(
    send: Callable[..., HttpResponse], signed_in: Client, job: Job
) -> None:
    shown = as_shown(send({"do": "add-0"}).content.decode())
    assert shown[step(1, "id")] == "step-1"
    shown |= {step(1, "name"): "De-nib", step(1, "apply_min_m2"): "2"}
    assert signed_in.post(ADDRESS, shown).status_code == 302
    recipe = job_value(job).recipes[0]
    assert [row.id for row in recipe.steps] == ["coat-1", "step-1", "coat-2"]
    assert recipe.steps[1].material is None


def test_a_step_is_taken_out_and_who_waited_for_it_waits_as_usual(
    stored: Callable[..., Job], signed_in: Client
) -> None:
    steps = (
        StepFactory(id="one"),
        StepFactory(id="two"),
        StepFactory(id="three", after=After(step="two", stage="touch")),
    )
    job = stored(recipes=(RecipeFactory(id="recipe", steps=steps),))
    data = typed(job_value(job).recipes[0]) | {"do": "remove-1"}
    shown = as_shown(signed_in.post(ADDRESS, data).content.decode())
    assert signed_in.post(ADDRESS, shown).status_code == 302
    kept = job_value(job).recipes[0]
    assert [row.id for row in kept.steps] == ["one", "three"]
    assert kept.steps[1].after is None


def test_the_last_step_and_one_too_many_are_refused_in_words() -> None:
    row = shown_step(StepFactory(id="only"))
    assert moved([row], "remove-0") == ([row], "A recipe has at least one step.")
    many = [row | {"id": f"s{n}"} for n in range(MOST_STEPS)]
    assert moved(many, "add-0") == (many, f"A recipe has at most {MOST_STEPS} steps.")


@pytest.mark.parametrize("wish", ["up-9", "down-x", "", "up-0", "dance-1", "up--1"])
def test_a_button_that_is_not_there_changes_nothing(wish: str) -> None:
    rows = [shown_step(StepFactory(id=name)) for name in ("one", "two")]
    assert moved(rows, wish) == (rows, "")


def test_a_step_with_a_coat_logged_stays(
    send: Callable[..., HttpResponse], signed_in: Client, job: Job, lead: User
) -> None:
    log_first_coat(job, lead)
    shown = as_shown(send({"do": "remove-0"}).content.decode())
    answer = signed_in.post(ADDRESS, shown)
    assert answer.status_code == 422
    assert "coat-1 must stay: a coat of it is logged." in answer.content.decode()
    assert job.coats.count() == 1


def test_an_edit_of_an_older_version_is_refused_and_both_are_shown(
    send: Callable[..., HttpResponse], signed_in: Client, job: Job, lead: User
) -> None:
    theirs = write_recipe(job_value(job).recipes[0])
    theirs["steps"][0]["name"] = "Their first coat"
    change_recipe(job=job, written=theirs, version=1, by=lead, now=NOW)
    answer = send({"version": "1", step(0, "name"): "My first coat"})
    assert answer.status_code == 409
    html = answer.content.decode()
    assert "it is version 2 now" in html
    assert "Their first coat" in words(html.partition("<form")[0] + html)
    shown = as_shown(html)
    assert (shown["version"], shown[step(0, "name")]) == ("2", "My first coat")
    assert job_value(job).recipes[0].steps[0].name == "Their first coat"
    assert signed_in.post(ADDRESS, shown).status_code == 302
    assert job_value(job).recipes[0].steps[0].name == "My first coat"
    assert job.recipes.get().version == 3


def test_a_material_of_the_book_comes_with_the_step(
    send: Callable[..., HttpResponse], job: Job
) -> None:
    send({step(0, "material"): "book:eggshell"})
    value = job_value(job)
    assert value.recipes[0].steps[0].material == "eggshell"
    assert value.material("eggshell").labels["hard"] == (2880, 4320)


def test_a_new_recipe_is_written_from_nothing(signed_in: Client, job: Job) -> None:
    address = "/jobs/job/new-recipe/"
    shown = as_shown(signed_in.get(address).content.decode())
    shown |= {
        "name": "Façade, quick & thin",
        step(0, "name"): "Coat",
        step(0, "material"): "material",
        step(0, "apply_min_m2"): "3",
    }
    answer = signed_in.post(address, shown)
    assert answer["Location"] == "/jobs/job/recipes/facade-quick-thin/"
    assert job_value(job).recipe("facade-quick-thin").name == "Façade, quick & thin"
    second = signed_in.post(address, shown)
    assert second["Location"] == "/jobs/job/recipes/facade-quick-thin-2/"


def test_an_id_is_made_of_any_name() -> None:
    assert free_key("北京", ()) == "new"
    assert free_key("New", ("new", "new-2")) == "new-3"
    assert len(free_key("x" * 200, ())) <= 40


def test_an_empty_post_or_half_a_form_is_no_accident(
    signed_in: Client, job: Job
) -> None:
    assert signed_in.post(ADDRESS).status_code == 200
    half = dict.fromkeys(("name", "version"), "") | {step(0, "id"): ""}
    assert signed_in.post(ADDRESS, half).status_code == 422


def test_the_recipe_page_and_the_week_say_what_the_plan_was_made_with(
    signed_in: Client, job: Job, lead: User, send: Callable[..., HttpResponse]
) -> None:
    value = job_value(job)
    plan = store_plan(job, plan_value(value), planned=value, planned_at=NOW)
    issue_plan(plan=plan, by=lead, now=NOW)
    page = words(signed_in.get("/jobs/job/recipes/recipe/").content.decode())
    assert "Version 1, as plan 1 was made with" in page
    send({step(0, "name"): "First coat"})
    page = words(signed_in.get("/jobs/job/recipes/recipe/").content.decode())
    assert "Version 2. The issued plan 1 was made with version 1" in page
    said = "recipe has changed since plan 1 was made: version 1 then, 2 now."
    for place in ("", "week/"):
        assert said in words(signed_in.get(f"/jobs/job/{place}").content.decode())
    old = words(signed_in.get("/jobs/job/recipes/recipe/versions/1/").content.decode())
    assert "recipe, version 1 It held until" in old
    assert "coat-1" in old
    assert "First coat" not in old


def test_an_old_version_whose_material_is_gone_is_not_found(
    signed_in: Client, job: Job, lead: User
) -> None:
    row = job.recipes.get()
    content = job_json(job)["recipes"][0]
    content["steps"][0]["material"] = "gone"
    row.versions.create(number=1, content=content, until=NOW)
    address = "/jobs/job/recipes/recipe/versions/1/"
    assert signed_in.get(address).status_code == 404


def test_the_form_takes_as_many_queries_for_200_recipes_as_for_2(
    company: Company, signed_in: Client
) -> None:
    counts = []
    for number in (2, 200):
        recipes = tuple(
            RecipeFactory(id="recipe" if not n else f"recipe-{n}")
            for n in range(number)
        )
        store_job(company, small_job(recipes=recipes), replace=True)
        asked = []
        for address in (ADDRESS, "/jobs/job/recipes/", "/jobs/job/recipes/recipe/"):
            with CaptureQueriesContext(connection) as queries:
                assert signed_in.get(address).status_code == 200
            asked.append(len(queries))
        counts.append(asked)
    assert counts[0] == counts[1]


def test_every_text_of_a_step_has_a_field() -> None:
    row = shown_step(StepFactory(id="one"))
    assert set(TEXTS) - set(row) == {"apply_min_m2", "work_min_m2", "rescue_min_m2"}


def test_an_old_version_is_brought_back_as_the_next(
    send: Callable[..., HttpResponse], signed_in: Client, job: Job
) -> None:
    before = job_value(job).recipes[0]
    send({step(0, "name"): "First coat"})
    address = "/jobs/job/recipes/recipe/versions/1/"
    answer = signed_in.post(address, {"version": "2"}, follow=True)
    assert "recipe is version 3 now." in words(answer.content.decode())
    assert job_value(job).recipes[0] == before


@pytest.mark.parametrize("looked_at", ["1", "", "x", "9" * 30])
def test_nothing_comes_back_over_a_version_that_was_not_looked_at(
    looked_at: str, send: Callable[..., HttpResponse], signed_in: Client, job: Job
) -> None:
    send({step(0, "name"): "First coat"})
    address = "/jobs/job/recipes/recipe/versions/1/"
    answer = signed_in.post(address, {"version": looked_at}, follow=True)
    assert "recipe is version 2 now. Look." in words(answer.content.decode())
    assert job_value(job).recipes[0].steps[0].name == "First coat"


def test_a_version_without_a_logged_step_does_not_come_back(
    send: Callable[..., HttpResponse], signed_in: Client, job: Job, lead: User
) -> None:
    shown = as_shown(send({"do": "add-1"}).content.decode())
    shown |= {step(2, "name"): "Third", step(2, "apply_min_m2"): "2"}
    signed_in.post(ADDRESS, shown)
    surface = job.surfaces.get()
    third = surface.recipe.steps.get(key="step-1")
    log_coat(job=job, surface=surface, step=third, start=NOW, end=NOW, by=lead, now=NOW)
    address = "/jobs/job/recipes/recipe/versions/1/"
    answer = signed_in.post(address, {"version": "2"}, follow=True)
    assert "Third must stay: a coat of it is logged." in words(answer.content.decode())


def test_a_recipe_too_long_for_the_form_is_not_cut(
    stored: Callable[..., Job], signed_in: Client
) -> None:
    steps = tuple(StepFactory(id=f"s{n}") for n in range(MOST_STEPS + 1))
    job = stored(recipes=(RecipeFactory(id="recipe", steps=steps),))
    for answer in (signed_in.get(ADDRESS), signed_in.post(ADDRESS, {"do": "keep"})):
        assert answer.status_code == 409
        assert "It has 41 steps, and this page takes 40." in answer.content.decode()
    assert len(job_value(job).recipes[0].steps) == 41


def test_the_longest_recipe_fits_in_a_post(
    stored: Callable[..., Job], signed_in: Client
) -> None:
    makes = ("dust", "steam", "solvent", "noise")
    steps = tuple(
        StepFactory(id=f"s{n}", makes=makes, wet=True, splits=False, same_hand=True)
        for n in range(MOST_STEPS)
    )
    job = stored(recipes=(RecipeFactory(id="recipe", steps=steps),))
    shown = as_shown(signed_in.get(ADDRESS).content.decode())
    answer = signed_in.post(ADDRESS, shown | {step(39, "apply_min_m2"): "7"})
    assert answer.status_code == 302
    assert job_value(job).recipes[0].steps[39].apply_min_m2 == 7
