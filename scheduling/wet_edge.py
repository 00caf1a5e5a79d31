"""Wet edges: how wide a strip stays open, how many hands, when to start at the latest.

Strip sizes follow common practice, no source: use 0.7 of the open time (0.6 for a
beginner or dry air), and nothing narrower than 0.4 m.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, inf, isfinite

from scheduling.errors import bad
from scheduling.limits import within

USED_SHARE = 0.7  # common practice, no source
CAREFUL_SHARE = 0.6  # common practice, no source: for a beginner or in dry air
DRY_PCT = 40.0  # Assumed: air under this humidity counts as dry
NARROWEST_M = 0.4  # common practice, no source
SLACK = 1.15  # common practice, no source: a wall takes longer than reckoned
CLEAN_UP_MIN = 20.0  # common practice, no source
_LONGEST_MIN = 10 * 365 * 1440.0  # Assumed: nothing typed here is longer than 10 years
_MOST_HANDS = 20  # Assumed: no wall has room for more
_SMALLEST_M = 0.01  # Assumed: anything narrower is a slip of the pen
_LARGEST_M = 1000.0  # Assumed: no wall or run is longer


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
    move_min: float = 0.0,
) -> WetEdge:
    """The strips of a wall by that many hands, in an open time of ``open_min``.

    Without ``wet`` there is no edge to keep: one strip, always feasible. A wall or a
    widest section between stop lines that one strip covers is feasible however narrow.
    ``move_min`` is what moving a ladder or tower takes from each strip after the first.
    """
    pace = pace_min_m2(apply_min_m2, work_min_m2, hands, wet=wet)
    wall_min = setup_min + area_m2 * pace
    reach_m2 = k * open_min / pace if wet and pace > 0 else inf
    if reach_m2 < area_m2:
        reach_m2 = max(0.0, k * open_min - move_min) / pace
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
            f"Only {strip_m:.2f} m stays open for {people(hands)}, under "
            f"{NARROWEST_M:g} m: add a hand, a slower medium, cooler or damper air, "
            "or a stop line."
        )
    strips = max(1, ceil(area_m2 / reach_m2 - 1e-9)) if reach_m2 > 0 else 0
    return WetEdge(
        strip_m2=reach_m2,
        strip_m=strip_m,
        strips=strips,
        wall_min=wall_min + max(0, strips - 1) * move_min,
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


def used_share(humidity_pct: float, *, beginner: bool = False) -> float:
    """How much of the open time to use in air of that humidity."""
    return CAREFUL_SHARE if beginner or humidity_pct < DRY_PCT else USED_SHARE


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """What so many hands can do with a wall from now on; minutes of the caller's day.

    ``section_strips`` has the strips of each section between stop lines, left to right;
    without a stop line the wall is one section. ``latest_start_min`` is for the whole
    wall to end before ``before``, the next thing that ends wet work (inf and empty
    where nothing does). ``sections_in_time`` counts the sections from the left that
    still end before it when begun now. ``holds`` says that the strips are wide enough,
    ``feasible`` that the whole wall also ends in time, slack included.
    """

    hands: int
    strip_m: float
    strip_m2: float
    section_strips: tuple[int, ...]
    wall_min: float
    before: str
    latest_start_min: float
    sections_in_time: int
    holds: bool
    feasible: bool
    why: str

    @property
    def strips(self) -> int:
        """Strips of the whole wall; none is wider than a section."""
        return sum(self.section_strips)


def options(
    *,
    width_m: float,
    height_m: float,
    apply_min_m2: float,
    work_min_m2: float,
    open_min: float,
    now_min: float,
    ends: Mapping[str, float],
    openings_m2: float = 0.0,
    setup_min: float = 0.0,
    wet: bool = True,
    k: float = USED_SHARE,
    stop_lines_m: tuple[float, ...] = (),
    move_min: float = 0.0,
    most: int = 3,
) -> tuple[Option, ...]:
    """The wall by one, two ... ``most`` hands, in an open time of ``open_min``.

    ``ends`` names what ends wet work and when: {"lunch": 720, "the sun": 840}. The next
    after ``now_min`` counts; what is past does not. Openings are spread evenly over the
    sections. BadInput where a number or a stop line cannot be.
    """
    _check(
        width_m=width_m,
        height_m=height_m,
        openings_m2=openings_m2,
        stop_lines_m=stop_lines_m,
        ends=ends,
    )
    within(
        ("apply_min_m2", apply_min_m2, 0, _LONGEST_MIN),
        ("work_min_m2", work_min_m2, 0, _LONGEST_MIN),
        ("setup_min", setup_min, 0, _LONGEST_MIN),
        ("move_min", move_min, 0, _LONGEST_MIN),
        ("open_min", open_min, 0, _LONGEST_MIN),
        ("k", k, 0, 1),
        ("now_min", now_min, -_LONGEST_MIN, _LONGEST_MIN),
        ("most", most, 1, _MOST_HANDS),
    )
    area_m2 = width_m * height_m - openings_m2
    coming = {name: end for name, end in ends.items() if end > now_min}
    before = min(coming, key=lambda name: coming[name], default="")
    closes_min = coming.get(before, inf)
    found: list[Option] = []
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
            move_min=move_min,
        )
        pace = pace_min_m2(apply_min_m2, work_min_m2, hands, wet=wet)
        sections_m2 = [
            area_m2 * (right - left) / width_m
            for left, right in pairwise((0.0, *sorted(stop_lines_m), width_m))
        ]
        strips = tuple(_strips(part, edge.strip_m2) for part in sections_m2)
        moves_min = max(0, sum(strips) - 1) * move_min
        wall_min = setup_min + area_m2 * pace + moves_min
        last_min = latest_start(closes_min, wall_min)
        in_time = _in_time(
            [
                part * pace + n * move_min
                for part, n in zip(sections_m2, strips, strict=True)
            ],
            setup_min - move_min,  # the first strip needs no move
            closes_min - now_min,
        )
        feasible = edge.feasible and now_min <= last_min
        why = edge.why
        if edge.feasible and not feasible:
            why = _too_late(before, wall_min, closes_min - now_min, in_time, strips)
        found.append(
            Option(
                hands=hands,
                strip_m=edge.strip_m,
                strip_m2=edge.strip_m2,
                section_strips=strips,
                wall_min=wall_min,
                before=before,
                latest_start_min=last_min,
                sections_in_time=in_time if edge.feasible else 0,
                holds=edge.feasible,
                feasible=feasible,
                why=why,
            )
        )
    return tuple(found)


def latest_start(closes_min: float, wall_min: float) -> float:
    """The latest start for a wall to end, slack and cleaning up included, in time."""
    if not isfinite(closes_min):
        return closes_min
    return closes_min - wall_min * SLACK - CLEAN_UP_MIN


def _widest_m(width_m: float, stop_lines_m: tuple[float, ...]) -> float:
    edges = (0.0, *sorted(stop_lines_m), width_m)
    return max(right - left for left, right in pairwise(edges))


def people(hands: int) -> str:
    """ "one hand", "3 hands"."""
    return "one hand" if hands == 1 else f"{hands} hands"


def _strips(section_m2: float, strip_m2: float) -> int:
    return max(1, ceil(section_m2 / strip_m2 - 1e-9)) if strip_m2 > 0 else 0


def _in_time(parts_min: list[float], setup_min: float, left_min: float) -> int:
    """How many of the parts, in order, end with slack and cleaning up in time."""
    spent, count = setup_min, 0
    for part in parts_min:
        spent += part
        if spent * SLACK + CLEAN_UP_MIN > left_min * (1 + 1e-12):
            break
        count += 1
    return count


def _too_late(
    before: str, wall_min: float, left_min: float, in_time: int, strips: tuple[int, ...]
) -> str:
    needed = wall_min * SLACK + CLEAN_UP_MIN
    text = f"Needs {needed:.0f} min with cleaning up; {left_min:.0f} are left"
    if in_time:
        part = f"section {in_time}" if in_time > 1 else "the first section"
        return f"{text} before {before}: stop after {part} of {len(strips)}."
    return f"{text} before {before}."


def _check(
    *,
    width_m: float,
    height_m: float,
    openings_m2: float,
    stop_lines_m: tuple[float, ...],
    ends: Mapping[str, float],
) -> None:
    within(
        ("width_m", width_m, _SMALLEST_M, _LARGEST_M),
        ("height_m", height_m, _SMALLEST_M, _LARGEST_M),
    )
    if not 0 <= openings_m2 < width_m * height_m:
        raise bad("openings_m2", openings_m2, "0 or more, less than the wall")
    if not all(0 < line < width_m for line in stop_lines_m):
        allowed = f"over 0 and under the wall's {width_m:g} m"
        raise bad("stop_lines_m", list(stop_lines_m), allowed)
    within(*((f"ends.{n}", v, -_LONGEST_MIN, _LONGEST_MIN) for n, v in ends.items()))
