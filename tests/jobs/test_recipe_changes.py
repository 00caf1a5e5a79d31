"""Changing recipes and labels: versions kept, plans with what they were made with."""

from collections.abc import Callable
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from jobs.actions import import_job
from jobs.factories import MaterialFactory, RecipeFactory, StepFactory, small_job
from jobs.models import Company, Job, Plan, User
from jobs.recipe_changes import Stale, change_material, change_recipe
from jobs.recipe_versions import changed_since
from jobs.starting_set import starting_materials
from jobs.translation import job_json, job_value, recipes_used, store_plan
from scheduling.errors import BadInput
from scheduling.job_file import write_job
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import log_first_coat, plan_value


def recipe_json(job: Job) -> dict[str, Any]:
    return job_json(job)["recipes"][0]


def material_json(job: Job) -> dict[str, Any]:
    return job_json(job)["materials"][0]


def change(job: Job, by: User, version: int = 1, **of_second: Any) -> Any:
    written = recipe_json(job)
    written["steps"][1] |= of_second
    return change_recipe(job=job, written=written, version=version, by=by, now=NOW)


def relabel(job: Job, by: User, version: int = 1, **labels: Any) -> Any:
    written = material_json(job)
    written["labels"] |= labels
    return change_material(job=job, written=written, version=version, by=by, now=NOW)


def planned(job: Job) -> Plan:
    value = job_value(job)
    return store_plan(job, plan_value(value), planned=value, planned_at=NOW)


def test_a_change_counts_up_and_the_old_one_is_kept_whole(job: Job, lead: User) -> None:
    before = recipe_json(job)
    kept = change(job, lead, apply_min_m2=6.5, name="Second coat")
    assert kept.version == 2
    assert job_value(job).recipes[0].step("coat-2").apply_min_m2 == 6.5
    (old,) = kept.versions.all()
    assert (old.number, old.content, old.until) == (1, before, NOW)
    assert old.changed_by == lead


def test_each_change_makes_one_version(job: Job, lead: User) -> None:
    change(job, lead, apply_min_m2=6.5)
    kept = change(job, lead, version=2, apply_min_m2=7.5)
    assert [old.number for old in kept.versions.all()] == [2, 1]
    assert kept.version == 3


def test_nothing_is_counted_where_nothing_differs(job: Job, lead: User) -> None:
    kept = change(job, lead)
    assert (kept.version, kept.versions.count()) == (1, 0)


def test_a_change_to_what_others_changed_is_refused(job: Job, lead: User) -> None:
    change(job, lead, apply_min_m2=6.5)
    with pytest.raises(Stale) as refused:
        change(job, lead, apply_min_m2=9.0)
    assert refused.value.version == 2
    assert job_value(job).recipes[0].step("coat-2").apply_min_m2 == 6.5


def test_what_the_engine_refuses_changes_nothing(job: Job, lead: User) -> None:
    with pytest.raises(BadInput, match=r"recipes\[0\].steps\[1\].after.stage"):
        change(job, lead, after={"step": "coat-1", "stage": "hard"})
    assert job.recipes.get().version == 1


def test_coats_stay_where_a_step_before_them_changes(job: Job, lead: User) -> None:
    coat = log_first_coat(job, lead)
    written = recipe_json(job)
    written["steps"].insert(1, written["steps"][0] | {"id": "between"})
    change_recipe(job=job, written=written, version=1, by=lead, now=NOW)
    coat.refresh_from_db()
    assert coat.step.key == "coat-1"
    steps = [step.id for step in job_value(job).recipes[0].steps]
    assert steps == ["coat-1", "between", "coat-2"]


def test_a_step_with_a_logged_coat_must_stay(job: Job, lead: User) -> None:
    log_first_coat(job, lead)
    written = recipe_json(job)
    written["steps"] = written["steps"][1:]
    with pytest.raises(ValidationError, match="coat-1 must stay: a coat of it is"):
        change_recipe(job=job, written=written, version=1, by=lead, now=NOW)
    assert job.coats.count() == 1


def test_a_material_of_the_book_comes_along(job: Job, lead: User) -> None:
    eggshell = next(row for row in starting_materials() if row.id == "eggshell")
    written = recipe_json(job)
    written["steps"][0]["material"] = "eggshell"
    change_recipe(
        job=job, written=written, version=1, by=lead, now=NOW, materials=(eggshell,)
    )
    assert job_value(job).material("eggshell") == eggshell


def test_a_label_is_changed_with_its_old_one_kept(job: Job, lead: User) -> None:
    before = material_json(job)
    kept = relabel(job, lead, recoat=[180, 300])
    assert job_value(job).material("material").labels["recoat"] == (180, 300)
    assert [old.content for old in kept.versions.all()] == [before]


def test_a_label_that_a_step_waits_for_must_stay(job: Job, lead: User) -> None:
    written = material_json(job)
    del written["labels"]["recoat"]
    with pytest.raises(BadInput, match="knows: open, touch"):
        change_material(job=job, written=written, version=1, by=lead, now=NOW)


def test_a_job_file_that_takes_a_jobs_place_makes_versions_too(
    job: Job, company: Company
) -> None:
    steps = (StepFactory(id="coat-1"), StepFactory(id="coat-2", apply_min_m2=9.0))
    file = small_job(recipes=(RecipeFactory(id="recipe", steps=steps),))
    import_job(company=company, written=write_job(file), replace=True)
    row = job.recipes.get()
    assert (row.version, row.versions.get().why) == (2, "a job file")
    assert job.materials.get().version == 1


def test_a_plan_keeps_what_it_was_made_with(job: Job, lead: User) -> None:
    plan = planned(job)
    before = recipe_json(job)
    change(job, lead, apply_min_m2=6.5)
    plan.refresh_from_db()
    assert plan.made_with["recipes"] == [before]
    assert [row["id"] for row in plan.made_with["materials"]] == ["material"]


def test_what_changed_since_a_plan_is_told_with_its_versions(
    job: Job, lead: User
) -> None:
    plan = planned(job)
    assert changed_since(plan, job, recipes_used(job_value(job))) == []
    change(job, lead, apply_min_m2=6.5)
    change(job, lead, version=2, apply_min_m2=7.5)
    relabel(job, lead, recoat=300)
    found = changed_since(plan, job, recipes_used(job_value(job)))
    assert [(row.kind, row.key, row.was, row.version) for row in found] == [
        ("recipe", "recipe", 1, 3),
        ("material", "material", 1, 2),
    ]
    assert found[0].words == "version 1 then, 3 now"


def test_a_recipe_that_is_back_as_it_was_has_not_changed(job: Job, lead: User) -> None:
    plan = planned(job)
    change(job, lead, apply_min_m2=6.5)
    change(job, lead, version=2, apply_min_m2=4.0)
    assert changed_since(plan, job, recipes_used(job_value(job))) == []


def test_a_plan_made_before_versions_says_nothing(job: Job, lead: User) -> None:
    plan = planned(job)
    plan.made_with = {}
    change(job, lead, apply_min_m2=6.5)
    assert changed_since(plan, job, recipes_used(job_value(job))) == []


def test_a_recipe_on_no_surface_is_no_part_of_a_plan(
    stored: Callable[..., Job], lead: User
) -> None:
    recipes = (RecipeFactory(id="recipe"), RecipeFactory(id="spare"))
    materials = (MaterialFactory(id="material"), MaterialFactory(id="unused"))
    plan = planned(stored(recipes=recipes, materials=materials))
    assert [row["id"] for row in plan.made_with["recipes"]] == ["recipe"]
    assert [row["id"] for row in plan.made_with["materials"]] == ["material"]
