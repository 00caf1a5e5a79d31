"""The recipes a new job begins with, where its company has none of its own.

One door: whoever puts another book of recipes behind it changes this file alone.
"""

from dataclasses import dataclass

from jobs.demo_materials import materials
from jobs.demo_recipes import recipes
from scheduling.problem import Material, Recipe


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """Recipes with every material that their steps name."""

    materials: tuple[Material, ...]
    recipes: tuple[Recipe, ...]


def starting_recipes() -> Book:
    """Generic finishes with labels as common practice has them, no maker's word."""
    return Book(materials=materials(), recipes=recipes())
