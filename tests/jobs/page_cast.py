"""What the tests of pages share: a plan by hand, a coat, and how to read a page."""

import re
from datetime import datetime, timedelta
from html.parser import HTMLParser
from typing import Any

from jobs.actions import log_coat
from jobs.factories import (
    MONDAY,
)
from jobs.models import Coat, Job, User
from jobs.weather.hours import Row, WeatherHour, weather_hours
from scheduling.job_file import job_sha256
from scheduling.plan import Bound, Range, Reason, Stint
from scheduling.plan import Plan as PlanValue
from scheduling.problem import Job as JobValue
from tests.jobs.conftest import NOW


def words(html: str) -> str:
    """What a page says, without its markup."""
    text = re.sub(r"<(script|style|svg).*?</\1>", " ", html, flags=re.S)
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def at(day: int, hour: float) -> datetime:
    return MONDAY + timedelta(days=day, hours=hour)


def hours_typed(now: datetime, *, hours: int = 30) -> tuple[WeatherHour, ...]:
    """Cool damp hours from ``now`` on, as somebody might type them."""
    rows = [
        Row(at=now + timedelta(hours=n), temperature_c=11.0, humidity_pct=82.0)
        for n in range(hours)
    ]
    return weather_hours(rows, source="By hand", made_at=now, fetched_at=now)


def plan_value(job: JobValue, **changes: Any) -> PlanValue:
    end = at(0, 10)
    ready = Range(early=at(0, 12), likely=at(0, 13), safe=at(0, 15))
    first = Stint(
        id="wall-coat-1",
        kind="work",
        surface="wall",
        step="coat-1",
        hands=("hand",),
        start=at(0, 9),
        end=end,
        reason=Reason(code="start", text="As early as the plan begins."),
        ready={"recoat": ready},
    )
    values: dict[str, Any] = {
        "job_sha256": job_sha256(job),
        "outcome": "plan",
        "finish": end,
        "bound": Bound(finish_not_before=at(0, 9.5), proved=False, air="room air"),
        "stints": (first,),
    }
    return PlanValue(**(values | changes))


def log_first_coat(job: Job, by: User, end: datetime = NOW) -> Coat:
    surface = job.surfaces.get()
    return log_coat(
        job=job,
        surface=surface,
        step=surface.recipe.steps.get(key="coat-1"),
        start=end - timedelta(hours=1),
        end=end,
        by=by,
        now=NOW,
    )


class _Fields(HTMLParser):
    """Gathers what a browser would send of the fields it meets."""

    def __init__(self) -> None:
        super().__init__()
        self.data: dict[str, Any] = {}
        self._choice = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        name = given.get("name") or ""
        if tag == "select":
            self._choice = name
            self.data[name] = ""
        elif tag == "option" and "selected" in given:
            self.data[self._choice] = given.get("value") or ""
        elif tag == "input" and given.get("type") in ("checkbox", "radio"):
            if "checked" in given:
                self.data.setdefault(name, []).append(given.get("value") or "on")
        elif tag == "input" and name and name != "csrfmiddlewaretoken":
            self.data[name] = given.get("value") or ""


def as_shown(html: str) -> dict[str, Any]:
    """What a browser would send of a page's wide form, its fields left as they are."""
    fields = _Fields()
    fields.feed(html[html.index("wide-form") :].partition("</form>")[0])
    return fields.data
