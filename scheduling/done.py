"""What the log says is done on a surface, and on which coats the next step lies."""

from collections.abc import Mapping
from dataclasses import dataclass

from scheduling.corrections import standing
from scheduling.problem import Coat, Job, Recipe, Step, Surface, wait_of


@dataclass(frozen=True, slots=True)
class Done:
    """The logged coats of one surface; steps before a logged one count as done.

    The order of the steps, not that of the log, decides what is left.
    """

    by_step: Mapping[str, tuple[Coat, ...]]
    passed: frozenset[tuple[str, str | None]]  # step and section, None is all of it
    sections: tuple[str, ...]

    def has(self, step: Step, section: str | None) -> bool:
        """Whether this step is done on a section, or on the whole for None."""
        done = {coat.section for coat in self.by_step.get(step.id, ())}
        done |= {name for passed, name in self.passed if passed == step.id}
        if None in done:
            return True
        return section in done if section else done >= set(self.sections)

    def all_of(self, step: Step) -> bool:
        """Whether nothing of this step is left."""
        return self.has(step, None)

    def coats(self, step: Step, section: str | None) -> tuple[Coat, ...]:
        """The coats of a step that a later stint on ``section`` lies on.

        Of several on the same place only the last logged: it lies over the others or
        corrects them, and its clocks count. None asks for the whole surface, section
        by section.
        """
        found: dict[Coat, None] = {}
        for part in (section,) if section else self.sections:
            laid = [
                coat
                for coat in self.by_step.get(step.id, ())
                if coat.section in (None, part)
            ]
            if laid:
                found[laid[-1]] = None
        return tuple(found)


def coats_done(job: Job, surface: Surface, recipe: Recipe) -> Done:
    """What the log says of one surface."""
    materials = {material.id: material for material in job.materials}
    by_step: dict[str, list[Coat]] = {}
    for coat in standing(job):
        if coat.surface == surface.id:
            by_step.setdefault(coat.step, []).append(coat)
    passed: set[tuple[str, str | None]] = set()
    for step_id, coats in by_step.items():
        wait = wait_of(recipe, recipe.step(step_id), materials)
        while wait is not None:
            passed |= {(wait.step, coat.section) for coat in coats}
            wait = wait_of(recipe, recipe.step(wait.step), materials)
    return Done(
        {step: tuple(coats) for step, coats in by_step.items()},
        frozenset(passed),
        tuple(section for section, _ in surface.sections),
    )
