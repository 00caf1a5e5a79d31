"""Places and moments of a job as its people say them, for a reader at one moment."""

from dataclasses import dataclass
from datetime import datetime, tzinfo

from jobs.calendar_words import ceil, floor, label
from jobs.templatetags.plan_format import say_clock, say_moment, say_place
from scheduling.problem import Job, Step, Surface


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteWords:
    """How a job's walls and hours are told at ``now``, by the site's clock."""

    job: Job
    zone: tzinfo
    now: datetime

    def place(self, surface: Surface, section: str | None) -> str:
        """Room, surface and part."""
        room = self.job.room(surface.room)
        name = say_place(label(room), label(surface))
        return f"{name}, part {section}" if section else name

    def at(self, moment: datetime) -> str:
        """When something ends or begins, to the next five minutes."""
        return self._when(ceil(moment))

    def by(self, moment: datetime) -> str:
        """A deadline, to the last five minutes."""
        return self._when(floor(moment))

    def _when(self, moment: datetime) -> str:
        today = self.now.astimezone(self.zone).date()
        if moment.astimezone(self.zone).date() == today:
            return say_clock(moment, self.zone)
        return say_moment(moment, self.zone, self.now)


def inside(step: Step) -> str:
    """A step's name inside a sentence; a capital inside its first word stays."""
    text = label(step)
    first = text.split(" ", 1)[0]
    return text if first[1:] != first[1:].lower() else f"{text[:1].lower()}{text[1:]}"
