"""What planning gives back: a plan, or no plan with its reasons, as frozen values.

Holds what was planned and why, nothing of the run that made it, so that two equal plans
are equal values. Moments are aware datetimes in the site's zone.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from scheduling.cautions import Caution
from scheduling.problem import AirHour

StintKind = Literal["work", "test", "rescue"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """A clock's moment: early, likely, safe; None where it never ends in this air."""

    early: datetime | None
    likely: datetime | None
    safe: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why something is where it is; ``other`` is the id of the stint that holds it.

    The codes: start (as early as the plan begins), wait (a coat's clock), hands, hours
    (site, room or hand not there), room (head count), order (top before bottom), dust,
    steam, solvent, air (no coat may start), gate, pin, ban, window, later (could be
    earlier for itself, but the whole is better so).
    """

    code: str
    text: str
    other: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stint:
    """Planned work: one step, one surface or section, these hands, from-to.

    ``open``, ``closes`` and the moments in ``ready`` and ``promises`` count from
    ``end``. A dry stint's span includes a break inside it. ``cautions`` are what to
    mind about the ground; they stop nothing. ``roles`` say which hands lay and which
    work it, where several are at a wet wall.
    """

    id: str
    kind: StintKind
    surface: str
    step: str
    hands: tuple[str, ...]
    start: datetime
    end: datetime
    reason: Reason
    section: str | None = None
    open: Range | None = None
    ready: Mapping[str, Range] = field(default_factory=dict)
    closes: Range | None = None
    promises: Mapping[str, Range] = field(default_factory=dict)
    cautions: tuple[Caution, ...] = ()
    roles: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """A wished date (its place in the job's dates) missed by so many minutes.

    None where it is never reached in this air.
    """

    date: int
    by_min: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """No plan as good on dates ends before this; ``air`` says in which air."""

    finish_not_before: datetime | None
    proved: bool
    air: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What differs for one stint between two plans; None where it is not in one."""

    stint: str
    surface: str
    step: str
    kind: Literal["moved", "hands", "added", "dropped"]
    text: str
    was: datetime | None = None
    now: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A plan (late or not), or no plan with the reasons that together forbid one."""

    job_sha256: str
    outcome: Literal["plan", "no-plan"]
    finish: datetime | None
    bound: Bound
    late: tuple[Late, ...] = ()
    air: Mapping[str, tuple[AirHour, ...]] = field(default_factory=dict)
    stints: tuple[Stint, ...] = ()
    reasons: tuple[Reason, ...] = ()
    changes: tuple[Change, ...] = ()
    notes: tuple[str, ...] = ()

    def stint(self, stint_id: str) -> Stint | None:
        """The stint of that id, None if the plan has none."""
        for stint in self.stints:
            if stint.id == stint_id:
                return stint
        return None

    def held_by(self, stint_id: str) -> tuple[Stint, ...]:
        """The stint, the one that holds it, and so on back to now.

        Empty where the plan has no such stint.
        """
        chain: list[Stint] = []
        seen: set[str] = set()
        stint = self.stint(stint_id)
        while stint is not None and stint.id not in seen:
            chain.append(stint)
            seen.add(stint.id)
            other = stint.reason.other
            stint = self.stint(other) if other is not None else None
        return tuple(chain)
