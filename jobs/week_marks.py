"""One surface's row of the week: coats, their waits, open times and windows as marks.

Pure geometry, like ``week_drawing``, which lays the rows out.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from jobs.week_scale import Scale, Span
from scheduling.corrections import standing
from scheduling.plan import Plan, Range, Stint
from scheduling.problem import Coat, Job, Material, Recipe, Step, Surface, wait_of
from scheduling.room_air import RoomAir

# Share of the wait left, 1 to 0, at minutes of the air; see scheduling.drying.
# Named beside them: ``coat``, how many times as thick as the label's it lies.
Progress = Callable[..., Any]

BLOCK, BLOCK_TOP = 24.0, 17.0  # a block's height and its place in its row
_SAMPLE_MIN = 20.0
_MOST_SAMPLES = 600  # a wait of months is sampled more widely
Point = tuple[float, float]
_LETTER, _LABEL = 8.2, 5.9  # widths of one character, measured in our type


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One coat, dry work, test or rescue in a surface's row.

    ``points`` strings are pairs for a polygon or polyline, empty where there is none.
    """

    kind: str  # coat, dry, test, rescue
    key: str  # the stint's id, "" for what is logged
    name: str  # the whole label
    x: float
    y: float
    width: float
    letters: str
    label: str
    label_x: float
    label_y: float
    wedge: str = ""
    edge: str = ""
    tail: str = ""
    open: Span | None = None
    open_likely_x: float | None = None
    window: Span | None = None
    window_end_x: float | None = None

    @property
    def changes(self) -> bool:
        """Whether it is planned work, to be held or moved."""
        return bool(self.key) and self.width > 0 and self.kind in ("coat", "dry")

    @property
    def hit_width(self) -> float:
        """Wide enough to be pointed at."""
        return max(self.width, 24.0)

    @property
    def height(self) -> float:
        """Every block's height."""
        return BLOCK

    @property
    def middle(self) -> float:
        """Half-way down the block."""
        return self.y + BLOCK / 2

    @property
    def foot(self) -> float:
        """The line on which block and wedge stand."""
        return self.y + BLOCK


def marks_of(
    job: Job,
    plan: Plan,
    surface: Surface,
    air: RoomAir | None,
    across: Scale,
    y: float,
    letters: Mapping[str, str],
    progress: Progress,
) -> tuple[Mark, ...]:
    """What the surface's row shows on this page, labels cut where the next begins."""
    done = {
        (coat.step, coat.section) for coat in job.coats if coat.surface == surface.id
    }
    entries: list[Coat | Stint] = [
        coat for coat in standing(job) if coat.surface == surface.id
    ]
    entries += [
        stint
        for stint in plan.stints
        if stint.surface == surface.id
        and not (stint.kind == "work" and (stint.step, stint.section) in done)
    ]
    entries.sort(key=lambda entry: entry.start)
    pen = _Pen(job, surface, air, across, y, letters, progress)
    shown = [entry for entry in entries if pen.reaches(entry)]
    starts = [across.x(entry.start) for entry in shown]
    limits = [*starts, across.places[-1] + 50][1:]
    return tuple(
        pen.mark(entry, limit) for entry, limit in zip(shown, limits, strict=True)
    )


class _Pen:
    """Draws the marks of one surface's row."""

    def __init__(
        self,
        job: Job,
        surface: Surface,
        air: RoomAir | None,
        across: Scale,
        y: float,
        letters: Mapping[str, str],
        progress: Progress,
    ) -> None:
        self.recipe = job.recipe(surface.recipe)
        self.materials = {material.id: material for material in job.materials}
        self.air, self.across, self.y = air, across, y
        self.letters, self.progress = letters, progress
        self.top, self.foot = y + BLOCK_TOP, y + BLOCK_TOP + BLOCK

    def reaches(self, entry: Coat | Stint) -> bool:
        """Whether any of its work or its wait lies on the page."""
        ends = [entry.end]
        if isinstance(entry, Stint):
            ready = self._ready(entry)
            spans = [span for span in (ready, entry.closes) if span is not None]
            ends += [moment for span in spans if (moment := span.safe or span.likely)]
        elif entry.end < self.across.start and self._still_waits(entry):
            return True
        return entry.start <= self.across.end and max(ends) >= self.across.start

    def _still_waits(self, coat: Coat) -> bool:
        """Whether a coat logged before the page has some of its wait left on it."""
        step, stage = self.recipe.step(coat.step), self._stage(coat)
        if not stage or self.air is None or step.material is None:
            return False
        shares = wedge_shares(
            self.materials[step.material], stage, self.air, coat.end,
            self.across.start, self.progress, coat=step.coat,
        )  # fmt: skip
        return shares[-1][1] > 0

    def mark(self, entry: Coat | Stint, limit: float) -> Mark:
        """The mark of one stint or logged coat; nothing of it passes ``limit``."""
        step = self.recipe.step(entry.step)
        kind = entry.kind if isinstance(entry, Stint) else "work"
        x = self.across.x(entry.start)
        width = max(self.across.x(entry.end) - x, 3.0)
        if entry.end <= self.across.start:  # only its wait reaches into the page
            width = 0.0
        if kind == "work":
            kind = "dry" if step.material is None else "coat"
        hands = entry.hands if isinstance(entry, Stint) else ()
        letters = "".join(self.letters.get(hand, "") for hand in hands)
        label = {"test": "test", "rescue": "rescue"}.get(kind, step.name or step.id)
        if len(letters) * _LETTER + 4 > width or kind == "test":
            beside, letters = letters, ""
            label += f", {beside}" if beside and width else ""
        if entry.section is not None:
            label += f", part {entry.section}"
        span = self._ready(entry)
        wedge, edge, tail = (
            self._wedge(entry, step, span) if kind == "coat" else ("",) * 3
        )
        window, window_end = self._window(entry, span)
        opened, likely = self._open(entry, step, x)
        return Mark(
            kind=kind,
            key=entry.id if isinstance(entry, Stint) else "",
            name=label,
            x=tenth(x),
            y=self.top,
            width=tenth(width),
            letters=letters,
            label=cut(label, int((limit - x - 4) / _LABEL)),
            label_x=tenth(x),
            label_y=self.y + 12,
            wedge=wedge,
            edge=edge,
            tail=tail,
            open=opened,
            open_likely_x=likely,
            window=window,
            window_end_x=window_end,
        )

    def _stage(self, entry: Coat | Stint) -> str:
        step = self.recipe.step(entry.step)
        return shown_stage(self.recipe, step, self.materials)

    def _ready(self, entry: Coat | Stint) -> Range | None:
        return entry.ready.get(self._stage(entry)) if isinstance(entry, Stint) else None

    def _wedge(
        self, entry: Coat | Stint, step: Step, span: Range | None
    ) -> tuple[str, str, str]:
        stage = self._stage(entry)
        if not stage or self.air is None or step.material is None:
            return "", "", ""
        known_end = span.likely if span else None
        shares = wedge_shares(
            self.materials[step.material],
            stage,
            self.air,
            entry.end,
            known_end or self.across.end,
            self.progress,
            coat=step.coat,
        )
        line = self._line(shares)
        if not line:
            return "", "", ""
        edge = points(line)
        wedge = points([*line, (line[-1][0], self.foot), (line[0][0], self.foot)])
        tail = ""
        if span and span.safe and span.likely and span.safe > span.likely > entry.end:
            # The same fall, stretched to the safe end: one unknown factor moves it all.
            stretch = (span.safe - entry.end) / (span.likely - entry.end)
            slow = self._line(
                [
                    (entry.end + (at - entry.end) * stretch, share)
                    for at, share in shares
                ]
            )
            tail = points([*slow, (slow[-1][0], self.foot), (line[0][0], self.foot)])
        return wedge, edge, tail

    def _line(self, shares: Sequence[tuple[datetime, float]]) -> list[Point]:
        """The fall of a wait over the hours of the page, cut at both its ends."""
        start, end = self.across.start, self.across.end
        if shares[0][0] >= end or shares[-1][0] <= start:
            return []
        seconds = [at.timestamp() for at, _ in shares]
        heights = [share for _, share in shares]
        inside = [(at, share) for at, share in shares if start <= at <= end]
        for edge in (start, end):
            if shares[0][0] < edge < shares[-1][0]:
                cut_at = float(np.interp(edge.timestamp(), seconds, heights))
                inside.insert(0 if edge is start else len(inside), (edge, cut_at))
        return thinned(
            [(self.across.x(at), self._height(share)) for at, share in inside]
        )

    def _height(self, share: float) -> float:
        return self.foot - BLOCK * min(max(share, 0.0), 1.0)

    def _open(
        self, entry: Coat | Stint, step: Step, x: float
    ) -> tuple[Span | None, float | None]:
        """The open band up to its early end, and where it likely closes."""
        if not isinstance(entry, Stint) or not step.wet or entry.open is None:
            return None, None
        early = entry.open.early or self.across.end
        likely = entry.open.likely or self.across.end
        end = max(self.across.x(early), x)
        return Span(x=tenth(x), width=tenth(end - x)), tenth(self.across.x(likely))

    def _window(
        self, entry: Coat | Stint, span: Range | None
    ) -> tuple[Span | None, float | None]:
        """The strip from the first moment the next step may come to the early close."""
        if not isinstance(entry, Stint) or entry.closes is None:
            return None, None
        begin = (span and (span.safe or span.likely)) or entry.end
        close = entry.closes.early or entry.closes.likely
        if close is None or close <= self.across.start or begin >= self.across.end:
            return None, None
        left = self.across.x(min(begin, close))
        right = self.across.x(close)
        ends_here = self.across.start <= close <= self.across.end
        strip = Span(x=tenth(left), width=tenth(max(right - left, 2.0)))
        return strip, tenth(right) if ends_here else None


def shown_stage(recipe: Recipe, step: Step, materials: Mapping[str, Material]) -> str:
    """The stage whose wait a step's wedge shows; "" where nothing dries.

    The longest that a later step waits for; of a last coat the first end worth
    knowing.
    """
    if step.material is None:
        return ""
    material = materials[step.material]
    waited = {
        wait.stage
        for later in recipe.steps
        if (wait := wait_of(recipe, later, materials)) is not None
        and wait.step == step.id
        and wait.stage in material.labels
    }
    if waited:
        return max(sorted(waited), key=lambda stage: _label_high(material, stage))
    ends = ("recoat", "through", "hard", "touch", "tack", "cured")
    return next((stage for stage in ends if stage in material.labels), "")


def wedge_shares(
    material: Material,
    stage: str,
    air: RoomAir,
    end: datetime,
    until: datetime,
    progress: Progress,
    *,
    coat: float = 1.0,
) -> list[tuple[datetime, float]]:
    """Moments from a coat's end to ``until`` with the share of its wait left.

    Stops at the first moment with nothing left.
    """
    end_min = air.minute(end)
    length = max(air.minute(until) - end_min, 1.0)
    step = max(_SAMPLE_MIN, length / _MOST_SAMPLES)
    minutes = end_min + np.append(np.arange(0.0, length, step), length)
    left = progress(material, stage, air, end_min, minutes, coat=coat)
    shares = np.asarray(left, dtype=float)
    found: list[tuple[datetime, float]] = []
    for minute, share in zip(minutes, shares, strict=True):
        found.append((end + timedelta(minutes=float(minute) - end_min), float(share)))
        if share <= 0:
            break
    return found


def _label_high(material: Material, stage: str) -> float:
    label = material.label_min(stage)
    return label[1] if label else 0.0


def thinned(line: Sequence[Point]) -> list[Point]:
    """The line without points that lie within a third of a unit of their chord."""
    kept = [line[0]]
    for place in range(1, len(line) - 1):
        (x0, y0), (x, y), (x1, y1) = kept[-1], line[place], line[place + 1]
        if x1 - x0 < 1e-9:
            continue
        chord = y0 + (y1 - y0) * (x - x0) / (x1 - x0)
        if abs(y - chord) > 0.33 or x1 - x0 > 40:
            kept.append((x, y))
    if len(line) > 1:
        kept.append(line[-1])
    return kept


def points(line: Sequence[Point]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in line)


def cut(text: str, length: int) -> str:
    """The text, cut to ``length`` characters; nothing where three would not fit."""
    if len(text) <= length:
        return text
    return f"{text[: length - 1].rstrip()}…" if length >= 3 else ""


def tenth(value: float) -> float:
    return round(value, 1)
