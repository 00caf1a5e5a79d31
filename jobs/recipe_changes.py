"""What a lead does to a job's recipes: bring one in from the book.

One verb, one durable transaction each. What the engine's reader refuses is a BadInput.
"""

from dataclasses import dataclass, replace
from datetime import datetime

from django.db import transaction

from jobs.models import Job, Recipe
from jobs.starting_set import BookRecipe
from jobs.translation import job_value, store_material, store_recipe
from scheduling.job_file import read_job, write_job


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


def lock(job: Job, now: datetime) -> None:
    """One write at a time to a job, and note that plans are older than it."""
    Job.objects.select_for_update().get(pk=job.pk)
    Job.objects.filter(pk=job.pk).update(changed_at=now)
    job.changed_at = now
