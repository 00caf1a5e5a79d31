"""The recipes a new job begins with, where its company has none of its own.

One door: whoever puts another book of recipes behind it changes this file alone.
"""

from dataclasses import dataclass

from jobs import starting_set
from scheduling.problem import Material, Recipe


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """Recipes with every material that their steps name."""

    materials: tuple[Material, ...]
    recipes: tuple[Recipe, ...]


def starting_recipes() -> Book:
    """The starting set of the recipe book, no maker's word."""
    return Book(
        materials=starting_set.starting_materials(),
        recipes=starting_set.starting_recipes(),
    )
