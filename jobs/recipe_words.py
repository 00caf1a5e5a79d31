"""A recipe's steps in words: what each waits for, its pace, its hands.

Pure: engine values in, sentences out.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from jobs.measures import PACE
from jobs.templatetags.plan_format import say_label
from scheduling.problem import Material, Recipe, Step, wait_of

STAGE_WORDS = {
    "": "at once after {}",
    "touch": "once {} is dry to touch",
    "recoat": "once {} is dry to recoat",
    "through": "once {} is dry through",
    "hard": "once {} is hard",
    "tack": "while {} is at tack",
    "cured": "once {} is cured",
    "open": "once {} has set",
    "window": "once the window of {} has shut",
    "closes": "once {} has closed",
}
STAGE_NAMES = {
    "touch": "dry to touch",
    "recoat": "dry to recoat",
    "through": "dry through",
    "hard": "hard",
    "tack": "at tack",
    "open": "set",
    "cured": "cured",
    "window": "past its window",
    "closes": "closed",
}
# What a label's times are called, stages first, then promises.
LABEL_NAMES = {
    "open": "Stays open",
    "touch": "Dry to touch",
    "recoat": "Takes the next coat",
    "through": "Dry through",
    "hard": "Hard",
    "window": "Next coat at the latest",
    "cured": "Cured",
    "tack": "At tack",
    "closes": "Takes leaf at the latest",
    "handle": "May be handled",
    "load": "May be loaded",
    "wash": "May be washed",
    "full": "Fully cured",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StepWords:
    """A step as its line says it; ``after`` is what it waits for."""

    step: Step
    name: str
    material: str
    material_id: str
    after: str
    pace: str


def step_words(
    recipe: Recipe, materials: Iterable[Material], units: str
) -> list[StepWords]:
    """Each step of a recipe in words."""
    known = {material.id: material for material in materials}
    rows = []
    for step in recipe.steps:
        wait = wait_of(recipe, step, known)
        after = ""
        if wait is not None:
            before = recipe.step(wait.step)
            after = STAGE_WORDS[wait.stage].format(before.name or before.id)
        material = known[step.material] if step.material else None
        rows.append(
            StepWords(
                step=step,
                name=step.name or step.id,
                material=(material.name or material.id) if material else "",
                material_id=material.id if material else "",
                after=after,
                pace=pace_words(step, units),
            )
        )
    return rows


def pace_words(step: Step, units: str) -> str:
    """ "3 + 6.5 min/m², two hands": what one hand takes, and how many are needed."""
    minutes = PACE.typed(step.apply_min_m2, units)
    if step.work_min_m2:
        minutes += f" + {PACE.typed(step.work_min_m2, units)}"
    told = [f"{minutes} {PACE.unit(units)}"]
    least, most = step.hands.least, step.hands.most
    if most is not None and most != least:
        told.append(f"{least} to {most} hands")
    elif least > 1:
        told.append(f"{least} hands")
    if step.skill:
        told.append(step.skill)
    if step.wet:
        told.append("wet edge")
    return ", ".join(told)


def label_lines(material: Material, marks: Mapping[str, str]) -> list[dict[str, Any]]:
    """A label's times in words, each with how it is known."""
    return [
        {
            "name": LABEL_NAMES[stage],
            "time": say_label(label),
            "mark": marks.get(f"{where}.{stage}", ""),
        }
        for where, labels in (
            ("labels", material.labels),
            ("promises", material.promises),
        )
        for stage, label in labels.items()
    ]
