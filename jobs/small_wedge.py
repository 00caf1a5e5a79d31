"""The drying wedge, small: one wait with a mark for now, as points for a drawing.

Pure. Time runs evenly from the coat's end to the safe end of its wait, or to a later
moment where several are drawn to one scale.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from jobs.week_marks import points, thinned

WIDTH, HEIGHT = 420.0, 30.0
_TOP, _FOOT, _RIGHT = 5.0, 27.0, 417.0
_BLOCK = 14.0  # the coat itself, before its wait


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallWedge:
    """A wait: what is past, what is left, the pale tail to the safe end."""

    past: str
    left: str
    edge: str
    tail: str
    now_x: float | None
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallWindow:
    """A window from its opening to its early close."""

    width: float
    end_x: float
    now_x: float | None
    words: str


def small_wedge(
    shares: Sequence[tuple[datetime, float]],
    *,
    likely: datetime | None,
    safe: datetime | None,
    now: datetime | None,
    words: str,
    until: datetime | None = None,
) -> SmallWedge | None:
    """The wedge of one wait, drawn up to ``until``; None where nothing waits."""
    if len(shares) < 2:
        return None
    start, stop = shares[0][0], max(filter(None, (until, safe, likely, shares[-1][0])))
    if stop <= start:
        return None

    def x(moment: datetime) -> float:
        part = (moment - start) / (stop - start)
        return _BLOCK + (_RIGHT - _BLOCK) * min(max(part, 0.0), 1.0)

    line = thinned([(x(at), _y(share)) for at, share in shares])
    here = None if now is None else x(now)
    past, left = _parted(line, here)
    tail = ""
    if safe and likely and safe > likely > start:
        stretch = (safe - start) / (likely - start)
        slow = [(x(start + (at - start) * stretch), _y(share)) for at, share in shares]
        tail = points([*thinned(slow), (_BLOCK, _FOOT)])
    return SmallWedge(
        past=_closed(past),
        left=_closed(left),
        edge=points(line),
        tail=tail,
        now_x=None if here is None else round(here, 1),
        words=words,
    )


def small_window(
    start: datetime, close: datetime, now: datetime, words: str
) -> SmallWindow:
    """The strip of a window that closes, with a mark for now."""
    length = max((close - start).total_seconds(), 1.0)
    here = (now - start).total_seconds() / length * (_RIGHT - 20)
    return SmallWindow(
        width=_RIGHT - 20,
        end_x=_RIGHT - 20,
        now_x=round(here, 1) if 0 <= here <= _RIGHT else None,
        words=words,
    )


def _y(share: float) -> float:
    return _FOOT - (_FOOT - _TOP) * min(max(share, 0.0), 1.0)


def _parted(
    line: list[tuple[float, float]], here: float | None
) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """The line up to ``here`` and from there on."""
    if here is None or here <= line[0][0]:
        return [], line
    past: list[tuple[float, float]] = []
    for place, (x, y) in enumerate(line):
        if x > here:
            x0, y0 = line[place - 1]
            cut = (here, y0 + (y - y0) * (here - x0) / (x - x0))
            return [*past, cut], [cut, *line[place:]]
        past.append((x, y))
    return past, []


def _closed(line: Sequence[tuple[float, float]]) -> str:
    if len(line) < 2:
        return ""
    return points([*line, (line[-1][0], _FOOT), (line[0][0], _FOOT)])
