"""Weak points of a plan in words of the trade: what may fail, what makes it good."""

from datetime import datetime

from scheduling.chance import SAFE_CHANCE, cases_text
from scheduling.problem import AirControl, Job
from scheduling.process import called, day_text, minutes_text
from scheduling.risk_facts import Need, Rest
from scheduling.wet_edge import NARROWEST_M

_NOT_YET = {
    "open": "still open",
    "touch": "still tacky",
    "recoat": "not yet fit to recoat",
    "through": "not yet dry through",
    "hard": "not yet hard enough to go over",
    "cured": "not yet cured",
    "tack": "not yet at tack",
    "closes": "still tacky",
}
# Families whose wait is the air's to shorten: drier for those that lose water, warmer
# for those that react (drying laws of ``rate_laws``).
_WANT_DRY = frozenset({"waterborne", "glaze", "distemper", "gypsum", "water-size"})
_WANT_WARM = frozenset({"oil", "oil-size", "two-part"})


def gate_text(
    job: Job,
    rest: Rest,
    need: Need,
    chance: float,
    better: datetime | None,
    *,
    in_window: bool,
) -> str:
    """A coat that may not be ready when the stint is planned to start.

    ``better`` is the start that makes it 9 of 10; ``in_window``, whether the coat's
    window is then still open.
    """
    coat = need.coat
    step = coat.step.name or coat.step.id
    if coat.surface.id != rest.surface.id:
        step = f"{_place(coat.surface.id, coat.section, job)}, {step}"
    told = (
        f"{_head(job, rest)}: in {cases_text(1 - chance)} {step} is "
        f"{_NOT_YET.get(need.stage, 'not ready')} at {day_text(rest.stint.start, job)}"
    )
    if need.code == "corner":
        told += ", when the wall beside it is laid wet"
    elif need.code != "wait":
        told += f", when this makes {need.code}"
    if rest.tested and need.code == "wait":
        return f"{told}; a test is planned first"
    if chance >= SAFE_CHANCE:
        return told
    if better is None:
        return f"{told}; no later start makes it 9 of 10{_air_helps(job, need)}"
    told += f"; starting at {_when(rest.stint.start, better, job)} makes it 9 of 10"
    if not in_window:
        return f"{told}, but its window may be shut by then: book a test"
    return told + _air_helps(job, need)


def window_text(
    job: Job, rest: Rest, need: Need, chance: float, better: datetime | None
) -> str:
    """A coat whose window may have shut by the planned start."""
    step = need.coat.step.name or need.coat.step.id
    told = (
        f"{_head(job, rest)}: in {cases_text(1 - chance)} the window of {step} has "
        f"closed by {day_text(rest.stint.start, job)}"
    )
    if rest.tested:
        return f"{told}; a test is planned first"
    if chance >= SAFE_CHANCE:
        return told
    if better is not None:
        when = _when(rest.stint.start, better, job)
        return f"{told}; starting by {when} makes it 9 of 10"
    return f"{told}; no start is 9 of 10 for wait and window both: book a test"


def open_text(job: Job, rest: Rest, chance: float, needed_min: float) -> str:
    """A coat that may set before its strip is joined."""
    told = (
        f"{_head(job, rest)}: in {cases_text(1 - chance)} it stays open for less than "
        f"the {minutes_text(needed_min)} that a strip of {NARROWEST_M:g} m wants at "
        f"{day_text(rest.stint.start, job)}"
    )
    if chance >= SAFE_CHANCE:
        return told
    return f"{told}; one more hand, a slower medium or a stop line helps"


def _head(job: Job, rest: Rest) -> str:
    name = rest.step.name or rest.step.id
    kind = "" if rest.stint.kind == "work" else f"{rest.stint.kind} before "
    return f"{_place(rest.surface.id, rest.stint.section, job)}, {kind}{name}"


def _place(surface_id: str, section: str | None, job: Job) -> str:
    """Room and surface, the room not twice where the surface bears its name."""
    surface = job.surface(surface_id)
    room = job.room(surface.room)
    room_name, name = room.name or room.id, called(surface)
    told = name if name.startswith(room_name) else f"{room_name}, {name}"
    return f"{told} {section}" if section else told


def _when(planned: datetime, better: datetime, job: Job) -> str:
    one, other = (m.astimezone(job.site.tz) for m in (planned, better))
    if one.date() == other.date():
        return f"{other:%H:%M}"
    return day_text(better, job)


def _air_helps(job: Job, need: Need) -> str:
    """What in that room would bring the coat on; nothing where its air is given."""
    air = job.room(need.coat.surface.room).air
    if not isinstance(air, AirControl) or need.coat.surface.outside:
        return ""
    family = need.coat.material.family
    if family in _WANT_DRY and not air.dehumidifier_l_day:
        return "; a dehumidifier brings it forward"
    return "; a warmer room brings it forward" if family in _WANT_WARM else ""
