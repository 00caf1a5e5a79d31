"""A wall's elevation as geometry: its sections, and the strips of one crew on them.

Pure: sizes in, positions out. Work goes from left to right, as the strips are counted.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

WIDTH, TALLEST, LOWEST = 420.0, 260.0, 80.0  # of the wall as drawn
LEFT, TOP, FOOT = 10.0, 26.0, 30.0  # room for the words around it
NARROWEST = 22.0  # a strip drawn narrower than this is not numbered


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """One strip between two stops, numbered from the left where there is room."""

    x: float
    width: float
    number: str
    middle: float
    first: bool  # of its section


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A line at which work may stop, ``at_m`` from the left end of the wall."""

    x: float
    at_m: float
    anchor: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WallDrawing:
    """The wall to scale; x and y from its upper left corner, ``shown`` on the page."""

    shown: float
    wide: float
    high: float
    x: float
    y: float
    width: float
    height: float
    strips: tuple[Strip, ...]
    stops: tuple[Stop, ...]


def wall_drawing(
    *,
    width_m: float,
    height_m: float,
    stop_lines_m: Sequence[float] = (),
    section_strips: Sequence[int] = (),
) -> WallDrawing:
    """The elevation; ``section_strips`` as of the crew shown, or empty."""
    high = min(max(WIDTH * height_m / width_m, LOWEST), TALLEST)
    wide = min(WIDTH, max(high * width_m / height_m, LOWEST))
    edges = (0.0, *sorted(stop_lines_m), width_m)
    counts = section_strips or (1,) * (len(edges) - 1)
    strips: list[Strip] = []
    for (left, right), count in zip(pairwise(edges), counts, strict=True):
        width = (right - left) / width_m * wide / max(count, 1)
        for place in range(max(count, 1)):
            x = LEFT + left / width_m * wide + place * width
            number = str(len(strips) + 1) if width >= NARROWEST else ""
            strips.append(
                Strip(
                    x=round(x, 1),
                    width=round(width, 1),
                    number=number,
                    middle=round(x + width / 2, 1),
                    first=place == 0,
                )
            )
    stops = tuple(
        Stop(
            x=round(LEFT + at_m / width_m * wide, 1),
            at_m=at_m,
            anchor="start" if at_m == 0 else "end" if at_m == width_m else "middle",
        )
        for at_m in edges
    )
    return WallDrawing(
        shown=round((wide + 2 * LEFT) * 1.25, 1),
        wide=round(wide + 2 * LEFT, 1),
        high=round(high + TOP + FOOT, 1),
        x=LEFT,
        y=TOP,
        width=round(wide, 1),
        height=round(high, 1),
        strips=tuple(strips),
        stops=stops,
    )
