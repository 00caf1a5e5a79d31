"""A job's recipes, and the clocks of one in an air that a person may change."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from jobs.clock_words import material_clocks
from jobs.models import Recipe as Row
from jobs.outdoor_words import outdoor_words
from jobs.queries import issued_plan
from jobs.recipe_versions import version_in
from jobs.recipe_words import step_words
from jobs.translation import job_value
from jobs.views.air_asked import air_asked
from jobs.views.guard import Visit, readable, visit_of
from scheduling.air_of_job import job_air
from scheduling.ground import Laid, laid_in
from scheduling.job_file import write_recipe
from scheduling.problem import Air, Job, Recipe
from scheduling.rate_laws import REFERENCE_C, REFERENCE_PCT


@require_safe
@readable
def listing(request: HttpRequest, job: str) -> HttpResponse:
    """Every recipe with its steps in a line and where it goes."""
    visit = visit_of(request, job)
    value = job_value(visit.job)
    rows = [
        {
            "recipe": recipe,
            "name": recipe.name or recipe.id,
            "steps": ", ".join(step.name or step.id for step in recipe.steps),
            "surfaces": [
                surface.name or surface.id
                for surface in value.surfaces
                if surface.recipe == recipe.id
            ],
        }
        for recipe in value.recipes
    ]
    return visit.page(
        "jobs/recipes.html",
        place="recipes",
        place_name="Recipes",
        rows=rows,
        materials=sorted(value.materials, key=lambda row: row.name or row.id),
    )


@require_safe
@readable
def recipe_page(request: HttpRequest, job: str, recipe: str) -> HttpResponse:
    """The clocks of each material; without an air asked for, in today's."""
    visit = visit_of(request, job)
    value = job_value(visit.job)
    try:
        chosen = value.recipe(recipe)
    except KeyError:
        raise Http404(f"no recipe {recipe}") from None
    row = visit.job.recipes.get(key=recipe)
    here, here_c, where = _air_today(visit, value, chosen)
    asked = air_asked(request, visit.units, here=here, surface_c=here_c)
    air = asked.air or here
    surface_c = here_c if asked.air is None else asked.surface_c
    clocks = []
    if asked.status == 200:
        clocks = [
            material_clocks(
                value.material(name),
                air,
                surface_c=air.temperature_c if surface_c is None else surface_c,
                laid=laid,
            )
            for name, laid in _coats(value, chosen)
        ]
    return visit.page(
        "jobs/recipe.html",
        asked.status,
        place="recipes",
        place_name=chosen.name or chosen.id,
        recipe=chosen,
        row=row,
        versions=row.versions.select_related("changed_by"),
        made=_made_with(visit, row, chosen),
        materials=[value.material(name) for name in _materials(chosen)],
        steps=step_words(chosen, value.materials, visit.units),
        form=asked.form,
        outdoors=outdoor_words(value, visit.now, visit.zone),
        here="" if asked.air is not None or asked.status != 200 else where,
        clocks=clocks,
        room=request.GET.get("room", ""),
    )


def _made_with(visit: Visit, row: Row, recipe: Recipe) -> dict[str, Any] | None:
    """The issued plan and the version of the recipe that it was made with."""
    plan = issued_plan(visit.job)
    if plan is None or not any(
        entry["id"] == row.key for entry in plan.made_with.get("recipes", ())
    ):
        return None
    version = version_in(plan, row, write_recipe(recipe))
    return {"plan": plan, "version": version, "same": version == row.version}


def _materials(recipe: Recipe) -> list[str]:
    """Ids of what a recipe puts on, each once, in order."""
    used = dict.fromkeys(step.material for step in recipe.steps)
    return [name for name in used if name is not None]


def _air_today(visit: Visit, job: Job, recipe: Recipe) -> tuple[Air, float | None, str]:
    """Air and wall of the room asked for, or of one with the recipe; whose it is."""
    surfaces = [row for row in job.surfaces if row.recipe == recipe.id] or list(
        job.surfaces
    )
    asked = visit.request.GET.get("room", "")
    surface = next((row for row in surfaces if row.room == asked), None) or next(
        iter(surfaces), None
    )
    if surface is None:
        usual = Air(temperature_c=REFERENCE_C, humidity_pct=REFERENCE_PCT)
        return usual, None, "the label’s own air, since the job has no surfaces"
    air = job_air(job, at=visit.now, days=1).surfaces[surface.id]
    place = air.index(air.minute(visit.now))
    here = Air(
        temperature_c=float(air.temperature_c[place]),
        humidity_pct=float(air.humidity_pct[place]),
    )
    room = job.room(surface.room)
    return (
        here,
        float(air.surface_c[place]),
        f"the air of {room.name or room.id} now",
    )


def _coats(job: Job, recipe: Recipe) -> list[tuple[str, Laid]]:
    """Each material with each way in which the recipe's steps lay it."""
    grounds = dict.fromkeys(
        row.ground for row in job.surfaces if row.recipe == recipe.id
    ) or {None: None}
    found: dict[tuple[str, Laid], None] = {}  # in order
    for step in recipe.steps:
        if step.material is not None:
            for ground in grounds:
                found[step.material, laid_in(job, recipe, step, ground)] = None
    return list(found)
