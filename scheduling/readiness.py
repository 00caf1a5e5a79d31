"""Which surface can take its next coat now, and why not the others.

Reads the log, the recipes and the air; no plan. The test on the wall has the last word:
a state says when to go and test.
"""

from dataclasses import replace
from datetime import datetime, timedelta

from scheduling.clock_tables import window_stage
from scheduling.done import coats_done
from scheduling.ground import laid_on
from scheduling.ground_cautions import GroundCautions
from scheduling.plan import Range
from scheduling.problem import GivenAir, Job, Recipe, Surface, wait_of
from scheduling.readiness_holds import (
    air_ahead,
    coat_holds,
    window_missed,
    work_holds,
)
from scheduling.readiness_look import Look
from scheduling.readiness_site import heads_hold, site_word
from scheduling.readiness_state import (
    STATES,
    TESTS,
    HeldBy,
    State,
    Sure,
    SurfaceState,
    free_of,
    latest,
    moment_range,
    soonest,
)
from scheduling.shapes import Json
from scheduling.working_time import next_opening

SOON = timedelta(hours=2)
# Assumed: a window is closing when no more than this is left, or when it will be shut
# before the next working day begins.
CLOSING = timedelta(hours=4)
OLD_READING = timedelta(hours=3)  # common practice, no source


def ready(job: Job, *, at: datetime) -> tuple[SurfaceState, ...]:
    """Every surface's state at ``at``, in the order in which people read them."""
    return states_at(Look(job, at))


def states_at(look: Look) -> tuple[SurfaceState, ...]:
    """The same for who looks at the job for more than its states."""
    surfaces = _Surfaces(look)
    states = [surfaces.state(surface) for surface in look.job.surfaces]
    return tuple(sorted(states, key=lambda state: _order(state, look.at)))


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


class _Surfaces:
    """The surfaces of a job as they stand at one moment."""

    def __init__(self, look: Look) -> None:
        self.look, self.at = look, look.at
        self.job, self.materials = look.job, look.materials
        self.ground = GroundCautions(self.job, look.airs, look.coats, at=look.at)

    def state(self, surface: Surface) -> SurfaceState:
        """How one surface stands."""
        recipe = self.job.recipe(surface.recipe)
        mine = [coat for coat in self.look.coats if coat.surface == surface.id]
        last = max(mine, key=lambda coat: coat.end, default=None)
        blank = SurfaceState(
            surface=surface,
            step=None,
            state="done",
            test="",
            sure="high",
            reading_age_min=self.look.reading_age_min(surface.room),
            last_coat=last,
        )
        for coat in mine:
            if coat.end > self.at:
                return replace(
                    blank,
                    step=recipe.step(coat.step),
                    section=coat.section,
                    state="working",
                    until=moment_range(coat.end),
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
        blank, opens, closes = self._on_coat(blank, recipe)
        held = [
            *coat_holds(self.look, blank, opens),
            *work_holds(self.look, surface, step),
            *heads_hold(self.look, surface, step),
        ]
        held, until = self._and_then(blank, held)
        found = self._judged(blank, opens, closes, held, until)
        start = found.until.likely if found.until else None
        start = self.at if start is None else max(start, self.at)
        minded = self.ground.before(surface, step, blank.section, start)
        return replace(found, cautions=minded)

    def _on_coat(
        self, blank: SurfaceState, recipe: Recipe
    ) -> tuple[SurfaceState, Range | None, Range | None]:
        """The step with the coat it waits for; when that opens and when it closes."""
        step, surface = blank.step, blank.surface
        assert step is not None  # noqa: S101 - the caller sets it
        wait = wait_of(recipe, step, self.materials)
        if wait is None:
            return blank, None, None
        before = recipe.step(wait.step)
        done = coats_done(self.job, surface, recipe)
        coats = done.coats(before, blank.section)
        material = self.materials.get(before.material or "")
        if coats and wait.stage == "":
            return blank, moment_range(max(coat.end for coat in coats)), None
        if not coats or material is None:
            return blank, None, None
        laid = laid_on(self.job, surface, before)
        clock, closes = self.look.clock, None
        opens = latest(clock(surface, material, laid, wait.stage, c.end) for c in coats)
        closing = window_stage(material)
        if closing is not None and closing != wait.stage:
            closes = soonest(
                clock(surface, material, laid, closing, c.end) for c in coats
            )
        told = replace(
            blank,
            last_coat=max(coats, key=lambda coat: coat.end),
            stage=wait.stage,
            material=material,
            laid=laid,
            test=TESTS[material.family],
        )
        return told, opens, closes

    def _and_then(
        self, blank: SurfaceState, held: list[HeldBy]
    ) -> tuple[list[HeldBy], Range | None]:
        """The holds with what air and site add when the others are over; until when."""
        step, surface = blank.step, blank.surface
        assert step is not None  # noqa: S101 - the caller sets it
        over = free_of(held) if held else moment_range(self.at)
        known = over is not None and over.likely is not None
        moment = over.likely if over is not None and over.likely else self.at
        word = site_word(self.look, surface, step, blank.section, moment)
        told = [*held, *word.holds]
        over = free_of(told) if told else None
        if over is not None and over.likely is not None and step.material is not None:
            family = self.materials[step.material].family
            told += air_ahead(self.look, surface, family, over.likely)
        until = free_of(told) if told else None
        if not known or until is None or word.free == moment:
            return told, until
        if word.free is None:
            return told, None
        return told, latest([until, moment_range(word.free)])

    def _judged(
        self,
        blank: SurfaceState,
        opens: Range | None,
        closes: Range | None,
        held: list[HeldBy],
        until: Range | None,
    ) -> SurfaceState:
        at = self.at
        missed = closes is not None and closes.safe is not None and closes.safe < at
        if missed and closes is not None and blank.step is not None:
            held = [window_missed(self.look, blank.step, closes), *held]
            until = None
        found = replace(blank, closes=closes, held_by=tuple(held))
        if not held:
            sure = self._sure_now(opens, closes)
            closing = closes is not None and self._closing(closes)
            state: State = "closing" if closing else "now"
            return replace(found, state=state, since=opens, sure=sure)
        state = "held"
        if until is not None and until.likely is not None:
            zone = self.job.site.tz
            today = until.likely.astimezone(zone).date() == at.astimezone(zone).date()
            if until.likely <= at + SOON:
                state = "soon"
            elif today:
                state = "today"
        return replace(found, state=state, until=until, sure=self._sure_later(blank))

    # -- facts -----------------------------------------------------------------------

    def _closing(self, closes: Range) -> bool:
        if closes.early is None:
            return False
        if closes.early <= self.at + CLOSING:
            return True
        opening = next_opening(self.job, self.at)
        return opening is not None and closes.early <= opening

    def _sure_now(self, opens: Range | None, closes: Range | None) -> Sure:
        if closes is not None and closes.early is not None:
            late = closes.early <= self.at
            if late or (opens and (opens.safe is None or opens.safe > closes.early)):
                return "low"
        if opens is None or (opens.safe is not None and opens.safe <= self.at):
            return "high"
        return "medium"

    def _sure_later(self, blank: SurfaceState) -> Sure:
        if isinstance(self.job.room(blank.surface.room).air, GivenAir):
            return "high"
        age = blank.reading_age_min
        fresh = age is not None and timedelta(minutes=age) <= OLD_READING
        return "medium" if fresh else "low"


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
