"""A plan -> what its calendars say: work, drying, windows and tests, with their words.

Values in, values out: no row, clock or query. Moments are rounded to five minutes,
openings up and closings down, so that a hair's breadth of difference between two plans
does not ring in anybody's pocket.
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Literal

from jobs.calendar_lines import StintLines
from jobs.calendar_words import READY, ceil, clock_text, floor, label, time_between
from scheduling import plan, problem

Kind = Literal["work", "drying", "window", "test"]
Status = Literal["CONFIRMED", "TENTATIVE"]

# Assumed: as far as a forecast of indoor air is taken for settled; later is tentative.
SETTLED = timedelta(hours=48)
LAST_WAIT = ("hard", "through", "recoat", "touch")  # what a last coat is left for


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What is published about one stint; ``stint`` and ``kind`` say which entry."""

    stint: str
    kind: Kind
    room: str
    surface: str
    section: str
    step: str
    hands: tuple[str, ...]
    status: Status
    starts: datetime
    ends: datetime
    summary: str
    description: str
    location: str
    categories: tuple[str, ...]
    latitude: float | None
    longitude: float | None


def facts_of(
    job: problem.Job,
    stints: Iterable[plan.Stint],
    planned_at: datetime,
    done: Collection[str] = (),
) -> tuple[Facts, ...]:
    """Every entry of these stints, by start. ``planned_at``: when they were planned.

    ``done`` are ids of stints whose coat is logged. A stint on a surface or of a step
    that the job no longer has is left out.
    """
    known = [stint for stint in stints if is_known(job, stint)]
    found: list[Facts] = []
    for stint in known:
        about = _About(
            job=job, stint=stint, planned_at=planned_at, done=stint.id in done
        )
        waits = about.waits_for_it(known)
        found.append(about.attended(waits))
        if stint.kind == "work":
            found += about.drying(waits)
            found += about.window(waits)
    return tuple(sorted(found, key=lambda facts: (facts.starts, facts.stint)))


def as_logged(stint: plan.Stint, coats: Iterable[problem.Coat]) -> plan.Stint | None:
    """The stint at the time its coat was logged, its clocks moved along; None if not.

    Assumed: the clocks are as long as they were planned. The next plan's waits are
    right in any case, these words are only what was told last.
    """
    logged = [
        coat
        for coat in coats
        if (coat.surface, coat.step) == (stint.surface, stint.step)
        and covers(coat.section, stint.section)
    ]
    if stint.kind != "work" or not logged:
        return None
    coat = min(logged, key=lambda coat: abs(time_between(stint.start, coat.start)))
    by = time_between(stint.end, coat.end)
    return replace(
        stint,
        start=coat.start,
        end=coat.end,
        open=_moved(stint.open, by),
        closes=_moved(stint.closes, by),
        ready={stage: _moved(ready, by) for stage, ready in stint.ready.items()},
    )


def _moved(moments: plan.Range | None, by: timedelta) -> plan.Range | None:
    if moments is None:
        return None
    early, likely, safe = (
        None if moment is None else moment.astimezone(UTC) + by
        for moment in (moments.early, moments.likely, moments.safe)
    )
    return plan.Range(early=early, likely=likely, safe=safe)


def covers(section: str | None, other: str | None) -> bool:
    """Whether two stints of a surface meet: the same section, or one is the whole."""
    return not section or not other or section == other


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wait:
    """A later stint and the stage of the coat that it waits for."""

    stint: plan.Stint
    step: problem.Step
    stage: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _About(StintLines):
    """One stint in its job: makes its entries."""

    planned_at: datetime
    done: bool

    def waits_for_it(self, stints: Iterable[plan.Stint]) -> tuple[_Wait, ...]:
        """The stints that wait for a stage of this one's coat, by start."""
        materials = {material.id: material for material in self.job.materials}
        found = []
        for other in stints:
            if other.kind != "work" or other.surface != self.stint.surface:
                continue
            step = self.recipe.step(other.step)
            after = problem.wait_of(self.recipe, step, materials)
            if after is None or after.step != self.stint.step or not after.stage:
                continue
            if covers(other.section, self.stint.section):
                found.append(_Wait(stint=other, step=step, stage=after.stage))
        return tuple(sorted(found, key=lambda wait: (wait.stint.start, wait.stint.id)))

    def attended(self, waits: tuple[_Wait, ...]) -> Facts:
        """The stint itself, for those who do it."""
        stint, step = self.stint, self.step
        kind: Kind = "test" if stint.kind == "test" else "work"
        what = label(step)
        if stint.kind != "work":
            what = f"{'Test' if kind == 'test' else 'Rescue'} before {what}"
        elif self.done:
            what = f"Done: {what}"
        lines = [
            *self.head(what, stint.start, stint.end),
            *self.crew(stint.hands, stint.roles),
        ]
        if stint.kind == "work":
            lines += self.mix()
        if not self.done:
            lines += [*self.open_for(), *self.air(), *self.test_first()]
            lines.append(f"Why then: {stint.reason.text}")
        lines += self._then(waits)
        return self._facts(
            kind=kind,
            hands=stint.hands,
            settled_by=stint.start,
            span=(stint.start, stint.end),
            summary=f"{what} · {self.place}",
            lines=lines,
        )

    def drying(self, waits: tuple[_Wait, ...]) -> Iterator[Facts]:
        """From the end of the coat to the next step's safe moment; for no hand."""
        stage = waits[0].stage if waits else self._last_wait()
        ready = self.stint.ready.get(stage) if stage else None
        if ready is None or ready.safe is None:
            return
        ends = ceil(ready.safe)
        if ends <= self.stint.end:
            return
        until = (
            f"ready for {label(waits[0].step)}" if waits else READY.get(stage, stage)
        )
        coat = label(self.material) if self.material else label(self.step)
        lines = [
            *self.head(f"{coat} dries, until {until}", self.stint.end, ends),
            *self.moments(ready, stage),
        ]
        yield self._facts(
            kind="drying",
            hands=(),
            settled_by=ends,
            span=(self.stint.end, ends),
            summary=f"Drying until {until}: {coat} · {self.place}",
            lines=lines,
        )

    def window(self, waits: tuple[_Wait, ...]) -> Iterator[Facts]:
        """From the next step's safe moment to the early closing, for its hands.

        Where that opens no window the likely one is given, tentative, test first.
        """
        if not waits:
            return
        wait, closes = waits[0], self.stint.closes
        ready = self.stint.ready.get(wait.stage)
        if closes is None or ready is None:
            return
        opening, closing, sure = ready.safe, closes.early, True
        if opening is None or closing is None or ceil(opening) >= floor(closing):
            opening, closing, sure = ready.likely, closes.likely, False
        if opening is None or closing is None or ceil(opening) >= floor(closing):
            return
        span = ceil(opening), floor(closing)
        coat = label(self.material) if self.material else label(self.step)
        clock = clock_text(*span, self.zone)
        what = f"{coat} ready for {label(wait.step)}"
        hands = tuple(dict.fromkeys(hand for w in waits for hand in w.stint.hands))
        lines = [*self.head(what, *span), *self.crew(hands)]
        if not sure:
            lines.append("Not sure: the likely moments. Test before starting.")
        lines += self.moments(ready, wait.stage)
        lines.append(f"Closes: {self.range_text(closes, floor)}")
        missed = "it takes a rescue" if wait.step.rescue else "it has to go on again"
        lines.append(f"After that {missed}.")
        yield self._facts(
            kind="window",
            hands=hands,
            settled_by=span[1] if sure else None,
            span=span,
            summary=f"{what} {clock} · {self.place}",
            lines=lines,
        )

    def _facts(
        self,
        *,
        kind: Kind,
        hands: tuple[str, ...],
        settled_by: datetime | None,
        span: tuple[datetime, datetime],
        summary: str,
        lines: list[str],
    ) -> Facts:
        """``settled_by`` is the moment that must not hang on the forecast."""
        modelled = isinstance(self.room.air, problem.AirControl)
        far = settled_by is not None and (
            time_between(self.planned_at, settled_by) > SETTLED
        )
        tentative = settled_by is None or (modelled and far)
        if modelled and far:
            lines = [*lines, "Hangs on the forecast and may move."]
        words = [kind.capitalize(), label(self.room)]
        if self.material is not None:
            words.append(label(self.material))
        return Facts(
            stint=self.stint.id,
            kind=kind,
            room=self.room.id,
            surface=self.surface.id,
            section=self.stint.section or "",
            step=self.step.id,
            hands=hands,
            status="TENTATIVE" if tentative else "CONFIRMED",
            starts=span[0].astimezone(UTC),
            ends=span[1].astimezone(UTC),
            summary=summary,
            description="\n".join(lines),
            location=f"{label(self.room)}, {self.job.title}",
            categories=tuple(words),
            latitude=self.job.site.latitude,
            longitude=self.job.site.longitude,
        )

    def _then(self, waits: tuple[_Wait, ...]) -> list[str]:
        lines = []
        for wait in waits[:1]:
            ready = self.stint.ready.get(wait.stage)
            if ready is not None:
                lines.append(f"Then {label(wait.step)}: {self.range_text(ready)}")
        if self.stint.closes is not None and self.stint.closes.early is not None:
            lines.append(f"Window closes: {self.range_text(self.stint.closes, floor)}")
        return lines

    def _last_wait(self) -> str | None:
        ready = self.stint.ready
        return next((stage for stage in LAST_WAIT if stage in ready), None)


def is_known(job: problem.Job, stint: plan.Stint) -> bool:
    """Whether the job still has the stint's room, surface and step."""
    try:
        surface = job.surface(stint.surface)
        job.room(surface.room)
        job.recipe(surface.recipe).step(stint.step)
    except KeyError:
        return False
    return True
