"""The audit's rules about rooms, site and hours, on a calendar of its own.

Hours are built day by day in the site's zone; nothing of the planner is read.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import product

from scheduling.cautions import DUST_SETTLES_MIN
from scheduling.plan import Stint
from scheduling.problem import (
    SIZES,
    Hours,
    Job,
    Material,
    Room,
    Step,
    Surface,
    wait_of,
)

JOT = timedelta(seconds=1)
FURTHEST = timedelta(days=400)  # Assumed: what is tacky then is tacky for ever
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
Stretch = tuple[datetime, datetime]


@dataclass(frozen=True, slots=True)
class Violation:
    """A rule broken by a stint, in words; ``until`` then, where that is known."""

    rule: str
    stint: str
    text: str
    until: datetime | None = None

    def __str__(self) -> str:
        return f"{self.rule}: {self.stint}: {self.text}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteRules:
    """What hours and rooms forbid the stints of a job.

    ``laid`` gives the step as a stint does it, ``clear`` when a coat that ended then is
    no longer open or tacky, ``worked`` the parts of a stint between its breaks.
    """

    job: Job
    stints: Sequence[Stint]
    laid: Callable[[Stint], Step]
    clear: Callable[[Surface, Step, Material, datetime], datetime]
    worked: Callable[[Stint], list[Stretch]]

    def rules(self) -> list[Iterable[Violation]]:
        """The rules in the order in which a reader wants to hear of them."""
        return [
            self.open_to_the_public(),
            self.quiet_hours(),
            self.smell_free_hours(),
            self.sun_on_the_wall(),
            self.other_trades(),
            self.other_trades_air(),
            self.dust_settles(),
            self.shut_gates(),
            self.handed_back(),
        ]

    def air_rules(self) -> list[Iterable[Violation]]:
        """Those of the rules that the air alone can break."""
        return [
            self.open_to_the_public(),
            self.smell_free_hours(),
            self.other_trades_air(),
            self.handed_back(),
        ]

    def shut_gates(self) -> Iterable[Violation]:
        """Nobody at a surface after a gate of it has shut."""
        for stint in self.stints:
            for gate in self.job.surface(stint.surface).gates:
                if gate.not_after is not None and stint.end > gate.not_after + JOT:
                    text = f"{gate.name} shut {gate.not_after}"
                    yield Violation("shuts", stint.id, text)

    def handed_back(self) -> Iterable[Violation]:
        """Work in a room has ended, and its last coats are dry to touch, by then."""
        for stint in self.stints:
            surface = self.job.surface(stint.surface)
            room = self.job.room(surface.room)
            if room.hand_back is not None and stint.end > room.hand_back + JOT:
                yield Violation("hand-back", stint.id, f"after {room.hand_back}")
        for stint, surface, step, material in self._coats():
            back = self.job.room(surface.room).hand_back
            later = self.job.recipe(surface.recipe).steps
            later = later[[row.id for row in later].index(step.id) + 1 :]
            if back is None or any(row.material is not None for row in later):
                continue
            if self.clear(surface, step, material, stint.end) > back + JOT:
                yield Violation("hand-back", stint.id, f"not dry to touch by {back}")

    def open_to_the_public(self) -> Iterable[Violation]:
        """From its start until its touch a coat meets no hour open to the public."""
        for stint, surface, step, material in self._coats():
            room = self.job.room(surface.room)
            until = self.clear(surface, step, material, stint.end)
            if material.family in SIZES:
                until = min([until, *self._gone_over(stint, surface)])
            for opens, _ in self._meeting(room.opens, stint.start, until):
                text = f"not dry to touch when {room.id} opens {opens}"
                yield Violation("opens", stint.id, text)
                break

    def quiet_hours(self) -> Iterable[Violation]:
        """No dust and no noise in the site's quiet hours."""
        for stint in self.stints:
            noisy = {"dust", "noise"} & set(self.laid(stint).makes)
            if noisy and stint.kind != "test":
                for start, end in self.worked(stint):
                    for quiet, _ in self._meeting(self.job.site.quiet, start, end):
                        text = f"makes {min(noisy)} in the quiet hours of {quiet}"
                        yield Violation("quiet", stint.id, text)

    def smell_free_hours(self) -> Iterable[Violation]:
        """No solvent in smell-free hours, a coat's from its start until its touch."""
        smelly = {material.id for material in self.job.materials if material.solvent}
        for stint in self.stints:
            surface, step = self.job.surface(stint.surface), self.laid(stint)
            if stint.kind == "test" or not (
                "solvent" in step.makes or step.material in smelly
            ):
                continue
            hours = [*self.job.site.smell_free]
            for room in self.job.rooms:
                hours += room.smell_free if self._share_air(surface, room) else ()
            stretches = self.worked(stint)
            if step.material is not None:
                material = self.job.material(step.material)
                until = self.clear(surface, step, material, stint.end)
                stretches = [(stint.start, until)]
            met = [at for span in stretches for at, _ in self._meeting(hours, *span)]
            if met:
                text = f"smells in the smell-free hours of {met[0]}"
                yield Violation("smell", stint.id, text)

    def sun_on_the_wall(self) -> Iterable[Violation]:
        """No wet edge is kept on a wall while the sun is on it."""
        for stint in self.stints:
            surface = self.job.surface(stint.surface)
            if not self.laid(stint).wet or stint.kind == "test":
                continue
            for start, end in self.worked(stint):
                for sun, _ in self._meeting(surface.sun, start, end):
                    yield Violation("sun", stint.id, f"the sun is on it from {sun}")

    def other_trades(self) -> Iterable[Violation]:
        """Nobody of ours in a room while another trade has it."""
        for stint in self.stints:
            room = self.job.room(self.job.surface(stint.surface).room)
            for trade, (start, end) in product(room.others, self.worked(stint)):
                if start < trade.end - JOT and trade.start + JOT < end:
                    text = f"{trade.name} has {room.id} until {trade.end}"
                    yield Violation("trade", stint.id, text)

    def other_trades_air(self) -> Iterable[Violation]:
        """No coat open or tacky in what another trade makes, or in its dust after."""
        for stint, surface, step, material in self._coats():
            clear = self.clear(surface, step, material, stint.end)
            for room in self.job.rooms:
                for trade in room.others if self._share_air(surface, room) else ():
                    spoils = set(trade.makes) - set(step.makes)
                    over = trade.end
                    if "dust" in spoils:
                        over += timedelta(minutes=DUST_SETTLES_MIN)
                    if (
                        spoils
                        and stint.start < over - JOT
                        and trade.start < clear - JOT
                    ):
                        text = f"{trade.name} makes {min(spoils)}, over {over}"
                        yield Violation("trade-air", stint.id, text)

    def dust_settles(self) -> Iterable[Violation]:
        """No coat begins before the dust of a stint or a logged step has settled."""
        makers = [
            (stint.id, stint.surface, self.laid(stint), stint.end)
            for stint in self.stints
            if stint.kind != "test"
        ]
        for coat in self.job.coats:
            name = f"{coat.step} on {coat.surface}"
            made = self.job.step_of(coat.surface, coat.step)
            makers.append((name, coat.surface, made, coat.end))
        for stint, surface, step, _ in self._coats():
            for name, where, dusty, end in makers:
                settled = end + timedelta(minutes=DUST_SETTLES_MIN)
                if (
                    end - JOT < stint.start < settled - JOT
                    and "dust" in set(dusty.makes) - set(step.makes)
                    and self._share_air(
                        surface, self.job.room(self.job.surface(where).room)
                    )
                ):
                    text = f"the dust of {name} settles until {settled}"
                    yield Violation("settles", stint.id, text)

    # -- facts -------------------------------------------------------------------

    def _share_air(self, surface: Surface, room: Room) -> bool:
        ours = self.job.room(surface.room)
        return (
            ours.id == room.id or room.id in ours.connected or ours.id in room.connected
        )

    def _coats(self) -> Iterable[tuple[Stint, Surface, Step, Material]]:
        for stint in self.stints:
            step = self.laid(stint)
            if stint.kind != "test" and step.material is not None:
                material = self.job.material(step.material)
                yield stint, self.job.surface(stint.surface), step, material

    def _gone_over(self, stint: Stint, surface: Surface) -> Iterable[datetime]:
        """When a size has all been gone over, by its rescue or by the step on it."""
        recipe = self.job.recipe(surface.recipe)
        materials = {material.id: material for material in self.job.materials}
        after = {"work": [], "rescue": []}  # type: dict[str, list[datetime]]
        for other in self.stints:
            if other.surface != surface.id or other.kind == "test":
                continue
            if None not in (stint.section, other.section) and (
                stint.section != other.section
            ):
                continue
            wait = wait_of(recipe, recipe.step(other.step), materials)
            again = stint.kind == "rescue" and other.kind == "work"
            if (again and other.step == stint.step) or (
                stint.kind == "work" and wait is not None and wait.step == stint.step
            ):
                after[other.kind].append(other.end)
        ends = after["rescue"] or after["work"]
        if ends:
            yield max(ends)

    def _meeting(
        self, hours: Sequence[Hours], start: datetime, end: datetime
    ) -> Iterator[Stretch]:
        """The stretches of these hours that meet a time, day by day."""
        if not hours:
            return
        zone = self.job.site.tz
        start = start.astimezone(UTC)
        end = min(end.astimezone(UTC), start + FURTHEST)
        day = start.astimezone(zone).date()
        while day <= end.astimezone(zone).date():
            for rule in hours:
                if DAYS[day.weekday()] not in _days_named(rule.days):
                    continue
                for a, b in self._open(day, rule):
                    if a < end - JOT and start + JOT < b:
                        yield a, b
            day += timedelta(days=1)

    def _open(self, day: date, rule: Hours) -> Iterable[Stretch]:
        """A day's hours by one rule, its breaks taken out."""
        cursor = self._moment(day, rule.start)
        for pause in sorted(rule.breaks, key=lambda pause: pause.start):
            pauses = self._moment(day, pause.start)
            if cursor < pauses:
                yield cursor, pauses
            cursor = max(cursor, self._moment(day, pause.end))
        yield cursor, self._moment(day, rule.end)

    def _moment(self, day: date, clock: str) -> datetime:
        hours, minutes = (int(part) for part in clock.split(":"))
        day += timedelta(days=hours // 24)
        zone = self.job.site.tz
        local = datetime(day.year, day.month, day.day, hours % 24, minutes, tzinfo=zone)
        return local.astimezone(UTC)


def _days_named(text: str) -> Iterable[str]:
    for part in text.split(","):
        first, _, last = part.partition("-")
        number = DAYS.index(first)
        yield DAYS[number]
        while last and DAYS[number] != last:
            number = (number + 1) % 7
            yield DAYS[number]
