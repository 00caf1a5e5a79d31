"""The starting set of the recipe book: finishes and materials that every company has.

Read from ``recipe_book/`` and checked by the engine's own reader. Every number there
stands with its mark; one without is refused. No maker's word is among them: the sheet
of the actual tin and a company's own logged minutes always win.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from jobs.measures import NotAMeasure, number_of
from jobs.typed_units import label_min
from scheduling.errors import BadInput, Fault, bad
from scheduling.job_file import FORMAT, read_job
from scheduling.problem import Material, Recipe

BOOK = Path(__file__).parent / "recipe_book"
# How each number is known. A published source is named by "source" and its title.
MARKS = {
    "practice": "common practice, no source",
    "memory": "from memory",
    "derived": "reckoned from marked numbers",
}
# Label times stand at the air of the standard atmosphere 23/50: ISO 554.
LABEL_AIR = {"temperature_c": 23.0, "humidity_pct": 50.0}

_TIMES = ("labels", "promises")
_COUNTS = ("least", "most")
_NUMBERS = (
    *("apply_min_m2", "work_min_m2", "setup_min", "min_m2", "coat", *_COUNTS),
    *("water_share", "spread_m2_per_l", "temperature_c", "humidity_pct"),
)
_WORDS = ("of", "tools", "stop", "care")


@dataclass(frozen=True, slots=True, kw_only=True)
class BookRecipe:
    """A recipe of the book with its materials and what the job format has no key for.

    ``marks`` tell how each number of the recipe is known, by its path in it, and
    ``material_marks`` the same for each material's id.
    """

    recipe: Recipe
    materials: tuple[Material, ...]
    of: str
    tools: str
    stop: str
    care: str
    marks: Mapping[str, str]
    material_marks: Mapping[str, Mapping[str, str]]

    @property
    def known_by(self) -> tuple[str, ...]:
        """The marks of all its numbers in words, each once."""
        found = [*self.marks.values()]
        for marks in self.material_marks.values():
            found += marks.values()
        return tuple(dict.fromkeys(MARKS.get(mark, mark) for mark in sorted(found)))


def starting_recipes() -> tuple[Recipe, ...]:
    """Every recipe of the starting set, by name."""
    return tuple(entry.recipe for entry in starting_book())


def starting_materials() -> tuple[Material, ...]:
    """Every material that the starting recipes use, by family and name."""
    found = {row.id: row for entry in starting_book() for row in entry.materials}
    return tuple(sorted(found.values(), key=lambda row: (row.family, row.name)))


@cache
def starting_book() -> tuple[BookRecipe, ...]:
    """The starting set by name; BadInput where a file of it cannot be read."""
    recipes = [_written(path) for path in sorted((BOOK / "recipes").glob("*.json"))]
    materials = [
        entry
        for path in sorted((BOOK / "materials").glob("*.json"))
        for entry in _written(path)
    ]
    return tuple(sorted(read_book(recipes, materials), key=lambda row: row.recipe.name))


def read_book(recipes: list[Any], materials: list[Any]) -> list[BookRecipe]:
    """Recipes and materials as written in the book, with their marks taken off.

    BadInput names each number that has no mark and all that the engine refuses.
    """
    faults: list[Fault] = []
    marks: dict[str, dict[str, dict[str, str]]] = {"recipes": {}, "materials": {}}
    plain: dict[str, list[Any]] = {"recipes": [], "materials": []}
    for name, rows in (("recipes", recipes), ("materials", materials)):
        for row in rows:
            of_row = marks[name][row["id"]] = {}
            plain[name].append(
                _unmarked(row, f"{name}.{row['id']}", "", of_row, faults)
            )
    if faults:
        raise BadInput(faults)
    words = [{key: row.pop(key, "") for key in _WORDS} for row in plain["recipes"]]
    for row in plain["materials"]:
        row.setdefault("label_air", LABEL_AIR)
    job = read_job(
        {
            "format": FORMAT,
            "id": "book",
            "title": "The recipe book",
            "site": {"zone": "UTC", "hours": [["08:00", "16:30"]]},
            **{"hands": [], "rooms": [], "surfaces": [], **plain},
        }
    )
    read = {material.id: material for material in job.materials}
    entries = []
    for recipe, said in zip(job.recipes, words, strict=True):
        used = dict.fromkeys(step.material for step in recipe.steps if step.material)
        entries.append(
            BookRecipe(
                recipe=recipe,
                materials=tuple(read[name] for name in used),
                marks=marks["recipes"][recipe.id],
                material_marks={name: marks["materials"][name] for name in used},
                **said,
            )
        )
    return entries


def _written(path: Path) -> Any:
    return json.loads(path.read_text(encoding="utf-8"))


def _unmarked(
    value: Any, path: str, at: str, marks: dict[str, str], faults: list[Fault]
) -> Any:
    """The value as the job format has it; what was marked is noted by its place."""
    where = f"{path}{'.' if at else ''}{at}"
    key = at.rpartition(".")[2]
    within = at.split(".")
    if isinstance(value, dict):
        return {
            name: _unmarked(entry, path, f"{at}.{name}".strip("."), marks, faults)
            for name, entry in value.items()
        }
    if isinstance(value, list):
        rows = []
        for number, entry in enumerate(value):
            named = entry["id"] if isinstance(entry, dict) else number
            rows.append(_unmarked(entry, path, f"{at}.{named}", marks, faults))
        return rows
    is_time = within[0] in _TIMES
    if not (is_time or key in _NUMBERS or within[0] == "parts"):
        if isinstance(value, int | float) and not isinstance(value, bool):
            faults.append(Fault(where, value, "no number without a mark"))
        return value
    try:
        read, marks[at] = _marked(where, value, is_time=is_time)
    except BadInput as error:
        faults.extend(error.faults)
        return value
    return int(read) if key in _COUNTS else read


def _marked(path: str, value: Any, *, is_time: bool) -> tuple[Any, str]:
    """ "2-4h, practice" as its minutes and its mark."""
    allowed = f"a number, a comma and its mark: {', '.join(MARKS)} or source ..."
    text, comma, mark = str(value).partition(", ")
    known = mark in MARKS or (mark.startswith("source ") and mark != "source ")
    if not isinstance(value, str) or not comma or not known:
        raise bad(path, value, allowed)
    if is_time:
        minutes = label_min(path, text)
        return (list(minutes) if isinstance(minutes, tuple) else minutes), mark
    try:
        return number_of(text), mark
    except NotAMeasure:
        raise bad(path, value, allowed) from None
