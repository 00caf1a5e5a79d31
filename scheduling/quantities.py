"""What to order and by when: litres from areas, coats, spreads and parts.

Counts the coats that the log has not, on net areas, by their thickness, with the job's
allowance for waste. What a rescue lays again is not counted: plan without it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from scheduling.done import coats_done
from scheduling.mixing import mix_of, waste_of
from scheduling.plan import Plan
from scheduling.problem import Job, Material, Step, Surface
from scheduling.tins import Tins, whole_tins


@dataclass(frozen=True, slots=True, kw_only=True)
class Bought:
    """One thing to buy, waste counted in; ``tins`` is empty where no size is known."""

    name: str
    litres: float
    tins: tuple[Tins, ...]

    @property
    def bought_l(self) -> float:
        """Litres in whole tins; what is needed where no size is known."""
        if not self.tins:
            return self.litres
        return sum(tin.size_l * tin.count for tin in self.tins)


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """A material still to be put on: for what, how much, and by when.

    ``area_m2`` counts each coat's net area. ``bought`` holds its parts, or itself; it
    is empty where the spread is not known. ``first_use`` is None where no plan has it,
    and ``order_by`` leaves out a lead time that is not given.
    """

    material: Material
    area_m2: float
    coats: int
    surfaces: int
    bought: tuple[Bought, ...]
    first_use: datetime | None
    order_by: date | None

    @property
    def litres(self) -> float | None:
        """All of it, waste counted in; None where the spread is not known."""
        if not self.bought:
            return None
        return sum(part.litres for part in self.bought)


@dataclass(slots=True)
class _Sum:
    area_m2: float = 0.0
    laid_m2: float = 0.0  # area times thickness
    coats: int = 0


def quantities(job: Job, plan: Plan | None) -> tuple[Order, ...]:
    """Every material still to be put on, the one to be ordered soonest first.

    The plan may name only surfaces and steps that the job has, and nothing logged.
    """
    sums: dict[str, _Sum] = {}
    places: dict[str, set[str]] = {}
    for surface, step, share in _left(job):
        assert step.material is not None  # noqa: S101 - asked by the caller
        found = sums.setdefault(step.material, _Sum())
        area_m2 = surface.area_m2 * share
        found.area_m2 += area_m2
        found.laid_m2 += area_m2 * step.coat
        found.coats += 1
        places.setdefault(step.material, set()).add(surface.id)
    uses = _first_uses(job, plan)
    orders = [
        _order(job, material, sums[material.id], len(places[material.id]), uses)
        for material in job.materials
        if material.id in sums
    ]
    return tuple(sorted(orders, key=_turn))


def _left(job: Job) -> Iterable[tuple[Surface, Step, float]]:
    """Each coat that the log has not, with the share of its surface that is left."""
    for surface in job.surfaces:
        recipe = job.recipe(surface.recipe)
        done = coats_done(job, surface, recipe)
        for step in recipe.steps:
            if step.material is None or done.has(step, None):
                continue
            share = sum(
                part for name, part in surface.sections if not done.has(step, name)
            )
            yield surface, step, share


def _first_uses(job: Job, plan: Plan | None) -> Mapping[str, datetime]:
    """When the plan first puts each material on."""
    uses: dict[str, datetime] = {}
    for stint in plan.stints if plan is not None else ():
        name = job.step_of(stint.surface, stint.step).material
        if stint.kind == "work" and name is not None:
            uses[name] = min(stint.start, uses.get(name, stint.start))
    return uses


def _order(
    job: Job,
    material: Material,
    found: _Sum,
    surfaces: int,
    uses: Mapping[str, datetime],
) -> Order:
    first = uses.get(material.id)
    by = None
    if first is not None:
        # Calendar days, as suppliers count them: common practice, no source.
        lead = timedelta(days=material.lead_days or 0)
        by = first.astimezone(job.site.tz).date() - lead
    return Order(
        material=material,
        area_m2=found.area_m2,
        coats=found.coats,
        surfaces=surfaces,
        bought=_bought(material, found.laid_m2, waste_of(job)),
        first_use=first,
        order_by=by,
    )


def _bought(material: Material, laid_m2: float, waste: float) -> tuple[Bought, ...]:
    if material.spread_m2_per_l is None:
        return ()
    mixed = mix_of(material, laid_m2, waste=waste)
    return tuple(
        Bought(name=name, litres=litres, tins=whole_tins(litres, material.tins_l))
        for name, litres in mixed.parts_l.items()
    )


def _turn(order: Order) -> tuple[date, float]:
    use = order.first_use
    return (
        order.order_by or date.max,
        use.timestamp() if use is not None else float("inf"),
    )
