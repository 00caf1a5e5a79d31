"""The coats that lie on top, each as a stint with its clocks in its room's air."""

from collections.abc import Iterable, Mapping
from datetime import timedelta

from scheduling.clock_tables import window_stage
from scheduling.ground import laid_on
from scheduling.plan import Range, Reason, Stint
from scheduling.problem import Coat, Material, Surface
from scheduling.readiness_look import Look

# Assumed: a coat older than this asks nothing of its room's air any more.
COUNTS = timedelta(days=30)
_LOGGED = Reason(code="start", text="Logged.")


def lying(look: Look) -> Iterable[Stint]:
    """On each surface or section the coat on top, by hands that are not known."""
    for coat in _tops(look):
        surface = look.job.surface(coat.surface)
        step = look.job.recipe(surface.recipe).step(coat.step)
        if step.material is not None and coat.end > look.at - COUNTS:
            yield _stint(look, coat, surface, look.materials[step.material])


def _tops(look: Look) -> Iterable[Coat]:
    tops: dict[tuple[str, str], Coat] = {}
    for coat in look.coats:
        every = [name for name, _ in look.job.surface(coat.surface).sections]
        for section in [coat.section] if coat.section else every:
            top = tops.get((coat.surface, section))
            if top is None or coat.end >= top.end:
                tops[coat.surface, section] = coat
    return dict.fromkeys(tops.values())


def _stint(look: Look, coat: Coat, surface: Surface, material: Material) -> Stint:
    step = look.job.recipe(surface.recipe).step(coat.step)
    laid = laid_on(look.job, surface, step)

    def clocks(*stages: str | None) -> Mapping[str, Range]:
        return {
            stage: look.clock(surface, material, laid, stage, coat.end)
            for stage in stages
            if stage in material.labels and stage is not None
        }

    closing = window_stage(material)
    return Stint(
        id=f"{surface.id} {step.id} {coat.section or ''}",
        kind="work",
        surface=surface.id,
        section=coat.section,
        step=step.id,
        hands=(),
        start=coat.start,
        end=coat.end,
        reason=_LOGGED,
        open=clocks("open").get("open"),
        ready=clocks("touch", "recoat", "tack"),
        closes=clocks(closing).get(closing or ""),
    )
