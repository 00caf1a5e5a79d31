"""The watch: each morning the newest air against the issued plan of every running job.

Only where something breaks, or much improves, is the job planned again, as a draft: it
is for the lead to issue. A job is looked at once a day, whoever asks how often.
"""

import random
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime, time, timedelta

from django.db.models import Q

from jobs import actions
from jobs.forecasts import fetch_forecast, take_forecast
from jobs.models import Job, Plan
from jobs.queries import forecasts_of, issued_plan
from jobs.translation import job_value, plan_value
from jobs.turn_words import breaks, much_better
from jobs.weather.outcomes import Got
from scheduling.errors import BadInput
from scheduling.judging import Judgement, judge
from scheduling.problem import AirHour
from scheduling.problem import Job as JobValue

BEFORE_START = timedelta(minutes=90)  # time for a draft, and for a lead to read it
SPREAD_MIN = 45  # services ask that not everybody comes at the same minute


def due_jobs(now: datetime) -> list[int]:
    """Keys of running jobs whose minute of today has come and that were not watched."""
    jobs = Job.objects.filter(plans__state=Plan.State.ISSUED, plans__finish__gt=now)
    return [job.pk for job in jobs if _is_due(job, now)]


def watch_job(job_id: int, now: datetime, *, again: bool = False) -> str:
    """Refresh the forecast, judge, plan again where it is worth it; what was said.

    Empty where nothing was to be said or another has looked today already; ``again``
    looks all the same.
    """
    job = Job.objects.select_related("company").get(pk=job_id)
    today = now.astimezone(job.tz).date()
    mine = Job.objects.filter(pk=job_id)
    if not again:
        mine = mine.filter(~Q(watched_for=today) | Q(watched_for=None))
    if not mine.update(watched_for=today):
        return ""
    plan = issued_plan(job)
    if plan is None:
        return ""
    got = fetch_forecast(job=job, by=None, now=now) if job.weather_source else None
    forecast = forecasts_of(job).filter(source=job.weather_source).first()
    fresh = forecast if isinstance(got, Got) else None
    at = now.astimezone(job.tz)
    try:
        value = job_value(job)
        if fresh is not None:
            value = _with_hours(value, fresh.hours)
        judged = judge(value, plan_value(plan), at=at)
    except BadInput:
        return ""  # the job's own pages say what is wrong with it
    said = _said(plan, judged, now, job)
    Job.objects.filter(pk=job_id).update(watch_said=said, watch_plan=plan.number)
    if said:
        if fresh is not None:
            take_forecast(job=job, forecast=fresh, now=now)
        actions.request_plan(job=job, by=None, now=now)
    return said


def _is_due(job: Job, now: datetime) -> bool:
    here = now.astimezone(job.tz)
    return job.watched_for != here.date() and here >= _minute(job, here.date())


def _minute(job: Job, day: date) -> datetime:
    """The job's random minute of that day, the same whoever works it out."""
    starts = [time.fromisoformat(rule["from"]) for rule in job.hours]
    opens = datetime.combine(day, min(starts, default=time(8)), job.tz)
    early = random.Random(f"{job.pk}/{day}").randrange(SPREAD_MIN)  # noqa: S311 - no secret
    return opens - BEFORE_START - timedelta(minutes=early)


def _with_hours(job: JobValue, hours: Iterable[dict[str, object]]) -> JobValue:
    """The job with a forecast's hours from its first on."""
    rows = tuple(
        AirHour(
            at=datetime.fromisoformat(str(hour["at"])).astimezone(job.site.tz),
            temperature_c=float(str(hour["temperature_c"])),
            humidity_pct=float(str(hour["humidity_pct"])),
        )
        for hour in hours
    )
    before = tuple(row for row in job.outdoors if row.at < rows[0].at)
    return replace(job, outdoors=(*before, *rows))


def _said(plan: Plan, judged: Judgement, now: datetime, job: Job) -> str:
    """What the watch found, in a sentence; empty where the plan may stay."""
    when = f"{now.astimezone(job.tz):%a %d %b %H:%M}"
    slips = {slip.stint for slip in breaks(judged)}
    if slips:
        what = "1 stint slips" if len(slips) == 1 else f"{len(slips)} stints slip"
        return f"{when}: in the new air {what} of {plan}. A draft is planned."
    better = len(much_better(judged))
    if better:
        what = "1 wait is" if better == 1 else f"{better} waits are"
        return (
            f"{when}: in the new air {what} much shorter than in {plan}. "
            "A draft is planned."
        )
    return ""
