"""Starts that site, room and wall forbid a stint: hours, other trades, the sun.

Each bar looks at one stint by itself, so it is a start domain. What two stints do to
each other stands in ``rules``.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from scheduling.bans import bans_on
from scheduling.cautions import DUST_SETTLES_MIN
from scheduling.clock_tables import ClockTables, Floats, clear_stage
from scheduling.ground import laid_on
from scheduling.problem import SIZES, Hours, Job, Material, Room, Step, Surface, wait_of
from scheduling.process import Bar, air_meets, all_of, day_text
from scheduling.working_time import SLOT_MIN, Axis, Mask, Span, hours_spans

FURTHEST_DAYS = 400  # Assumed: what is tacky then is tacky for ever
DAY_MIN = 1440.0

# Why a stint does not start earlier; and, behind its name, why it can never start.
WHY: Mapping[str, str] = {
    "opens": "{name} is open to the public {since} to {until}: a coat begun earlier "
    "would not be dry to touch.",
    "ban": "Forbidden for it {since} to {until}.",
    "quiet": "Quiet hours {since} to {until}: no dust and no noise.",
    "smell": "Smell-free {since} to {until}: solvent smells until its coat is dry to "
    "touch.",
    "sun": "The sun is on it {since} to {until} and would dry its edges too soon.",
    "trade": "{name}: in the room until {until}.",
    "trade-air": "{name}: no open or tacky coat in this air until {until}.",
    "shuts": "{name} shuts {since}.",
    "hand-back": "{name} is handed back {since}.",
}
NEVER: Mapping[str, str] = {
    "opens": "no start in working hours leaves its coat dry to touch before {name} "
    "opens to the public",
    "ban": "forbidden in every hour in which it could be done",
    "quiet": "makes dust or noise, and quiet hours leave no time for it",
    "smell": "smells of solvent, and smell-free hours leave no time for it",
    "sun": "the sun is on it in every stretch that would be long enough: shade it, or "
    "add a stop line",
    "trade": "{name} has the room and leaves no time for it",
    "trade-air": "{name} in the same air leaves no time for a coat to dry to touch",
    "shuts": "{name} shuts before it could be done",
    "hand-back": "{name} is handed back before it could be done and dry to touch",
}


def span_barring(bar: Bar, axis: Axis, slot: int) -> Span:
    """The hours that bar a stint from starting in a slot."""
    minute = float(axis.minute[slot])
    return next(span for span in bar.spans if span[1] > minute)


def why_barred(bar: Bar, axis: Axis, slot: int) -> str:
    """Why a stint may not start in a slot that is barred."""
    start, end = span_barring(bar, axis, slot)
    until = day_text(axis.moment(end), axis.job) if np.isfinite(end) else ""
    since = day_text(axis.moment(start), axis.job)
    return WHY[bar.code].format(name=bar.name, since=since, until=until)


def why_never(bar: Bar) -> str:
    """Why a bar leaves no start at all, to stand behind the stint's name."""
    return NEVER[bar.code].format(name=bar.name)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bars:
    """Where the bars of a job's stints are looked up, ``days`` days from ``at``."""

    axis: Axis
    tables: ClockTables
    at: datetime
    days: int

    @property
    def job(self) -> Job:
        """The job whose bars these are."""
        return self.axis.job

    def of(
        self, surface: Surface, step: Step, material: Material | None, slots: int
    ) -> tuple[Bar, ...]:
        """Every bar on a stint of so many slots, in the order they are told."""
        found = (
            self._opens(surface, step, material, slots),
            self._quiet(step, slots),
            self._smell_free(surface, step, material, slots),
            self._sun(surface, step, slots),
            *self._trades(self.job.room(surface.room), slots),
            *self._trades_air(surface, step, material, slots),
            *self._shuts(surface, slots),
            self._hand_back(surface, step, material, slots),
        )
        return tuple(bar for bar in found if bar is not None)

    def forbidden(
        self, surface: Surface, step: Step, section: str | None, slots: int
    ) -> tuple[Bar, ...]:
        """The times that the lead forbids the step's work."""
        found = (
            self._attended(
                "ban", [(self._minutes(ban.start), self._minutes(ban.end))], slots
            )
            for ban in bans_on(self.job, surface, step, section)
            if ban.start is not None and ban.end is not None
        )
        return tuple(bar for bar in found if bar is not None)

    def next_opening(self, room: Room, minutes: Floats) -> Floats:
        """When a room is next open to the public after each minute, inf for never."""
        spans = self._spans(room.opens, minutes)
        starts = np.array([*(start for start, _ in spans), np.inf])
        ends = np.array([end for _, end in spans])
        following = np.searchsorted(ends, minutes + 1e-6, side="left")
        opens: Floats = np.maximum(starts[following], minutes)
        return opens

    def free_of_trades(self, room: Room) -> Mask:
        """Slots in which no other trade has the room."""
        free = np.ones(len(self.axis), dtype=bool)
        for bar in self._trades(room, 1):
            if bar is not None:
                free &= bar.may_start
        return free

    def clear_min(self, surface: Surface, step: Step, material: Material) -> Floats:
        """Minute at which a coat ended in slot l is no longer open or tacky, safely.

        Where its label knows no such stage it counts as clear when it is done.
        """
        stage = clear_stage(material)
        if stage is None:
            return (self.axis.minute + SLOT_MIN).astype(np.float64)
        return self._ready(surface, step, material, stage)

    def _ready(
        self, surface: Surface, step: Step, material: Material, stage: str
    ) -> Floats:
        laid = laid_on(self.job, surface, step)
        return self.tables.ready(surface, material, stage, laid)

    # -- one rule each -----------------------------------------------------------

    def _opens(
        self, surface: Surface, step: Step, material: Material | None, slots: int
    ) -> Bar | None:
        """A coat in a room open to the public is dry to touch before it opens.

        A size that is gone over is looked at until its tack: ``rules.before_opening``
        sees to the rest.
        """
        room = self.job.room(surface.room)
        if material is None or not room.opens:
            return None
        ends = self.clear_min(surface, step, material)
        sized = material.family in SIZES and "tack" in material.labels
        if sized and self._gone_over(surface, step):
            ends = self._ready(surface, step, material, "tack")
        reach = _by_start(ends, slots)
        spans = self._spans(room.opens, reach)
        return self._interval("opens", spans, reach, room.name or room.id)

    def _gone_over(self, surface: Surface, step: Step) -> bool:
        """Whether a step of the recipe comes on this one's coat; on a rescue its own.

        The last size of a recipe stays tacky until it closes.
        """
        recipe = self.job.recipe(surface.recipe)
        if recipe.step(step.id) != step:
            return True
        materials = {material.id: material for material in self.job.materials}
        waits = [wait_of(recipe, row, materials) for row in recipe.steps]
        return any(wait is not None and wait.step == step.id for wait in waits)

    def _quiet(self, step: Step, slots: int) -> Bar | None:
        """No dust (sanding, scraping) and no noise in the site's quiet hours."""
        if not {"dust", "noise"} & set(step.makes):
            return None
        return self._attended("quiet", self._spans(self.job.site.quiet), slots)

    def _smell_free(
        self, surface: Surface, step: Step, material: Material | None, slots: int
    ) -> Bar | None:
        """No smell of solvent in smell-free hours of the site or of a room it reaches.

        A coat smells until its touch: by then most solvent has left the film (common
        practice, no source).
        """
        solvent = material is not None and material.solvent
        if not solvent and "solvent" not in step.makes:
            return None
        here = self.job.room(surface.room)
        hours = [*self.job.site.smell_free]
        for room in self.job.rooms:
            if air_meets(here, room):
                hours += room.smell_free
        if material is None or not hours:
            return self._attended("smell", self._spans(hours), slots)
        reach = _by_start(self.clear_min(surface, step, material), slots)
        return self._interval("smell", self._spans(hours, reach), reach)

    def _sun(self, surface: Surface, step: Step, slots: int) -> Bar | None:
        """A wet edge is kept before the sun comes round to a wall, or when it has gone.

        Common practice, no source: no glaze is joined with sun on half the wall.
        """
        if not step.wet:
            return None
        return self._attended("sun", self._spans(surface.sun), slots)

    def _trades(self, room: Room, slots: int) -> Iterable[Bar | None]:
        """Nobody of ours in a room that another trade has."""
        for trade in room.others:
            spans = [(self._minutes(trade.start), self._minutes(trade.end))]
            yield self._attended("trade", spans, slots, trade.name)

    def _trades_air(
        self, surface: Surface, step: Step, material: Material | None, slots: int
    ) -> Iterable[Bar | None]:
        """What another trade makes meets no open or tacky coat, nor does its dust
        before it has settled."""
        if material is None:
            return
        here = self.job.room(surface.room)
        makers = [
            trade
            for room in self.job.rooms
            for trade in (room.others if air_meets(here, room) else ())
            if set(trade.makes) - set(step.makes)
        ]
        if not makers:
            return
        reach = _by_start(self.clear_min(surface, step, material), slots)
        for trade in makers:
            spoils = set(trade.makes) - set(step.makes)
            settles = DUST_SETTLES_MIN if "dust" in spoils else 0.0
            spans = [(self._minutes(trade.start), self._minutes(trade.end) + settles)]
            yield self._interval("trade-air", spans, reach, trade.name)

    def _shuts(self, surface: Surface, slots: int) -> Iterable[Bar | None]:
        """Nobody at a surface after a gate of it has shut: a tower taken down."""
        for gate in surface.gates:
            if gate.not_after is not None:
                after = [(self._minutes(gate.not_after), np.inf)]
                yield self._attended("shuts", after, slots, gate.name)

    def _hand_back(
        self, surface: Surface, step: Step, material: Material | None, slots: int
    ) -> Bar | None:
        """A room handed back has all its work done and its last coats dry to touch."""
        room = self.job.room(surface.room)
        if room.hand_back is None:
            return None
        name, after = room.name or room.id, [(self._minutes(room.hand_back), np.inf)]
        steps = self.job.recipe(surface.recipe).steps
        coats = [row.id for row in steps if row.material is not None]
        if material is None or step.id != coats[-1]:
            return self._attended("hand-back", after, slots, name)
        reach = _by_start(self.clear_min(surface, step, material), slots)
        return self._interval("hand-back", after, reach, name)

    # -- how a rule meets hours --------------------------------------------------

    def _attended(
        self, code: str, spans: Sequence[Span], slots: int, name: str = ""
    ) -> Bar | None:
        """No worked slot meets the spans; a pause may."""
        starts = self.axis.minute.astype(np.float64)
        free = _clear_of(spans, starts, starts + SLOT_MIN)
        if free.all():
            return None
        return Bar(
            code=code, may_start=all_of(free, slots), spans=tuple(spans), name=name
        )

    def _interval(
        self, code: str, spans: Sequence[Span], reach: Floats, name: str = ""
    ) -> Bar | None:
        """Nothing from a stint's start until its ``reach`` meets the spans."""
        free = _clear_of(spans, self.axis.minute.astype(np.float64), reach)
        if free.all():
            return None
        return Bar(code=code, may_start=free, spans=tuple(spans), name=name)

    def _minutes(self, moment: datetime) -> float:
        return self.axis.minute_of(moment)

    def _spans(self, hours: Iterable[Hours], until: Floats | None = None) -> list[Span]:
        """The hours as minutes, in order, as far ahead as the axis or ``until``."""
        days = self.days
        if until is not None:
            last = until[np.isfinite(until)].max(initial=0.0)
            ahead = (last - self._minutes(self.at)) / DAY_MIN
            days = max(days, int(min(ahead, FURTHEST_DAYS))) + 8  # a week comes round
        return hours_spans(self.job, hours, self.axis.origin, self.at, days)


def _by_start(by_end: Floats, slots: int) -> Floats:
    """What holds for a stint's last slot, by its first; inf where it has no room."""
    found = np.full(len(by_end), np.inf)
    found[: max(len(by_end) - slots + 1, 0)] = by_end[slots - 1 :]
    return found


def _clear_of(spans: Sequence[Span], begin: Floats, end: Floats) -> Mask:
    """Which of the stretches from ``begin`` to ``end`` meet none of the spans.

    The spans are in order and do not overlap.
    """
    starts = np.array([*(start for start, _ in spans), np.inf])
    ends = np.array([stop for _, stop in spans])
    following = np.searchsorted(ends, begin + 1e-6, side="left")
    free: Mask = starts[following] >= end - 1e-6
    return free
