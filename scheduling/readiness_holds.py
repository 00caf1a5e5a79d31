"""What the coats, the order of work and the air have against a surface's next step.

Each rule yields what holds, in words, and until when. Hours, rooms and other trades
stand in ``readiness_site``.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

import numpy as np

from scheduling import cautions
from scheduling.explanation import STAGE_WORDS
from scheduling.ground import laid_on
from scheduling.plan import Range
from scheduling.problem import Family, Step, Surface
from scheduling.process import (
    FLOOR_RANK,
    RANKS,
    Logged,
    called,
    called_step,
    day_text,
)
from scheduling.readiness_look import Look
from scheduling.readiness_state import HeldBy, SurfaceState, moment_range
from scheduling.rules import corners_logged, kept_clear

_JOT_MIN = 1 / 60  # moments are told to the second


def coat_holds(
    look: Look, blank: SurfaceState, opens: Range | None
) -> Iterable[HeldBy]:
    """The coat below, where it is not likely ready."""
    if opens is None or (opens.likely is not None and opens.likely <= look.at):
        return
    name = _coat_name(look, blank)
    if blank.stage is None or blank.stage == "":
        yield HeldBy(code="wait", text=f"{name} is not finished.", until=opens)
    elif opens.likely is None:
        text = f"{name} never gets there in this air: warm and dry the room."
        yield HeldBy(code="never-ends", text=text, until=opens)
    else:
        when = day_text(opens.likely, look.job)
        safe = "not known" if opens.safe is None else day_text(opens.safe, look.job)
        text = f"{name} {STAGE_WORDS[blank.stage]} about {when}, safe {safe}."
        yield HeldBy(code="wait", text=text, until=opens)


def _coat_name(look: Look, blank: SurfaceState) -> str:
    if blank.last_coat is None:
        return "The step before"
    step = look.job.step_of(blank.surface.id, blank.last_coat.step)
    return step.name or step.id


def window_missed(look: Look, step: Step, closes: Range) -> HeldBy:
    """The window that has shut, and the recipe's word on what to do then."""
    assert closes.safe is not None  # noqa: S101 - asked by the caller
    text = f"The window closed {day_text(closes.safe, look.job)}."
    rescue = step.rescue
    if rescue is None:
        text += " The recipe states no rescue: test adhesion, scuff, ask the lead."
    elif rescue.stage:
        text += " Rescue first: lay the coat before once more."
    else:
        text += " Rescue first: scuff or tie in, then go on."
    return HeldBy(code="window", text=text)


def work_holds(look: Look, surface: Surface, step: Step) -> Iterable[HeldBy]:
    """Gates, what comes first, what is in the air: all but the coat's own wait."""
    for gate in surface.gates:
        if gate.not_before is not None and gate.not_before > look.at:
            when = day_text(gate.not_before, look.job)
            yield HeldBy(
                code="gate",
                text=f"Not before {gate.name}: {when}.",
                until=moment_range(gate.not_before),
            )
    if step.material is not None and not look.has_coat(surface):
        yield from _above(look, surface)
    yield from _apart(look, surface, step)
    if step.material is not None:
        family = look.materials[step.material].family
        yield from air_holds(look, surface, family, look.at)


def _above(look: Look, surface: Surface) -> Iterable[HeldBy]:
    if look.job.room(surface.room).any_order:
        return
    rank = RANKS.get(surface.kind, FLOOR_RANK)
    for other in look.job.surfaces:
        if (
            other.room == surface.room
            and RANKS.get(other.kind, FLOOR_RANK) < rank
            and not look.finished(other)
        ):
            text = f"Top before bottom: {called(other)} comes first."
            yield HeldBy(code="order", text=text)
            return


def _apart(look: Look, surface: Surface, step: Step) -> Iterable[HeldBy]:
    """Dust, steam and solvent against tacky coats, both ways; wet edges in corners."""
    axis = look.openings.axis
    now = axis.minute_of(look.at) + _JOT_MIN
    for logged in kept_clear(look.openings, look.tables, surface, step):
        if logged.minute > now:
            yield _kept_off(look, logged)
    # Any part of the wall may be next: as if the whole of it were.
    for logged in corners_logged(look.openings, look.tables, surface, step, None):
        if logged.minute > now:
            yield _kept_off(look, logged)


def _kept_off(look: Look, logged: Logged) -> HeldBy:
    coat, job = logged.coat, look.job
    other = job.surface(coat.surface)
    theirs = job.step_of(coat.surface, coat.step)
    name = called_step(other, theirs)
    if logged.stage:
        assert theirs.material is not None  # noqa: S101 - only a coat has a stage
        material = look.materials[theirs.material]
        clear = look.clock(
            other, material, laid_on(job, other, theirs), logged.stage, coat.end
        )
        text = f"Makes {logged.what}: {name} is still open or tacky."
        if logged.what == "corner":
            text = f"Meets {name} in a corner, which is wet: opposite walls first."
        return HeldBy(code=logged.what, text=text, until=clear)
    over = look.openings.axis.moment(logged.minute)
    if logged.what == "corner":
        text = f"Meets {name} in a corner, which is being laid: opposite walls first."
    elif logged.what not in theirs.airborne:
        text = f"Makes {logged.what}: {name} is being laid."
    elif coat.end <= look.at:
        text = f"The dust of {name} settles until {day_text(over, job)}."
    else:
        text = f"{name} makes {logged.what} in the same air."
        if over > coat.end:
            text += f" It settles until {day_text(over, job)}."
    return HeldBy(code=logged.what, text=text, until=moment_range(over))


def air_ahead(
    look: Look, surface: Surface, family: Family, moment: datetime
) -> Iterable[HeldBy]:
    """The air that will stop the step at a moment to come."""
    when = day_text(moment, look.job)
    for hold in air_holds(look, surface, family, moment):
        yield replace(hold, text=f"{when}: {hold.text}")


def air_holds(
    look: Look, surface: Surface, family: Family, moment: datetime
) -> Iterable[HeldBy]:
    """What the air at a moment has against a coat, and until when."""
    air = look.airs[surface.id]
    place = air.index(air.minute(moment))
    found = cautions.blocked_by(family, air, place)
    if not found:
        return
    free = np.flatnonzero(~cautions.blocked(family, air)[place:])
    until = None
    if len(free):
        clear = air.moment((place + int(free[0])) * air.step_min)
        until = moment_range(clear.astimezone(look.job.site.tz))
    for caution in found:
        yield HeldBy(code=caution.code, text=caution.text, until=until)
