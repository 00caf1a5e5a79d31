"""What a coat lies on, and how thick it is laid.

A porous ground takes water out of the coats on it until one of them seals it. A film
seals; lime, plaster and distemper suck themselves. A step may say otherwise: a mist
coat that seals nothing, a glue size that does.
"""

from dataclasses import dataclass

from scheduling.problem import Family, Job, Recipe, Step, Surface, wait_of

# Assumed: what forms a film closes the ground; what stays porous leaves it so.
FILMS: tuple[Family, ...] = (
    "waterborne",
    "glaze",
    "oil",
    "spirit",
    "oil-size",
    "water-size",
    "two-part",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """How a coat is laid: so many times the label's thickness, on sucking ground?"""

    coat: float = 1.0
    porous: bool = False


AS_LABELLED = Laid()


def laid_on(job: Job, surface: Surface, step: Step) -> Laid:
    """How a step of the surface's recipe is laid on that surface.

    ``step`` may be a changed copy of the recipe's: its place goes by its id.
    """
    return laid_in(job, job.recipe(surface.recipe), step, surface.ground)


def laid_in(job: Job, recipe: Recipe, step: Step, ground: str | None) -> Laid:
    """How a step of a recipe is laid where the recipe begins on that ground.

    What lies below is what the step waits for, and what that waited for, to the first.
    """
    if ground != "porous":
        return Laid(coat=step.coat)
    materials = {material.id: material for material in job.materials}
    wait = wait_of(recipe, recipe.step(step.id), materials)
    while wait is not None:
        below = recipe.step(wait.step)
        family = materials[below.material].family if below.material else None
        if below.seals or (below.seals is None and family in FILMS):
            return Laid(coat=step.coat)
        wait = wait_of(recipe, below, materials)
    return Laid(coat=step.coat, porous=True)
