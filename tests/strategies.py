"""Hypothesis: airs, labels and materials within the reach of the drying laws."""

from datetime import UTC, datetime

import numpy as np
from hypothesis import strategies as st

from scheduling.problem import FAMILIES, SIZES, Air, Family, Label, Material
from scheduling.room_air import RoomAir

START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
REFERENCE = Air(temperature_c=23.0, humidity_pct=50.0)

families = st.sampled_from(FAMILIES)


def floats(low: float, high: float) -> st.SearchStrategy[float]:
    """Finite numbers from low to high."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


temperatures_c = floats(5.0, 33.0)
humidities_pct = floats(20.0, 95.0)
winds_m_s = floats(0.0, 1.0)
coats = floats(0.5, 3.0)


@st.composite
def labels(draw: st.DrawFn, family: Family) -> dict[str, Label]:
    """Stages in order, each a time or a range, as a family's label gives them."""
    if family in SIZES:
        names = ("tack", "closes", "cured")
    else:
        names = ("open", "touch", "recoat", "hard", "window", "cured")
    found: dict[str, Label] = {}
    low = high = draw(floats(2.0, 40.0))
    for name in names:
        found[name] = (low, high) if high > low else low
        low = low * draw(floats(1.0, 6.0))
        high = max(low, high) * draw(floats(1.0, 2.0))
        if name == "hard":  # a window may close before the film is hard
            low, high = low / 2, high / 2
            recoat = found["recoat"]
            least = recoat if isinstance(recoat, tuple) else (recoat, recoat)
            low, high = max(low, least[0]), max(high, least[1])
        if name == "window":
            hard = found["hard"]
            least = hard if isinstance(hard, tuple) else (hard, hard)
            low, high = max(low, least[0]), max(high, least[1])
    return found


@st.composite
def materials(draw: st.DrawFn, family: Family | None = None) -> Material:
    """A material whose label speaks of 23 C and 50 %."""
    chosen = family or draw(families)
    return Material(
        id="m", family=chosen, label_air=REFERENCE, labels=draw(labels(chosen))
    )


@st.composite
def room_airs(draw: st.DrawFn, most_steps: int = 40) -> RoomAir:
    """Air that changes every step, now and then cold, damp or frozen.

    Only a seed, a length and the extremes are drawn: lists of numbers draw slowly.
    """
    size = draw(st.integers(1, most_steps))
    chance = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    coldest_c = draw(st.sampled_from([-3.0, 4.0, 9.0, 15.0]))
    dampest_pct = draw(st.sampled_from([60.0, 90.0, 100.0]))
    spread = draw(st.sampled_from([0.0, 0.3]))
    temperature_c = chance.uniform(coldest_c, 33.0, size)
    return RoomAir(
        start=START,
        step_min=draw(st.sampled_from([5.0, 15.0, 60.0])),
        temperature_c=temperature_c,
        humidity_pct=chance.uniform(20.0, dampest_pct, size),
        surface_c=temperature_c - chance.uniform(0.0, 4.0, size),
        moving_air_m_s=chance.uniform(0.0, 1.0, size),
        spread=chance.uniform(0.0, spread, size),
    )
