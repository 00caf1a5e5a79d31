"""Which surface can take its next coat now, and why not the others.

Reads the log, the recipes and the air; no plan. The test on the wall has the last word:
a state says when to go and test.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from scheduling import cautions, drying
from scheduling.air_of_job import job_air
from scheduling.cautions import Caution
from scheduling.clock_tables import clear_stage, window_stage
from scheduling.done import coats_done
from scheduling.explanation import STAGE_WORDS
from scheduling.ground import AS_LABELLED, Laid, laid_on
from scheduling.ground_cautions import GroundCautions
from scheduling.plan import Range
from scheduling.problem import (
    Coat,
    Family,
    GivenAir,
    Job,
    Material,
    Recipe,
    Step,
    Surface,
    wait_of,
)
from scheduling.process import (
    FLOOR_RANK,
    RANKS,
    air_meets,
    called,
    day_text,
)
from scheduling.shapes import Json
from scheduling.working_time import wall_clock

State = Literal["closing", "now", "soon", "today", "held", "working", "done"]
STATES: tuple[State, ...] = (
    "closing", "now", "soon", "today", "held", "working", "done",
)  # fmt: skip
SOON = timedelta(hours=2)
# Assumed: a window is closing when no more than this is left, or when it will be shut
# before the next working day begins.
CLOSING = timedelta(hours=4)
AHEAD_DAYS = 10
OLD_READING = timedelta(hours=3)  # common practice, no source

# What to do before the next coat, by family of the coat below: common practice.
TESTS: Mapping[Family, str] = {
    "waterborne": "Thumb press and quarter twist: no mark; sands to powder",
    "glaze": "Tape test in a corner before anything is taped or rubbed",
    "distemper": "Even dry colour, nothing comes off on a dry finger",
    "oil": "No tack, no smell, thumb twist leaves no mark",
    "spirit": "Dry and clear to a light touch, no bloom",
    "lime": "Turned opaque; rub: no dust. Damp down before the next coat",
    "gypsum": "Uniform pale colour, no cool patch",
    "oil-size": "Knuckle: slight pull and a tick, nothing sticks",
    "water-size": "Clear and tacky to a knuckle, no white left",
    "two-part": "Thumb twist leaves no mark; check the sheet's longest interval",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldBy:
    """One thing that holds a surface, and until when."""

    code: str
    text: str
    until: Range | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceState:
    """A surface's next step and how it stands at one moment.

    ``since`` for closing and now, ``until`` for soon, today and held: when the wait
    ends or ended. ``last_coat``, ``stage``, ``material`` and ``laid`` tell what is
    waited for. ``cautions`` are what to mind about the ground; they hold nothing.
    """

    surface: Surface
    step: Step | None
    state: State
    test: str
    sure: Literal["high", "medium", "low"]
    section: str | None = None
    since: Range | None = None
    until: Range | None = None
    closes: Range | None = None
    held_by: tuple[HeldBy, ...] = ()
    reading_age_min: float | None = None
    last_coat: Coat | None = None
    stage: str | None = None
    material: Material | None = None
    laid: Laid = AS_LABELLED
    cautions: tuple[Caution, ...] = ()

    @property
    def room(self) -> str:
        """The room's id."""
        return self.surface.room


def ready(job: Job, *, at: datetime) -> tuple[SurfaceState, ...]:
    """Every surface's state at ``at``, in the order in which people read them."""
    looker = _Looker(job, at)
    states = [looker.state(surface) for surface in job.surfaces]
    return tuple(sorted(states, key=lambda state: _order(state, at)))


def ready_answer(job: Job, *, at: datetime) -> dict[str, Json]:
    """The same as JSON values: what ``ready --json`` prints."""
    return {
        "at": at.astimezone(job.site.tz).isoformat(),
        "surfaces": [_state_json(state) for state in ready(job, at=at)],
    }


def _order(state: SurfaceState, at: datetime) -> tuple[int, datetime, str]:
    moment = None
    if state.state == "closing" and state.closes is not None:
        moment = state.closes.early
    elif state.until is not None:
        moment = state.until.likely
    far = at + timedelta(days=36_500)
    return STATES.index(state.state), moment or far, state.surface.id


class _Looker:
    """One look at a job: the log up to ``at`` and the air at every surface."""

    def __init__(self, job: Job, at: datetime) -> None:
        self.at = at
        self.coats = tuple(coat for coat in job.coats if coat.start <= at)
        self.job = replace(job, coats=self.coats)
        self.airs = job_air(self.job, at=at, days=AHEAD_DAYS).surfaces
        self.materials = {material.id: material for material in job.materials}
        self.ground = GroundCautions(self.job, self.airs, self.coats, at=at)

    def state(self, surface: Surface) -> SurfaceState:
        """How one surface stands."""
        recipe = self.job.recipe(surface.recipe)
        mine = [coat for coat in self.coats if coat.surface == surface.id]
        last = max(mine, key=lambda coat: coat.end, default=None)
        blank = SurfaceState(
            surface=surface,
            step=None,
            state="done",
            test="",
            sure="high",
            reading_age_min=self._reading_age_min(surface.room),
            last_coat=last,
        )
        for coat in mine:
            if coat.end > self.at:
                end = Range(early=coat.end, likely=coat.end, safe=coat.end)
                return replace(
                    blank,
                    step=recipe.step(coat.step),
                    section=coat.section,
                    state="working",
                    until=end,
                    last_coat=coat,
                )
        done = coats_done(self.job, surface, recipe)
        left = [step for step in recipe.steps if not done.all_of(step)]
        if not left:
            return blank
        step = left[0]
        section = None
        if len(surface.sections) > 1 and done.by_step.get(step.id):
            names = [name for name, _ in surface.sections if not done.has(step, name)]
            section = names[0]
        return self._next(replace(blank, step=step, section=section), recipe)

    # -- the next step ---------------------------------------------------------------

    def _next(self, blank: SurfaceState, recipe: Recipe) -> SurfaceState:
        step, surface = blank.step, blank.surface
        assert step is not None  # noqa: S101 - the caller sets it
        wait = wait_of(recipe, step, self.materials)
        opens = closes = None
        if wait is not None:
            before = recipe.step(wait.step)
            done = coats_done(self.job, surface, recipe)
            coats = done.coats(before, blank.section)
            material = self.materials.get(before.material or "")
            if coats and wait.stage == "":
                ends = max(coat.end for coat in coats)
                opens = Range(early=ends, likely=ends, safe=ends)
            elif coats and material is not None:
                laid = laid_on(self.job, surface, before)
                opens = _latest(
                    self._clock(surface, material, laid, wait.stage, c.end)
                    for c in coats
                )
                closing = window_stage(material)
                if closing is not None and closing != wait.stage:
                    closes = _soonest(
                        self._clock(surface, material, laid, closing, c.end)
                        for c in coats
                    )
                last = max(coats, key=lambda coat: coat.end)
                blank = replace(
                    blank,
                    last_coat=last,
                    stage=wait.stage,
                    material=material,
                    laid=laid,
                    test=TESTS[material.family],
                )
        held = [*self._wait_hold(blank, opens), *self._holds(blank)]
        held += self._air_then(blank, held)
        found = self._judged(blank, opens, closes, held)
        start = found.until.likely if found.until else None
        start = self.at if start is None else max(start, self.at)
        minded = self.ground.before(surface, step, blank.section, start)
        return replace(found, cautions=minded)

    def _judged(
        self,
        blank: SurfaceState,
        opens: Range | None,
        closes: Range | None,
        held: list[HeldBy],
    ) -> SurfaceState:
        at = self.at
        missed = closes is not None and closes.safe is not None and closes.safe < at
        if missed and closes is not None:
            held = [self._missed(blank, closes), *held]
        found = replace(blank, closes=closes, held_by=tuple(held))
        if not held:
            sure = self._sure_now(opens, closes)
            closing = closes is not None and self._closing(closes)
            state: State = "closing" if closing else "now"
            return replace(found, state=state, since=opens, sure=sure)
        until = _free_of(held)
        state = "held"
        if until is not None and until.likely is not None and not missed:
            zone = self.job.site.tz
            today = until.likely.astimezone(zone).date() == at.astimezone(zone).date()
            if until.likely <= at + SOON:
                state = "soon"
            elif today:
                state = "today"
        return replace(found, state=state, until=until, sure=self._sure_later(blank))

    def _wait_hold(self, blank: SurfaceState, opens: Range | None) -> Iterable[HeldBy]:
        if opens is None or (opens.likely is not None and opens.likely <= self.at):
            return
        name = self._coat_name(blank)
        if blank.stage is None or blank.stage == "":
            yield HeldBy(code="wait", text=f"{name} is not finished.", until=opens)
        elif opens.likely is None:
            text = f"{name} never gets there in this air: warm and dry the room."
            yield HeldBy(code="never-ends", text=text, until=opens)
        else:
            when = day_text(opens.likely, self.job)
            safe = "not known" if opens.safe is None else day_text(opens.safe, self.job)
            text = f"{name} {STAGE_WORDS[blank.stage]} about {when}, safe {safe}."
            yield HeldBy(code="wait", text=text, until=opens)

    def _coat_name(self, blank: SurfaceState) -> str:
        if blank.last_coat is None:
            return "The step before"
        recipe = self.job.recipe(blank.surface.recipe)
        step = recipe.step(blank.last_coat.step)
        return step.name or step.id

    def _missed(self, blank: SurfaceState, closes: Range) -> HeldBy:
        assert closes.safe is not None  # noqa: S101 - asked by the caller
        assert blank.step is not None  # noqa: S101 - the same
        text = f"The window closed {day_text(closes.safe, self.job)}."
        rescue = blank.step.rescue
        if rescue is None:
            text += " The recipe states no rescue: test adhesion, scuff, ask the lead."
        elif rescue.stage:
            text += " Rescue first: lay the coat before once more."
        else:
            text += " Rescue first: scuff or tie in, then go on."
        return HeldBy(code="window", text=text)

    def _holds(self, blank: SurfaceState) -> Iterable[HeldBy]:
        """Everything but the coat's own wait that keeps hands off now."""
        surface, step = blank.surface, blank.step
        assert step is not None  # noqa: S101 - the caller sets it
        for gate in surface.gates:
            if gate.not_before is not None and gate.not_before > self.at:
                moment = gate.not_before
                when = day_text(moment, self.job)
                yield HeldBy(
                    code="gate",
                    text=f"Not before {gate.name}: {when}.",
                    until=Range(early=moment, likely=moment, safe=moment),
                )
        if step.material is not None and not self._has_coat(surface):
            yield from self._above(surface)
        yield from self._apart(surface, step)
        if step.material is not None:
            family = self.materials[step.material].family
            yield from self._air(surface, family, self.at)

    def _has_coat(self, surface: Surface) -> bool:
        recipe = self.job.recipe(surface.recipe)
        return any(
            coat.surface == surface.id and recipe.step(coat.step).material is not None
            for coat in self.coats
        )

    def _above(self, surface: Surface) -> Iterable[HeldBy]:
        if self.job.room(surface.room).any_order:
            return
        rank = RANKS.get(surface.kind, FLOOR_RANK)
        for other in self.job.surfaces:
            if (
                other.room == surface.room
                and RANKS.get(other.kind, FLOOR_RANK) < rank
                and not self._finished(other)
            ):
                text = f"Top before bottom: {called(other)} comes first."
                yield HeldBy(code="order", text=text)
                return

    def _finished(self, surface: Surface) -> bool:
        recipe = self.job.recipe(surface.recipe)
        done = coats_done(self.job, surface, recipe)
        return all(done.all_of(step) for step in recipe.steps)

    def _apart(self, surface: Surface, step: Step) -> Iterable[HeldBy]:
        """Dust, steam and solvent against coats still open or tacky, both ways."""
        room = self.job.room(surface.room)
        for coat in self.coats:
            other = self.job.surface(coat.surface)
            if not air_meets(room, self.job.room(other.room)):
                continue
            theirs = self.job.recipe(other.recipe).step(coat.step)
            name = f"{called(other)}, {theirs.name or theirs.id}"
            settled = coat.end + timedelta(minutes=cautions.DUST_SETTLES_MIN)
            dusty = "dust" in set(theirs.makes) - set(step.makes)
            if dusty and step.material and coat.end <= self.at < settled:
                end = Range(early=settled, likely=settled, safe=settled)
                when = day_text(settled, self.job)
                text = f"The dust of {name} settles until {when}."
                yield HeldBy(code="dust", text=text, until=end)
            if other.id == surface.id:
                continue
            if coat.end > self.at and step.material is not None:
                for what in theirs.airborne:
                    if what not in step.makes:
                        end = Range(early=coat.end, likely=coat.end, safe=coat.end)
                        text = f"{name} makes {what} in the same air."
                        yield HeldBy(code=what, text=text, until=end)
            material = self.materials.get(theirs.material or "")
            makes = [what for what in step.airborne if what not in theirs.makes]
            if material is None or not makes:
                continue
            stage = clear_stage(material)
            if stage is None:
                continue
            laid = laid_on(self.job, other, theirs)
            clear = self._clock(other, material, laid, stage, coat.end)
            if clear.safe is None or clear.safe > self.at:
                text = f"Makes {makes[0]}: {name} is still open or tacky."
                yield HeldBy(code=makes[0], text=text, until=clear)

    def _air_then(self, blank: SurfaceState, held: list[HeldBy]) -> Iterable[HeldBy]:
        """The air that will stop the step when all that holds it now is over."""
        until = _free_of(held) if held else None
        assert blank.step is not None  # noqa: S101 - the caller sets it
        if until is None or until.likely is None or blank.step.material is None:
            return
        family = self.materials[blank.step.material].family
        when = day_text(until.likely, self.job)
        for hold in self._air(blank.surface, family, until.likely):
            yield replace(hold, text=f"{when}: {hold.text}")

    def _air(
        self, surface: Surface, family: Family, moment: datetime
    ) -> Iterable[HeldBy]:
        """What the air at a moment has against a coat, and until when."""
        air = self.airs[surface.id]
        place = air.index(air.minute(moment))
        found = cautions.blocked_by(family, air, place)
        if not found:
            return
        free = np.flatnonzero(~cautions.blocked(family, air)[place:])
        until = None
        if len(free):
            clear = air.moment((place + int(free[0])) * air.step_min)
            clear = clear.astimezone(self.job.site.tz)
            until = Range(early=clear, likely=clear, safe=clear)
        for caution in found:
            yield HeldBy(code=caution.code, text=caution.text, until=until)

    # -- facts -----------------------------------------------------------------------

    def _clock(
        self,
        surface: Surface,
        material: Material,
        laid: Laid,
        stage: str,
        end: datetime,
    ) -> Range:
        air = self.airs[surface.id]
        minute = air.minute(end)
        clock = drying.clock(
            material,
            stage,
            air,
            np.array([minute]),
            coat=laid.coat,
            porous=laid.porous,
        )

        def moment(elapsed: float) -> datetime | None:
            if not np.isfinite(elapsed):
                return None
            found = air.moment(minute + elapsed).astimezone(self.job.site.tz)
            return found.replace(microsecond=0)

        return Range(
            early=moment(float(clock.early_min[0])),
            likely=moment(float(clock.likely_min[0])),
            safe=moment(float(clock.safe_min[0])),
        )

    def _closing(self, closes: Range) -> bool:
        if closes.early is None:
            return False
        if closes.early <= self.at + CLOSING:
            return True
        opening = self._next_opening()
        return opening is not None and closes.early <= opening

    def _next_opening(self) -> datetime | None:
        """When the site next opens on a later day."""
        today = self.at.astimezone(self.job.site.tz).date()
        for ahead in range(1, 15):
            day = today + timedelta(days=ahead)
            starts = [
                wall_clock(day, rule.start, self.job)
                for rule in self.job.site.hours
                if day.weekday() in rule.weekdays
            ]
            if starts and day not in self.job.site.closed:
                return min(starts)
        return None

    def _sure_now(
        self, opens: Range | None, closes: Range | None
    ) -> Literal["high", "medium", "low"]:
        if closes is not None and closes.early is not None:
            late = closes.early <= self.at
            if late or (opens and (opens.safe is None or opens.safe > closes.early)):
                return "low"
        if opens is None or (opens.safe is not None and opens.safe <= self.at):
            return "high"
        return "medium"

    def _sure_later(self, blank: SurfaceState) -> Literal["high", "medium", "low"]:
        if isinstance(self.job.room(blank.surface.room).air, GivenAir):
            return "high"
        age = blank.reading_age_min
        fresh = age is not None and timedelta(minutes=age) <= OLD_READING
        return "medium" if fresh else "low"

    def _reading_age_min(self, room: str) -> float | None:
        ages = [
            (self.at - reading.at) / timedelta(minutes=1)
            for reading in self.job.readings
            if reading.room == room and reading.at <= self.at
        ]
        return min(ages, default=None)


def _free_of(held: Iterable[HeldBy]) -> Range | None:
    """When the last of the holds is over; None where one says no moment."""
    untils = [hold.until for hold in held]
    known = [until for until in untils if until is not None]
    return _latest(known) if len(known) == len(untils) else None


def _latest(ranges: Iterable[Range]) -> Range:
    """Each end the latest of several; None (never) wins."""
    rows = list(ranges)

    def end(name: str) -> datetime | None:
        moments = [getattr(row, name) for row in rows]
        return None if None in moments else max(moments)

    return Range(early=end("early"), likely=end("likely"), safe=end("safe"))


def _soonest(ranges: Iterable[Range]) -> Range:
    """Each end the soonest of several; None (never) loses."""
    rows = list(ranges)

    def end(name: str) -> datetime | None:
        moments = [m for row in rows if (m := getattr(row, name)) is not None]
        return min(moments, default=None)

    return Range(early=end("early"), likely=end("likely"), safe=end("safe"))


def _state_json(state: SurfaceState) -> dict[str, Json]:
    written: dict[str, Json] = {
        "surface": state.surface.id,
        "room": state.room,
        "step": state.step.id if state.step else None,
        "state": state.state,
    }
    if state.section is not None:
        written["section"] = state.section
    for name in ("since", "until", "closes"):
        value: Range | None = getattr(state, name)
        if value is not None:
            written[name] = _range_json(value)
    written["held_by"] = [_held_json(hold) for hold in state.held_by]
    written["cautions"] = [
        {"code": caution.code, "text": caution.text, "source": caution.source}
        for caution in state.cautions
    ]
    written["test"] = state.test
    written["sure"] = state.sure
    if state.reading_age_min is not None:
        written["reading_age_min"] = state.reading_age_min
    return written


def _held_json(hold: HeldBy) -> dict[str, Json]:
    written: dict[str, Json] = {"code": hold.code, "text": hold.text}
    if hold.until is not None:
        written["until"] = _range_json(hold.until)
    return written


def _range_json(value: Range) -> dict[str, Json]:
    return {
        name: moment.isoformat() if (moment := getattr(value, name)) else None
        for name in ("early", "likely", "safe")
    }
