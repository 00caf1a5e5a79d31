"""What site, room and wall have against a surface's next step: the planner's own bars.

Hours open to the public, quiet and smell-free hours, the sun, other trades, gates that
shut, access and how many a room holds. The site's working hours hold nothing: whoever
asks is there.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from scheduling.bars import span_barring, why_barred
from scheduling.problem import Step, Surface
from scheduling.process import Bar, day_text, slots_of
from scheduling.readiness_look import Look
from scheduling.readiness_state import HeldBy, moment_range
from scheduling.wet_edge import people
from scheduling.working_time import SLOT_MIN, Mask, room_spans


def heads_hold(look: Look, surface: Surface, step: Step) -> Iterable[HeldBy]:
    """A room that is full: so many are in it, and the step needs so many more.

    A coat being put on counts with the fewest hands that its step may have.
    """
    room = look.job.room(surface.room)
    if room.hands_most is None:
        return
    name, least = room.name or room.id, step.hands.least
    if least > room.hands_most:
        text = f"Needs {people(least)} at once; {name} holds {room.hands_most}."
        yield HeldBy(code="room", text=text)
        return
    inside = sorted(
        (coat.end, look.job.step_of(coat.surface, coat.step).hands.least)
        for coat in look.coats
        if coat.end > look.at and look.job.surface(coat.surface).room == room.id
    )
    count = sum(hands for _, hands in inside)
    if count + least <= room.hands_most:
        return
    at_work = count
    for end, hands in inside:
        count -= hands
        if count + least <= room.hands_most:
            text = (
                f"{name} holds {room.hands_most} at a time: {people(at_work)} at work "
                f"there, room again {day_text(end, look.job)}."
            )
            yield HeldBy(code="room", text=text, until=moment_range(end))
            return


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteWord:
    """What bars a start at a moment, and the first one that air and bars allow."""

    holds: tuple[HeldBy, ...]
    free: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Crew:
    """The step by so many hands: its bars, and the starts that all leave."""

    slots: int
    bars: tuple[Bar, ...]
    may_start: Mask


def site_word(
    look: Look, surface: Surface, step: Step, section: str | None, moment: datetime
) -> SiteWord:
    """What the site says of a start at ``moment``, by the crew that is free soonest.

    Asked of the least that is done at a time: a section, or the beginning of a step
    that splits. A moment later than a plan looks ahead is not held.
    """
    axis = look.openings.axis
    minute = axis.minute_of(moment)
    slot = max(int(axis.slots_until(np.array([minute]))[0]), 0)
    if minute >= axis.minute[slot] + SLOT_MIN:  # in a break, or beyond
        slot += 1
    crews = [
        crew
        for crew in _crews(look, surface, step, section)
        if slot + crew.slots <= len(axis)
    ]
    if not crews:
        return SiteWord(holds=(), free=moment)
    crew = min(crews, key=lambda crew: _first(crew.may_start, slot))
    if crew.may_start[slot]:
        return SiteWord(holds=(), free=moment)
    first = _first(crew.may_start, slot)
    free = axis.start_of(first) if first < len(axis) else None
    return SiteWord(holds=tuple(_in_turn(look, crew, slot, first)), free=free)


def _in_turn(look: Look, crew: _Crew, slot: int, free: int) -> Iterable[HeldBy]:
    """What bars a start in the slot, and what bars the next when that is over.

    Up to the first start that all leave. Of one bar's hours the first and the last.
    """
    found: dict[int, list[tuple[int, HeldBy]]] = {}
    while slot < free:
        barring = [n for n, bar in enumerate(crew.bars) if not bar.may_start[slot]]
        if not barring:
            break  # the air alone
        for n in barring:
            hold = _held(look, crew.bars[n], slot)
            found[n] = [*found.get(n, [])[:1], (slot, hold)]
        slot = max(_first(crew.bars[n].may_start, slot) for n in barring)
    told = [row for rows in found.values() for row in rows]
    yield from (hold for _, hold in sorted(told, key=lambda row: row[0]))


def _crews(
    look: Look, surface: Surface, step: Step, section: str | None
) -> Iterable[_Crew]:
    openings = look.openings
    material = look.materials[step.material] if step.material else None
    area_m2 = _least_m2(look, surface, step, section)
    air = np.ones(len(openings.axis), dtype=bool)
    if material is not None:
        air = look.tables.may_start(surface, material.family)
    for hands in openings.counts(surface, step) or [step.hands.least]:
        slots = slots_of(step, area_m2, hands)
        bars = (
            *_access(look, surface),
            *openings.barred(surface, step, area_m2, hands),
            *openings.bars.forbidden(surface, step, section, slots),
        )
        free = air.copy()
        for bar in bars:
            free &= bar.may_start
        yield _Crew(slots=slots, bars=bars, may_start=free)


def _least_m2(look: Look, surface: Surface, step: Step, section: str | None) -> float:
    """The least of a step that may be done by itself."""
    in_turns = look.job.in_relay and not step.wet
    if step.splits or in_turns:
        return 0.0
    shares = dict(surface.sections)
    share = shares[section] if section else min(shares.values())
    return surface.area_m2 * share


def _access(look: Look, surface: Surface) -> Iterable[Bar]:
    """No start in a room outside the hours of its access; its spans are these hours.

    How much fits before they end is for the page of the wall, as with working hours.
    """
    openings, room = look.openings, look.job.room(surface.room)
    if room.access is not None:
        axis, at, days = openings.axis, openings.at, openings.days
        yield Bar(
            code="access",
            may_start=openings.entry[room.id],
            spans=tuple(room_spans(look.job, room, axis.origin, at, days)),
            name=room.name or room.id,
        )


def _held(look: Look, bar: Bar, slot: int) -> HeldBy:
    axis, job = look.openings.axis, look.job
    first = _first(bar.may_start, slot)
    left = first < len(axis)
    until = moment_range(axis.start_of(first)) if left else None
    if bar.code == "access":
        days = look.openings.days
        text = f"{bar.name} may not be entered in the next {days} days."
        if left:
            minute = float(axis.minute[first])
            span = next(span for span in bar.spans if span[1] > minute)
            since, end = (day_text(axis.moment(edge), job) for edge in span)
            text = f"{bar.name} may be entered {since} to {end}."
        return HeldBy(code=bar.code, text=text, until=until)
    text, over = why_barred(bar, axis, slot), span_barring(bar, axis, slot)[1]
    if not left and np.isfinite(over):
        text += f" No start is left in the next {look.openings.days} days."
    elif left and axis.minute[first] >= over + SLOT_MIN:
        text += f" Next start {day_text(axis.start_of(first), job)}."
    return HeldBy(code=bar.code, text=text, until=until)


def _first(may_start: Mask, slot: int) -> int:
    """The first start from a slot on; the number of slots where none is left."""
    found = np.flatnonzero(may_start[slot:])
    return slot + int(found[0]) if len(found) else len(may_start)
