"""What This wall says: the answer, the crews, the mix, in a finisher's sentences.

Pure: the engine's value in, sentences out, in the reader's units and the site's time.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from jobs.calendar_words import floor, label, names_in
from jobs.measures import LENGTH, LIQUID, say, say_in
from jobs.templatetags.plan_format import (
    say_area,
    say_clock,
    say_length,
    say_minutes,
    say_moment,
    say_place,
)
from scheduling.mixing import Mix, waste_of
from scheduling.problem import Job
from scheduling.this_wall import WallNow
from scheduling.wet_edge import Option

_COUNT = ("No hands", "One hand", "Two hands", "Three hands", "Four hands")


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewLine:
    """One row of the table of crews; ``chosen`` for the one that the drawing shows."""

    who: str
    strip: str
    strips: str
    takes: str
    start_by: str
    why: str
    feasible: bool
    chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MixLine:
    """One batch: for what, how much in all, and each part of it."""

    what: str
    whole: str
    parts: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WallWords:
    """One wall as told to one reader."""

    wall: WallNow
    job: Job
    zone: tzinfo
    now: datetime
    units: str

    @property
    def names(self) -> frozenset[str]:
        """What people call things, never read as figures."""
        return names_in(self.job)

    @property
    def name(self) -> str:
        """Room, wall and section."""
        surface = self.wall.surface
        name = say_place(label(self.job.room(surface.room)), label(surface))
        return f"{name}, part {self.wall.section}" if self.wall.section else name

    @property
    def size(self) -> str:
        """ "5.0 m by 2.7 m, 12.1 m² without its openings"."""
        wall = self.wall
        sides = " by ".join(
            say_length(side, self.units)
            for side in (wall.width_m, wall.surface.height_m)
        )
        area = say_area(wall.area_m2, self.units)
        less = " without its openings" if wall.surface.openings_m2 else ""
        return f"{sides}, {area}{less}"

    @property
    def answer(self) -> str:
        """What to do, in a line with its figures bold."""
        wall = self.wall
        if wall.begins is None:
            return "This room is not open within a week."
        if not wall.crews:
            minutes = wall.step.minutes(wall.area_m2, wall.step.hands.least)
            who = _people(wall.step.hands.least)
            return f"No wet edge to keep. {who}, about **{say_minutes(minutes)}**."
        crew = wall.crew or wall.tight
        if crew is None:
            return f"Not as the step has it: {self._why_not}"
        if crew.strips > 1:
            how = f"strips **{say_length(crew.strip_m, self.units)}** wide"
        else:
            how = "the whole of it in one go"
        text = f"{_people(crew.hands)}, {how}, about **{say_minutes(crew.wall_min)}**."
        return (
            f"{text} {self._tight(crew) if wall.crew is None else self._start_by(crew)}"
        )

    @property
    def when(self) -> str:
        """When the wall may be begun, if that is not now."""
        begins = self.wall.begins
        if begins is None or begins <= self.now + timedelta(minutes=1):
            return ""
        return f"The room is next open {say_moment(begins, self.zone, self.now)}."

    @property
    def ends(self) -> str:
        """What ends wet work, in the order in which it comes."""
        told = [
            f"{name} at {say_clock(end, self.zone)}"
            for name, end in self.wall.ends.items()
        ]
        if not told or not self.wall.crews:
            return ""
        return f"Wet work ends with {', then '.join(told)}."

    @property
    def open_text(self) -> str:
        """How long it stays open and how much of that is used."""
        found = self.wall.open_time
        if found is None:
            return ""
        text = f"It stays open **{say_minutes(found.early_min)}** at least"
        if found.likely_min > found.early_min:
            text += f", likely {say_minutes(found.likely_min)}"
        if not self.wall.crews:
            return f"{text}."
        share = f"{self.wall.used_share * 100:.0f} %"
        why = ", since this air is dry" if self.wall.used_share < 0.7 else ""
        return f"{text}. Strips are reckoned with {share} of it{why}."

    @property
    def crews(self) -> Iterator[CrewLine]:
        """Each crew's row."""
        wall = self.wall
        for crew in wall.crews:
            why = say_in(crew.why, self.units, self.names)
            if crew not in wall.allowed:
                asked = _counts(wall.step.hands.counts)
                why = f"{why} The step is for {asked} at the wall."
            last = wall.moment(crew.latest_start_min)
            yield CrewLine(
                who=_people(crew.hands),
                strip=say(LENGTH, crew.strip_m, self.units),
                strips=" + ".join(map(str, crew.section_strips)),
                takes=say_minutes(crew.wall_min),
                start_by=self._last(crew, last),
                why=why,
                feasible=crew.feasible,
                chosen=crew is (wall.crew or wall.tight),
            )

    @property
    def mixes(self) -> Iterator[MixLine]:
        """The batch for this wall, and the one for all that get the same step."""
        wall = self.wall
        if wall.mix is None or wall.batch is None:
            return
        yield self._mix("This part" if wall.section else "This wall", wall.mix)
        if len(wall.shares) > 1 or wall.section:
            yield self._mix(self._all_of_it, wall.batch)

    @property
    def waste(self) -> str:
        """How much is mixed beyond what lies on the wall."""
        return f"{waste_of(self.job) * 100:g} %"

    @property
    def drawn(self) -> str:
        """The drawing in words."""
        wall = self.wall
        lines = [say_length(line, self.units) for line in wall.stop_lines_m]
        stops = (
            f" Stop lines at {', '.join(lines)} from the left." if lines else
            " No stop line: the wall goes in one session from end to end."
        )  # fmt: skip
        return f"{self.name}: {self.size}.{stops if wall.crews else ''}"

    @property
    def _all_of_it(self) -> str:
        count = len(self.wall.shares)
        return f"All {count} surfaces in one batch" if count > 1 else "The whole wall"

    @property
    def _why_not(self) -> str:
        why = say_in(self.wall.allowed[-1].why, self.units, self.names)
        return f"{why[:1].lower()}{why[1:]}"

    def _tight(self, crew: Option) -> str:
        end = self.wall.ends[crew.before]
        return (
            f"**Tight**: begun at once it just ends before {crew.before} at "
            f"{say_clock(end, self.zone)}, with no slack and no cleaning up."
        )

    def _start_by(self, crew: Option) -> str:
        last = self.wall.moment(crew.latest_start_min)
        if last is None:
            return ""
        end = self.wall.ends[crew.before]
        return (
            f"Start by **{say_clock(floor(last), self.zone)}** at the latest: "
            f"{crew.before} is at {say_clock(end, self.zone)}."
        )

    def _last(self, crew: Option, last: datetime | None) -> str:
        if last is None:
            return "any time"
        begins = self.wall.begins
        if begins is not None and last < begins:
            return f"too late before {crew.before}"
        return say_clock(floor(last), self.zone)

    def _mix(self, what: str, batch: Mix) -> MixLine:
        def amount(litres: float) -> str:
            return say(LIQUID, litres, self.units)

        parts = tuple((name, amount(part)) for name, part in batch.parts_l.items())
        return MixLine(
            what=what,
            whole=amount(batch.batch_l),
            parts=parts if len(parts) > 1 else (),
        )


def _people(hands: int) -> str:
    return _COUNT[hands] if hands < len(_COUNT) else f"{hands} hands"


def _counts(counts: range) -> str:
    return f"{counts[0]}" if len(counts) == 1 else f"{counts[0]} to {counts[-1]}"
