"""The week as geometry: a plan and its job in, positions for the drawing out.

Pure: no request, no query, no clock, no colour. The share of a wait that is left comes
in as a function, so that the wedge is the clock's own integral.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import datetime

from jobs.templatetags.plan_format import say_place
from jobs.week_air import AIR_FOOT, AirPanel, air_panel, damp_spans, room_humidity
from jobs.week_marks import (
    BLOCK,
    BLOCK_TOP,
    Mark,
    Progress,
    cut,
    marks_of,
    tenth,
)
from jobs.week_scale import Page, Scale, Span, scale
from scheduling.plan import Plan
from scheduling.problem import Job, Room, Surface
from scheduling.room_air import RoomAir

WIDTH = 1182.0
LEFT, RIGHT = 178.0, 1118.0
HEAD_FOOT = 30.0
ROWS_TOP = 152.0
ROW = 46.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A surface's row; ``room`` only on the first of its room.

    ``was``: where the plan beside this one has stints that stand elsewhere here.
    """

    surface: str
    name: str
    whole: str  # room and surface, nothing cut
    room: str
    y: float
    marks: tuple[Mark, ...]
    was: tuple[Span, ...] = ()

    @property
    def was_y(self) -> float:
        """The top of those."""
        return self.y + BLOCK_TOP - 2

    @property
    def was_height(self) -> float:
        """Their height: a little more than a block's, to be seen round one."""
        return BLOCK + 4


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomBand:
    """A room's rows together, with its damp hours."""

    y: float
    height: float
    damp: tuple[Span, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Everything the page needs to draw one week, in units of about a pixel."""

    width: float
    height: float
    left: float
    right: float
    scale: Scale
    air: AirPanel
    rows: tuple[Row, ...]
    bands: tuple[RoomBand, ...]
    foot: float
    now_x: float | None
    letters: tuple[tuple[str, str], ...]  # a hand's letters and name

    @property
    def shows(self) -> frozenset[str]:
        """The kinds of mark that the legend must explain."""
        marks = [mark for row in self.rows for mark in row.marks]
        found = {mark.kind for mark in marks if mark.width}
        for name in ("wedge", "open", "window"):
            if any(getattr(mark, name) for mark in marks):
                found.add(name)
        if any(band.damp for band in self.bands):
            found.add("damp")
        if any(row.was for row in self.rows):
            found.add("was")
        return frozenset(found)

    @property
    def across_width(self) -> float:
        """From the first hour to the last."""
        return self.right - self.left

    @property
    def down_height(self) -> float:
        """From the top of the air to the foot of the rows."""
        return self.foot - HEAD_FOOT

    @property
    def hours_y(self) -> float:
        """Where the hour lines begin."""
        return AIR_FOOT + 8

    @property
    def hours_text_y(self) -> float:
        """Where the hours' figures stand."""
        return AIR_FOOT + 20


def draw_week(
    job: Job,
    plan: Plan,
    airs: Mapping[str, RoomAir],
    *,
    page: Page,
    now: datetime,
    progress: Progress,
    beside: Plan | None = None,
    rooms: Collection[str] | None = None,
    row_name: Callable[[Room, Surface], str] = lambda _, surface: (
        surface.name or surface.id
    ),
) -> Drawing:
    """The drawing of one page of a plan; ``airs`` by surface id.

    Stints that stand elsewhere in the plan ``beside`` it are outlined there. ``rooms``
    (ids) are those shown, None all.
    """
    across = scale(job, page, left=LEFT, right=RIGHT, now=now)
    letters = hand_letters(job)
    rows: list[Row] = []
    bands: list[RoomBand] = []
    y = ROWS_TOP
    for room in job.rooms:
        if rooms is not None and room.id not in rooms:
            continue
        first_y = y
        for surface in job.surfaces:
            if surface.room != room.id:
                continue
            marks = marks_of(
                job, plan, surface, airs.get(surface.id), across, y, letters, progress
            )
            was = _was(plan, beside, surface, across) if beside else ()
            if not marks and not was:
                continue
            rows.append(
                Row(
                    surface=surface.id,
                    name=cut(row_name(room, surface), 28),
                    whole=say_place(room.name or room.id, surface.name or surface.id),
                    room=cut(room.name or room.id, 21) if y == first_y else "",
                    y=y,
                    marks=marks,
                    was=was,
                )
            )
            y += ROW
        if y > first_y:
            hours = room_humidity(job, plan, airs, room.id)
            damp = tuple(damp_spans(hours, across))
            bands.append(RoomBand(y=first_y, height=y - first_y, damp=damp))
    shown = across.start <= now <= across.end
    return Drawing(
        width=WIDTH,
        height=y + 30,
        left=LEFT,
        right=RIGHT,
        scale=across,
        air=air_panel(job, plan, airs, across),
        rows=tuple(rows),
        bands=tuple(bands),
        foot=y,
        now_x=across.x(now) if shown else None,
        letters=tuple((letters[hand.id], hand.name or hand.id) for hand in job.hands),
    )


def hand_letters(job: Job) -> dict[str, str]:
    """A letter for each hand, two or more where the first is shared."""
    found: dict[str, str] = {}
    for hand in job.hands:
        name = "".join(part for part in (hand.name or hand.id) if part.isalnum())
        letters = next(
            (
                name[:length].capitalize()
                for length in range(1, len(name) + 1)
                if name[:length].capitalize() not in found.values()
            ),
            f"{name[:1].upper()}{len(found) + 1}",
        )
        found[hand.id] = letters
    return found


def _was(plan: Plan, beside: Plan, surface: Surface, across: Scale) -> tuple[Span, ...]:
    """Where the other plan has the surface's stints that start elsewhere in this."""
    starts = {stint.id: stint.start.timestamp() for stint in plan.stints}
    spans = []
    for stint in beside.stints:
        moved = stint.start.timestamp() != starts.get(stint.id)
        on_page = across.start <= stint.start and stint.end <= across.end
        if stint.surface == surface.id and stint.kind != "test" and moved and on_page:
            left, right = across.x(stint.start), across.x(stint.end)
            spans.append(Span(x=tenth(left), width=tenth(max(right - left, 3.0))))
    return tuple(spans)
