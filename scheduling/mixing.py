"""How much to mix: one batch for the whole area, split by parts, waste counted in.

Two batches of a glaze never match, so a batch covers every coat of the area at once.
Waste of 10 to 15 % for trays, brushes and the last of the can: common practice, no
source. Litres inside; US gallons and square feet a gallon are turned here.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from scheduling.errors import bad
from scheduling.limits import within
from scheduling.problem import Job, Material

LEAST_WASTE, USUAL_WASTE = 0.10, 0.15  # common practice, no source
L_PER_US_GALLON = 3.785411784  # 231 cubic inches, NIST Handbook 44, appendix C
M2_PER_FT2 = 0.09290304  # foot of 0.3048 m exactly (international yard, 1959)
_LARGEST_M2, _LARGEST_PARTS = 1e6, 1e6  # Assumed: more is a slip of the pen
_MOST_COATS = 50  # Assumed: as above
SPREADS_M2_L = (0.05, 200.0)  # Assumed: from thick plaster to the thinnest wash


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """One batch. ``net_l`` lies on the wall; ``batch_l`` is mixed, waste counted in.

    ``parts_l`` splits the batch in the order of the recipe; the whole batch stands
    under the material's own name where it is used as it comes.
    """

    net_l: float
    batch_l: float
    parts_l: Mapping[str, float]


def mix(
    *,
    area_m2: float,
    spread_m2_per_l: float,
    parts: Mapping[str, float],
    coats: int = 1,
    waste: float = USUAL_WASTE,
) -> Mix:
    """Litres of every part for so many coats of an area, as one batch.

    ``parts`` are by volume, {"colour": 1, "medium": 1}. ``waste`` is a share of what
    lies on the wall. BadInput where a number cannot be.
    """
    within(
        ("area_m2", area_m2, 0, _LARGEST_M2),
        ("spread_m2_per_l", spread_m2_per_l, *SPREADS_M2_L),
        ("coats", coats, 1, _MOST_COATS),
        ("waste", waste, 0, 1),
        *((f"parts.{name}", part, 0, _LARGEST_PARTS) for name, part in parts.items()),
    )
    whole = sum(parts.values())
    if whole <= 0:
        raise bad("parts", dict(parts), "at least one part over 0")
    net_l = area_m2 * coats / spread_m2_per_l
    batch_l = net_l * (1 + waste)
    return Mix(
        net_l=net_l,
        batch_l=batch_l,
        parts_l={name: batch_l * part / whole for name, part in parts.items()},
    )


def mix_of(
    material: Material, area_m2: float, *, coats: int = 1, waste: float = USUAL_WASTE
) -> Mix:
    """The batch of a material; BadInput where it has no spread to reckon with."""
    if material.spread_m2_per_l is None:
        raise bad("spread_m2_per_l", None, f"the spread of {material.id} in m2 a litre")
    return mix(
        area_m2=area_m2,
        spread_m2_per_l=material.spread_m2_per_l,
        parts=material.parts or {material.name or material.id: 1.0},
        coats=coats,
        waste=waste,
    )


def waste_of(job: Job) -> float:
    """The share that the job mixes and orders beyond what lies on its walls."""
    return USUAL_WASTE if job.waste_pct is None else job.waste_pct / 100


def us_gallons_from_l(litres: float) -> float:
    """US liquid gallons."""
    return litres / L_PER_US_GALLON


def l_from_us_gallons(gallons: float) -> float:
    """Litres of so many US liquid gallons."""
    return gallons * L_PER_US_GALLON


def spread_ft2_per_gallon(spread_m2_per_l: float) -> float:
    """A spread as US labels have it."""
    return spread_m2_per_l * L_PER_US_GALLON / M2_PER_FT2


def spread_m2_per_l(spread_ft2_per_gallon: float) -> float:
    """A US label's spread in square metres a litre."""
    return spread_ft2_per_gallon * M2_PER_FT2 / L_PER_US_GALLON
