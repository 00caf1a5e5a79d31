"""What each stint of a plan rests on: the coats before it, and what keeps its order.

Reads the job, its log and the plan's stints; knows no clock, no air and no odds.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cached_property

from scheduling import ground
from scheduling.clock_tables import clear_stage, window_stage
from scheduling.corrections import standing
from scheduling.done import Done, coats_done
from scheduling.errors import BadInput, Fault
from scheduling.plan import Plan, Stint
from scheduling.problem import (
    Coat,
    Job,
    Material,
    Recipe,
    Step,
    Surface,
    at_corner,
    corners_of,
    wait_of,
)
from scheduling.process import FLOOR_RANK, RANKS, air_meets

_JOT = timedelta(seconds=1)  # plans hold moments to the second


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A coat: logged (``place`` None), or what the stint at that place lays.

    ``how`` is its thickness and its ground, which its clocks count.
    """

    key: str  # the same for the same coat in any plan of the job
    surface: Surface
    step: Step
    material: Material
    end: datetime
    how: ground.Laid
    place: int | None = None
    section: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """When a stint starts, ``coat`` is at ``stage`` and not yet at ``closing``.

    ``code`` is wait, what the stint makes that a tacky coat must not meet, or corner
    where its wet edge must not meet another.
    """

    code: str
    coat: Laid
    stage: str
    closing: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """A stint still to be done and what it rests on; ``after`` are places of stints.

    ``tested``: a test of the coat below is planned right before it.
    """

    stint: Stint
    surface: Surface
    step: Step
    area_m2: float
    lays: Laid | None
    needs: tuple[Need, ...]
    after: tuple[int, ...]
    tested: bool


def check_plan(job: Job, plan: Plan) -> None:
    """BadInput where a stint names what the job does not have."""
    surfaces = {surface.id: surface for surface in job.surfaces}
    hands = {hand.id for hand in job.hands}
    faults = []
    for number, stint in enumerate(plan.stints):
        path = f"stints[{number}]"
        surface = surfaces.get(stint.surface)
        if surface is None:
            faults.append(Fault(f"{path}.surface", stint.surface, "one of the job's"))
            continue
        sections = {name for name, _ in surface.sections}
        if stint.section is not None and stint.section not in sections:
            faults.append(Fault(f"{path}.section", stint.section, "one of its surface"))
        if all(step.id != stint.step for step in job.recipe(surface.recipe).steps):
            faults.append(Fault(f"{path}.step", stint.step, "one of its recipe's"))
        faults += [
            Fault(f"{path}.hands", hand, "hands of the job")
            for hand in stint.hands
            if hand not in hands
        ]
    if faults:
        raise BadInput(faults)


class Facts:
    """The stints of a plan by their start, those already logged left out."""

    def __init__(self, job: Job, plan: Plan) -> None:
        self.job = job
        self.materials = {material.id: material for material in job.materials}
        self.surfaces = {surface.id: surface for surface in job.surfaces}
        self.recipes = {recipe.id: recipe for recipe in job.recipes}
        self._done: Mapping[str, Done] = {
            surface.id: coats_done(job, surface, self.recipes[surface.recipe])
            for surface in job.surfaces
        }
        # In UTC, since two times of one zone compare by the face of the clock.
        stints = [
            replace(s, start=s.start.astimezone(UTC), end=s.end.astimezone(UTC))
            for s in plan.stints
        ]
        self.stints = sorted(
            (stint for stint in stints if not self._logged(stint)),
            key=lambda stint: (stint.start, stint.end, stint.id),
        )
        self._lays = [self._laid(place) for place in range(len(self.stints))]
        logged = [self._of_log(*self._put_on(coat), coat) for coat in standing(job)]
        self._log = [laid for laid in logged if laid is not None]

    @cached_property
    def rests(self) -> tuple[Rest, ...]:
        """By place; each stint stands behind all that it rests on."""
        return tuple(self._rest(place) for place in range(len(self.stints)))

    def laid_by(self, surface: Surface, step: Step) -> Iterable[Laid]:
        """The coats of a step, logged and planned; none where it puts nothing on."""
        for coat in self._logged_coats(surface, step, None):
            made = self._of_log(surface, step, coat)
            if made is not None:
                yield made
        for place, laid in enumerate(self._lays):
            stint = self.stints[place]
            here = (stint.surface, stint.step) == (surface.id, step.id)
            if laid is not None and stint.kind == "work" and here:
                yield laid

    def planned_coats(self) -> tuple[Coat, ...]:
        """The coats still to be laid, as if logged: their water goes into the air."""
        return tuple(
            Coat(
                surface=stint.surface,
                section=stint.section,
                step=stint.step,
                start=stint.start,
                end=stint.end,
            )
            for stint, laid in zip(self.stints, self._lays, strict=True)
            if laid is not None and stint.kind == "work"
        )

    def ends_of(self, surface: Surface, step: Step) -> tuple[list[datetime], list[int]]:
        """When a step ended on a surface by the log, and the places that end it."""
        logged = [c.end for c in self._logged_coats(surface, step, None)]
        return logged, list(self._places(surface, step, None))

    # -- one stint -----------------------------------------------------------------

    def _what(self, stint: Stint) -> tuple[Surface, Recipe, Step]:
        surface = self.surfaces[stint.surface]
        recipe = self.recipes[surface.recipe]
        return surface, recipe, recipe.step(stint.step)

    def _logged(self, stint: Stint) -> bool:
        _, _, step = self._what(stint)
        return self._done[stint.surface].has(step, stint.section)

    def _laid(self, place: int) -> Laid | None:
        stint = self.stints[place]
        surface, recipe, step = self._what(stint)
        material, laying = step.material, step
        if stint.kind == "rescue":  # a scuff, or the coat before once more
            wait = wait_of(recipe, step, self.materials)
            again = wait is not None and step.rescue is not None and step.rescue.stage
            material = recipe.step(wait.step).material if wait and again else None
            if wait is not None:
                laying = replace(step, coat=recipe.step(wait.step).coat)
        if material is None or stint.kind == "test":
            return None
        return Laid(
            key=f"{surface.id}/{stint.id}",
            surface=surface,
            step=step,
            material=self.materials[material],
            end=stint.end,
            how=ground.laid_on(self.job, surface, laying),
            place=place,
            section=stint.section,
        )

    def _put_on(self, coat: Coat) -> tuple[Surface, Step]:
        surface = self.surfaces[coat.surface]
        return surface, self.recipes[surface.recipe].step(coat.step)

    def _of_log(self, surface: Surface, step: Step, coat: Coat) -> Laid | None:
        if step.material is None:
            return None
        return Laid(
            key=f"{surface.id}/{step.id}/{coat.section}/{coat.end.timestamp():.0f}",
            surface=surface,
            step=step,
            material=self.materials[step.material],
            end=coat.end.astimezone(UTC),
            how=ground.laid_on(self.job, surface, step),
            section=coat.section,
        )

    def _rest(self, place: int) -> Rest:
        stint = self.stints[place]
        surface, _, step = self._what(stint)
        share = 1.0 if stint.section is None else dict(surface.sections)[stint.section]
        needs, after = [], set(self._order(place))
        if stint.kind != "test" and not self._continues(place):
            waits, places = self._waits(place)
            needs += waits
            after |= places
        if stint.kind == "work":
            kept, places = self._kept_apart(place)
            needs += kept
            after |= places
            kept, places = self._wet_corners(place)
            needs += kept
            after |= places
        return Rest(
            stint=stint,
            surface=surface,
            step=step,
            area_m2=surface.area_m2 * share,
            lays=self._lays[place],
            needs=tuple(needs),
            after=tuple(sorted(after)),
            tested=any(
                other.kind == "test"
                and (other.surface, other.section, other.step, other.end)
                == (stint.surface, stint.section, stint.step, stint.start)
                for other in self.stints
            ),
        )

    def _waits(self, place: int) -> tuple[list[Need], set[int]]:
        """The recipe's wait: for a clock, or only for an end."""
        stint = self.stints[place]
        surface, recipe, step = self._what(stint)
        wait = wait_of(recipe, step, self.materials)
        if wait is None:
            return [], set()
        before = recipe.step(wait.step)
        stage = wait.stage
        rescues = {
            number
            for number, other in enumerate(self.stints)
            if other.kind == "rescue"
            and (other.surface, other.step, other.section)
            == (stint.surface, stint.step, stint.section)
        }
        if stint.kind == "work" and rescues:
            stage = (step.rescue.stage if step.rescue else None) or ""
            places, coats = rescues, []
        else:
            places = set(self._places(surface, before, stint.section))
            coats = [
                self._of_log(surface, before, coat)
                for coat in self._logged_coats(surface, before, stint.section)
            ]
        coats += [self._lays[number] for number in sorted(places)]
        needs = [
            Need(
                code="wait",
                coat=coat,
                stage=stage,
                closing=self._closing(coat, stage) if stint.kind == "work" else None,
            )
            for coat in coats
            if coat is not None and stage
        ]
        return needs, places

    def _closing(self, coat: Laid, stage: str) -> str | None:
        closing = window_stage(coat.material)
        return None if closing == stage else closing

    def _kept_apart(self, place: int) -> tuple[list[Need], set[int]]:
        """Coats whose air a maker of dust, steam or solvent must not meet."""
        stint = self.stints[place]
        surface, _, step = self._what(stint)
        needs: list[Need] = []
        after: set[int] = set()
        for coat in (*self._lays, *self._log) if step.makes else ():
            if coat is None or coat.place == place:
                continue
            if coat.end > stint.start + _JOT and coat.place is not None:
                continue  # laid after the dust: it waits for the maker instead
            if coat.place is None and coat.surface.id == surface.id:
                continue  # the recipe's own wait speaks for that
            again = coat.place is not None and self.stints[coat.place].kind == "rescue"
            theirs = () if again else coat.step.makes
            mine = [what for what in step.makes if what not in theirs]
            stage = clear_stage(coat.material)
            if mine and self._share_air(surface, coat.surface):
                if stage is not None:
                    needs.append(Need(code=mine[0], coat=coat, stage=stage))
                if coat.place is not None:
                    after.add(coat.place)
        if self._lays[place] is not None:
            after |= {
                number
                for number, other in enumerate(self.stints)
                if other.kind == "work"
                and other.end <= stint.start + _JOT
                and set(self._what(other)[2].makes) - set(step.makes)
                and self._share_air(surface, self.surfaces[other.surface])
            }
        return needs, after

    def _wet_corners(self, place: int) -> tuple[list[Need], set[int]]:
        """Coats on walls that meet this one, which a wet edge must find dry."""
        stint = self.stints[place]
        surface, _, step = self._what(stint)
        meets = corners_of(self.job).get(surface.id, frozenset())
        needs: list[Need] = []
        after: set[int] = set()
        wet = step.wet and step.material is not None
        for coat in (*self._lays, *self._log) if wet and meets else ():
            if coat is None or not coat.step.wet or coat.surface.id not in meets:
                continue
            if not at_corner(surface, stint.section):
                continue
            if not at_corner(coat.surface, coat.section):
                continue
            if coat.place is not None:
                if coat.end > stint.start + _JOT:
                    continue  # laid after this one: it waits for it instead
                if self.stints[coat.place].kind != "work":
                    continue
                after.add(coat.place)
            stage = clear_stage(coat.material)
            if stage is not None:
                needs.append(Need(code="corner", coat=coat, stage=stage))
        return needs, after

    def _share_air(self, one: Surface, other: Surface) -> bool:
        return air_meets(self.job.room(one.room), self.job.room(other.room))

    def _order(self, place: int) -> Iterable[int]:
        """Earlier stints that it stays behind: of its hands, wall, room and height."""
        stint = self.stints[place]
        surface, _, step = self._what(stint)
        room = self.job.room(surface.room)
        rank = RANKS.get(surface.kind, FLOOR_RANK)
        for number, other in enumerate(self.stints[:place]):
            if other.end > stint.start + _JOT:
                continue
            theirs = self.surfaces[other.surface]
            same_wall = other.surface == stint.surface and (
                None in (stint.section, other.section) or stint.section == other.section
            )
            higher = RANKS.get(theirs.kind, FLOOR_RANK) < rank
            below = step.material is not None and stint.kind == "work" and higher
            if (
                same_wall
                or not set(stint.hands).isdisjoint(other.hands)
                or (theirs.room == room.id and (room.hands_most is not None or below))
            ):
                yield number

    # -- the same step elsewhere -----------------------------------------------------

    def _continues(self, place: int) -> bool:
        """Whether this is a later part of a step that splits."""
        stint = self.stints[place]
        _, _, step = self._what(stint)
        in_turns = self.job.in_relay and not step.wet
        return (step.splits or in_turns) and any(
            other.kind == stint.kind
            and (other.surface, other.step, other.section)
            == (stint.surface, stint.step, stint.section)
            for other in self.stints[:place]
        )

    def _places(
        self, surface: Surface, step: Step, section: str | None
    ) -> Iterable[int]:
        for place, stint in enumerate(self.stints):
            if (
                stint.kind == "work"
                and (stint.surface, stint.step) == (surface.id, step.id)
                and (section is None or stint.section in (None, section))
            ):
                yield place

    def _logged_coats(
        self, surface: Surface, step: Step, section: str | None
    ) -> Iterable[Coat]:
        return self._done[surface.id].coats(step, section)
