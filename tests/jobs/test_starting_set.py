"""The starting set: read by the engine, every number marked, every recipe plannable."""

import json
from typing import Any

import pytest

from jobs.factories import (
    AirHourFactory,
    GivenAirFactory,
    HandFactory,
    RoomFactory,
    SurfaceFactory,
    small_job,
)
from jobs.starting_set import (
    BOOK,
    MARKS,
    read_book,
    starting_book,
    starting_materials,
    starting_recipes,
)
from scheduling.errors import BadInput
from scheduling.planning import plan_job
from scheduling.problem import CLOSING, Job

IDS = [recipe.id for recipe in starting_recipes()]
SKILLS = tuple(
    sorted({s.skill for recipe in starting_recipes() for s in recipe.steps if s.skill})
)


def small(recipe_id: str, temperature_c: float, humidity_pct: float) -> Job:
    """1.2 m2 of that recipe by three hands who can do all, in that air."""
    entry = next(row for row in starting_book() if row.recipe.id == recipe_id)
    hour = AirHourFactory(temperature_c=temperature_c, humidity_pct=humidity_pct)
    return small_job(
        hands=tuple(HandFactory(id=name, skills=SKILLS) for name in ("a", "b", "c")),
        materials=entry.materials,
        recipes=(entry.recipe,),
        rooms=(RoomFactory(id="room", air=GivenAirFactory(given=(hour,))),),
        surfaces=(
            SurfaceFactory(
                id="wall", recipe=recipe_id, width_m=1.2, height_m=1.0, kind="panel"
            ),
        ),
    )


def test_the_set_has_the_trades_recipes() -> None:
    assert len(IDS) >= 24
    assert {
        *("wall-paint", "trim-enamel", "trim-alkyd", "two-colour-glaze", "strie"),
        *("colour-wash", "mahogany", "walnut", "marble", "limewash", "polished-lime"),
        *("skim", "oil-gilding", "water-gilding", "clear-waterborne", "clear-oil"),
        *("crackle", "stencil", "metallic-plaster", "scumble", "spray-lacquer"),
        *("wax", "shellac-isolate", "antique-glaze"),
    } <= set(IDS)


@pytest.mark.parametrize("recipe_id", IDS)
@pytest.mark.parametrize(
    ("temperature_c", "humidity_pct"), [(23.0, 50.0), (20.0, 60.0)]
)
def test_each_recipe_is_planned_to_its_end(
    recipe_id: str, temperature_c: float, humidity_pct: float
) -> None:
    job = small(recipe_id, temperature_c, humidity_pct)
    plan = plan_job(job, at=job.now, budget=1)
    assert plan.outcome == "plan", plan.reasons
    done = {stint.step for stint in plan.stints if stint.kind == "work"}
    assert done == {step.id for step in job.recipes[0].steps}


@pytest.mark.parametrize(
    ("recipe_id", "days"),
    [
        # Working days from the first to the last, at the label's air; common
        # practice, no source: two base coats, two or three days' cure, glaze, varnish.
        ("two-colour-glaze", (4, 6)),
        ("strie", (4, 6)),
        ("limewash", (3, 4)),
        ("oil-gilding", (2, 3)),
        ("clear-waterborne", (1, 2)),
        ("skim", (8, 12)),
    ],
)
def test_the_calendar_of_a_recipe_is_the_trades(
    recipe_id: str, days: tuple[int, int]
) -> None:
    job = small(recipe_id, 23.0, 50.0)
    plan = plan_job(job, at=job.now, budget=1)
    assert plan.finish is not None
    first = min(stint.start for stint in plan.stints)
    assert days[0] <= (plan.finish.date() - first.date()).days + 1 <= days[1]


def test_every_material_is_used_and_every_step_knows_its_own() -> None:
    written = [
        entry["id"]
        for path in (BOOK / "materials").glob("*.json")
        for entry in json.loads(path.read_text())
    ]
    assert sorted(written) == sorted(row.id for row in starting_materials())


def test_a_window_can_be_saved_wherever_a_step_could_miss_it() -> None:
    for entry in starting_book():
        labels = {row.id: row.labels for row in entry.materials}
        for before, step in zip(
            entry.recipe.steps, entry.recipe.steps[1:], strict=False
        ):
            shuts = set(labels.get(before.material or "", {})) & set(CLOSING)
            if shuts and (step.after is None or step.after.step == before.id):
                assert step.rescue is not None, (entry.recipe.id, step.id)


def numbers(value: Any) -> list[Any]:
    """Every bare number in JSON."""
    if isinstance(value, dict):
        return [found for entry in value.values() for found in numbers(entry)]
    if isinstance(value, list):
        return [found for entry in value for found in numbers(entry)]
    bare = isinstance(value, int | float) and not isinstance(value, bool)
    return [value] if bare else []


def test_no_number_of_the_set_lacks_its_mark() -> None:
    for path in BOOK.rglob("*.json"):
        assert numbers(json.loads(path.read_text())) == [], path
    for entry in starting_book():
        every = [entry.marks, *entry.material_marks.values()]
        assert all(marks for marks in every)
        told = {mark for marks in every for mark in marks.values()}
        assert all(mark in MARKS or mark.startswith("source ") for mark in told)


def material(**changes: Any) -> dict[str, Any]:
    labels = {"open": "10min, memory", "recoat": "2-4h, practice"}
    return {"id": "paint", "family": "waterborne", "labels": labels} | changes


def recipe(**changes: Any) -> dict[str, Any]:
    step = {
        "id": "coat",
        "material": "paint",
        "apply_min_m2": "4, memory",
        "hands": {"least": "1, memory"},
    }
    return {"id": "one", "name": "One coat", "steps": [step | changes]}


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"apply_min_m2": 4}, "recipes.one.steps.coat.apply_min_m2"),
        ({"apply_min_m2": "4"}, "recipes.one.steps.coat.apply_min_m2"),
        ({"apply_min_m2": "4, hearsay"}, "recipes.one.steps.coat.apply_min_m2"),
        ({"apply_min_m2": "4, source "}, "recipes.one.steps.coat.apply_min_m2"),
        ({"hands": {"least": 1}}, "recipes.one.steps.coat.hands.least"),
        ({"rescue": {"min_m2": 4}}, "recipes.one.steps.coat.rescue.min_m2"),
        ({"unheard": 3}, "recipes.one.steps.coat.unheard"),
    ],
)
def test_a_number_without_a_mark_is_refused_by_its_place(
    changes: dict[str, Any], path: str
) -> None:
    with pytest.raises(BadInput) as refused:
        read_book([recipe(**changes)], [material()])
    assert [fault.path for fault in refused.value.faults] == [path]


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"labels": {"recoat": 120}}, "materials.paint.labels.recoat"),
        ({"labels": {"recoat": "120, memory"}}, "materials.paint.labels.recoat"),
        ({"water_share": 0.5}, "materials.paint.water_share"),
        ({"parts": {"colour": 1}}, "materials.paint.parts.colour"),
    ],
)
def test_a_materials_number_without_a_mark_is_refused_too(
    changes: dict[str, Any], path: str
) -> None:
    with pytest.raises(BadInput) as refused:
        read_book([recipe()], [material(**changes)])
    assert [fault.path for fault in refused.value.faults] == [path]


def test_what_the_engine_refuses_is_refused_here() -> None:
    with pytest.raises(BadInput, match=r"recipes\[0\].steps\[0\].material"):
        read_book([recipe(material="paste")], [material()])


def test_a_published_source_is_a_mark() -> None:
    (entry,) = read_book([recipe(apply_min_m2="4.3, source A handbook")], [material()])
    assert entry.marks["steps.coat.apply_min_m2"] == "source A handbook"
    assert entry.recipe.steps[0].apply_min_m2 == 4.3
    assert "source A handbook" in entry.known_by
