"""The air outdoors on a usual day, where no forecast says better: day and night.

Assumed: rounded figures for places with four seasons, no source. The lead sees them
and types others where the place is another.
"""

from dataclasses import dataclass
from typing import Any

from jobs.measures import TEMPERATURE, say

DAY_FROM, NIGHT_FROM = "08:00", "20:00"


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualAir:
    """Degrees Celsius and percent, by day and by night."""

    name: str
    day_c: float
    day_pct: float
    night_c: float
    night_pct: float

    @property
    def typical_air(self) -> list[dict[str, Any]]:
        """As the job format has it."""
        return typical_air(self.day_c, self.day_pct, self.night_c, self.night_pct)

    def words(self, units: str) -> str:
        """ "Mild: 15 °C and 65 % by day, 9 °C and 85 % by night"."""
        day, night = (
            say(TEMPERATURE, degrees, units, 0)
            for degrees in (self.day_c, self.night_c)
        )
        return (
            f"{self.name}: {day} and {self.day_pct:g} % by day, "
            f"{night} and {self.night_pct:g} % by night"
        )


USUAL_AIRS = {
    "mild": UsualAir(name="Mild", day_c=15, day_pct=65, night_c=9, night_pct=85),
    "damp": UsualAir(
        name="Cool and damp", day_c=11, day_pct=82, night_c=6, night_pct=92
    ),
    "cold": UsualAir(name="Cold", day_c=3, day_pct=75, night_c=-2, night_pct=88),
    "dry": UsualAir(
        name="Warm and dry", day_c=27, day_pct=40, night_c=17, night_pct=62
    ),
    "sultry": UsualAir(
        name="Warm and damp", day_c=28, day_pct=68, night_c=22, night_pct=88
    ),
}


def typical_air(
    day_c: float, day_pct: float, night_c: float, night_pct: float
) -> list[dict[str, Any]]:
    """Day and night in the words of the job format."""
    return [
        {"from": DAY_FROM, "temperature_c": day_c, "humidity_pct": day_pct},
        {"from": NIGHT_FROM, "temperature_c": night_c, "humidity_pct": night_pct},
    ]


def day_and_night(stored: list[dict[str, Any]]) -> dict[str, float] | None:
    """The four figures where a job's usual air is a day and a night; else None."""
    if [entry["from"] for entry in stored] != [DAY_FROM, NIGHT_FROM]:
        return None
    day, night = stored
    return {
        "day_c": day["temperature_c"],
        "day_pct": day["humidity_pct"],
        "night_c": night["temperature_c"],
        "night_pct": night["humidity_pct"],
    }
