"""Wet edges: how wide a strip stays open, how many hands, when to start at the latest.

Strip sizes follow common practice, no source: use 0.7 of the open time (0.6 for a
beginner or dry air), and nothing narrower than 0.4 m.
"""

from dataclasses import dataclass
from itertools import pairwise
from math import ceil, inf, isfinite

USED_SHARE = 0.7  # common practice, no source
NARROWEST_M = 0.4  # common practice, no source
SLACK = 1.15  # common practice, no source: a wall takes longer than reckoned
CLEAN_UP_MIN = 20.0  # common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class WetEdge:
    """A wall done strip by strip. ``strips`` counts strips, at least one.

    ``why`` says in a sentence what makes it feasible or not.
    """

    strip_m2: float
    strip_m: float
    strips: int
    wall_min: float
    feasible: bool
    why: str

    def latest_start(self, closes_min: float) -> float:
        """The latest minute to start so that the wall ends before ``closes_min``."""
        return latest_start(closes_min, self.wall_min)


def wet_edge(
    *,
    area_m2: float,
    width_m: float,
    height_m: float,
    apply_min_m2: float,
    work_min_m2: float,
    setup_min: float,
    wet: bool,
    open_min: float,
    hands: int,
    k: float = USED_SHARE,
    stop_lines_m: tuple[float, ...] = (),
) -> WetEdge:
    """The strips of a wall by that many hands, in an open time of ``open_min``.

    Without ``wet`` there is no edge to keep: one strip, always feasible. A wall or a
    widest section between stop lines that one strip covers is feasible however narrow.
    """
    pace = pace_min_m2(apply_min_m2, work_min_m2, hands, wet=wet)
    wall_min = setup_min + area_m2 * pace
    reach_m2 = k * open_min / pace if wet and pace > 0 else inf
    if reach_m2 >= area_m2:
        why = "The whole wall stays open." if wet else "No wet edge to keep."
        return WetEdge(
            strip_m2=area_m2,
            strip_m=width_m,
            strips=1,
            wall_min=wall_min,
            feasible=True,
            why=why,
        )
    strip_m = min(reach_m2 / height_m, width_m)
    widest_m = _widest_m(width_m, stop_lines_m)
    if strip_m >= NARROWEST_M:
        feasible, why = True, f"Strips of {strip_m:.1f} m stay open."
    elif strip_m >= widest_m:
        feasible, why = True, f"Each section of up to {widest_m:.1f} m stays open."
    else:
        feasible = False
        why = (
            f"Only {strip_m:.2f} m stays open for {_people(hands)}, under "
            f"{NARROWEST_M:g} m: add a hand, a slower medium, cooler or damper air, "
            "or a stop line."
        )
    return WetEdge(
        strip_m2=reach_m2,
        strip_m=strip_m,
        strips=max(1, ceil(area_m2 / reach_m2 - 1e-9)) if reach_m2 > 0 else 0,
        wall_min=wall_min,
        feasible=feasible,
        why=why,
    )


def pace_min_m2(
    apply_min_m2: float, work_min_m2: float, hands: int, *, wet: bool
) -> float:
    """Minutes a square metre. In wet work one lays and one works the same ground."""
    shared = (apply_min_m2 + work_min_m2) / hands
    return max(apply_min_m2, work_min_m2, shared) if wet and hands > 1 else shared


def fewest_hands(
    *,
    area_m2: float,
    width_m: float,
    height_m: float,
    apply_min_m2: float,
    work_min_m2: float,
    setup_min: float,
    wet: bool,
    open_min: float,
    most: int,
    k: float = USED_SHARE,
    stop_lines_m: tuple[float, ...] = (),
) -> int | None:
    """The smallest feasible number of hands up to ``most``; None if none is."""
    for hands in range(1, most + 1):
        edge = wet_edge(
            area_m2=area_m2,
            width_m=width_m,
            height_m=height_m,
            apply_min_m2=apply_min_m2,
            work_min_m2=work_min_m2,
            setup_min=setup_min,
            wet=wet,
            open_min=open_min,
            hands=hands,
            k=k,
            stop_lines_m=stop_lines_m,
        )
        if edge.feasible:
            return hands
    return None


def latest_start(closes_min: float, wall_min: float) -> float:
    """The latest start for a wall to end, slack and cleaning up included, in time."""
    if not isfinite(closes_min):
        return closes_min
    return closes_min - wall_min * SLACK - CLEAN_UP_MIN


def _widest_m(width_m: float, stop_lines_m: tuple[float, ...]) -> float:
    edges = (0.0, *sorted(stop_lines_m), width_m)
    return max(right - left for left, right in pairwise(edges))


def _people(hands: int) -> str:
    return "one hand" if hands == 1 else f"{hands} hands"
