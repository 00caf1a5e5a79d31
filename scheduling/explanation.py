"""Why each stint stands where it does: the one thing that holds it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import numpy as np

from scheduling.bars import why_barred
from scheduling.cautions import DUST_SETTLES_MIN
from scheduling.chance import asked_text
from scheduling.placing import Placed, Placing
from scheduling.plan import Reason
from scheduling.process import (
    Apart,
    Logged,
    Mode,
    Process,
    Unit,
    Wait,
    all_of,
    called_step,
    date_text,
    day_text,
    minutes_text,
)
from scheduling.working_time import SLOT_MIN, Ints, Mask

STAGE_WORDS: Mapping[str, str] = {
    "": "is done",
    "touch": "is dry to touch",
    "recoat": "can be recoated",
    "through": "is dry through",
    "hard": "is hard enough to go over",
    "cured": "has cured",
    "tack": "has come to tack",
    "open": "has closed",
    "window": "has shut its window",
    "closes": "has closed",
}


SAFE_WORDS: Mapping[str, str] = {
    "touch": "safely dry to touch",
    "recoat": "safe to recoat",
    "through": "safely dry through",
    "hard": "safely hard",
    "cured": "safely cured",
    "tack": "safely at tack",
    "open": "closed",
    "window": "past its window",
    "closes": "closed",
}


@dataclass(frozen=True, slots=True)
class _Low:
    """A slot before which a unit cannot start, the minute behind it, what sets it."""

    slot: int
    minute: float
    reason: Reason


class Explainer:
    """Reads a process and a placing; gives a reason for every unit.

    ``chance`` is the one that waits were planned against, None their safe ends.
    """

    def __init__(
        self, process: Process, placing: Placing, chance: float | None = None
    ) -> None:
        self.chance = chance
        self.process, self.placing = process, placing
        self.axis = process.axis
        self.rooms = {room.id: room for room in process.job.rooms}
        self.aparts: dict[int, list[Apart]] = {}
        for apart in process.aparts:
            self.aparts.setdefault(apart.maker, []).append(apart)
            self.aparts.setdefault(apart.coat, []).append(apart)
        self.corners: dict[int, list[tuple[int, Ints, Ints]]] = {}
        for corner in process.corners:
            there = corner.other, corner.dry_one, corner.dry_other
            self.corners.setdefault(corner.one, []).append(there)
            here = corner.one, corner.dry_other, corner.dry_one
            self.corners.setdefault(corner.other, []).append(here)

    def reasons(self) -> Mapping[int, Reason]:
        """By unit."""
        return {unit.index: self._reason(unit) for unit in self.process.units}

    def _reason(self, unit: Unit) -> Reason:
        reason = self._held(unit)
        saves = self._saves(unit) if unit.kind == "rescue" else ""
        return replace(reason, text=f"{reason.text} {saves}") if saves else reason

    def _saves(self, unit: Unit) -> str:
        """Which window a rescue makes good, and when that shuts."""
        slots = [] if unit.shuts is None else [unit.shuts]
        for wait in self.process.before[unit.index]:
            if wait.missed is not None:
                slots.append(int(wait.missed[self.placing[wait.before].last]))
        shuts = min(slots, default=len(self.axis))
        if shuts >= len(self.axis):
            return ""
        if shuts < 0:
            return "The window of the coat before has shut."
        minute = float(self.axis.minute[shuts])
        return (
            f"The window of the coat before lets work begin until {self._day(minute)}; "
            "no plan was found that meets it, or none as good."
        )

    def _held(self, unit: Unit) -> Reason:
        """The one thing that holds a unit."""
        placed = self.placing[unit.index]
        if unit.pinned is not None:
            when = day_text(unit.pinned.start, self.process.job)
            return Reason(code="pin", text=f"Pinned to {when}.")
        mode = next(m for m in unit.modes if m.hands == len(placed.hands))
        # A night or closed day makes one slot of many moments: the last of them holds.
        held = max(self._lows(unit), key=lambda low: (low.slot, low.minute))
        starts = np.flatnonzero(mode.may_start)
        starts = starts[starts >= held.slot]
        first = int(starts[0]) if len(starts) else placed.work_start
        if placed.start <= held.slot or placed.work_start <= first:
            barred = self._barred(mode, held.slot, first)
            if barred is not None:
                return barred
            if held.slot == 0 and first > 0:
                return self._hours(unit, mode, placed)
            return self._until_start(held, unit, mode, placed)
        return self._taken(unit, mode, placed, starts)

    # -- what a unit waits for -------------------------------------------------------

    def _lows(self, unit: Unit) -> Iterable[_Low]:
        start = Reason(code="start", text="As early as the plan begins.")
        yield _Low(0, -np.inf, start)
        if unit.logged is not None:
            yield _Low(unit.release, unit.logged.minute, self._logged(unit.logged))
        for gate in unit.surface.gates:
            if gate.not_before is None:
                continue
            minute = self.axis.minute_of(gate.not_before)
            text = f"Not before {gate.name}: {self._day(minute)}."
            reason = Reason(code="gate", text=text)
            yield _Low(self.axis.slot_from(minute), minute, reason)
        for wait in self.process.before[unit.index]:
            yield self._wait_low(wait, self.placing[wait.before].last)

    def _logged(self, logged: Logged) -> Reason:
        coat, job = logged.coat, self.process.job
        surface = job.surface(coat.surface)
        step = job.recipe(surface.recipe).step(coat.step)
        until, ended = self._day(logged.minute), self.axis.minute_of(coat.end)
        if logged.what == "corner":
            name = called_step(surface, step)
            text = (
                f"Meets {name} in a corner, which is wet until {until}: opposite walls "
                "first."
            )
            return Reason(code="corner", text=text)
        if logged.what:
            name = called_step(surface, step)
            text = f"{name} makes {logged.what} in the same air until {until}."
            if logged.what not in step.airborne:
                text = f"Makes {logged.what}: {name} is open or tacky until {until}."
            elif logged.minute > ended:
                text = f"The dust of {name} settles until {until}."
            return Reason(code=logged.what, text=text)
        name = step.name or step.id
        if logged.stage == "":
            return Reason(code="order", text=f"After {name}, done {until}.")
        ends = "ended" if ended <= self.axis.minute[0] else "ends"
        ready = self._ready(logged.stage)
        text = f"{name} {ends} {self._day(ended)} and {ready} from {until}."
        return Reason(code="wait", text=text)

    def _wait_low(self, wait: Wait, last: int) -> _Low:
        low = int(wait.low[last])
        minute = float(self.axis.minute[low]) if low < len(self.axis) else np.inf
        if wait.ready_min is not None and not wait.test[last]:
            minute = float(wait.ready_min[last])
        return _Low(low, minute, self._waits(wait, last, minute))

    def _waits(self, wait: Wait, last: int, minute: float) -> Reason:
        before = self.process.units[wait.before]
        after = self.process.units[wait.after]
        name = before.step.name or before.step.id
        other = before.id
        ended = day_text(self.axis.end_of(last), self.process.job)
        if before.surface.id != after.surface.id:
            text = f"Top before bottom: {before.called} comes first, done {ended}."
            return Reason(code="order", text=text, other=other)
        if wait.code == "dust":
            text = self._settles(name, last)
            return Reason(code="dust", text=text, other=other)
        if wait.stage == "":
            text = f"After {name}, done {ended}."
            return Reason(code="order", text=text, other=other)
        ready = self._ready(wait.stage)
        text = f"{name} ends {ended} and {ready} from {self._day(minute)}."
        if wait.test[last]:
            text = (
                f"{name} ends {ended}; before it {ready} its window may shut, so from "
                f"{self._day(minute)} on with a test first."
            )
        return Reason(code="wait", text=text, other=other)

    def _ready(self, stage: str) -> str:
        if self.chance is not None:
            return f"{STAGE_WORDS[stage]} in {asked_text(self.chance)}"
        return f"is {SAFE_WORDS[stage]}"

    def _day(self, minute: float) -> str:
        if not np.isfinite(minute):
            return "later than this plan looks"
        return day_text(self.axis.moment(minute), self.process.job)

    def _until_start(
        self, held: _Low, unit: Unit, mode: Mode, placed: Placed
    ) -> Reason:
        """What holds a unit, and the time between that and its start, if there is."""
        start = float(self.axis.minute[placed.start])
        if not SLOT_MIN <= start - held.minute < np.inf:
            return held.reason
        closed = [
            date_text(day)
            for day in self.process.job.site.closed
            if self._date(held.minute) <= day <= self._date(start)
        ]
        until = self._day(start) + (f" (closed {', '.join(closed)})" if closed else "")
        ends = self.axis.stretch_end if unit.step.wet else self.axis.day_end
        end = int(ends[held.slot])
        text = f"Hours, hands and air leave no start before {until}."
        text += self._in_turn(mode, held.slot, placed.start)
        if placed.start == held.slot:
            text = f"No working hours until {until}."
        elif placed.start == end and placed.end - placed.start > end - held.slot:
            takes = minutes_text((placed.end - placed.start) * SLOT_MIN)
            shuts = day_text(self.axis.end_of(end - 1), self.process.job)
            text = f"It takes {takes}, too long before {shuts}: next is {until}."
        return replace(held.reason, text=f"{held.reason.text} {text}")

    def _date(self, minute: float) -> date:
        return self.axis.moment(minute).date()

    def _barred(self, mode: Mode, low: int, first: int) -> Reason | None:
        """What bars the last start before ``first`` that hours and air allow."""
        starts = low + np.flatnonzero(mode.unbarred[low:first])
        for bar in mode.bars if len(starts) else ():
            if not bar.may_start[starts[-1]]:
                text = why_barred(bar, self.axis, int(starts[-1]))
                return Reason(code=bar.code, text=text)
        return None

    def _hours(self, unit: Unit, mode: Mode, placed: Placed) -> Reason:
        air = "in working hours whose air allows a start" if unit.material else ""
        text = (
            f"First time that {mode.hands} can be there together {air}".rstrip() + "."
        )
        text += self._in_turn(mode, 0, placed.start)
        return Reason(code="hours", text=text)

    def _in_turn(self, mode: Mode, low: int, high: int) -> str:
        """A word where enough were there from some earlier start but for a relay."""
        turns = self._turns
        if not turns:
            return ""
        starts = np.arange(low, high)
        within = self.axis.day_end[low:high] >= starts + mode.slots
        there = sum(
            all_of(hand.there | turn, mode.slots)[low:high].astype(int)
            for hand, turn in zip(self.process.hands, turns, strict=True)
        )
        meets = (within & (there >= mode.hands)).any()
        return " The hands take their break in turn." if meets else ""

    @cached_property
    def _turns(self) -> list[Mask]:
        """By hand the slots of its own breaks in a relay; empty without one."""
        job, none = self.process.job, np.zeros(len(self.axis), dtype=bool)
        if not job.in_relay:
            return []
        clock = [self.axis.moment(float(minute)) for minute in self.axis.minute]
        day_min = np.array([now.hour * 60 + now.minute for now in clock])
        weekday = np.array([now.weekday() for now in clock])
        own = {hand.id for hand in job.hands if hand.hours is not None}
        masks = []
        for hand in self.process.hands:
            mask = none.copy()
            for rule in job.site.hours if hand.id not in own else ():
                for pause in rule.breaks:
                    if pause.relay:
                        start, end = pause.span_min(job.turn_of(hand.id))
                        inside = (start <= day_min) & (day_min < end)
                        mask |= inside & np.isin(weekday, list(rule.weekdays))
            masks.append(mask)
        return masks

    # -- what stood in the way --------------------------------------------------------

    def _taken(
        self,
        unit: Unit,
        mode: Mode,
        placed: Placed,
        starts: np.ndarray,
    ) -> Reason:
        """Why the last start that hours and waits allowed was not taken."""
        earlier = starts[starts < placed.work_start]
        slot = int(earlier[-1]) - placed.test
        end = slot + mode.slots + placed.test
        for apart in self.aparts.get(unit.index, ()):
            reason = self._met(unit, apart, slot, end)
            if reason is not None:
                return reason
        wet = self._wet_corner(unit, slot, end)
        if wet is not None:
            return wet
        busy = self._busy(unit, slot, end)
        free = [
            number
            for number, hand in enumerate(self.process.hands)
            if number not in busy
            and hand.id not in unit.kept_off
            and hand.there[slot:end].all()
        ]
        skill = unit.step.skill
        skilled = [
            n
            for n in free
            if skill in (None, *self.process.hands[n].skills) and unit.lead in (None, n)
        ]
        if len(free) < mode.hands or not skilled:
            return self._hands(unit, mode, busy, free)
        room = self.rooms[unit.surface.room]
        if room.hands_most is not None:
            inside = self._inside(unit, slot, end)
            heads = max(
                sum(
                    count
                    for other, count in inside
                    if self.placing[other.index].start
                    <= place
                    < self.placing[other.index].end
                )
                for place in range(slot, end)
            )
            gone = [
                other
                for other, _ in inside
                if self.placing[other.index].end <= placed.start
            ]
            if gone and heads + mode.hands > room.hands_most:
                other = max(gone, key=lambda unit: self.placing[unit.index].end)
                text = f"{room.name or room.id} holds {room.hands_most} at a time."
                return Reason(code="room", text=text, other=other.id)
        day = self.axis.day
        if unit.step.prefers == "late" and day[slot] == day[placed.start]:
            text = "Could start earlier that day; its recipe wants it late in the day."
            return Reason(code="prefers", text=text)
        if any((wait.high < len(self.axis)).any() for wait in self._all(unit)):
            text = "Placed so that the next step falls inside its window."
            return Reason(code="window", text=text)
        text = "Could start earlier for itself; the whole plan is better so."
        return Reason(code="later", text=text)

    def _all(self, unit: Unit) -> Iterable[Wait]:
        return (*self.process.before[unit.index], *self.process.after[unit.index])

    def _met(self, unit: Unit, apart: Apart, slot: int, end: int) -> Reason | None:
        maker_here = apart.maker == unit.index
        other = self.process.units[apart.coat if maker_here else apart.maker]
        placed = self.placing[other.index]
        name = other.called
        last = min(end - 1, len(self.axis) - 1)
        if maker_here:
            clear, settled = int(apart.clear[placed.last]), int(apart.settled[last])
            if slot < clear and placed.start < settled:
                text = f"Makes {apart.what}: {name} is still open or tacky."
                return Reason(code=apart.what, text=text, other=other.id)
        else:
            settled = int(apart.settled[placed.last])
            if slot < settled and placed.start < int(apart.clear[last]):
                text = f"{name} makes {apart.what} in the same air."
                if slot >= placed.end:
                    text = self._settles(name, placed.last)
                return Reason(code=apart.what, text=text, other=other.id)
        return None

    def _wet_corner(self, unit: Unit, slot: int, end: int) -> Reason | None:
        """The wall beside it whose coat is wet when the unit could have started."""
        n = len(self.axis)
        for number, own, theirs in self.corners.get(unit.index, ()):
            other, placed = self.process.units[number], self.placing[number]
            dry = int(theirs[placed.last])
            if slot < dry and placed.start < int(own[min(end - 1, n - 1)]):
                if placed.start > self.placing[unit.index].start:
                    continue  # it comes later, and keeps off this one
                minute = float(self.axis.minute[dry]) if dry < n else np.inf
                text = (
                    f"Meets {other.called} in a corner, which is wet until "
                    f"{self._day(minute)}: opposite walls first."
                )
                return Reason(code="corner", text=text, other=other.id)
        return None

    def _settles(self, name: str, last: int) -> str:
        """When the dust of a stint has settled, by its last slot."""
        settled = float(self.axis.minute[last]) + SLOT_MIN + DUST_SETTLES_MIN
        when = day_text(self.axis.moment(settled), self.process.job)
        return f"The dust of {name} settles until {when}."

    def _busy(self, unit: Unit, slot: int, end: int) -> dict[int, list[Unit]]:
        busy: dict[int, list[Unit]] = {}
        for other in self.process.units:
            placed = self.placing[other.index]
            if other.index != unit.index and placed.start < end and slot < placed.end:
                for hand in placed.hands:
                    busy.setdefault(hand, []).append(other)
        return busy

    def _inside(self, unit: Unit, slot: int, end: int) -> list[tuple[Unit, int]]:
        inside = []
        for other in self.process.units:
            placed = self.placing[other.index]
            if (
                other.index != unit.index
                and other.surface.room == unit.surface.room
                and placed.start < end
                and slot < placed.end
            ):
                inside.append((other, len(placed.hands)))
        return inside

    def _hands(
        self, unit: Unit, mode: Mode, busy: Mapping[int, list[Unit]], free: list[int]
    ) -> Reason:
        hands = self.process.hands
        skill = unit.step.skill
        blockers = [
            other
            for number, units in sorted(busy.items())
            for other in units
            if len(free) < mode.hands
            or (skill in (None, *hands[number].skills) and unit.lead in (None, number))
        ]
        start = self.placing[unit.index].start
        # Only what ends by this stint's start can have held it.
        blockers.sort(key=lambda other: -self.placing[other.index].end)
        ended = [o for o in blockers if self.placing[o.index].end <= start]
        if not ended:
            text = f"Waits until {mode.hands} are there together."
            return Reason(code="hours", text=text)
        other = ended[0]
        who = f"the hand with {skill}" if skill else "a hand"
        if unit.lead is not None and unit.lead in self.placing[other.index].hands:
            lead = self.process.job.hands[unit.lead]
            who = f"{lead.name or lead.id}, who does it on every wall here,"
        free_at = self.placing[other.index].end
        minute = float(self.axis.minute[free_at - 1] + SLOT_MIN)
        text = f"Waits for {who}: at {other.called} until {self._day(minute)}."
        reason = Reason(code="hands", text=text, other=other.id)
        held = _Low(free_at, minute, reason)
        return self._until_start(held, unit, mode, self.placing[unit.index])
