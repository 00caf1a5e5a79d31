"""This wall: what one step needs on one wall, in this hour's air."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from jobs.outdoor_words import outdoor_words
from jobs.translation import job_value
from jobs.views.air_asked import air_asked
from jobs.views.guard import readable, visit_of
from jobs.wall_drawing import wall_drawing
from jobs.wall_words import WallWords
from scheduling.problem import Job, Step, Surface
from scheduling.readiness import ready
from scheduling.this_wall import WallNow, wall_now
from scheduling.work_cautions import work_cautions


@require_safe
@readable
def wall_page(request: HttpRequest, job: str, surface: str) -> HttpResponse:
    """The wall for its next step, or for the step and the air asked for."""
    visit = visit_of(request, job)
    value = job_value(visit.job)
    try:
        chosen = value.surface(surface)
    except KeyError:
        raise Http404(f"no surface {surface}") from None
    step, section = _asked(request, value, chosen, visit)
    found = wall_now(value, chosen, step, at=visit.now, section=section)
    asked = air_asked(request, visit.units, here=found.air, surface_c=found.surface_c)
    if asked.air is not None:
        found = wall_now(
            value,
            chosen,
            step,
            at=visit.now,
            section=section,
            air=asked.air,
            surface_c=asked.surface_c,
        )
    words = WallWords(wall=found, job=value, zone=visit.zone, now=visit.now,
                      units=visit.units)  # fmt: skip
    return visit.page(
        "jobs/wall.html",
        asked.status,
        place="now",
        place_name=words.name,
        words=words,
        wall=found,
        drawing=_drawing(found),
        steps=value.recipe(chosen.recipe).steps,
        step=step,
        sections=[name for name, _ in chosen.sections] if chosen.stop_lines_m else [],
        section=section or "",
        form=asked.form,
        other_air=asked.air is not None,
        outdoors=outdoor_words(value, visit.now, visit.zone),
        names=words.names,
        minded=work_cautions(value, chosen, step),
    )


def _asked(
    request: HttpRequest, job: Job, surface: Surface, visit: Any
) -> tuple[Step, str | None]:
    """The step and section asked for; else the surface's next, else its first."""
    recipe = job.recipe(surface.recipe)
    section = request.GET.get("section") or None
    if section is not None and section not in dict(surface.sections):
        raise Http404(f"no section {section}")
    asked = request.GET.get("step")
    if asked:
        try:
            return recipe.step(asked), section
        except KeyError:
            raise Http404(f"no step {asked}") from None
    states = ready(job, at=visit.now)
    state = next((row for row in states if row.surface.id == surface.id), None)
    if state is None or state.step is None:
        return recipe.steps[-1], section
    return state.step, section


def _drawing(wall: WallNow) -> Any:
    crew = wall.crew or wall.tight or next(iter(wall.allowed), None)
    return wall_drawing(
        width_m=wall.width_m,
        height_m=wall.surface.height_m,
        stop_lines_m=wall.stop_lines_m,
        section_strips=crew.section_strips if crew is not None else (),
    )
