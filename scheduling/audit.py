"""Checks a plan against its job without the planner: own calendar, own integration.

Reads stints, the job and the air; no axis, no table, no solver. Each rule is one
function yielding ``Violation`` with the rule's name; an empty answer is a sound plan.
"""

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import TypeVar

from scheduling import cautions, drying
from scheduling.audit_site import SiteRules, Violation
from scheduling.chance import closing_min, wait_min
from scheduling.corrections import standing
from scheduling.ground import FILMS, Laid
from scheduling.plan import Stint
from scheduling.problem import (
    SIZES,
    Coat,
    DateWish,
    Hand,
    Hours,
    Job,
    Material,
    Room,
    Step,
    Surface,
    wait_of,
)
from scheduling.room_air import RoomAir

GRID = timedelta(minutes=5)  # stints may be longer than their work by less than this
JOT = timedelta(seconds=1)
EPOCH = datetime(2000, 1, 1, tzinfo=UTC)  # the five minutes are counted from here
Moments = tuple[datetime | None, datetime | None, datetime | None]
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
RANK = {"ceiling": 0, "wall": 1, "panel": 1, "column": 1, "door": 2, "trim": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class Waited:
    """A coat of ``step``, when it ended and when it reaches ``stage`` (None: never)."""

    step: Step
    stage: str
    end: datetime
    over: datetime | None


def audit(
    job: Job,
    stints: Sequence[Stint],
    *,
    at: datetime,
    wait_air: Mapping[str, RoomAir],
    open_air: Mapping[str, RoomAir],
    chance: float | None = None,
) -> tuple[Violation, ...]:
    """Every rule the stints break, none for a sound plan.

    ``chance`` is the one they were planned against, None the clocks' own ends.
    """
    check = Audit(job, stints, at, wait_air, open_air, chance)
    return tuple(violation for rule in check.rules() for violation in rule)


class Audit:
    """The rules over one set of stints; each gives what breaks it."""

    def __init__(
        self,
        job: Job,
        stints: Sequence[Stint],
        at: datetime,
        wait_air: Mapping[str, RoomAir],
        open_air: Mapping[str, RoomAir],
        chance: float | None,
    ) -> None:
        self.chance = chance
        # In UTC, since two times of one zone compare by the face of the clock.
        self.job = replace(job, coats=tuple(_in_utc(row) for row in standing(job)))
        self.stints = [_in_utc(stint) for stint in stints]
        self.at = at.astimezone(UTC)
        self.wait_air, self.open_air = wait_air, open_air
        self.materials = {material.id: material for material in job.materials}
        self.hands = {hand.id: hand for hand in job.hands}
        self.work = [stint for stint in self.stints if stint.kind == "work"]
        self._clocks: dict[tuple[int, str, Laid, str, datetime], Moments] = {}
        self._walked: dict[int, drying.Worked] = {}

    def rules(self) -> list[Iterable[Violation]]:
        """The rules, in the order in which a reader wants to hear of them."""
        return [
            self.everything_once(),
            self.site_hours(),
            self.room_hours(),
            self.hand_hours(),
            self.long_enough(),
            self.enough_hands(),
            self.same_hand(),
            self.nobody_twice(),
            self.room_heads(),
            self.one_at_a_wall(),
            self.waits_and_windows(),
            self.rescues(),
            self.top_before_bottom(),
            self.kept_apart(),
            self.corners(),
            self.air_allows(),
            self.gates(),
            self.pins(),
            self.bans(),
            self.must_dates(),
            *self._site_rules().rules(),
        ]

    def air_rules(self) -> list[Iterable[Violation]]:
        """Those of the rules that the air alone can break."""
        return [
            self.waits_and_windows(),
            self.rescues(),
            self.kept_apart(),
            self.corners(),
            self.air_allows(),
            self.must_dates(),
            *self._site_rules().air_rules(),
        ]

    def _site_rules(self) -> SiteRules:
        return SiteRules(
            job=self.job,
            stints=self.stints,
            laid=self._laid,
            clear=self._clear,
            worked=self._stretches,
        )

    # -- completeness and hours ----------------------------------------------------

    def everything_once(self) -> Iterable[Violation]:
        """Each step not logged stands in the plan once on all of its surface."""
        for stint in self.stints:
            if stint.start < self.at - JOT:
                yield Violation("past", stint.id, "starts before the plan begins")
            if not stint.start < stint.end:
                yield Violation("past", stint.id, "ends before it starts")
        for surface in self.job.surfaces:
            for step in self.job.recipe(surface.recipe).steps:
                planned = [
                    stint
                    for stint in self.work
                    if (stint.surface, stint.step) == (surface.id, step.id)
                ]
                share = sum(self._share(surface, step, stint) for stint in planned)
                want = self._left_share(surface, step)
                if abs(share - want) > 0.02:
                    text = f"{share:.2f} of the surface planned, {want:.2f} is left"
                    yield Violation("once", f"{surface.id} {step.id}", text)

    def site_hours(self) -> Iterable[Violation]:
        """Inside one day's hours; wet work crosses no break."""
        for stint in self.stints:
            spans = self._open_spans(self.job.site.hours, stint.start, site=True)
            yield from self._inside("site-hours", stint, spans)

    def room_hours(self) -> Iterable[Violation]:
        """Nobody in a room outside its access hours."""
        for stint in self.stints:
            room = self.job.room(self.job.surface(stint.surface).room)
            if room.access is not None:
                spans = self._open_spans(room.access, stint.start, site=False)
                if not all(
                    any(a <= start and end <= b for a, b in spans)
                    for start, end in self._stretches(stint)
                ):
                    yield Violation("room-hours", stint.id, f"room {room.id} is shut")

    def hand_hours(self) -> Iterable[Violation]:
        """Every hand is there from start to end, breaks of dry work apart."""
        for stint in self.stints:
            for name in stint.hands:
                hand = self.hands.get(name)
                if hand is None:
                    yield Violation("hand-hours", stint.id, f"nobody is {name}")
                    continue
                if any(a < stint.end and stint.start < b for a, b in hand.away):
                    yield Violation("hand-hours", stint.id, f"{name} is away")
                if hand.hours is None and self.job.in_relay:
                    yield from self._at_its_break(stint, hand)
                if hand.hours is not None:
                    spans = self._open_spans(hand.hours, stint.start, site=False)
                    yield from self._inside("hand-hours", stint, spans)

    def _at_its_break(self, stint: Stint, hand: Hand) -> Iterable[Violation]:
        turn = self.job.turn_of(hand.id)
        spans = self._open_spans(self.job.site.hours, stint.start, site=True, turn=turn)
        for start, end in self._stretches(stint):
            if not any(a <= start and end <= b for a, b in spans):
                text = f"{hand.id} has its break in turn between {start} and {end}"
                yield Violation("hand-hours", stint.id, text)

    def long_enough(self) -> Iterable[Violation]:
        """The hands-on minutes fit, and no stint is longer than they need."""
        for stint in self.work:
            surface, step = self._what(stint)
            if self._in_parts(stint):
                continue
            area = surface.area_m2 * self._section_share(surface, stint.section)
            hands = max(len(stint.hands), 1)  # none at all is another rule's
            need = timedelta(minutes=step.minutes(area, hands))
            worked = self._worked(stint)
            if worked < need - JOT:
                yield Violation("minutes", stint.id, f"{worked} for {need} of work")
            if worked >= max(need, GRID) + GRID:
                yield Violation("minutes", stint.id, f"{worked} is more than {need}")
        for surface in self.job.surfaces:
            for step in self.job.recipe(surface.recipe).steps:
                parts = [
                    stint
                    for stint in self.work
                    if (stint.surface, stint.step) == (surface.id, step.id)
                ]
                if not parts or not self._in_parts(parts[0]):
                    continue
                alone = timedelta()  # as if the hands of the first part did it all
                first = len(parts[0].hands)
                for part in parts:
                    pace = _pace(step, first) / (_pace(step, len(part.hands)) or 1.0)
                    alone += self._worked(part) * (pace or 1.0)
                left = self._left_share(surface, step)
                need = timedelta(minutes=step.minutes(surface.area_m2 * left, first))
                if alone < need - JOT:
                    yield Violation("minutes", parts[0].id, f"{alone} for {need}")

    # -- hands and rooms ---------------------------------------------------------------

    def enough_hands(self) -> Iterable[Violation]:
        """As many as the step takes, one with its skill."""
        for stint in self.stints:
            _, step = self._what(stint)
            if len(set(stint.hands)) != len(stint.hands):
                yield Violation("hands", stint.id, "names a hand twice")
            if stint.kind == "work" and len(stint.hands) not in step.hands.counts:
                yield Violation("hands", stint.id, f"{len(stint.hands)} at the wall")
            if stint.kind != "test" and step.skill is not None:
                skills = {
                    skill
                    for name in stint.hands
                    if name in self.hands
                    for skill in self.hands[name].skills
                }
                if step.skill not in skills:
                    yield Violation("skill", stint.id, f"nobody has {step.skill}")

    def same_hand(self) -> Iterable[Violation]:
        """One hand is at a step on all walls of a room that should look alike.

        Stints whose hands a pin names are as the pin has them; where everybody with
        the skill is kept off one of the walls there is no such hand.
        """
        groups: dict[tuple[str, str, str], list[Stint]] = {}
        for stint in self.work:
            surface, step = self._what(stint)
            pinned = any(
                pin.hands and (pin.surface, pin.step) == (surface.id, step.id)
                for pin in self.job.pins
            )
            if step.same_hand and not pinned and self._one_could(surface, step):
                group = (surface.room, surface.recipe, step.id)
                groups.setdefault(group, []).append(stint)
        for stints in groups.values():
            at_all = set(stints[0].hands).intersection(*(s.hands for s in stints))
            if not at_all:
                text = "no hand is at it on every wall of the room"
                yield Violation("same-hand", stints[0].id, text)

    def _one_could(self, surface: Surface, step: Step) -> bool:
        """Whether some hand with the skill may do the step on all of these walls."""
        walls = {
            row.id
            for row in self.job.surfaces
            if (row.room, row.recipe) == (surface.room, surface.recipe)
        }
        off = {
            hand
            for ban in self.job.bans
            if ban.surface in walls and ban.step == step.id
            for hand in ban.hands
        }
        return any(
            hand.id not in off and step.skill in (None, *hand.skills)
            for hand in self.job.hands
        )

    def nobody_twice(self) -> Iterable[Violation]:
        """No hand in two stints at once."""
        for name in self.hands:
            mine = sorted(
                (stint for stint in self.stints if name in stint.hands),
                key=lambda stint: stint.start,
            )
            for one, other in itertools.pairwise(mine):
                if other.start < one.end:
                    yield Violation("twice", other.id, f"{name} is still at {one.id}")

    def room_heads(self) -> Iterable[Violation]:
        """No more hands in a room than it holds."""
        for room in self.job.rooms:
            if room.hands_most is None:
                continue
            inside = [
                stint
                for stint in self.stints
                if self.job.surface(stint.surface).room == room.id
            ]
            for stint in inside:
                heads = sum(
                    len(other.hands)
                    for other in inside
                    if other.start <= stint.start < other.end
                )
                if heads > room.hands_most:
                    text = f"{heads} in {room.id}, which holds {room.hands_most}"
                    yield Violation("room-heads", stint.id, text)

    def one_at_a_wall(self) -> Iterable[Violation]:
        """One stint at a time on a surface or section."""
        for number, one in enumerate(self.stints):
            for other in self.stints[:number]:
                if (
                    one.surface == other.surface
                    and (None in (one.section, other.section)
                         or one.section == other.section)
                    and one.start < other.end
                    and other.start < one.end
                ):  # fmt: skip
                    yield Violation("wall", one.id, f"{other.id} is at it")

    # -- coats ---------------------------------------------------------------------

    def waits_and_windows(self) -> Iterable[Violation]:
        """Each step waits out the stage it names and starts inside the window."""
        for stint in self.work:
            surface, step = self._what(stint)
            recipe = self.job.recipe(surface.recipe)
            wait = wait_of(recipe, step, self.materials)
            if wait is None or self._continues(stint):
                continue
            before = recipe.step(wait.step)
            rescue = self._rescue_of(stint)
            if rescue is not None:
                stage = step.rescue.stage if step.rescue else None
                yield from self._after_rescue(stint, surface, before, stage, rescue)
                continue
            ends = self._ends(surface, before, stint.section)
            passed = self._passed(surface, before)
            if stint.section is not None:
                passed &= {None, stint.section}
            if not ends and not passed:
                yield Violation("wait", stint.id, f"{before.id} is not done before")
            laid = self._how(surface, before)
            for end in ends:
                yield from self._gate(stint, surface, before, laid, wait.stage, end)

    def _gate(
        self,
        stint: Stint,
        surface: Surface,
        before: Step,
        laid: Laid,
        stage: str,
        end: datetime,
    ) -> Iterable[Violation]:
        if stint.start < end - JOT:
            yield Violation("wait", stint.id, f"{before.id} ends {end}")
            return
        if stage == "" or before.material is None:
            return
        material = self.materials[before.material]
        opens = self._clock(surface, material, laid, stage, end, self.wait_air)
        closing = "closes" if material.family in SIZES else "window"
        closes: Moments = (None, None, None)
        if closing in material.labels and closing != stage:
            closes = self._clock(surface, material, laid, closing, end, self.open_air)
        low, high = opens[2], closes[0]
        overlap = low is None or (high is not None and low > high)
        if closing in material.labels and overlap:
            if not self._test_before(stint):
                yield Violation("test", stint.id, "the range wants a test first")
            low, high = opens[1], closes[1]
        if low is None or stint.start < low - JOT:
            text = f"{before.id} reaches {stage} at {low}"
            yield Violation("wait", stint.id, text, low)
        if high is not None and stint.start > high + JOT:
            yield Violation("window", stint.id, f"closed at {high}")

    def waits(self, stint: Stint) -> Iterable[Waited]:
        """What a stint waits for: the stage of each coat under it, and its safe end."""
        surface, step = self._what(stint)
        recipe = self.job.recipe(surface.recipe)
        wait = wait_of(recipe, step, self.materials)
        if wait is None or self._continues(stint) or self._rescue_of(stint):
            return
        before = recipe.step(wait.step)
        if wait.stage == "" or before.material is None:
            return
        material, laid = self.materials[before.material], self._how(surface, before)
        for end in self._ends(surface, before, stint.section):
            moments = self._clock(
                surface, material, laid, wait.stage, end, self.wait_air
            )
            yield Waited(step=before, stage=wait.stage, end=end, over=moments[2])

    def _after_rescue(
        self,
        stint: Stint,
        surface: Surface,
        before: Step,
        stage: str | None,
        rescue: Stint,
    ) -> Iterable[Violation]:
        again = self._laid(rescue)
        laid = self._how(surface, again)
        yield from self._gate(stint, surface, before, laid, stage or "", rescue.end)

    def rescues(self) -> Iterable[Violation]:
        """A rescue is stated, takes its time, and lies on a coat that bears it."""
        for stint in self.stints:
            if stint.kind != "rescue":
                continue
            surface, step = self._what(stint)
            recipe = self.job.recipe(surface.recipe)
            wait = wait_of(recipe, step, self.materials)
            if wait is None or step.rescue is None:
                yield Violation("rescue", stint.id, f"{step.id} states none")
                continue
            area = surface.area_m2 * self._section_share(surface, stint.section)
            hands = max(len(stint.hands), 1)
            need = timedelta(minutes=area * step.rescue.min_m2 / hands)
            if self._worked(stint) < need - JOT:
                text = f"{self._worked(stint)} for {need} of work"
                yield Violation("rescue", stint.id, text)
            before = recipe.step(wait.step)
            laid = self._how(surface, before)
            for end in self._ends(surface, before, stint.section):
                opens: datetime | None = end
                if wait.stage and before.material is not None:
                    coat = self.materials[before.material]
                    moments = self._clock(
                        surface, coat, laid, wait.stage, end, self.wait_air
                    )
                    # Never safely ready: then the likely moment has to do.
                    opens = moments[2] or moments[1] or end
                if opens is not None and stint.start < opens - JOT:
                    text = f"{before.id} reaches {wait.stage or 'its end'} at {opens}"
                    yield Violation("rescue", stint.id, text)

    def top_before_bottom(self) -> Iterable[Violation]:
        """In a room, coats below wait until the work above has ended."""
        begun = {
            coat.surface
            for coat in self.job.coats
            if self.job.step_of(coat.surface, coat.step).material is not None
        }
        for stint in self.work:
            surface, step = self._what(stint)
            if step.material is None or surface.id in begun:
                continue
            if self.job.room(surface.room).any_order:
                continue
            for other in self.work:
                above = self.job.surface(other.surface)
                higher = RANK.get(above.kind, 3) < RANK.get(surface.kind, 3)
                if (
                    higher
                    and above.room == surface.room
                    and stint.start < other.end - JOT
                ):
                    yield Violation("order", stint.id, f"{other.id} above is not done")

    def kept_apart(self) -> Iterable[Violation]:
        """Dust, steam and solvent meet no open or tacky coat in connected air."""
        coats: list[tuple[str, Surface, Step, datetime, datetime]] = [
            (stint.id, surface, self._laid(stint), stint.start, stint.end)
            for stint in self.stints
            for surface in [self.job.surface(stint.surface)]
            if stint.kind != "test"
        ]
        for coat in self.job.coats:
            surface = self.job.surface(coat.surface)
            step = self.job.recipe(surface.recipe).step(coat.step)
            coats.append(
                (f"the coat of {coat.surface}", surface, step, coat.start, coat.end)
            )
        for stint in self.work:
            surface, step = self._what(stint)
            airborne = step.airborne
            for name, other, coat_step, start, end in coats if airborne else ():
                if (
                    coat_step.material is None
                    or name == stint.id
                    or start >= stint.end - JOT
                    or not self._share_air(surface, other)
                ):
                    continue
                material = self.materials[coat_step.material]
                for what in airborne:
                    if what in coat_step.makes:
                        continue
                    clear = self._clear(other, coat_step, material, end)
                    if stint.start < clear - JOT:
                        text = f"{name} is open or tacky until {clear}"
                        yield Violation(what, stint.id, text, clear)

    def corners(self) -> Iterable[Violation]:
        """No wall laid wet is begun beside one, of another pair, that is still wet."""
        pairs = [
            {surface.id, surface.opposite}
            for surface in self.job.surfaces
            if surface.opposite is not None
        ]
        paired = {name for pair in pairs for name in pair}
        laid = [
            (stint.id, *self._what(stint), stint.section, stint.start, stint.end)
            for stint in self.work
        ]
        for coat in self.job.coats:
            surface = self.job.surface(coat.surface)
            step = self.job.recipe(surface.recipe).step(coat.step)
            name = f"the coat of {coat.surface}"
            laid.append((name, surface, step, coat.section, coat.start, coat.end))
        wet = [
            row
            for row in laid
            if row[1].id in paired
            and row[2].wet
            and row[2].material is not None
            and (row[3] is None or row[3] in _ends_of(row[1]))
        ]
        stints = {stint.id for stint in self.work}
        for name, surface, _, _, start, _ in wet:
            for beside, other, step, _, begun, end in wet:
                if (
                    name not in stints
                    or other.id == surface.id
                    or {surface.id, other.id} in pairs
                    or (other.room, other.recipe) != (surface.room, surface.recipe)
                    or begun > start
                ):
                    continue
                dry = self._clear(other, step, self.materials[step.material or ""], end)
                if start < dry - JOT:
                    text = f"meets {beside}, wet until {dry}, in a corner"
                    yield Violation("corner", name, text, dry)

    def air_allows(self) -> Iterable[Violation]:
        """No coat starts in air that its family may not start in."""
        for stint in self.work:
            surface, step = self._what(stint)
            if step.material is None or self._continues(stint):
                continue
            family = self.materials[step.material].family
            for airs in (self.wait_air, self.open_air):
                air = airs[surface.id]
                found = cautions.blocked_by(
                    family, air, air.index(air.minute(stint.start))
                )
                if found:
                    yield Violation("air", stint.id, found[0].text)
                    break

    # -- people's words ------------------------------------------------------------

    def gates(self) -> Iterable[Violation]:
        """Nothing on a surface before what its gates wait for."""
        for stint in self.stints:
            for gate in self.job.surface(stint.surface).gates:
                if gate.not_before is not None and stint.start < gate.not_before:
                    yield Violation("gate", stint.id, f"{gate.name} {gate.not_before}")

    def pins(self) -> Iterable[Violation]:
        """Pinned stints start where the lead put them, with the hands named."""
        for pin in self.job.pins:
            if pin.start < self.at:
                continue
            stints = [
                stint
                for stint in self.work
                if (stint.surface, stint.step) == (pin.surface, pin.step)
                and pin.section in (None, stint.section)
            ]
            kept = [
                stint
                for stint in stints
                for first in [self._test_before(stint) or stint]
                if timedelta() <= first.start - pin.start < GRID
            ]
            for stint in stints[:1] if not kept else []:
                yield Violation("pin", stint.id, f"pinned to {pin.start}")
            for stint in kept:
                if pin.hands and set(pin.hands) != set(stint.hands):
                    yield Violation("pin", stint.id, f"pinned with {pin.hands}")

    def bans(self) -> Iterable[Violation]:
        """Nobody does what they are kept off, and nothing is done when forbidden."""
        for ban, stint in itertools.product(self.job.bans, self.work):
            if (stint.surface, stint.step) != (ban.surface, ban.step):
                continue
            if None not in (ban.section, stint.section) and (
                ban.section != stint.section
            ):
                continue
            for name in set(ban.hands) & set(stint.hands):
                yield Violation("ban-hand", stint.id, f"{name} is kept off it")
            if ban.start is None or ban.end is None:
                continue
            for start, end in self._stretches(stint):
                if start < ban.end - JOT and ban.start < end - JOT:
                    text = f"forbidden {ban.start} to {ban.end}"
                    yield Violation("ban-time", stint.id, text)
                    break

    def must_dates(self) -> Iterable[Violation]:
        """Dates that must be kept are kept, at the safe end of the clock."""
        for number, wish in enumerate(self.job.dates):
            if not wish.must:
                continue
            for surface, reached in self.reached(wish):
                if reached is None or reached > wish.by + JOT:
                    yield Violation(
                        "must-date", f"date {number}", f"{surface.id}: {reached}"
                    )

    def reached(self, wish: DateWish) -> Iterable[tuple[Surface, datetime | None]]:
        """When each surface of a date reaches what is wished; None where never."""
        for surface in self.job.surfaces:
            if (
                wish.job is None
                and surface.id != wish.surface
                and (surface.room != wish.room)
            ):
                continue
            last = self.job.recipe(surface.recipe).steps[-1]
            for end in self._ends(surface, last, None):
                reached: datetime | None = end
                stage = wish.stage or wish.promise or ""
                if last.material is not None:
                    material = self.materials[last.material]
                    if material.label_min(stage) is not None:
                        laid = self._how(surface, last)
                        reached = self._clock(
                            surface, material, laid, stage, end, self.wait_air
                        )[2]
                yield surface, reached

    # -- facts -----------------------------------------------------------------------

    def _what(self, stint: Stint) -> tuple[Surface, Step]:
        surface = self.job.surface(stint.surface)
        return surface, self.job.recipe(surface.recipe).step(stint.step)

    def _laid(self, stint: Stint) -> Step:
        """The step as the stint does it: a rescue scuffs, or lays the coat before."""
        surface, step = self._what(stint)
        if stint.kind != "rescue":
            return step
        recipe = self.job.recipe(surface.recipe)
        wait = wait_of(recipe, step, self.materials)
        again = wait is not None and step.rescue is not None and step.rescue.stage
        if wait is None or not again:
            return replace(step, material=None, makes=())
        before = recipe.step(wait.step)
        return replace(step, material=before.material, makes=(), coat=before.coat)

    def _how(self, surface: Surface, step: Step) -> Laid:
        """How thick a step lays its coat, and whether the ground sucks at it.

        The ground sucks until a step below seals it; a rescue lies on the same steps.
        """
        sucks = surface.ground == "porous"
        recipe = self.job.recipe(surface.recipe)
        place = step.id
        while sucks:
            wait = wait_of(recipe, recipe.step(place), self.materials)
            if wait is None:
                break
            place = wait.step
            below = recipe.step(place)
            seals = below.seals
            if seals is None and below.material is not None:
                seals = self.materials[below.material].family in FILMS
            sucks = not seals
        return Laid(coat=step.coat, porous=sucks)

    def _section_share(self, surface: Surface, section: str | None) -> float:
        return 1.0 if section is None else dict(surface.sections)[section]

    def _share(self, surface: Surface, step: Step, stint: Stint) -> float:
        share = self._section_share(surface, stint.section)
        return share / len(self._beside(stint)) if self._in_parts(stint) else share

    def _left_share(self, surface: Surface, step: Step) -> float:
        done = self._passed(surface, step)
        done |= {
            coat.section
            for coat in self.job.coats
            if (coat.surface, coat.step) == (surface.id, step.id)
        }
        if None in done:
            return 0.0
        return 1.0 - sum(self._section_share(surface, section) for section in done)

    def _passed(self, surface: Surface, step: Step) -> set[str | None]:
        """Sections (None is all) with a later step logged: there this one is done."""
        recipe = self.job.recipe(surface.recipe)
        passed: set[str | None] = set()
        for coat in self.job.coats:
            if coat.surface != surface.id:
                continue
            wait = wait_of(recipe, recipe.step(coat.step), self.materials)
            while wait is not None:
                if wait.step == step.id:
                    passed.add(coat.section)
                wait = wait_of(recipe, recipe.step(wait.step), self.materials)
        return passed

    def _ends(
        self, surface: Surface, step: Step, section: str | None
    ) -> list[datetime]:
        """When a step ended or will end on a section, logged and planned.

        A logged coat with later ones of its step over all of it is under them and over.
        """
        rows: list[Coat | Stint] = [*self.job.coats, *self.work]
        found = [
            row
            for row in rows
            if (row.surface, row.step) == (surface.id, step.id)
            and (section is None or row.section in (None, section))
        ]
        places = {section} if section else {name for name, _ in surface.sections}

        def seen(number: int, coat: Coat) -> bool:
            over = {
                other.section
                for other in found[number + 1 :]
                if isinstance(other, Coat)
            }
            on = places if coat.section is None else {coat.section}
            return None not in over and not on <= over

        return [
            row.end
            for number, row in enumerate(found)
            if isinstance(row, Stint) or seen(number, row)
        ]

    def _continues(self, stint: Stint) -> bool:
        """Whether this is a later part of a step that splits."""
        return self._in_parts(stint) and any(
            other.start < stint.start for other in self._beside(stint)
        )

    def _in_parts(self, stint: Stint) -> bool:
        """Whether a step goes in several stints: it splits, or is dry in a relay."""
        _, step = self._what(stint)
        in_turns = self.job.in_relay and not step.wet and len(self._beside(stint)) > 1
        return step.splits or in_turns

    def _beside(self, stint: Stint) -> list[Stint]:
        """The stints of the same step at the same place, itself too."""
        place = stint.surface, stint.step, stint.section
        return [
            other
            for other in self.work
            if (other.surface, other.step, other.section) == place
        ]

    def _rescue_of(self, stint: Stint) -> Stint | None:
        return next(
            (
                other
                for other in self.stints
                if other.kind == "rescue"
                and (other.surface, other.step, other.section)
                == (stint.surface, stint.step, stint.section)
            ),
            None,
        )

    def _test_before(self, stint: Stint) -> Stint | None:
        return next(
            (
                other
                for other in self.stints
                if other.kind == "test"
                and (other.surface, other.step, other.section, other.end)
                == (stint.surface, stint.step, stint.section, stint.start)
            ),
            None,
        )

    def _clock(
        self,
        surface: Surface,
        material: Material,
        laid: Laid,
        stage: str,
        end: datetime,
        airs: Mapping[str, RoomAir],
    ) -> Moments:
        """Moments to count on for a closing, as likely, and for a wait."""
        air = airs[surface.id]
        key = (id(air), material.id, laid, stage, end)
        if key not in self._clocks:
            self._clocks[key] = self._run_clock(air, material, laid, stage, end)
        return self._clocks[key]

    def walked(self, air: RoomAir) -> drying.Worked:
        """What all clocks in one air share, worked out once."""
        if id(air) not in self._walked:
            self._walked[id(air)] = drying.walked(air)
        return self._walked[id(air)]

    def _run_clock(
        self, air: RoomAir, material: Material, laid: Laid, stage: str, end: datetime
    ) -> Moments:
        minute = air.minute(end)
        found = drying.hours_in(
            material,
            stage,
            air,
            minute,
            laid.coat,
            porous=laid.porous,
            worked=self.walked(air),
        )
        moments = []
        closing, wait = closing_min(found, self.chance), wait_min(found, self.chance)
        for value in (closing, found.likely_min, wait):
            length = float(value)
            moments.append(
                None if length == float("inf") else air.moment(minute + length)
            )
        return moments[0], moments[1], moments[2]

    def _clear(
        self, surface: Surface, step: Step, material: Material, end: datetime
    ) -> datetime:
        laid = self._how(surface, step)
        usual = (
            ("closes", "tack")
            if material.family in SIZES
            else ("touch", "recoat", "open")
        )
        for stage in usual:
            if stage in material.labels:
                airs = self.wait_air
                safe = self._clock(surface, material, laid, stage, end, airs)[2]
                return safe or datetime.max.replace(tzinfo=end.tzinfo)
        return end

    def _share_air(self, one: Surface, other: Surface) -> bool:
        a, b = self.job.room(one.room), self.job.room(other.room)
        return a.id == b.id or _names(a, b) or _names(b, a)

    def _open_spans(
        self,
        hours: Sequence[Hours],
        moment: datetime,
        *,
        site: bool,
        turn: int | None = None,
    ) -> list[tuple[datetime, datetime]]:
        """Stretches open on the day of ``moment``, breaks taken out.

        The ``site`` stays open in a relay, unless a hand's ``turn`` is asked for.
        """
        day = moment.astimezone(self.job.site.tz).date()
        if site and day in self.job.site.closed:
            return []
        opens, pauses = [], []
        for rule in hours:
            if day.weekday() in _weekdays(rule.days):
                opens.append((self._at(day, rule.start), self._at(day, rule.end)))
                for pause in rule.breaks:
                    if self.job.in_relay and pause.relay and site and turn is None:
                        continue
                    begin, end = (
                        self._at(day, text) for text in (pause.start, pause.end)
                    )
                    later = (end - begin) * (turn or 0) if pause.relay else timedelta()
                    pauses.append((begin + later, end + later))
        edges = sorted({edge for span in [*opens, *pauses] for edge in span})
        spans: list[tuple[datetime, datetime]] = []
        for a, b in itertools.pairwise(edges):
            inside = any(s <= a and b <= e for s, e in opens)
            paused = any(s <= a and b <= e for s, e in pauses)
            if inside and not paused:
                if spans and spans[-1][1] == a:
                    spans[-1] = (spans[-1][0], b)
                else:
                    spans.append((a, b))
        return spans

    def _at(self, day: date, clock: str) -> datetime:
        hours, minutes = (int(part) for part in clock.split(":"))
        day += timedelta(days=hours // 24)
        local = datetime(
            day.year, day.month, day.day, hours % 24, minutes, tzinfo=self.job.site.tz
        )
        return local.astimezone(UTC)

    def _inside(
        self, rule: str, stint: Stint, spans: list[tuple[datetime, datetime]]
    ) -> Iterable[Violation]:
        _, step = self._what(stint)
        if step.wet and stint.kind == "work":
            if not any(a <= stint.start and stint.end <= b for a, b in spans):
                yield Violation(rule, stint.id, "not in one unbroken stretch")
        elif not (
            any(a <= stint.start < b for a, b in spans)
            and any(a < stint.end <= b for a, b in spans)
        ):
            yield Violation(rule, stint.id, "outside the day's hours")

    def _worked(self, stint: Stint) -> timedelta:
        """The stint's span less the breaks inside it."""
        stretches = self._stretches(stint)
        return sum((end - start for start, end in stretches), timedelta())

    def _stretches(self, stint: Stint) -> list[tuple[datetime, datetime]]:
        """The parts of a stint between breaks; of each, the whole five minutes."""
        spans = self._open_spans(self.job.site.hours, stint.start, site=True)
        if self.job.hands and all(
            self.hands[name].hours is not None
            for name in stint.hands
            if name in self.hands
        ):
            own = [
                self._open_spans(self.hands[name].hours or (), stint.start, site=False)
                for name in stint.hands
                if name in self.hands
            ]
            if own:
                spans = _common(spans, own[0])
        whole = [(_up_to_grid(a), b - (b - EPOCH) % GRID) for a, b in spans]
        return _common(whole, [(stint.start, stint.end)])


_Row = TypeVar("_Row", Stint, Coat)


def _in_utc(row: _Row) -> _Row:
    return replace(row, start=row.start.astimezone(UTC), end=row.end.astimezone(UTC))


def _pace(step: Step, hands: int) -> float:
    """Minutes a square metre, set-up apart."""
    return step.minutes(1.0, max(hands, 1)) - step.setup_min


def _ends_of(surface: Surface) -> tuple[str, str]:
    """The sections at the two ends of a wall."""
    return surface.sections[0][0], surface.sections[-1][0]


def _up_to_grid(moment: datetime) -> datetime:
    return moment + (EPOCH - moment) % GRID


def _common(
    one: list[tuple[datetime, datetime]], other: list[tuple[datetime, datetime]]
) -> list[tuple[datetime, datetime]]:
    return [
        (max(a, c), min(b, d))
        for a, b in one
        for c, d in other
        if max(a, c) < min(b, d)
    ]


def _names(one: Room, other: Room) -> bool:
    return other.id in one.connected


def _weekdays(text: str) -> set[int]:
    found = set()
    for part in text.split(","):
        ends = [DAYS.index(name) for name in part.split("-")]
        day = ends[0]
        found.add(day)
        while day != ends[-1]:
            day = (day + 1) % 7
            found.add(day)
    return found
