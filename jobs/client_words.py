"""What a client is told of a plan: rooms, dates, what must not happen, what moved.

Pure: values in, sentences out, by the site's clock. Nothing here names a hand: reasons
are told by their kind, never by the planner's own sentence.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta, tzinfo

from jobs.calendar_facts import as_logged
from jobs.calendar_words import ceil, floor, label
from jobs.templatetags.plan_format import NEVER, say_day, say_moment, say_place
from scheduling import plan, problem

# The first of these that a label knows lets people into a room again, with care.
ENTER = ("touch", "recoat", "tack", "through", "hard")
PROMISED = {
    "handle": "Touch and handle",
    "load": "Put furniture back",
    "wash": "Wash down",
    "full": "Use it fully",
}
# Assumed: what a client would call the same hour.
SAME = timedelta(minutes=30)
DAY_BEGINS = time(8)
# Common practice, no source.
EVERYWHERE = (
    "Windows, heating and fans stay as the crew left them.",
    "Nothing dusty near it: no sanding, cutting or sweeping next door.",
)
MOST_NAMED = 3
WHY: Mapping[str, str] = {
    "wait": "the coat before is ready at another hour",
    "window": "a coat has to go on while the one under it still takes it",
    "air": "the air is too damp or too cold to put a coat on before",
    "gate": "it waits for something that has to happen first",
    "dust": "the dust of other work has to settle first",
    "steam": "the steam of other work has to go first",
    "solvent": "the fumes of other work have to go first",
    "hours": "of the hours in which work may go on there",
    "room": "only so many can work in one room",
    "order": "what is above is done first",
    "trade": "of the other trades on site",
    "hands": "the crew is at work in other rooms until then",
    "pin": "it was agreed to be done then",
}
OTHERWISE = "the whole of the work ends sooner that way"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientRoom:
    """One room: when it is out of use, its dates, and what must not happen in it."""

    name: str
    use: str
    out: bool
    dates: tuple[tuple[str, str], ...]
    donts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomTimes:
    """From its first work to the moment it may be entered; None where it never may."""

    start: datetime
    until: datetime | None
    promises: Mapping[str, datetime | None]
    last: plan.Stint


def room_times(
    job: problem.Job, stints: Iterable[plan.Stint]
) -> Mapping[str, RoomTimes]:
    """By room with work, in the job's order; logged coats at the time they were on."""
    by_room: dict[str, list[plan.Stint]] = {}
    for stint in stints:
        room = _room_of(job, stint)
        if room is not None and stint.kind == "work":
            by_room.setdefault(room, []).append(as_logged(stint, job.coats) or stint)
    return {
        room.id: _times(by_room[room.id]) for room in job.rooms if room.id in by_room
    }


def enter_at(stint: plan.Stint) -> datetime | None:
    """When people may go in again after a stint; None where its coat never dries."""
    stage = next((stage for stage in ENTER if stage in stint.ready), None)
    return stint.end if stage is None else stint.ready[stage].safe


def latest(moments: Iterable[datetime | None]) -> datetime | None:
    """The last of them; None, which is never, where one is."""
    known = []
    for moment in moments:
        if moment is None:
            return None
        known.append(moment)
    return max(known)


def _times(stints: list[plan.Stint]) -> RoomTimes:
    last = max(stints, key=lambda stint: (stint.end, stint.id))
    promises: dict[str, datetime | None] = {}
    for name in PROMISED:
        given = [
            stint.promises[name].safe for stint in stints if name in stint.promises
        ]
        if given:
            promises[name] = latest(given)
    return RoomTimes(
        start=min(stint.start for stint in stints),
        until=latest(enter_at(stint) for stint in stints),
        promises=promises,
        last=last,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientWords:
    """One issued plan as its client reads it; ``before``: the one issued before."""

    job: problem.Job
    planned: plan.Plan
    before: plan.Plan | None
    now: datetime
    zone: tzinfo

    @property
    def rooms(self) -> Iterator[ClientRoom]:
        """Every room with work, those out of use first."""
        found = [
            self._room(self.job.room(key), times)
            for key, times in room_times(self.job, self.planned.stints).items()
        ]
        return iter(sorted(found, key=lambda room: not room.out))

    @property
    def needed(self) -> Iterator[tuple[str, str]]:
        """What has to be decided or to have happened, and by when; soonest first."""
        found: dict[str, tuple[datetime, str]] = {}
        for surface in self.job.surfaces:
            for gate in surface.gates:
                by = self._waits(surface, gate)
                if by is None or (gate.name in found and found[gate.name][0] <= by):
                    continue
                room = label(self.job.room(surface.room))
                found[gate.name] = by, say_place(room, label(surface))
        for name, (by, place) in sorted(found.items(), key=lambda row: row[1]):
            yield name, f"by {self._by(by)}: then {place} needs it"

    @property
    def moved(self) -> tuple[str, ...]:
        """Two lines on what moved since the plan issued before, and why; or none."""
        if self.before is None:
            return ()
        new = room_times(self.job, self.planned.stints)
        old = room_times(self.job, self.before.stints)
        moved = {
            key: (old[key].until, times.until)
            for key, times in new.items()
            if key in old and _apart(old[key].until, times.until)
        }
        if not moved:
            return ("No room is out of use for longer or shorter than told before.",)
        told = [
            f"{label(self.job.room(key))} until {self._at(now)} instead of "
            f"{self._at(was)}"
            for key, (was, now) in moved.items()
        ]
        more = len(told) - MOST_NAMED
        rest = f"; and {more} more" if more > 0 else ""
        still = "" if len(moved) == len(new) else " The other rooms stay as told."
        first = next(iter(moved))
        return (
            f"Out of use: {'; '.join(told[:MOST_NAMED])}{rest}.{still}",
            f"Because {self._why(first)}.",
        )

    def _room(self, room: problem.Room, times: RoomTimes) -> ClientRoom:
        until = times.until
        out = until is None or until > self.now
        if not out:
            use = "In use again."
        elif times.start > self.now:
            use = f"Out of use from {self._by(times.start)} until {self._at(until)}."
        else:
            use = f"Out of use until {self._at(until)}."
        return ClientRoom(
            name=label(room),
            use=use,
            out=out,
            dates=tuple(
                (PROMISED[name], self._from(when))
                for name, when in times.promises.items()
            ),
            donts=tuple(self._donts(times)) if out else (),
        )

    def _donts(self, times: RoomTimes) -> Iterator[str]:
        """Common practice, no source."""
        yield f"Nobody goes in but the crew, until {self._at(times.until)}."
        for name, text in (
            ("load", "Nothing is put down, hung up or leant against it before"),
            ("wash", "No water and no cleaning on it before"),
        ):
            when = times.promises.get(name)
            if when is not None:
                yield f"{text} {self._day(when)}."

    def _waits(self, surface: problem.Surface, gate: problem.Gate) -> datetime | None:
        """The start of the first work still to come that the gate must open."""
        if gate.not_before is None:
            return None
        starts = [
            stint.start
            for stint in self.planned.stints
            if stint.surface == surface.id
            and stint.start >= gate.not_before
            and stint.start > self.now
            and as_logged(stint, self.job.coats) is None
        ]
        begun = any(
            coat.surface == surface.id and coat.start >= gate.not_before
            for coat in self.job.coats
        )
        return None if begun else min(starts, default=None)

    def _why(self, room: str) -> str:
        """What holds the first stint of the room that moved, by its kind alone."""
        before = (
            {stint.id: stint for stint in self.before.stints} if self.before else {}
        )
        for stint in sorted(self.planned.stints, key=lambda stint: stint.start):
            was = before.get(stint.id)
            moved = was is None or _apart(was.start, stint.start)
            if moved and _room_of(self.job, stint) == room:
                return WHY.get(stint.reason.code, OTHERWISE)
        return "coats take another time to dry in the air that is expected now"

    def _from(self, moment: datetime | None) -> str:
        """From which day on; nobody furnishes a room at ten past four in the night."""
        if moment is None:
            return NEVER
        return "now" if moment <= self.now else f"from {self._day(moment)}"

    def _day(self, moment: datetime) -> str:
        """The first day on which it holds all day long."""
        local = moment.astimezone(self.zone)
        if local.time() > DAY_BEGINS:
            local += timedelta(days=1)
        day = say_day(local, self.zone)
        this_year = local.year == self.now.astimezone(self.zone).year
        return day if this_year else f"{day} {local.year}"

    def _at(self, moment: datetime | None) -> str:
        if moment is None:
            return NEVER
        return say_moment(ceil(moment), self.zone, self.now)

    def _by(self, moment: datetime) -> str:
        return say_moment(floor(moment), self.zone, self.now)


def _apart(was: datetime | None, now: datetime | None) -> bool:
    if was is None or now is None:
        return was is not now
    return abs(now.timestamp() - was.timestamp()) >= SAME.total_seconds()


def _room_of(job: problem.Job, stint: plan.Stint) -> str | None:
    """The stint's room; None where the job no longer has its surface."""
    try:
        return job.surface(stint.surface).room
    except KeyError:
        return None
