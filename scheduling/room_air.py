"""Air over time at one surface: the value that climate makes and drying reads."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STILL_AIR_M_S = 0.1  # a closed room; also what a label's time is taken to assume


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """By how much air changes from the start of each step to its end, as if evenly."""

    temperature_k: Floats
    humidity_pct: Floats
    surface_k: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomAir:
    """Air in equal steps from ``start`` on.

    Entry i holds from ``start + i * step_min`` until the next; the first holds before
    ``start`` too and the last for ever after. All arrays have the same length n >= 1.
    ``surface_c`` is the surface a coat lies on. ``spread`` widens a clock's range: the
    extra natural-log half-width at that moment, 0 for air that counts as certain.
    With a ``drift`` an entry is the mean of its step; without, air changes by jumps.
    """

    start: datetime
    step_min: float
    temperature_c: Floats
    humidity_pct: Floats
    surface_c: Floats
    moving_air_m_s: Floats
    spread: Floats
    drift: Drift | None = None

    def __len__(self) -> int:
        return int(self.temperature_c.shape[0])

    def at_ends(self, steps: NDArray[np.intp]) -> "RoomAir":
        """The air at the very end of those steps, one after another."""
        return self.inside(steps, np.ones(steps.shape[0]))

    def inside(self, steps: NDArray[np.intp], share: Floats) -> "RoomAir":
        """The air in those steps after that share of each, 0 to 1."""
        drift = self.drift
        if drift is None:
            raise ValueError("air without a drift is the same all through a step")
        off = share - 0.5
        humidity = self.humidity_pct[steps] + off * drift.humidity_pct[steps]
        return RoomAir(
            start=self.start,
            step_min=self.step_min,
            temperature_c=self.temperature_c[steps] + off * drift.temperature_k[steps],
            humidity_pct=np.clip(humidity, 0.0, 100.0),
            surface_c=self.surface_c[steps] + off * drift.surface_k[steps],
            moving_air_m_s=self.moving_air_m_s[steps],
            spread=self.spread[steps],
        )

    def minute(self, moment: datetime) -> float:
        """Minutes from ``start`` to ``moment``."""
        return (moment - self.start).total_seconds() / 60

    def moment(self, minute: float) -> datetime:
        """The moment ``minute`` minutes after ``start``."""
        return self.start + timedelta(minutes=minute)

    def index(self, minute: float) -> int:
        """The entry that holds ``minute`` minutes after ``start``."""
        return min(max(int(minute // self.step_min), 0), len(self) - 1)


def constant_air(
    start: datetime,
    *,
    temperature_c: float,
    humidity_pct: float,
    surface_c: float | None = None,
    moving_air_m_s: float = STILL_AIR_M_S,
) -> RoomAir:
    """Air that never changes; the surface is as warm as the air unless told."""

    def one(value: float) -> Floats:
        return np.array([value], dtype=np.float64)

    return RoomAir(
        start=start,
        step_min=60.0,
        temperature_c=one(temperature_c),
        humidity_pct=one(humidity_pct),
        surface_c=one(temperature_c if surface_c is None else surface_c),
        moving_air_m_s=one(moving_air_m_s),
        spread=one(0.0),
    )
