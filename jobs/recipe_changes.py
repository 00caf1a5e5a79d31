"""What a lead does to a job's recipes: bring one in, change one, change a label.

One verb, one durable transaction each. What the engine's reader refuses is a BadInput,
what others changed meanwhile a Stale.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from jobs.models import Coat, CoatTest, Job, Material, Pin, Recipe, User
from jobs.recipe_versions import keep_old
from jobs.starting_set import BookRecipe
from jobs.translation import job_value, store_material, store_recipe
from scheduling import problem
from scheduling.job_file import read_job, write_job, write_material, write_recipe

Json = dict[str, Any]


class Stale(Exception):
    """Somebody else changed it since it was looked at; ``version`` is the one now."""

    def __init__(self, version: int) -> None:
        super().__init__(version)
        self.version = version


@dataclass(frozen=True, slots=True, kw_only=True)
class Brought:
    """A recipe that came into a job; ``kept`` are materials the job had already.

    Their labels are the job's own, whatever the book says of them.
    """

    recipe: Recipe
    kept: tuple[str, ...]


@transaction.atomic(durable=True)
def bring_recipe(*, job: Job, entry: BookRecipe, now: datetime) -> Brought:
    """A recipe of the book with its materials, behind those that the job has.

    Where its id is taken it comes under one of its own. BadInput where the job's own
    material of that id lacks a stage that a step waits for.
    """
    lock(job, now)
    value = job_value(job)
    taken = {row.id for row in value.recipes}
    recipe = entry.recipe
    if recipe.id in taken:
        number = next(n for n in range(2, 10_000) if f"{recipe.id}-{n}" not in taken)
        recipe = replace(
            recipe, id=f"{recipe.id}-{number}", name=f"{recipe.name} ({number})"
        )
    had = {row.id: row for row in value.materials}
    new = tuple(row for row in entry.materials if row.id not in had)
    changed = replace(
        value,
        materials=(*value.materials, *new),
        recipes=(*value.recipes, recipe),
    )
    read_job(write_job(changed))
    for material in new:
        store_material(job, material)
    kept = tuple(
        row.name or row.id
        for row in (had[used.id] for used in entry.materials if used.id in had)
        if row not in entry.materials
    )
    return Brought(recipe=store_recipe(job, recipe), kept=kept)


@transaction.atomic(durable=True)
def change_recipe(
    *,
    job: Job,
    written: Json,
    version: int | None,
    by: User,
    now: datetime,
    materials: Iterable[problem.Material] = (),
) -> Recipe:
    """A recipe as written in the job format in place of its old one, which is kept.

    ``version`` is the one it was made from, None for a new recipe. ``materials`` are
    those of the book that the job has not got. Nothing is counted where nothing
    differs. BadInput by the job format's paths, Stale, or a ValidationError where a
    step goes of which something is logged.
    """
    lock(job, now)
    value = job_value(job)
    old = next((row for row in value.recipes if row.id == written["id"]), None)
    row = job.recipes.filter(key=written["id"]).first()
    if (row.version if row else None) != version:
        raise Stale(row.version if row else 0)
    had = {material.id for material in value.materials}
    new = tuple(material for material in materials if material.id not in had)
    whole = write_job(replace(value, materials=(*value.materials, *new)))
    listed = whole["recipes"]
    if old is None:
        listed.append(written)
    else:
        _check_logged(row, {step["id"] for step in written["steps"]})
        listed[[entry["id"] for entry in listed].index(old.id)] = written
    recipe = read_job(whole).recipe(written["id"])
    for material in new:
        store_material(job, material)
    if row is not None and recipe == old:
        return row
    if row is not None:
        keep_old(row, write_recipe(old), at=now, by=by, why="")
    return store_recipe(job, recipe)


@transaction.atomic(durable=True)
def change_material(
    *,
    job: Job,
    written: Json,
    version: int | None,
    by: User,
    now: datetime,
) -> Material:
    """A material as written in the job format in place of its old one, which is kept.

    ``version`` and what is raised as for a recipe.
    """
    lock(job, now)
    return relabel(job=job, written=written, version=version, by=by, now=now)


def relabel(
    *,
    job: Job,
    written: Json,
    version: int | None,
    by: User,
    now: datetime,
    why: str = "",
) -> Material:
    """Inside a caller's transaction that holds the job: ``change_material``."""
    whole = write_job(job_value(job))
    listed = whole["materials"]
    row = job.materials.filter(key=written["id"]).first()
    if (row.version if row else None) != version:
        raise Stale(row.version if row else 0)
    if row is None:
        listed.append(written)
        return store_material(job, read_job(whole).material(written["id"]))
    place = [entry["id"] for entry in listed].index(row.key)
    old, listed[place] = listed[place], written
    material = read_job(whole).material(row.key)
    if write_material(material) == old:
        return row
    keep_old(row, old, at=now, by=by, why=why)
    return store_material(job, material)


def _check_logged(row: Recipe, stay: set[str]) -> None:
    """No step goes of which a coat or a test is logged, or that a pin holds."""
    for step in row.steps.exclude(key__in=stay):
        for model, what in (
            (Coat, "a coat of it is logged"),
            (CoatTest, "a test before it is logged"),
            (Pin, "it is held in the plan"),
        ):
            if model.objects.filter(step=step).exists():
                raise ValidationError(f"{step} must stay: {what}.")


def lock(job: Job, now: datetime) -> None:
    """One write at a time to a job, and note that plans are older than it."""
    Job.objects.select_for_update().get(pk=job.pk)
    Job.objects.filter(pk=job.pk).update(changed_at=now)
    job.changed_at = now
