"""What orders are reckoned with: an allowance for waste, and how a material is sold.

One durable transaction each. A person's mistake is a ValidationError with the field.
"""

from collections.abc import Sequence
from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import transaction

from jobs.models import Job, Material
from scheduling.mixing import SPREADS_M2_L
from scheduling.problem import MOST_LEAD_DAYS, MOST_TINS, TIN_L


@transaction.atomic(durable=True)
def set_waste(*, job: Job, waste_pct: float | None) -> None:
    """How much is mixed and ordered beyond what lies on the walls; None the usual."""
    if waste_pct is not None:
        _within("waste", waste_pct, 0, 100, "%")
    Job.objects.filter(pk=job.pk).update(waste_pct=waste_pct)
    job.waste_pct = waste_pct


@transaction.atomic(durable=True)
def set_ordering(
    *,
    material: Material,
    spread_m2_per_l: float | None,
    tins_l: Sequence[float],
    lead_days: int | None,
    now: datetime,
) -> None:
    """A material's spread, tins and lead time; a new spread makes plans older."""
    if spread_m2_per_l is not None:
        _within("spread", spread_m2_per_l, *SPREADS_M2_L, "m²/l")
    if len(tins_l) > MOST_TINS:
        message = f"{len(tins_l)} sizes are too many: give at most {MOST_TINS}."
        raise ValidationError({"tins": message})
    for size in tins_l:
        _within("tins", size, *TIN_L, "l")
    if lead_days is not None:
        _within("lead_days", lead_days, 0, MOST_LEAD_DAYS, "days")
    row = Material.objects.select_for_update().get(pk=material.pk)
    if row.spread_m2_per_l != spread_m2_per_l:  # the water that a coat gives off
        Job.objects.filter(pk=row.job_id).update(changed_at=now)
    row.spread_m2_per_l, row.lead_days = spread_m2_per_l, lead_days
    row.tins_l = list(tins_l)
    row.save(update_fields=("spread_m2_per_l", "tins_l", "lead_days"))


def _within(field: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:  # written this way round, it refuses NaN too
        allowed = f"allowed is {low:g} to {high:g} {unit}"
        raise ValidationError({field: f"{value:g} {unit} cannot be: {allowed}."})
