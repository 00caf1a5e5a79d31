"""Fans, windows and dehumidifiers in a finisher's words.

Pure: the engine's states in, sentences out, by the site's clock.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from jobs.calendar_words import ceil, label
from jobs.templatetags.plan_format import say_clock, say_moment
from scheduling.plan import Plan
from scheduling.problem import Job
from scheduling.room_care import Care, State, room_care


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomDay:
    """How one room is kept on one day: a line for each state."""

    room: str
    lines: tuple[str, ...]


def state_text(state: State) -> str:
    """ "fans off, windows shut, dehumidifier off"."""
    airing = (state.fan, state.windows, state.dehumidifier) == ("low", "ajar", None)
    said = [
        "fans off" if state.fan == "off" else "a fan on low, across and not at it",
        f"windows {state.windows}{' where it is drier outdoors' if airing else ''}",
    ]
    if state.dehumidifier is not None:
        said.append(f"dehumidifier {'on' if state.dehumidifier else 'off'}")
    return ", ".join(said)


def care_text(cares: Sequence[Care], zone: tzinfo) -> str:
    """A coat's states one after the other: "Fans off ... until 10:40; then ..."."""
    told = []
    for care in cares:
        until = ceil(care.end)
        same = until.astimezone(zone).date() == care.start.astimezone(zone).date()
        when = say_clock(until, zone) if same else say_moment(until, zone, care.start)
        told.append(f"{state_text(care.state)} until {when}")
    text = "; then ".join(told)
    return f"{text[:1].upper()}{text[1:]}" if text else ""


def next_care(
    job: Job, plan: Plan, days: Sequence[date], today: date, zone: tzinfo
) -> tuple[date | None, tuple[RoomDay, ...]]:
    """The first of the days, from today on, with rooms to keep to; None without."""
    for day in days:
        if day >= min(today, days[-1]):
            found = tuple(rooms_on(job, plan, day, zone))
            if found:
                return day, found
    return None, ()


def rooms_on(job: Job, plan: Plan, day: date, zone: tzinfo) -> Iterable[RoomDay]:
    """Each room with anything to keep to on a day, in the job's order."""
    cares = room_care(job, plan.stints)
    for room in job.rooms:
        lines = tuple(
            _line(care, day, zone)
            for care in cares.get(room.id, ())
            if care.start.astimezone(zone).date() <= day
            and day <= care.end.astimezone(zone).date()
        )
        if lines:
            yield RoomDay(room=label(room), lines=lines)


def _line(care: Care, day: date, zone: tzinfo) -> str:
    """ "08:00 to 10:40: fans off, windows shut"."""

    def clock(moment: datetime, before: str, after: str) -> str:
        local = moment.astimezone(zone).date()
        if local < day:
            return before
        return say_clock(moment, zone) if local == day else after

    start = clock(ceil(care.start), "from before", "")
    end = clock(ceil(care.end), "", "overnight")
    span = f"{start} to {end}" if end != "overnight" else f"{start} and {end}"
    return f"{span}: {state_text(care.state)}"
