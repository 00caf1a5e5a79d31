"""Pins: which one a step has, and why a stint cannot stand where its pin is."""

from collections.abc import Iterable

from scheduling.openings import Openings
from scheduling.plan import Reason
from scheduling.problem import Job, Pin, Step, Surface
from scheduling.process import Process, Unit, day_text, earliest_ends
from scheduling.working_time import SLOT_MIN


def pins_on(
    job: Job, surface: Surface, step: Step, section: str | None, *, first: bool
) -> Iterable[Pin]:
    """The pins of a step on a section; those that name none are its first stint's."""
    for pin in job.pins:
        if (pin.surface, pin.step) != (surface.id, step.id):
            continue
        if pin.section == section if pin.section else first:
            yield pin


def why_not_there(openings: Openings, unit: Unit) -> Reason | None:
    """Why a unit cannot stand where it is pinned, where hours and hands tell."""
    axis, step, pin = openings.axis, unit.step, unit.pinned
    if pin is None or not unit.modes:
        return None
    slot = axis.slot_from(axis.minute_of(pin.start))
    if slot >= len(axis):
        return None
    named = [hand for hand in openings.hands if hand.id in pin.hands]
    why = None
    if axis.minute[slot] - axis.minute_of(pin.start) >= SLOT_MIN:
        why = "outside the hours of the site and the hands"
    elif named and len(named) not in step.hands.counts:
        least, most = step.hands.counts[0], step.hands.counts[-1]
        needs = f"{least} to {most}" if most > least else f"{least}"
        why = f"with {len(named)} named, and the step takes {needs}"
    elif named and step.skill and not any(step.skill in h.skills for h in named):
        why = f"with nobody who has the skill {step.skill}"
    elif set(pin.hands) & unit.kept_off:
        why = "with a hand who is kept off it"
    elif any(
        bar.code == "ban" and not bar.may_start[slot : slot + 2].any()
        for mode in unit.modes
        for bar in mode.bars
    ):
        why = "at a time that is forbidden for it"
    elif not unit.release <= slot <= unit.due:
        why = "when a gate or a coat already on does not allow it"
    elif not any(mode.may_start[slot : slot + 2].any() for mode in unit.modes):
        why = "where hours, hands or air do not allow a start"
    elif not all(hand.there[slot] for hand in named):
        why = "when a hand named is not there"
    return None if why is None else _fails(openings.job, unit, pin, why)


def pins_too_early(process: Process) -> Iterable[Reason]:
    """Pins that the steps before cannot make, were hands without limit."""
    axis = process.axis
    ends = earliest_ends(process)
    for unit in process.units:
        if unit.pinned is None:
            continue
        slot = axis.slot_from(axis.minute_of(unit.pinned.start))
        for wait in process.before[unit.index]:
            end = ends[wait.before]
            late = end > len(wait.low) or int(wait.low[end - 1 :].min()) > slot
            if slot < len(axis) and late:
                before = process.units[wait.before]
                why = f"before {before.step.name or before.step.id} can be ready"
                yield _fails(process.job, unit, unit.pinned, why)


def _fails(job: Job, unit: Unit, pin: Pin, why: str) -> Reason:
    text = f"{unit.called}, is pinned to {day_text(pin.start, job)}, {why}"
    return Reason(code="pin", text=text)
