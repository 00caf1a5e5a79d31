"""The tests of one working day: at which hour, on what, and which step each frees."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from scheduling.plan import Range, Stint
from scheduling.problem import Job, Step, Surface
from scheduling.readiness_state import SurfaceState
from scheduling.working_time import last_shutting, open_hours


@dataclass(frozen=True, slots=True, kw_only=True)
class MorningTest:
    """A test to make at ``at`` and the step that waits for it.

    ``reached`` is when the coat below is likely and safely there, ``shuts`` when the
    step's window shuts, ``planned`` where the plan has the step on that day.
    """

    at: datetime
    surface: Surface
    section: str | None
    step: Step
    test: str
    reached: Range
    shuts: datetime | None
    planned: Stint | None


def tests_on(
    job: Job,
    waits: Iterable[tuple[SurfaceState, Range]],
    stints: Iterable[Stint],
    *,
    day: date,
    at: datetime,
) -> tuple[MorningTest, ...]:
    """The day's tests by their hour; none on a day on which the site is shut.

    ``waits`` are surfaces whose next step waits for a coat, with when that is ready.
    A coat is tested once it is likely ready, at the first moment at which anybody is
    there; one that was ready before, right before its next step, if that is planned.
    """
    hours = open_hours(job, day)
    if hours is None:
        return ()
    opens, shuts = hours
    left = last_shutting(job, opens)
    gone = at if left is None else min(at, left)
    plan = _of_day(job, stints, day)
    found = []
    for state, reached in waits:
        likely = reached.likely
        if state.step is None or likely is None or not state.test:
            continue
        if state.state == "working":
            continue
        where = state.surface.id, state.step.id
        mine = [row for row in plan.get(where, ()) if _meets(row, state.section)]
        booked = next((row for row in mine if row.kind == "test"), None)
        planned = next((row for row in mine if row.kind == "work"), None)
        if booked is not None:
            moment = booked.start
        elif likely > gone:
            moment = max(likely, opens)
        elif planned is not None:
            moment = planned.start
        else:
            continue
        if opens <= moment <= shuts:
            closes = state.closes.early if state.closes else None
            found.append(
                MorningTest(
                    at=moment,
                    surface=state.surface,
                    section=state.section,
                    step=state.step,
                    test=state.test,
                    reached=reached,
                    shuts=closes,
                    planned=planned,
                )
            )
    return tuple(sorted(found, key=lambda row: (row.at.timestamp(), row.surface.id)))


def _of_day(
    job: Job, stints: Iterable[Stint], day: date
) -> dict[tuple[str, str], Sequence[Stint]]:
    by_place: dict[tuple[str, str], list[Stint]] = {}
    for stint in stints:
        if stint.start.astimezone(job.site.tz).date() == day:
            by_place.setdefault((stint.surface, stint.step), []).append(stint)
    return {
        place: sorted(rows, key=lambda row: row.start.timestamp())
        for place, rows in by_place.items()
    }


def _meets(stint: Stint, section: str | None) -> bool:
    return stint.section is None or section is None or stint.section == section
