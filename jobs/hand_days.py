"""A hand's days by the issued plan: today in full, the next ones in a line a stint.

Pure: values in, values out, in the link's units and by the site's clock. Pages and
paper both tell them.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, tzinfo

from jobs.calendar_facts import as_logged, covers, is_known
from jobs.calendar_lines import StintLines
from jobs.calendar_words import READY, ceil, floor, in_units, label, names_in
from jobs.measures import say_in
from jobs.templatetags.plan_format import (
    say_clock,
    say_day,
    say_length,
    say_minutes,
    say_moment,
)
from scheduling import plan, problem
from scheduling.air_of_job import job_air
from scheduling.problem import Air
from scheduling.room_air import RoomAir
from scheduling.this_wall import wall_now

AHEAD_DAYS = 7
# Assumed: older work that nobody logged is the lead's to clear up, not the hand's.
LEFT_OVER_DAYS = 3
_SOON = timedelta(minutes=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayStint:
    """One stint as its hand reads it; ``lines`` are names and what is said of them."""

    id: str
    kind: str
    room: str
    surface: str
    step: str
    section: str
    what: str
    place: str
    when: str
    starts: datetime
    ends: datetime
    shuts: str
    why: str
    lines: tuple[tuple[str, str], ...]
    donts: tuple[str, ...]
    below: str  # the coat that it waits for, where it is on
    done: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NextDay:
    """A later day: its stints in short."""

    day: date
    name: str
    stints: tuple[DayStint, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HandDays:
    """Today and the next days of one hand."""

    today: tuple[DayStint, ...]
    left_over: tuple[DayStint, ...]  # planned before today, and nobody logged it
    following: tuple[NextDay, ...]
    rooms: tuple[tuple[str, str], ...]  # of the stints, ids and names


@dataclass(frozen=True, slots=True, kw_only=True)
class Teller:
    """The job and how its reader is told things."""

    job: problem.Job
    stints: tuple[plan.Stint, ...]
    now: datetime
    zone: tzinfo
    units: str
    air: Mapping[str, RoomAir] = field(default_factory=dict)

    def told(self, stint: plan.Stint, *, full: bool) -> DayStint:
        """A stint; ``full`` with strips, mix, air, tests and what to mind."""
        about = StintLines(job=self.job, stint=stint)
        logged = as_logged(stint, self.job.coats)
        what = label(about.step)
        if stint.kind != "work":
            what = f"{'Test' if stint.kind == 'test' else 'Rescue'} before {what}"
        below = self._below(about)
        shuts = below.closes if below else None
        return DayStint(
            id=stint.id,
            kind=stint.kind,
            room=about.room.id,
            surface=stint.surface,
            step=stint.step,
            section=stint.section or "",
            what=what,
            place=about.place,
            when=self._when(stint.start, stint.end),
            starts=stint.start,
            ends=stint.end,
            shuts=self._by(shuts.early) if shuts and shuts.early else "",
            why=self._sentence(stint.reason.text),
            lines=tuple(self._lines(about, below)) if full else (),
            donts=tuple(self._donts(about)) if full else (),
            below=self._name_below(about, below),
            done=f"Done, ended {self._at(logged.end)}" if logged else "",
        )

    def _when(self, start: datetime, end: datetime) -> str:
        clock = f"{say_clock(start, self.zone)} to {say_clock(end, self.zone)}"
        today = self.now.astimezone(self.zone).date()
        day = start.astimezone(self.zone).date()
        return clock if day == today else f"{say_day(start, self.zone)}, {clock}"

    def _lines(
        self, about: StintLines, below: plan.Stint | None
    ) -> Iterator[tuple[str, str]]:
        stint = about.stint
        told = [*about.crew(stint.hands, stint.roles)]
        strips = self._strips(about)
        if strips:
            yield from self._split(told)
            yield "Strips", strips
            told = []
        if stint.kind == "work":
            told += about.mix()
            told += about.open_for()
        told += [*about.air(), *about.test_first()]
        yield from self._split(told)
        after = self._wait(about)
        ready = below.ready.get(after.stage) if below and after else None
        if ready is not None and after is not None:
            name = READY.get(after.stage, after.stage).capitalize()
            yield f"{name} under it", self._ready(ready)

    def _split(self, told: Iterable[str]) -> Iterator[tuple[str, str]]:
        for line in told:
            name, _, rest = in_units(line, self.units).partition(": ")
            yield (name, rest) if rest else ("Open time", name)

    def _ready(self, ready: plan.Range) -> str:
        text = f"likely {self._at(ready.likely)}"
        return text if ready.safe is None else f"{text}, safe {self._at(ready.safe)}"

    def _strips(self, about: StintLines) -> str:
        """Strip width, hands and latest start in the air expected at that hour."""
        stint = about.stint
        air = self.air.get(stint.surface)
        if stint.kind != "work" or not about.step.wet or air is None:
            return ""
        at = max(self.now, stint.start)
        place = air.index(air.minute(at))
        wall = wall_now(
            self.job,
            about.surface,
            about.step,
            at=at,
            section=stint.section,
            air=Air(
                temperature_c=float(air.temperature_c[place]),
                humidity_pct=float(air.humidity_pct[place]),
            ),
            surface_c=float(air.surface_c[place]),
        )
        crew = next((row for row in wall.crews if row.hands == len(stint.hands)), None)
        if crew is None or wall.begins is None or wall.begins > at + _SOON:
            return ""
        if not crew.feasible:
            return self._sentence(crew.why)
        how = (
            f"**{say_length(crew.strip_m, self.units)}** wide, {crew.strips} in all"
            if crew.strips > 1
            else "the whole of it in one go"
        )
        last = wall.moment(crew.latest_start_min)
        text = f"{how}, about **{say_minutes(crew.wall_min)}**."
        if last is None:
            return text
        end = say_clock(wall.ends[crew.before], self.zone)
        by = say_clock(floor(last), self.zone)
        return f"{text} Start by **{by}** at the latest: {crew.before} is at {end}."

    def _donts(self, about: StintLines) -> Iterator[str]:
        for caution in about.stint.cautions:
            yield self._sentence(caution.text)
        if about.step.wet:
            yield "Do not go back into it once it drags, and keep the doors shut."
        if about.material is not None and about.material.oily:
            yield "Do not leave rags about: into the lidded metal can, out every day."
        if about.material is not None and about.material.solvent:
            yield "No flame, no spark, no smoking: its fumes burn."

    def _wait(self, about: StintLines) -> problem.After | None:
        materials = {material.id: material for material in self.job.materials}
        return problem.wait_of(about.recipe, about.step, materials)

    def _below(self, about: StintLines) -> plan.Stint | None:
        """The stint whose coat it waits for, at the time that was logged if it was."""
        after = self._wait(about)
        if after is None:
            return None
        for other in self.stints:
            if (other.surface, other.step, other.kind) == (
                about.stint.surface, after.step, "work",
            ) and covers(other.section, about.stint.section):  # fmt: skip
                return as_logged(other, self.job.coats) or other
        return None

    def _name_below(self, about: StintLines, below: plan.Stint | None) -> str:
        if below is None or below.end > self.now:
            return ""
        step = about.recipe.step(below.step)
        return label(step) if step.material else ""

    def _sentence(self, text: str) -> str:
        return say_in(text, self.units, names_in(self.job))

    def _at(self, moment: datetime | None) -> str:
        return self._near(None if moment is None else ceil(moment))

    def _by(self, moment: datetime) -> str:
        return self._near(floor(moment))

    def _near(self, moment: datetime | None) -> str:
        today = self.now.astimezone(self.zone).date()
        if moment is not None and moment.astimezone(self.zone).date() == today:
            return say_clock(moment, self.zone)
        return say_moment(moment, self.zone, self.now)


def hand_days(
    job: problem.Job,
    planned: plan.Plan,
    hand: str,
    *,
    now: datetime,
    zone: tzinfo,
    units: str,
    air: Mapping[str, RoomAir] | None = None,
) -> HandDays:
    """The hand's own stints from today on, and what is left over from before.

    ``air`` is each surface's from ``now`` on, worked out here where it is not given. A
    stint on a surface or of a step that the job no longer has is left out.
    """
    today = now.astimezone(zone).date()
    known = tuple(stint for stint in planned.stints if is_known(job, stint))
    mine = sorted(
        (stint for stint in known if hand in stint.hands),
        key=lambda stint: (stint.start, stint.id),
    )
    of_today = [stint for stint in mine if today in _days(stint, zone)]
    left_over = [stint for stint in mine if _is_left_over(job, stint, today, zone)]
    if air is None and any(stint.kind == "work" for stint in of_today):
        air = job_air(job, at=now, days=2).surfaces
    teller = Teller(
        job=job, stints=known, now=now, zone=zone, units=units, air=air or {}
    )
    later: dict[date, list[plan.Stint]] = {}
    for stint in mine:
        day = stint.start.astimezone(zone).date()
        if today < day <= today + timedelta(days=AHEAD_DAYS):
            later.setdefault(day, []).append(stint)
    rooms = {
        row.id: label(row)
        for stint in (*of_today, *left_over)
        for row in (job.room(job.surface(stint.surface).room),)
    }
    return HandDays(
        today=tuple(teller.told(stint, full=True) for stint in of_today),
        left_over=tuple(teller.told(stint, full=False) for stint in left_over),
        following=tuple(
            NextDay(
                day=day,
                name=say_day(stints[0].start, zone),
                stints=tuple(teller.told(stint, full=False) for stint in stints),
            )
            for day, stints in later.items()
        ),
        rooms=tuple(rooms.items()) or tuple((row.id, label(row)) for row in job.rooms),
    )


def _days(stint: plan.Stint, zone: tzinfo) -> set[date]:
    return {moment.astimezone(zone).date() for moment in (stint.start, stint.end)}


def _is_left_over(
    job: problem.Job, stint: plan.Stint, today: date, zone: tzinfo
) -> bool:
    last = max(_days(stint, zone))
    lately = today - timedelta(days=LEFT_OVER_DAYS) <= last < today
    return lately and stint.kind == "work" and as_logged(stint, job.coats) is None
