"""Writes about surfaces that are set up: add, change, remove, give a recipe.

As in ``set_up_actions`` the job stays one that can be read, or nothing is written.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError

from jobs.models import Job, Recipe, Room, Surface
from jobs.set_up_actions import after_last, changing, free_key, put_columns


def add_surfaces(
    *, room: Room, entries: Sequence[Mapping[str, Any]], now: datetime
) -> list[Surface]:
    """New surfaces of a room by their columns; one without a name gets its own."""
    job = room.job
    made: list[Surface] = []
    with changing(job, now):
        for entry in entries:
            columns = dict(entry)
            columns["name"] = columns.get("name") or next_name(room, columns["kind"])
            key = free_key(columns["name"], "surface", job.surfaces.all())
            position = after_last(job.surfaces.all())
            surface = Surface(job=job, room=room, key=key, position=position, **columns)
            surface.save()
            made.append(surface)
    return made


def change_surface(*, surface: Surface, now: datetime, **columns: Any) -> None:
    """New values; another recipe only where nothing of the old one is logged."""
    with changing(surface.job, now):
        if columns["recipe"].pk != surface.recipe_id:
            _let_go(surface)
        columns["name"] = columns["name"] or surface.name
        put_columns(surface, columns)


def give_recipe(
    *, job: Job, surfaces: Iterable[Surface], recipe: Recipe, now: datetime
) -> None:
    """One recipe on several surfaces."""
    with changing(job, now):
        for surface in surfaces:
            if surface.recipe_id != recipe.pk:
                _let_go(surface)
                surface.recipe = recipe
                surface.save(update_fields=("recipe",))


def remove_surface(*, surface: Surface, now: datetime) -> None:
    """A surface goes with all that was logged on it."""
    with changing(surface.job, now):
        surface.delete()


def next_name(room: Room, kind: str) -> str:
    """ "Lounge, wall 3": the first number that is free in the room."""
    names = set(room.surfaces.values_list("name", flat=True))
    stem = f"{room.label}, {kind}"[:190]
    number = 1
    while f"{stem} {number}" in names:
        number += 1
    return f"{stem} {number}"


def _let_go(surface: Surface) -> None:
    """Refuse another recipe where the steps of the old one were done or are held."""
    for what, rows in (
        ("coats logged", surface.coats),
        ("tests logged", surface.coattests),
        ("stints held", surface.pins),
        ("steps forbidden", surface.bans),
    ):
        if rows.exists():
            message = (
                f"{surface} has {what} of {surface.recipe}: take them back first, or "
                "keep the recipe."
            )
            raise ValidationError({"recipe": message})
