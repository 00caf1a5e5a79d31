"""Air over time at one surface: the value that climate makes and drying reads."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STILL_AIR_M_S = 0.1  # a closed room; also what a label's time is taken to assume


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomAir:
    """Air in equal steps from ``start`` on.

    Entry i holds from ``start + i * step_min`` until the next; the first holds before
    ``start`` too and the last for ever after. All arrays have the same length n >= 1.
    ``surface_c`` is the surface a coat lies on. ``spread`` widens a clock's range: the
    extra natural-log half-width at that moment, 0 for air that counts as certain.
    """

    start: datetime
    step_min: float
    temperature_c: Floats
    humidity_pct: Floats
    surface_c: Floats
    moving_air_m_s: Floats
    spread: Floats

    def __len__(self) -> int:
        return int(self.temperature_c.shape[0])

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
