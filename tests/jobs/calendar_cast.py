"""A small job and plan for the calendar tests: a glazed wall and a gilded panel.

Real values made by hand, so that every time in a calendar can be read off here. The
clocks go back on Sunday 25 October 2026 in Europe; the size dries across that night.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from jobs import factories
from jobs.models import Company, Job, Plan
from jobs.translation import store_job, store_plan
from scheduling import problem
from scheduling.plan import Bound, Range, Reason, Stint
from scheduling.plan import Plan as PlanValue

LISBON = ZoneInfo("Europe/Lisbon")
PLANNED_AT = datetime(2026, 10, 23, 7, 0, tzinfo=LISBON)  # a Friday


def gilding_job(zone: str = "Europe/Lisbon", **changes: Any) -> problem.Job:
    """Ann glazes the lounge wall; Ben gilds the hall panel, in modelled air."""
    step = factories.StepFactory
    values: dict[str, Any] = {
        "id": "sea-hotel",
        "title": "Sea hotel",
        "site": factories.SiteFactory(zone=zone, latitude=38.7, longitude=-9.14),
        "now": None,
        "outdoors": (factories.AirHourFactory(temperature_c=14.0, humidity_pct=80.0),),
        "hands": (
            factories.HandFactory(id="ann", name="Ann", skills=("finisher",)),
            factories.HandFactory(id="ben", name="Ben", skills=("gilder",)),
        ),
        "materials": (
            factories.MaterialFactory(
                id="base",
                name="Base white",
                labels={"recoat": (120.0, 240.0), "hard": 1440.0},
            ),
            factories.MaterialFactory(
                id="glaze",
                name="Umber glaze",
                family="glaze",
                labels={"open": (20.0, 35.0), "recoat": 720.0},
                spread_m2_per_l=10.0,
                parts={"colour": 1.0, "medium": 4.0},
            ),
            factories.MaterialFactory(
                id="size",
                name="Gold size",
                family="oil-size",
                labels={"tack": (600.0, 720.0), "closes": (1440.0, 1800.0)},
            ),
        ),
        "recipes": (
            factories.RecipeFactory(
                id="glazing",
                steps=(
                    step(id="base", name="base", material="base"),
                    step(
                        id="glaze",
                        name="drag glaze",
                        material="glaze",
                        after=problem.After(step="base", stage="hard"),
                        wet=True,
                    ),
                ),
            ),
            factories.RecipeFactory(
                id="gilding",
                steps=(
                    step(id="size", name="size", material="size"),
                    step(id="leaf", name="leaf", material=None),
                ),
            ),
        ),
        "rooms": (
            factories.RoomFactory(id="lounge", name="Lounge"),
            factories.RoomFactory(
                id="hall", name="Hall", air=factories.AirControlFactory()
            ),
        ),
        "surfaces": (
            factories.SurfaceFactory(
                id="wall", name="End wall", room="lounge", recipe="glazing"
            ),
            factories.SurfaceFactory(
                id="panel",
                name="Panel",
                room="hall",
                kind="panel",
                recipe="gilding",
                width_m=2.0,
                height_m=1.0,
            ),
        ),
    }
    return factories.small_job(**{**values, **changes})


def after(hours: float, *, of: datetime = PLANNED_AT) -> datetime:
    """That many real hours later: an hour that the clocks repeat counts as two."""
    utc = of.astimezone(ZoneInfo("UTC"))
    return (utc + timedelta(hours=hours)).astimezone(of.tzinfo)


def moments(early: float, likely: float, safe: float, *, of: datetime) -> Range:
    """A range that many hours after the end of a coat."""
    return Range(
        early=after(early, of=of), likely=after(likely, of=of), safe=after(safe, of=of)
    )


def stint(
    stint_id: str, *, start: datetime, hours: float = 1.0, **changes: Any
) -> Stint:
    """A stint of work whose surface and step stand in its id: ``wall-base``."""
    surface, step = stint_id.split("-")[:2]
    values: dict[str, Any] = {
        "kind": "work",
        "surface": surface,
        "step": step,
        "hands": ("ann",) if surface == "wall" else ("ben",),
        "reason": Reason(code="start", text="As early as the plan begins."),
        **changes,
    }
    return Stint(id=stint_id, start=start, end=after(hours, of=start), **values)


def base_stint(start: datetime) -> Stint:
    """The base on the wall: an hour's work, hard 20 to 26 h after."""
    end = after(1, of=start)
    return stint("wall-base", start=start, ready={"hard": moments(20, 23, 26, of=end)})


def size_stint(start: datetime) -> Stint:
    """Size on the panel: at tack 11 to 14 h after, closed 22 to 30 h after."""
    end = after(1, of=start)
    return stint(
        "panel-size",
        start=start,
        ready={"tack": moments(11, 12, 14, of=end)},
        closes=moments(22, 26, 30, of=end),
    )


def week_stints() -> tuple[Stint, ...]:
    """Base on Friday, glaze and size on Saturday, leaf on Sunday, the clocks back."""
    saturday = after(34)  # 24 October, 17:00
    return (
        base_stint(after(1)),
        stint(
            "wall-glaze",
            start=after(29),
            hours=1.5,
            hands=("ann", "ben"),
            reason=Reason(
                code="wait", text="Base white is hard at 11:00.", other="wall-base"
            ),
            open=moments(0.35, 0.4, 0.5, of=after(30.5)),
            ready={"recoat": moments(10, 12, 14, of=after(30.5))},
        ),
        size_stint(saturday),
        stint("panel-leaf-test", start=after(49), hours=0.25, kind="test"),
        stint(
            "panel-leaf",
            start=after(50),
            hours=2,
            reason=Reason(code="wait", text="The size is at tack.", other="panel-size"),
        ),
    )


def plan_of(stints: Iterable[Stint]) -> PlanValue:
    """A plan that has just these stints."""
    stints = tuple(stints)
    return PlanValue(
        job_sha256="0" * 64,
        outcome="plan",
        finish=max(stint.end for stint in stints),
        bound=Bound(finish_not_before=None, proved=False, air="as planned"),
        stints=stints,
    )


def moved(stints: Iterable[Stint], stint_id: str, hours: float) -> tuple[Stint, ...]:
    """The stints with one of them that many hours later, clocks and all."""

    def later(value: Range | None) -> Range | None:
        if value is None:
            return None
        return Range(
            **{
                name: after(hours, of=getattr(value, name))
                for name in ("early", "likely", "safe")
            }
        )

    return tuple(
        stint
        if stint.id != stint_id
        else replace(
            stint,
            start=after(hours, of=stint.start),
            end=after(hours, of=stint.end),
            open=later(stint.open),
            closes=later(stint.closes),
            ready={stage: later(value) for stage, value in stint.ready.items()},
        )
        for stint in stints
    )


def stored_job(**changes: Any) -> Job:
    """The job as rows of a new company."""
    return store_job(Company.objects.create(name="Company"), gilding_job(**changes))


def draft(job: Job, stints: Iterable[Stint], at: datetime = PLANNED_AT) -> Plan:
    """A stored plan that nobody has issued."""
    return store_plan(job, plan_of(stints), planned_at=at)


def issued(job: Job, stints: Iterable[Stint], at: datetime = PLANNED_AT) -> Plan:
    """A stored plan, issued in place of the one before; its calendar still to do."""
    plan = draft(job, stints, at)
    job.plans.filter(state=Plan.State.ISSUED).update(state=Plan.State.SUPERSEDED)
    plan.state, plan.issued_at = Plan.State.ISSUED, at
    plan.save(update_fields=("state", "issued_at"))
    return plan
