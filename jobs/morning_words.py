"""The tests of a morning in words: the hour, the place, what to do, what it frees.

Pure: the engine's facts and the logged tests in, lines out, by the site's clock.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from jobs.calendar_words import ceil, hands_text
from jobs.models import CoatTest
from jobs.site_words import SiteWords, inside
from jobs.templatetags.plan_format import say_clock
from scheduling.morning_tests import MorningTest
from scheduling.work_cautions import SHORT, work_cautions


@dataclass(frozen=True, slots=True, kw_only=True)
class TestLine:
    """A test of the morning: when, where, what to do, what it frees, what it said."""

    hour: str
    where: str
    test: str
    facts: tuple[str, ...]
    surface: str
    step: str
    section: str
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MorningWords(SiteWords):
    """A morning's tests as told to one reader."""

    def line(
        self, row: MorningTest, results: Mapping[tuple[str, str], CoatTest]
    ) -> TestLine:
        """The test, with what was logged of it since today began."""
        facts = []
        reached = row.reached
        if reached.likely is not None and reached.likely > self.now:
            safe = f", safe {self.at(reached.safe)}" if reached.safe else ""
            facts.append(f"Likely ready {self.at(reached.likely)}{safe}.")
        frees = f"Frees **{inside(row.step)}**"
        if row.planned is not None:
            by = hands_text(self.job, row.planned.hands)
            frees += f", planned {self.at(row.planned.start)} by {by}"
        facts.append(f"{frees}.")
        if row.shuts is not None:
            facts.append(f"Its window shuts {self.by(row.shuts)}.")
        minded = [
            SHORT[caution.code]
            for caution in work_cautions(self.job, row.surface, row.step)
        ]
        if minded:
            facts.append(f"Mind then: {', '.join(minded)}.")
        return TestLine(
            hour=say_clock(ceil(row.at), self.zone),
            where=self.place(row.surface, row.section),
            test=row.test,
            facts=tuple(facts),
            surface=row.surface.id,
            step=row.step.id,
            section=row.section or "",
            said=self._said(results.get((row.surface.id, row.step.id))),
        )

    def _said(self, result: CoatTest | None) -> str:
        if result is None:
            return ""
        day = result.at.astimezone(self.zone).date()
        if day < self.now.astimezone(self.zone).date():
            return ""
        by = f", {result.logged_by}" if result.logged_by else ""
        said = result.get_result_display()
        return f"{said}, {say_clock(result.at, self.zone)}{by}"
