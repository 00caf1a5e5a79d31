"""What brings a surface forward, as it is kept in a record and as it is told.

Pure: the engine's gains in, plain values and sentences out.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any, Self

from jobs.templatetags.plan_format import say_minutes
from scheduling.what_if import Forward, Gain

# Below this the end of the whole job counts as the same.
SAME_MIN = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Helps:
    """One lever that brings the surface forward, with what it costs.

    ``ends`` is the end of the surface's last stint with it; ``hands`` give ``hours``
    together, more than without. Minutes are sooner, negative where later.
    """

    code: str
    text: str
    ends: datetime
    sooner_min: float
    job_sooner_min: float
    late_min: float
    hands: int
    hours: float
    cost: str

    @classmethod
    def of(cls, gain: Gain, end: datetime) -> Self:
        """What is kept of a gain; ``end`` is the surface's without the lever."""
        return cls(
            code=gain.lever.code,
            text=gain.lever.text,
            ends=end - timedelta(minutes=gain.sooner_min),
            sooner_min=gain.sooner_min,
            job_sooner_min=gain.job_sooner_min,
            late_min=gain.late_min,
            hands=gain.cost.hands,
            hours=gain.cost.hours,
            cost=gain.cost.text,
        )

    @classmethod
    def read(cls, kept: Mapping[str, Any]) -> Self:
        """Back from what a record keeps."""
        return cls(**{**kept, "ends": datetime.fromisoformat(kept["ends"])})

    def kept(self) -> dict[str, Any]:
        """As a record keeps it, in JSON's values."""
        return {**asdict(self), "ends": self.ends.isoformat()}

    @property
    def sooner(self) -> str:
        """ "2 h 10 min sooner"."""
        return f"{say_minutes(self.sooner_min)} sooner"

    @property
    def besides(self) -> str:
        """What it does to the rest of the job; empty where that stays."""
        said = []
        if abs(self.job_sooner_min) >= SAME_MIN:
            way = "sooner" if self.job_sooner_min > 0 else "later"
            span = say_minutes(abs(self.job_sooner_min))
            said.append(f"the whole job ends {span} {way}")
        if self.late_min <= -SAME_MIN:
            said.append("dates are kept worse")
        elif self.late_min >= SAME_MIN:
            said.append("dates are kept better")
        return ", ".join(said)


def helps_of(found: Forward) -> tuple[Helps, ...]:
    """The gains so far, the most first."""
    if found.end is None:
        return ()
    return tuple(Helps.of(gain, found.end) for gain in found.gains)


def count_text(tried: int, helps: Sequence[Helps]) -> str:
    """How many ways were tried and how many help."""
    ways = "1 way tried" if tried == 1 else f"{tried} ways tried"
    if not helps:
        return f"{ways}, none brings it forward"
    return f"{ways}, {len(helps)} bring{'s' if len(helps) == 1 else ''} it forward"
