"""One stint of a plan: held where it is, moved, kept out of a time or from hands.

What that breaks is shown before it is kept; the next plan holds what was kept.
"""

from dataclasses import replace
from datetime import datetime, time, timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods, require_POST

from jobs import holding
from jobs.calendar_words import hands_text, names_in
from jobs.elsewhere import away_elsewhere, stints_elsewhere
from jobs.move_forms import BanHandsForm, BanTimeForm, MoveForm
from jobs.move_words import ban_text, broken_text, pin_text
from jobs.queries import latest_plan, previous_plan, surface_with_recipe
from jobs.translation import job_value, plan_value
from jobs.views.guard import Visit, put_beside, readable, visit_of
from jobs.week_changes import stint_text
from jobs.week_words import known_part, stint_time
from scheduling.bans import kept_off
from scheduling.moving import broken_by, moved, test_of
from scheduling.plan import Plan, Stint
from scheduling.problem import Ban, Job, Pin, Step, Surface


@require_http_methods(["GET", "HEAD", "POST"])
@readable
def stint_page(request: HttpRequest, job: str, stint: str) -> HttpResponse:
    """What may be asked of a stint; posted, what it breaks; kept on a second yes."""
    visit = visit_of(request, job, lead=True)
    asking = _Asking(visit, stint)
    what = request.POST.get("what", "") if request.method == "POST" else ""
    form = asking.forms.get(what)
    if request.method != "POST" or form is None:
        return asking.page()
    if not form.is_valid():
        return asking.page(status=422)
    wanted = asking.wanted(what, form)
    broken = asking.broken(wanted)
    sure = "keep" in request.POST or (what == "hold" and not broken)
    if not sure:
        return asking.page(what=what, wanted=wanted, broken=broken)
    try:
        asking.keep(wanted)
    except ValidationError as error:
        put_beside(form, error)
        return asking.page(status=422)
    messages.success(
        request, f"Kept: {asking.text_of(wanted)}. The next plan holds it."
    )
    return redirect("week", job=visit.job.key)


@require_POST
def take_off_pin(request: HttpRequest, job: str, pin: int) -> HttpResponse:
    """Let a stint go where it will again."""
    visit = visit_of(request, job, lead=True)
    return _take_off(visit, get_object_or_404(visit.job.pins, pk=pin))


@require_POST
def take_off_ban(request: HttpRequest, job: str, ban: int) -> HttpResponse:
    """Allow again what was forbidden."""
    visit = visit_of(request, job, lead=True)
    return _take_off(visit, get_object_or_404(visit.job.bans, pk=ban))


def _take_off(visit: Visit, row: Any) -> HttpResponse:
    holding.take_off(row=row, now=visit.now)
    messages.success(visit.request, "Taken off. The next plan does without it.")
    return redirect("week", job=visit.job.key)


class _Asking:
    """A stint of the plan shown, what may be asked of it, and how the page says it."""

    def __init__(self, visit: Visit, stint_id: str) -> None:
        self.visit = visit
        own: Job = job_value(visit.job)
        # Hands whom another job's issued plan has are not there for this one.
        self.job, _ = away_elsewhere(own, stints_elsewhere(visit.job, visit.now))
        row = latest_plan(visit.job)
        if row is not None and not row.is_plan:
            row = previous_plan(visit.job)
        if row is None:
            raise Http404("this job is not planned")
        self.row = row
        self.plan: Plan = known_part(plan_value(row), self.job)
        found = self.plan.stint(stint_id)
        if found is None or found.kind != "work":
            raise Http404("this plan has no such stint of work")
        self.stint: Stint = found
        self.surface: Surface = self.job.surface(found.surface)
        self.step: Step = self.job.recipe(self.surface.recipe).step(found.step)
        self.start = (test_of(self.plan, found) or found).start
        self.forms = self._forms()

    @property
    def can_move(self) -> bool:
        """Whether it is the first stint of its step at its place: pins hold that."""
        stint = self.stint
        return not any(
            other.kind == "work"
            and other.start < stint.start
            and (other.surface, other.step, other.section)
            == (stint.surface, stint.step, stint.section)
            for other in self.plan.stints
        )

    @property
    def can_hold(self) -> bool:
        """Whether it is still to come."""
        return self.can_move and self.start >= self.visit.now

    def _forms(self) -> dict[str, forms.Form]:
        zone, now = self.visit.zone, self.visit.now
        posted = self.visit.request.POST
        asked = posted.get("what") if self.visit.request.method == "POST" else None
        day = datetime.combine(
            self.stint.start.astimezone(zone).date(), time(), tzinfo=zone
        )
        after = datetime.combine(day.date() + timedelta(days=1), time(), tzinfo=zone)
        where = {"start": self.start, "hands": list(self.stint.hands)}
        held = {"start": f"{self.start.astimezone(zone):%Y-%m-%dT%H:%M}"}

        def data(what: str) -> Any:
            return posted if asked == what else None

        shared: dict[str, Any] = {"job": self.job, "step": self.step, "now": now}
        found: dict[str, forms.Form] = {
            "time": BanTimeForm(
                data("time"), initial={"start": day, "end": after}, zone=zone, now=now
            ),
            "hands": BanHandsForm(data("hands"), job=self.job),
        }
        if self.can_move:
            found["move"] = MoveForm(data("move"), initial=where, **shared)
        if self.can_hold:
            hold = {**held, "hands": list(self.stint.hands)}
            found["hold"] = MoveForm(hold, **shared)
        return found

    def wanted(self, what: str, form: forms.Form) -> Pin | Ban:
        """The pin or ban that the form asks for."""
        place = {
            "surface": self.stint.surface,
            "step": self.stint.step,
            "section": self.stint.section,
        }
        given = form.cleaned_data
        if what == "hands":
            return Ban(**place, hands=tuple(given["hands"]))
        if what == "time":
            return Ban(**place, start=given["start"], end=given["end"])
        start = self.start if what == "hold" else given["start"]
        return Pin(**place, start=start, hands=tuple(given["hands"]))

    def broken(self, wanted: Pin | Ban) -> list[tuple[bool, str]]:
        """What it breaks in the plan as it stands: whether for good, and in words."""
        if isinstance(wanted, Ban):
            asked = replace(self.job, bans=(*self.job.bans, wanted))
            changed = self.plan
        else:
            place = (wanted.surface, wanted.step, wanted.section)
            others = (
                pin
                for pin in self.job.pins
                if (pin.surface, pin.step, pin.section) != place
            )
            asked = replace(self.job, pins=(*others, wanted))
            changed = moved(
                self.job,
                self.plan,
                self.stint.id,
                start=wanted.start,
                hands=wanted.hands,
            )
        at = min(self.visit.now, *(stint.start for stint in self.plan.stints))
        found = broken_by(self.job, self.plan, changed, asked=asked, at=at)
        told = [
            (
                row.alone and isinstance(wanted, Pin),
                broken_text(row, self.job, self.plan, self.visit.zone),
            )
            for row in found
        ]
        if isinstance(wanted, Ban) and not self._enough_left(asked):
            text = "of those who are left too few may do it, or nobody with its skill"
            told.insert(0, (True, text))
        return told

    def _enough_left(self, asked: Job) -> bool:
        """Whether the hands not kept off the step are enough for it."""
        off = kept_off(asked, self.surface, self.step, self.stint.section)
        left = [hand for hand in asked.hands if hand.id not in off]
        skilled = any(self.step.skill in (None, *hand.skills) for hand in left)
        return len(left) >= self.step.hands.counts[0] and skilled

    def keep(self, wanted: Pin | Ban) -> None:
        """Keep it for the next plan."""
        surface = surface_with_recipe(self.visit.job, self.stint.surface)
        step = surface.recipe.steps.get(key=self.stint.step)
        shared = {
            "job": self.visit.job,
            "surface": surface,
            "step": step,
            "section": wanted.section or "",
            "hands": wanted.hands,
            "now": self.visit.now,
        }
        if isinstance(wanted, Pin):
            holding.keep_pin(start=wanted.start, **shared)
        else:
            holding.keep_ban(start=wanted.start, end=wanted.end, **shared)

    def text_of(self, wanted: Pin | Ban) -> str:
        """The pin or ban in words."""
        say = pin_text if isinstance(wanted, Pin) else ban_text
        return say(wanted, self.job, self.visit.zone)  # type: ignore[arg-type]

    def page(
        self,
        status: int = 200,
        *,
        what: str = "",
        wanted: Pin | Ban | None = None,
        broken: list[tuple[bool, str]] | None = None,
    ) -> HttpResponse:
        """The stint, and below it what was asked with what it breaks."""
        asked: dict[str, Any] = {}
        if wanted is not None and broken is not None:
            asked = {
                "what": what,
                "asked": self.text_of(wanted),
                "alone": [text for alone, text in broken if alone],
                "others": [text for alone, text in broken if not alone],
                "typed": [
                    (name, value)
                    for name in ("start", "end", "hands")
                    for value in self.visit.request.POST.getlist(name)
                ],
            }
        return self.visit.page(
            "jobs/stint.html",
            status,
            place="week",
            place_name=stint_text(self.job, self.stint),
            names=names_in(self.job),
            plan=self.row,
            stint=self.stint,
            surface=self.surface,
            what_it_is=stint_text(self.job, self.stint),
            when=stint_time(self.stint, self.visit.zone),
            who=hands_text(self.job, self.stint.hands, self.stint.roles),
            can_move=self.can_move,
            can_hold=self.can_hold,
            move=self.forms.get("move"),
            ban_time=self.forms["time"],
            ban_hands=self.forms["hands"],
            **asked,
        )
