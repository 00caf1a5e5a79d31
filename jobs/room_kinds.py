"""What the air of a kind of room is usually like, until somebody says otherwise.

Set points and air changes an hour are assumed, common practice, no source: windows
shut where nothing is said. A reading in the room overrules them from then on.
"""

from dataclasses import dataclass
from typing import Any

from jobs.measures import TEMPERATURE, WATER_A_DAY, say


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomKind:
    """Air changes an hour, set points in Celsius, a dehumidifier's litres a day."""

    name: str
    changes_per_h: float
    day_c: float
    night_c: float
    dehumidifier_l_day: float | None = None

    @property
    def air(self) -> dict[str, Any]:
        """As the job format has it."""
        air = {
            "changes_per_h": self.changes_per_h,
            "day_c": self.day_c,
            "night_c": self.night_c,
        }
        if self.dehumidifier_l_day is not None:
            air["dehumidifier_l_day"] = self.dehumidifier_l_day
        return air

    def words(self, units: str) -> str:
        """ "20 °C, nights 17 °C, 0.5 air changes an hour"."""
        return say_air(self.air, units)


ROOM_KINDS = {
    "living": RoomKind(name="Living room", changes_per_h=0.5, day_c=20, night_c=17),
    "bed": RoomKind(name="Bedroom", changes_per_h=0.5, day_c=18, night_c=16),
    "kitchen": RoomKind(name="Kitchen", changes_per_h=1, day_c=20, night_c=17),
    "bath": RoomKind(name="Bathroom", changes_per_h=1, day_c=22, night_c=18),
    "hall": RoomKind(name="Hall or stair", changes_per_h=1, day_c=18, night_c=16),
    "public": RoomKind(name="Shop or bar", changes_per_h=2, day_c=20, night_c=16),
    # Frost is kept out, no more.
    "cold": RoomKind(name="Unheated", changes_per_h=0.5, day_c=5, night_c=5),
    "drying": RoomKind(
        name="Shut, with a dehumidifier",
        changes_per_h=0.5,
        day_c=20,
        night_c=20,
        dehumidifier_l_day=20,
    ),
}


def say_air(air: dict[str, Any], units: str) -> str:
    """How a room's air is kept, in a line."""
    if "given" in air:
        return "air given hour by hour"
    day, night = (
        say(TEMPERATURE, air[name], units, 0 if float(air[name]).is_integer() else 1)
        for name in ("day_c", "night_c")
    )
    warm = day if day == night else f"{day}, nights {night}"
    times = air["changes_per_h"]
    parts = [warm, f"{times:g} air change{'' if times == 1 else 's'} an hour"]
    for key, name in (
        ("dehumidifier_l_day", "dehumidifier"),
        ("humidifier_l_day", "humidifier"),
    ):
        if air.get(key):
            parts.append(f"{name} {say(WATER_A_DAY, air[key], units, 0)}")
    if air.get("cooling_c") is not None:
        parts.append(f"cooled to {say(TEMPERATURE, air['cooling_c'], units, 0)}")
    return ", ".join(parts)
