"""The air over the week as geometry: humidity as lines, and each room's damp hours.

Pure, like ``week_drawing``, which lays it above the rows.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from jobs.week_marks import points, tenth, thinned
from jobs.week_scale import Scale, Span
from scheduling.plan import Plan
from scheduling.problem import Job
from scheduling.room_air import RoomAir

AIR_TOP, AIR_FOOT = 40.0, 124.0
DAMP_PCT = 70.0  # Assumed: from here waterborne waits grow by half and more
_DRIEST_PCT, _DAMPEST_PCT = 30.0, 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AirPanel:
    """Relative humidity over the same hours, as points; empty where unknown."""

    outdoors: str
    outdoors_end_y: float | None
    rooms: str  # the band between the driest and the dampest room
    dampest: str
    rooms_end_y: float | None
    damp_y: float
    damp_text_y: float


def room_humidity(
    job: Job, plan: Plan, airs: Mapping[str, RoomAir], room: str
) -> list[tuple[datetime, float]]:
    """Moments with the room's relative humidity, each holding until the next."""
    for surface in job.surfaces:
        if surface.room == room and surface.id in airs:
            air = airs[surface.id]
            return [
                (air.moment(place * air.step_min), float(humidity))
                for place, humidity in enumerate(air.humidity_pct)
            ]
    return [(hour.at, hour.humidity_pct) for hour in plan.air.get(room, ())]


def damp_spans(hours: Sequence[tuple[datetime, float]], across: Scale) -> list[Span]:
    """Where the air of a room is at the damp line or above, on the page."""
    spans: list[Span] = []
    ends = [at for at, _ in hours[1:]] + [across.end]
    begin: datetime | None = None
    for (at, humidity), end in zip(hours, ends, strict=True):
        if humidity >= DAMP_PCT and begin is None:
            begin = at
        if begin is not None and (humidity < DAMP_PCT or end is ends[-1]):
            stop = at if humidity < DAMP_PCT else max(end, across.end)
            left, right = across.x(begin), across.x(stop)
            if right > left:
                spans.append(Span(x=tenth(left), width=tenth(right - left)))
            begin = None
    return spans


def air_panel(
    job: Job, plan: Plan, airs: Mapping[str, RoomAir], across: Scale
) -> AirPanel:
    """The humidity outdoors and in the rooms over the hours of the page."""
    outdoors = _curve([(row.at, row.humidity_pct) for row in job.outdoors], across)
    by_room = [
        dict(rows)
        for room in job.rooms
        if (rows := room_humidity(job, plan, airs, room.id))
    ]
    moments = sorted(set().union(*by_room)) if by_room else []
    low, high = [], []
    last: list[float | None] = [None] * len(by_room)
    for moment in moments:
        last = [
            hours.get(moment, kept) for hours, kept in zip(by_room, last, strict=True)
        ]
        known = [value for value in last if value is not None]
        low.append((moment, min(known)))
        high.append((moment, max(known)))
    if len(moments) == 1:  # air that never changes
        low.append((max(across.end, moments[0]), low[0][1]))
        high.append((max(across.end, moments[0]), high[0][1]))
    driest, dampest = _curve(low, across), _curve(high, across)
    return AirPanel(
        outdoors=points(outdoors),
        outdoors_end_y=outdoors[-1][1] if outdoors else None,
        rooms=points([*dampest, *reversed(driest)]) if dampest else "",
        dampest=points(dampest),
        rooms_end_y=dampest[-1][1] if dampest else None,
        damp_y=tenth(_humidity_y(DAMP_PCT)),
        damp_text_y=tenth(_humidity_y(DAMP_PCT) + 4),
    )


def _curve(
    hours: Sequence[tuple[datetime, float]], across: Scale
) -> list[tuple[float, float]]:
    """The hours on the page as a line, held to both ends from the hours beyond."""
    if not hours:
        return []
    before = [value for at, value in hours if at <= across.start]
    inside = [(at, value) for at, value in hours if across.start < at < across.end]
    if not before and not inside:
        return []
    line = [(across.start, before[-1])] if before else []
    line += inside
    if any(at >= across.end for at, _ in hours):
        line.append((across.end, line[-1][1]))
    if len(line) < 2:
        return []
    return thinned([(across.x(at), _humidity_y(value)) for at, value in line])


def _humidity_y(humidity_pct: float) -> float:
    share = (min(max(humidity_pct, _DRIEST_PCT), _DAMPEST_PCT) - _DRIEST_PCT) / (
        _DAMPEST_PCT - _DRIEST_PCT
    )
    return AIR_FOOT - share * (AIR_FOOT - AIR_TOP)
