"""What a calendar entry's description says of one stint, line by line."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from jobs.calendar_words import (
    READY,
    amount_text,
    ceil,
    hands_text,
    label,
    moment_text,
    span_text,
    time_between,
)
from jobs.care_words import care_text
from scheduling import plan, problem
from scheduling.readiness_state import TESTS
from scheduling.room_care import care_of


@dataclass(frozen=True, slots=True, kw_only=True)
class StintLines:
    """One stint in its job, and the lines that tell of it."""

    job: problem.Job
    stint: plan.Stint

    @property
    def surface(self) -> problem.Surface:
        return self.job.surface(self.stint.surface)

    @property
    def room(self) -> problem.Room:
        return self.job.room(self.surface.room)

    @property
    def recipe(self) -> problem.Recipe:
        return self.job.recipe(self.surface.recipe)

    @property
    def step(self) -> problem.Step:
        return self.recipe.step(self.stint.step)

    @property
    def material(self) -> problem.Material | None:
        return self.job.material(self.step.material) if self.step.material else None

    @property
    def place(self) -> str:
        section = f" section {self.stint.section}" if self.stint.section else ""
        return f"{label(self.surface)}{section}{self.in_room}"

    @property
    def in_room(self) -> str:
        """The room after a surface's name, unless the name says it already."""
        room, surface = label(self.room), label(self.surface)
        return "" if room.casefold() in surface.casefold() else f", {room}"

    @property
    def zone(self) -> ZoneInfo:
        return self.job.site.tz

    def head(self, what: str, start: datetime, end: datetime) -> list[str]:
        """What is done where, and when by the site's clock."""
        place = f"{label(self.surface)}{self.in_room}"
        if self.stint.section:
            place += f", section {self.stint.section} of {len(self.surface.sections)}"
        return [f"{what} · {place}", span_text(start, end, self.zone)]

    def crew(
        self, keys: tuple[str, ...], roles: Mapping[str, str] | None = None
    ) -> list[str]:
        """Who does it, by name."""
        who = hands_text(self.job, keys, roles)
        return [f"Hands: {who}"] if who else []

    def mix(self) -> list[str]:
        """Parts, and litres for the stint's area; no litres where the step splits."""
        material = self.material
        if material is None:
            return []
        words = [label(material)]
        if material.parts:
            parts = (f"{name} {share:g}" for name, share in material.parts.items())
            words.append(f"by parts {' : '.join(parts)}")
        if material.spread_m2_per_l and not self.step.splits:
            area_m2 = self.surface.area_m2
            if self.stint.section:
                area_m2 *= dict(self.surface.sections).get(self.stint.section, 1.0)
            litres = area_m2 * self.step.coat / material.spread_m2_per_l
            words.append(amount_text(litres, area_m2))
        return [f"{'Mix' if material.parts else 'Material'}: {', '.join(words)}"]

    def open_for(self) -> list[str]:
        """The least time it can be worked."""
        early = self.stint.open.early if self.stint.open else None
        if early is None:
            return []
        minutes = time_between(self.stint.end, early) // timedelta(minutes=1)
        return [f"Stays open at least {minutes} min"]

    def air(self) -> list[str]:
        """How the room is kept while the coat is open and while it dries."""
        text = care_text(care_of(self.job, self.stint), self.zone)
        return [f"Air: {text}"] if text else []

    def test_first(self) -> list[str]:
        """What to try on the coat below."""
        materials = {material.id: material for material in self.job.materials}
        after = problem.wait_of(self.recipe, self.step, materials)
        below = self.recipe.step(after.step).material if after else None
        if below is None:
            return []
        first = "Test" if self.stint.kind == "test" else "Test first"
        return [f"{first}: {TESTS[materials[below].family]}"]

    def moments(self, ready: plan.Range, stage: str) -> list[str]:
        """When a stage is reached, and what to try then."""
        name = READY.get(stage, stage)
        lines = [f"{name.capitalize()}: {self.range_text(ready)}"]
        return (
            [*lines, f"Test: {TESTS[self.material.family]}"] if self.material else lines
        )

    def range_text(
        self, moments: plan.Range, rounded: Callable[[datetime], datetime] = ceil
    ) -> str:
        """Early, likely and safe by the site's clock."""
        named = {
            "early": moments.early,
            "likely": moments.likely,
            "safe": moments.safe,
        }
        return ", ".join(
            f"{name} {moment_text(rounded(moment), self.zone)}"
            if moment
            else f"{name} not in this air"
            for name, moment in named.items()
        )
