"""What the ground has against a coat, said beside the plan and on the list of walls.

Moist timber and plaster, joinery that has not come to its room's air, and a base that
is dry but not hard under a glaze or a size. All are cautions: none stops a coat.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from scheduling import drying
from scheduling.cautions import Caution
from scheduling.corrections import standing
from scheduling.ground import laid_on
from scheduling.joinery import (
    INTERIOR_MOST_PCT,
    joinery_caution,
    moisture_then_pct,
    unsettled_caution,
)
from scheduling.plan import Stint
from scheduling.problem import (
    SIZES,
    Air,
    Coat,
    Family,
    Job,
    MoistureReading,
    Step,
    Surface,
    wait_of,
)
from scheduling.process import called, day_text
from scheduling.psychrometrics import wood_moisture_pct
from scheduling.room_air import RoomAir

JOINERY = ("door", "trim", "panel")
WOODEN = (*JOINERY, "floor")  # Assumed: a floor that is coated is of boards
PLASTER_MOST_PCT = 8.0  # UFGS 09 90 00: plaster 8 % by meter; from memory
# What tape, solvent or leaf would mark on a base that is only dry.
WANTS_HARD: tuple[Family, ...] = ("glaze", *SIZES)
LIKES_DAMP: tuple[Family, ...] = ("lime", "gypsum")  # laid on damped ground
_DAY_MIN = 1440.0
_NAMES_SHOWN = 3
_PLASTER_SOURCE = "UFGS 09 90 00; ASTM D4263"
_HARD_SOURCE = "common practice; soft undercoats ruin leaf: Armstrong, 1908, p. 169"


def moisture_of(job: Job, surface: Surface, at: datetime) -> MoistureReading | None:
    """The last word of a moisture meter on this surface by then, None without one.

    A reading of a room speaks of what in it is of that stuff.
    """
    stuff = "wood" if surface.kind in WOODEN else "plaster"
    mine = [
        row if row.of else replace(row, of=stuff)
        for row in job.moisture
        if row.at <= at
        and (
            row.surface == surface.id or (row.room == surface.room and row.of == stuff)
        )
    ]
    return max(mine, key=lambda row: (row.at, row.surface is not None), default=None)


@dataclass(frozen=True, slots=True)
class _On:
    """A coat or dry work that is on a surface, or will be."""

    surface: str
    section: str | None
    step: str
    end: datetime


class GroundCautions:
    """Asks of one job, in the air at its surfaces, with all that is or will be on."""

    def __init__(
        self,
        job: Job,
        airs: Mapping[str, RoomAir],
        rows: Iterable[Coat | Stint],
        *,
        at: datetime,
    ) -> None:
        self.job, self.airs, self.at = job, airs, at
        self.materials = {material.id: material for material in job.materials}
        self.on = [_On(r.surface, r.section, r.step, r.end) for r in rows]

    def before(
        self, surface: Surface, step: Step, section: str | None, start: datetime
    ) -> tuple[Caution, ...]:
        """What to mind before a step starts there at that moment."""
        if step.material is None:
            return ()
        family = self.materials[step.material].family
        found = (
            self._moist(surface, section, family, start),
            self._not_hard(surface, step, section, family, start),
        )
        return tuple(caution for caution in found if caution is not None)

    def unmeasured(self, surface: Surface) -> bool:
        """Whether this is joinery that no moisture was measured of."""
        return (
            surface.kind in JOINERY and moisture_of(self.job, surface, self.at) is None
        )

    def _painted(self, surface: Surface, section: str | None) -> list[_On]:
        recipe = self.job.recipe(surface.recipe)
        return [
            row
            for row in self.on
            if row.surface == surface.id
            and _meet(row.section, section)
            and recipe.step(row.step).material is not None
        ]

    def _moist(
        self, surface: Surface, section: str | None, family: Family, start: datetime
    ) -> Caution | None:
        reading = moisture_of(self.job, surface, self.at)
        painted = [
            row.end for row in self._painted(surface, section) if row.end <= start
        ]
        if painted and (reading is None or max(painted) >= reading.at):
            return None  # what was measured lies under a coat by then
        air = self.airs[surface.id]
        if reading is None:
            known = surface.kind in JOINERY
            return joinery_caution(_mean(air, start)) if known else None
        if reading.of == "plaster":
            return None if family in LIKES_DAMP else self._plaster(reading)
        then_pct = moisture_then_pct(
            air, reading.moisture_pct, air.minute(reading.at), air.minute(start)
        )
        around = _mean(air, start)
        found = joinery_caution(around, then_pct)
        if found is None and surface.kind in JOINERY:
            found = unsettled_caution(around, then_pct)
        if found is None:
            return None
        told = (
            f"{found.text} Measured {reading.moisture_pct:.1f} % {self._day(reading)}."
        )
        return replace(found, text=told)

    def _plaster(self, reading: MoistureReading) -> Caution | None:
        if reading.moisture_pct <= PLASTER_MOST_PCT:
            return None
        text = (
            f"Plaster {reading.moisture_pct:.1f} % {self._day(reading)}; at most "
            f"{PLASTER_MOST_PCT:.0f} % by meter. Tape a sheet over it for a day and "
            "look for damp."
        )
        return Caution(code="moist-ground", text=text, source=_PLASTER_SOURCE)

    def _day(self, reading: MoistureReading) -> str:
        return day_text(reading.at, self.job)

    def _not_hard(
        self,
        surface: Surface,
        step: Step,
        section: str | None,
        family: Family,
        start: datetime,
    ) -> Caution | None:
        if family not in WANTS_HARD:
            return None
        below = self._coat_below(surface, step)
        if below is None or below.material is None:
            return None
        material = self.materials[below.material]
        if "hard" not in material.labels:
            return None
        ends = [
            row.end
            for row in self._painted(surface, section)
            if row.step == below.id and row.end <= start
        ]
        if not ends:
            return None
        air, end = self.airs[surface.id], max(ends)
        laid = laid_on(self.job, surface, below)
        minute = air.minute(end)
        clock = drying.clock(
            material,
            "hard",
            air,
            np.array([minute]),
            coat=laid.coat,
            porous=laid.porous,
        )
        safe_min = float(clock.safe_min[0])
        if minute + safe_min <= air.minute(start) + 1 / 60:
            return None
        name = below.name or below.id
        when = "never hard in this air"
        if np.isfinite(safe_min):
            hard = end + timedelta(minutes=safe_min)
            when = f"safely hard {day_text(hard, self.job)}"
        text = f"{name} is dry but not hard, {when}: tape and solvent may lift it."
        return Caution(code="not-hard", text=text, source=_HARD_SOURCE)

    def _coat_below(self, surface: Surface, step: Step) -> Step | None:
        """The step whose coat this one lies on, dry work between them passed over."""
        recipe = self.job.recipe(surface.recipe)
        wait = wait_of(recipe, recipe.step(step.id), self.materials)
        while wait is not None:
            below = recipe.step(wait.step)
            if below.material is not None:
                return below
            wait = wait_of(recipe, below, self.materials)
        return None


def with_ground_cautions(
    job: Job, stints: Sequence[Stint], airs: Mapping[str, RoomAir], *, at: datetime
) -> tuple[Stint, ...]:
    """The stints, each piece of work with what to mind about its ground."""
    asked = GroundCautions(job, airs, _rows(job, stints), at=at)
    told = []
    for stint in stints:
        if stint.kind == "work":
            surface = job.surface(stint.surface)
            step = job.recipe(surface.recipe).step(stint.step)
            found = asked.before(surface, step, stint.section, stint.start)
            told.append(replace(stint, cautions=found) if found else stint)
        else:
            told.append(stint)
    return tuple(told)


def ground_notes(
    job: Job, stints: Sequence[Stint], airs: Mapping[str, RoomAir], *, at: datetime
) -> Iterable[str]:
    """The stints' cautions in a few lines, and one line for joinery not measured."""
    places: dict[tuple[str, str], dict[str, None]] = {}
    texts: dict[tuple[str, str], str] = {}
    warned = set()
    for stint in stints:
        surface = job.surface(stint.surface)
        step = job.recipe(surface.recipe).step(stint.step)
        for caution in stint.cautions:
            hard = caution.code == "not-hard"
            key = (
                caution.code,
                f"{surface.recipe}/{step.id}" if hard else caution.text,
            )
            places.setdefault(key, {})[called(surface)] = None
            texts.setdefault(
                key,
                f"{step.name or step.id} starts when {_lower(caution.text)}"
                if hard
                else caution.text,
            )
            if not hard:
                warned.add(surface.id)
    for key, names in places.items():
        yield f"{_named(list(names))}: {texts[key]}"
    asked = GroundCautions(job, airs, _rows(job, stints), at=at)
    yield from _unmeasured_note(asked, stints, warned)


def _unmeasured_note(
    asked: GroundCautions, stints: Sequence[Stint], warned: set[str]
) -> Iterable[str]:
    """The range that the rooms' air takes wood to, where joinery is first painted."""
    job = asked.job
    painted = {
        coat.surface
        for coat in job.coats
        if job.step_of(coat.surface, coat.step).material
    }
    ranges: dict[str, tuple[float, float]] = {}
    for surface in job.surfaces:
        mine = [
            stint
            for stint in stints
            if stint.surface == surface.id
            and job.recipe(surface.recipe).step(stint.step).material is not None
        ]
        if mine and asked.unmeasured(surface) and surface.id not in painted | warned:
            room = job.room(surface.room)
            last = max(stint.start for stint in mine)
            low, high = _settles_pct(asked.airs[surface.id], asked.at, last)
            name = room.name or room.id
            known = ranges.get(name, (low, high))
            ranges[name] = (min(low, known[0]), max(high, known[1]))
    if not ranges:
        return
    low = min(low for low, _ in ranges.values())
    high = max(high for _, high in ranges.values())
    yield (
        f"Joinery in {_named(list(ranges))}: moisture not measured. This air takes "
        f"wood to {low:.1f} to {high:.1f} %; measure it before its first coat, at most "
        f"{INTERIOR_MOST_PCT:.0f} %."
    )


def _rows(job: Job, stints: Sequence[Stint]) -> list[Coat | Stint]:
    """Logged coats and planned work; a rescue that lays a coat again bears its step."""
    materials = {material.id: material for material in job.materials}
    rows: list[Coat | Stint] = list(standing(job))
    for stint in stints:
        if stint.kind == "work":
            rows.append(stint)
        elif stint.kind == "rescue":
            recipe = job.recipe(job.surface(stint.surface).recipe)
            step = recipe.step(stint.step)
            wait = wait_of(recipe, step, materials)
            if wait is not None and step.rescue is not None and step.rescue.stage:
                rows.append(replace(stint, step=wait.step))
    return rows


def _mean(air: RoomAir, start: datetime) -> Air:
    """The mean air of the day from a moment on, as far as wood's law is asked for."""
    first = air.index(air.minute(start))
    span = slice(first, max(air.index(air.minute(start) + _DAY_MIN), first + 1))
    warmth, humidity = air.temperature_c[span].mean(), air.humidity_pct[span].mean()
    return Air(
        temperature_c=float(np.clip(warmth, -30, 60)),
        humidity_pct=float(np.clip(humidity, 0, 100)),
    )


def _settles_pct(air: RoomAir, first: datetime, last: datetime) -> tuple[float, float]:
    """Lowest and highest of what each day's mean air takes wood to."""
    days = max(1, -(-(last - first) // timedelta(days=1)))
    means = [_mean(air, first + timedelta(days=day)) for day in range(days)]
    found = [wood_moisture_pct(mean.temperature_c, mean.humidity_pct) for mean in means]
    return min(found), max(found)


def _meet(one: str | None, other: str | None) -> bool:
    return one is None or other is None or one == other


def _named(names: Sequence[str]) -> str:
    shown, more = names[:_NAMES_SHOWN], len(names) - _NAMES_SHOWN
    return ", ".join(shown) + (f" and {more} more" if more > 0 else "")


def _lower(text: str) -> str:
    first = text.split(" ", 1)[0]
    return text if first[1:] != first[1:].lower() else f"{text[:1].lower()}{text[1:]}"
