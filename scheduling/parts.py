"""A step on a surface in as few parts as it needs: whole, by sections, or split."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from scheduling.bans import by_section
from scheduling.done import Done
from scheduling.openings import Openings
from scheduling.problem import Recipe, Step, Surface, wait_of

PARTS_MOST = 200  # Assumed: a step that needs more parts is not one to split


@dataclass(frozen=True, slots=True)
class Part:
    """A step on a surface or section, before it has slots."""

    surface: Surface
    step: Step
    section: str | None
    area_m2: float
    kind: Literal["work", "rescue"] = "work"
    number: int = 0

    @property
    def key(self) -> str:
        """What names the part among all others of the job."""
        number = str(self.number) if self.number else None
        names = (self.surface.id, self.step.id, self.section, number, self.kind)
        return "/".join(filter(None, names))


def steps_left(openings: Openings, recipe: Recipe, done: Done) -> Iterable[Step]:
    """What is not done, in the recipe's order, none before the step it waits for."""
    left, given = list(recipe.steps), {""}
    while left:
        for step in left:
            wait = wait_of(recipe, step, openings.materials)
            if wait is None or wait.step in given:
                break
        if not done.all_of(step):
            yield step
        given.add(step.id)
        left.remove(step)


def parts_of(
    openings: Openings, surface: Surface, step: Step, done: Done
) -> Iterable[Part]:
    """The whole surface; its sections where some are done or it will not fit.

    Also where a pin or a ban names one of them.
    """
    whole = Part(surface, step, None, surface.area_m2)
    sections = surface.sections
    left = [row for row in sections if not done.has(step, row[0])]
    apart = by_section(openings.job, surface, step)
    if len(left) == len(sections) and not apart:
        if openings.fits(surface, step, whole.area_m2):
            return [whole]
        if step.splits:
            return _split(openings, whole)
        if len(sections) == 1:
            # A hand that leaves for its turn at a break comes back to the rest.
            in_turns = openings.job.in_relay and not step.wet
            return _split(openings, whole) if in_turns else [whole]
    return [
        Part(surface, step, section, surface.area_m2 * share) for section, share in left
    ]


def _split(openings: Openings, whole: Part) -> Iterable[Part]:
    """Equal parts of a step, as few as fit hours of room and hands."""
    for count in range(2, PARTS_MOST):
        part = replace(whole, area_m2=whole.area_m2 / count)
        if openings.fits(part.surface, part.step, part.area_m2):
            return [replace(part, number=n) for n in range(1, count + 1)]
    return [whole]
