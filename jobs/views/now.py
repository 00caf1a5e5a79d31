"""Now: which surface can take its next coat, and what holds the others."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from jobs.models import CoatTest, Plan
from jobs.now_lines import Words, now_groups
from jobs.outdoor_words import outdoor_words
from jobs.queries import (
    issued_plan,
    last_logged,
    latest_plan,
    said_at_walls,
    sensor_states,
    test_results,
)
from jobs.recipe_versions import changed_since
from jobs.sensor_words import sensor_words
from jobs.templatetags.plan_format import say_moment
from jobs.translation import job_value, plan_value, recipes_used
from jobs.views.guard import Visit, readable, visit_of
from scheduling.air_of_job import job_air
from scheduling.cautions import DEW_MARGIN_C, HUMID_PCT, margin_c
from scheduling.drying import progress
from scheduling.plan import Stint
from scheduling.problem import Air, Job
from scheduling.readiness import ready
from scheduling.readiness_look import AHEAD_DAYS
from scheduling.readiness_state import SurfaceState

# Assumed: a slip of the thumb is noticed within this; later it stands at the foot.
JUST_LOGGED = timedelta(minutes=15)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomNow:
    """The air of a room at this moment."""

    key: str
    name: str
    temperature_c: float
    humidity_pct: float
    margin_c: float | None
    close: bool  # the margin is small, or the air is too damp to start in
    read_min: float | None  # age of the last reading


@require_safe
@vary_on_headers("HX-Request")
@readable
def now_page(request: HttpRequest, job: str) -> HttpResponse:
    """The page, or only its part that keeps itself fresh."""
    visit = visit_of(request, job)
    part = "#lines" if request.htmx else ""
    return visit.page(f"jobs/now.html{part}", **_context(visit))


def _context(visit: Visit) -> dict[str, Any]:
    value = job_value(visit.job)
    airs = job_air(value, at=visit.now, days=AHEAD_DAYS).surfaces
    states = ready(value, at=visit.now)
    results = test_results(visit.job)

    def tested(state: SurfaceState) -> str:
        key = (state.surface.id, state.step.id if state.step else "")
        result = results.get(key)
        below = state.last_coat
        if result is None or (below is not None and result.at < below.end):
            return ""
        return _test_text(result, visit)

    plan = issued_plan(visit.job) or latest_plan(visit.job)
    words = Words(
        zone=visit.zone,
        now=visit.now,
        units=visit.units,
        progress=progress,
        tested=tested,
        planned=_planned(plan),
    )
    rooms = _rooms_now(value, airs, states, visit.now)
    last = last_logged(visit.job)
    return {
        "place": "now",
        "place_name": "Now",
        "groups": now_groups(value, states, airs, words),
        "worst": rooms[:1],
        "other_rooms": rooms[1:],
        "outdoors": outdoor_words(value, visit.now, visit.zone),
        "sensors": sensor_words(
            sensor_states(visit.job, visit.now),
            now=visit.now,
            zone=visit.zone,
            units=visit.units,
        ),
        "said_at_walls": said_at_walls(visit.job, visit.now),
        "last": last,
        "last_is_fresh": last is not None and visit.now - last.at < JUST_LOGGED,
        "plan": plan,
        "changed_recipes": changed_since(plan, visit.job, recipes_used(value)),
    }


def _planned(plan: Plan | None) -> dict[tuple[str, str, str | None], Stint]:
    """The plan's work by surface, step and section."""
    if plan is None or not plan.is_plan:
        return {}
    return {
        (stint.surface, stint.step, stint.section): stint
        for stint in plan_value(plan).stints
        if stint.kind == "work"
    }


def _rooms_now(
    job: Job, airs: Any, states: tuple[SurfaceState, ...], now: datetime
) -> list[RoomNow]:
    """Rooms with surfaces, the one nearest to its dew point first."""
    ages = {state.room: state.reading_age_min for state in states}
    rooms = []
    for room in job.rooms:
        surface = next((row for row in job.surfaces if row.room == room.id), None)
        if surface is None:
            continue
        air = airs[surface.id]
        place = air.index(air.minute(now))
        here = Air(
            temperature_c=float(air.temperature_c[place]),
            humidity_pct=float(air.humidity_pct[place]),
        )
        margin = margin_c(here, float(air.surface_c[place]))
        near = margin is not None and margin < DEW_MARGIN_C + 1
        rooms.append(
            RoomNow(
                key=room.id,
                name=room.name or room.id,
                temperature_c=here.temperature_c,
                humidity_pct=here.humidity_pct,
                margin_c=margin,
                close=near or here.humidity_pct > HUMID_PCT,
                read_min=ages.get(room.id),
            )
        )
    return sorted(rooms, key=lambda room: (room.margin_c is None, room.margin_c))


def _test_text(result: CoatTest, visit: Visit) -> str:
    said = result.get_result_display().lower()
    when = say_moment(result.at, visit.zone, visit.now)
    return f"Tested {when}: {said}."
