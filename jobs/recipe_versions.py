"""Old versions of a job's recipes and materials, and what changed since a plan.

A row's ``version`` counts its changes from 1. What it said before each is kept beside
it; what it says now is the row itself.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Model

from jobs.models import (
    Job,
    Material,
    MaterialVersion,
    Plan,
    Recipe,
    RecipeVersion,
    User,
)

Json = dict[str, Any]


def keep_old(
    row: Recipe | Material,
    content: Json,
    *,
    at: datetime,
    why: str,
    by: User | None = None,
) -> None:
    """Keep what the row said, and count it up; inside the caller's transaction."""
    row.versions.create(
        number=row.version, content=content, until=at, changed_by=by, why=why[:200]
    )
    row.version += 1
    row.save(update_fields=("version",))


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """A recipe or a material that is not what a plan was made with.

    ``was`` is the version then, None where it is not known any more.
    """

    kind: str
    key: str
    name: str
    was: int | None
    version: int

    @property
    def words(self) -> str:
        """ "version 1 then, 2 now" as a person reads it."""
        then = "an older version" if self.was is None else f"version {self.was}"
        return f"{then} then, {self.version} now"


def changed_since(plan: Plan | None, job: Job, now: Json) -> list[Changed]:
    """Recipes, then materials, that are not what the plan was made with any more.

    ``now`` holds the job's recipes and materials in the job format. A recipe that is
    gone, or came since, is no change of it. Five queries at most.
    """
    if plan is None or not plan.made_with:
        return []
    found: list[Changed] = []
    for name, rows, versions, owner in (
        ("recipes", job.recipes, RecipeVersion, "recipe"),
        ("materials", job.materials, MaterialVersion, "material"),
    ):
        then = {entry["id"]: entry for entry in plan.made_with[name]}
        differ = [
            entry["id"]
            for entry in now[name]
            if entry["id"] in then and entry != then[entry["id"]]
        ]
        if not differ:
            continue
        old = _old_contents(versions, owner, job, differ)
        for row in rows.filter(key__in=differ):
            was = next(
                (
                    number
                    for number, content in old.get(row.key, ())
                    if content == then[row.key]
                ),
                None,
            )
            found.append(
                Changed(
                    kind=owner, key=row.key, name=str(row), was=was,
                    version=row.version,
                )
            )  # fmt: skip
    return found


def version_in(plan: Plan, row: Recipe, now: Json) -> int | None:
    """Which version of a recipe a plan was made with; None where that is not known."""
    made = plan.made_with.get("recipes", ())
    then = next((entry for entry in made if entry["id"] == row.key), None)
    if then is None:
        return None
    if then == now:
        return row.version
    old = row.versions.values_list("number", "content")
    return next((number for number, content in old if content == then), None)


def _old_contents(
    versions: type[Model], owner: str, job: Job, keys: list[str]
) -> dict[str, list[tuple[int, Json]]]:
    """Numbers and contents of the old versions, by id, newest first."""
    rows = versions.objects.filter(
        **{f"{owner}__job": job, f"{owner}__key__in": keys}
    ).values_list(f"{owner}__key", "number", "content")
    found: dict[str, list[tuple[int, Json]]] = {}
    for key, number, content in rows:
        found.setdefault(key, []).append((number, content))
    return found
