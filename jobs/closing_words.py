"""What Closing up says: each thing to see to before leaving.

Pure: the engine's facts in, sentences out, by the site's clock.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from jobs.calendar_words import ceil, hands_text, label, names_in
from jobs.care_words import state_text
from jobs.measures import say_in
from jobs.models import ClosingTick
from jobs.site_words import SiteWords, inside
from jobs.templatetags.plan_format import say_clock, say_minutes
from scheduling.day_end import DayEnd, Night, ShuttingWindow, WetEdge
from scheduling.problem import Material
from scheduling.work_cautions import cautions_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing to tick; a tick from before ``since`` does not count any more.

    Without a ``source`` it is common practice, no source, which the page says once.
    """

    key: str
    name: str
    why: tuple[str, ...] = ()
    source: str = ""
    since: datetime | None = None
    surface: str = ""
    step: str = ""
    section: str = ""
    tick: ClosingTick | None = None
    before: ClosingTick | None = None  # a tick that does not count any more

    def ticked(self, ticks: Mapping[str, ClosingTick]) -> "Item":
        """The thing with its tick of the day, if it has one."""
        row = ticks.get(self.key)
        stale = (
            row is not None and self.since is not None and row.ticked_at < self.since
        )
        return replace(self, before=row) if stale else replace(self, tick=row)


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Things of one kind under their heading."""

    key: str
    name: str
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosingWords(SiteWords):
    """The end of a day as told to one reader."""

    end: DayEnd
    units: str

    def groups(self, ticks: Mapping[str, ClosingTick]) -> tuple[Group, ...]:
        """The groups that hold anything, each thing with its tick of the day."""
        named = (
            ("wet", "Still wet", self._wet()),
            ("windows", "Windows that shut before work starts again", self._windows()),
            ("rooms", "Rooms for the night", self._rooms()),
            ("site", "Before the door is locked", self._site()),
        )
        found = (
            Group(key=key, name=name, items=tuple(item.ticked(ticks) for item in items))
            for key, name, items in named
        )
        return tuple(group for group in found if group.items)

    @property
    def unlogged(self) -> tuple[str, ...]:
        """Work of today that the plan has begun and nobody has logged."""
        return tuple(
            f"{label(self.job.step_of(row.surface, row.step))} on "
            f"{self.place(self.job.surface(row.surface), row.section)}, planned "
            f"{say_clock(row.start, self.zone)} to {say_clock(row.end, self.zone)}"
            for row in self.end.unlogged
        )

    # -- each kind of thing ------------------------------------------------------------

    def _wet(self) -> Iterator[Item]:
        for edge in self.end.edges:
            until = "" if edge.until is None else f" until {self.at(edge.until)}"
            name = f"{self.place(edge.surface, edge.section)}: wet{until}"
            yield Item(
                key=_key("wet", edge.surface.id, edge.step.id, edge.section),
                name=name,
                why=tuple(self._wet_why(edge)),
                surface=edge.surface.id,
                step=edge.step.id,
                section=edge.section or "",
            )

    def _wet_why(self, edge: WetEdge) -> Iterator[str]:
        yield f"{label(edge.step)}."
        if edge.open is not None:
            yield f"The edge is open until **{self.by(edge.open)}**: join it or stop."
        room = label(self.job.room(edge.surface.room))
        until = "" if edge.until is None else " until then"
        yield f"{room}: door shut, a sign on it, **no one through{until}**."
        if edge.until is None:
            yield "It never gets dry to touch like this: warm and dry the room."
        if not edge.logged:
            yield "As the plan has it; it is not logged."

    def _windows(self) -> Iterator[Item]:
        for row in self.end.windows:
            place = self.place(row.surface, row.section)
            step = label(row.step)
            name = (
                f"{place}: the window of {inside(row.step)} shut {self.by(row.shuts)}"
                if row.past
                else f"{place}: {step} by {self.by(row.shuts)}"
            )
            yield Item(
                key=_key("window", row.surface.id, row.step.id, row.section),
                name=name,
                why=tuple(self._window_why(row)),
                surface=row.surface.id,
                step=row.step.id,
                section=row.section or "",
            )

    def _window_why(self, row: ShuttingWindow) -> Iterator[str]:
        share = dict(row.surface.sections).get(row.section or "", 1.0)
        area_m2 = row.surface.area_m2 * share
        if row.rescued is not None:
            by = hands_text(self.job, row.rescued.hands)
            yield f"The plan has its rescue {self.at(row.rescued.start)}, by {by}."
            return
        if row.planned is not None:
            by = hands_text(self.job, row.planned.hands)
            yield f"The plan has it in time: {self.at(row.planned.start)}, by {by}."
            return
        rescue = "The recipe states no rescue: ask the lead."
        if row.step.rescue is not None:
            minutes = say_minutes(row.step.rescue.min_m2 * area_m2)
            rescue = f"Its rescue takes about {minutes} first; plan again for it."
        if row.past:
            yield rescue
            return
        if row.free is not None:
            minutes = say_minutes(row.step.minutes(area_m2, row.step.hands.least))
            when = "now" if row.free <= self.now else f"from {self.at(row.free)}"
            yield f"Do it **{when}**, about {minutes}, or plan the rescue."
            if row.test:
                yield f"Test first: {row.test[:1].lower()}{row.test[1:]}."
        else:
            holds = " ".join(hold.text for hold in row.held_by[:2])
            told = say_in(holds, self.units, names_in(self.job))
            yield f"It cannot be done in time. {told}"
        yield rescue

    def _rooms(self) -> Iterator[Item]:
        for night in self.end.nights:
            first = night.cares[0]
            state = first.state
            yield Item(
                key=_key(
                    "room",
                    night.room,
                    f"{state.fan}-{state.windows}-{state.dehumidifier}",
                ),
                name=f"{label(self.job.room(night.room))}: {state_text(state)}",
                why=tuple(self._room_why(night)),
            )

    def _room_why(self, night: Night) -> Iterator[str]:
        later = [
            f"{state_text(care.state)} from {self.at(care.start)}"
            for care in night.cares[1:]
        ]
        if later:
            yield f"With a timer: {'; then '.join(later)}. Without one, leave it so."
        if any(care.state.windows == "ajar" for care in night.cares):
            yield "Ajar only where no rain and nobody comes in; else shut."

    def _site(self) -> Iterator[Item]:
        last = self._last_laid()
        oily = [row for row in self.end.used if row.oily]
        if oily:
            (rags,) = cautions_of(["oily-rags"])
            yield Item(
                key="oily-rags",
                name="Oily rags out: flat in the open, or under water in a metal can",
                why=(f"{_names(oily)}. {rags.text}", "Never in a heap or the skip."),
                source=rags.source,
                since=last,
            )
        solvents = [row for row in self.end.used if row.solvent]
        if solvents:
            (solvent,) = cautions_of(["solvent"])
            yield Item(
                key="solvents",
                name="Solvents closed and in their store, the air moving",
                why=(f"{_names(solvents)}. {solvent.text}",),
                source=solvent.source,
                since=last,
            )
        yield Item(
            key="lids",
            name="Lids on tight, every tin and mix labelled",
            why=("What it is, its parts, the batch, the date.",),
            since=last,
        )
        yield Item(
            key="sheets",
            name="Dust sheets folded or taped down",
            why=("None over a heater, a lamp or a way out.",),
        )
        yield Item(
            key="detectors",
            name="Smoke detectors uncovered, back on and tried",
            why=("Every one that was covered or switched off today.",),
        )
        if self.end.tests:
            count = len(self.end.tests)
            hour = say_clock(ceil(self.end.tests[0].at), self.zone)
            one = "One test" if count == 1 else f"{count} tests"
            yield Item(
                key=f"tests-{self.end.tests[0].at.astimezone(self.zone):%Y-%m-%d}",
                name=f"{one} given out for the morning, the first at {hour}",
                why=("They stand below.",),
                since=last,
            )

    def _last_laid(self) -> datetime | None:
        """When a coat of today ended last: lids and rags before it do not count."""
        today = self.now.astimezone(self.zone).date()
        ends = [coat.end for coat in self.job.coats if coat.end <= self.now]
        last = max(ends, default=None)
        if last is None or last.astimezone(self.zone).date() != today:
            return None
        return last


def _key(*parts: str | None) -> str:
    return "-".join(part or "" for part in parts)


def _names(materials: Sequence[Material]) -> str:
    return ", ".join(label(material) for material in materials)
