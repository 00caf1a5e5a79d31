"""Reads, one function per need; what each loads stands in its name or its docstring."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import (
    CharField,
    Count,
    F,
    Min,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
)
from django.db.models.functions import Coalesce, NullIf
from django.shortcuts import get_object_or_404

from jobs.models import (
    ClosingTick,
    Coat,
    CoatTest,
    Company,
    FeedLink,
    Forecast,
    ForwardRun,
    Job,
    Material,
    Plan,
    PlanRun,
    Reading,
    Recipe,
    Room,
    SensorLink,
    Surface,
    Tap,
    TurnRun,
    User,
    WorkerBeat,
)
from jobs.sensor_words import SensorState

# The sweep runs every minute on a worker; one missed round is not yet an alarm.
WORKER_SILENT_AFTER = timedelta(seconds=150)


def jobs_of(company: Company) -> QuerySet[Job]:
    """A company's jobs by title."""
    return Job.objects.filter(company=company)


def job_or_404(company: Company, key: str) -> Job:
    """The job of that id if it is this company's; to a stranger it does not exist."""
    return get_object_or_404(
        Job.objects.select_related("company"), company=company, key=key
    )


def plan_or_404(job: Job, number: int) -> Plan:
    """The job's plan of that number."""
    return get_object_or_404(
        job.plans.select_related("issued_by", "job"), number=number
    )


def issued_plan(job: Job) -> Plan | None:
    """The plan people work by."""
    return job.plans.select_related("job").filter(state=Plan.State.ISSUED).first()


def issued_before(plan: Plan) -> Plan | None:
    """The plan that people worked by before this one."""
    earlier = Plan.objects.select_related("job").filter(
        job=plan.job_id, issued_at__isnull=False, number__lt=plan.number
    )
    return earlier.first()


def latest_plan(job: Job) -> Plan | None:
    """The plan of the highest number, whatever came of it."""
    return job.plans.select_related("job").first()


def previous_plan(job: Job) -> Plan | None:
    """What a re-plan moves as little as it can: the issued plan, else the last one."""
    made = job.plans.select_related("job").filter(outcome=Plan.Outcome.PLAN)
    return issued_plan(job) or made.first()


def planned_against(plan: Plan) -> Plan | None:
    """The plan that this one was made to move as little as it could; None where none.

    The one issued at that time, else the last one before it.
    """
    made = plan.job.plans.select_related("job").filter(
        outcome=Plan.Outcome.PLAN, number__lt=plan.number
    )
    return made.filter(issued_at__lte=plan.made_at).first() or made.first()


def latest_run(job: Job) -> PlanRun | None:
    """The last asked-for run of the planner, over or not."""
    return job.plan_runs.select_related("plan", "requested_by").first()


def forward_runs(job: Job, surface_key: str) -> tuple[ForwardRun | None, ...]:
    """The last asked question about the surface, and the last one that was answered."""
    asked = job.forward_runs.select_related("requested_by").filter(
        surface_key=surface_key
    )
    return asked.first(), asked.filter(state=ForwardRun.State.DONE).first()


def turn_runs(job: Job) -> tuple[TurnRun | None, ...]:
    """The last question about the air, and the last one that was answered."""
    asked = job.turn_runs.select_related("requested_by")
    return asked.first(), asked.filter(state=TurnRun.State.DONE).first()


def worker_is_alive(now: datetime) -> bool:
    """Whether a planning worker has shown itself lately."""
    return WorkerBeat.objects.filter(at__gt=now - WORKER_SILENT_AFTER).exists()


# What the pages read --------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedJob:
    """A job on the list, with what its plans say."""

    job: Job
    surfaces: int
    issued: Plan | None
    latest: Plan | None


def jobs_with_plans(company: Company) -> list[ListedJob]:
    """A company's jobs with the issued and the latest plan, in two queries."""
    jobs = list(jobs_of(company).annotate(surface_count=Count("surfaces")))
    issued: dict[int, Plan] = {}
    latest: dict[int, Plan] = {}
    plans = Plan.objects.filter(job__in=jobs).defer("content", "made_with")
    for plan in plans.order_by("number"):
        latest[plan.job_id] = plan
        if plan.state == Plan.State.ISSUED:
            issued[plan.job_id] = plan
    return [
        ListedJob(
            job=job,
            surfaces=job.surface_count,
            issued=issued.get(job.pk),
            latest=latest.get(job.pk),
        )
        for job in jobs
    ]


def first_day_of(job: Job) -> date:
    """The day by the site's clock on which a job began, as far as it tells.

    That of its first coat; else of the first stint of the plan people work by, or of
    the last one; else of the moment its file was written for, or it came in.
    """
    plan = issued_plan(job) or latest_plan(job)
    moments = (
        job.coats.aggregate(first=Min("start"))["first"],
        plan.stints.aggregate(first=Min("start"))["first"] if plan else None,
        job.now,
        job.created_at,
    )
    return next(at for at in moments if at is not None).astimezone(job.tz).date()


def recipes_in_jobs(company: Company) -> list[Recipe]:
    """Every recipe of a company's jobs with its job and steps, in two queries."""
    rows = Recipe.objects.filter(job__company=company).select_related("job")
    ordered = rows.order_by("name", "job__title", "pk")
    return list(ordered.prefetch_related("steps"))


def plans_of(job: Job) -> QuerySet[Plan]:
    """A job's plans, newest first, without what they hold."""
    return job.plans.defer("content", "made_with")


def coats_logged_since(job: Job, moment: datetime) -> set[tuple[str, str, str]]:
    """Surface, step and section ids of the coats logged after ``moment``."""
    rows = job.coats.filter(logged_at__gt=moment)
    return set(rows.values_list("surface__key", "step__key", "section"))


def surface_with_recipe(job: Job, key: str) -> Surface:
    """The job's surface of that id with its room and its recipe's steps; or 404."""
    surfaces = job.surfaces.select_related("room", "recipe")
    return get_object_or_404(surfaces.prefetch_related("recipe__steps"), key=key)


def surfaces_of(job: Job) -> QuerySet[Surface]:
    """A job's surfaces with their rooms, room by room."""
    return job.surfaces.select_related("room").order_by("room__position", "position")


def logged_steps(surface: Surface) -> set[str]:
    """The steps of a surface of which a coat is logged, wholly or in part."""
    return set(surface.coats.values_list("step__key", flat=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """One thing that somebody logged: a coat, a test or a reading."""

    kind: str
    row: Coat | CoatTest | Reading
    text: str
    at: datetime
    by: str


def _place(surface: Surface) -> str:
    """A surface with its room, named once."""
    name, room = str(surface), str(surface.room)
    named = name.casefold().startswith(room.casefold())
    return name if named else f"{room}, {name}"


def last_logged(job: Job) -> Logged | None:
    """What a person logged last for the job, the newest first; imports do not count.

    Coats know when they were logged, tests and readings the moment they are about.
    """
    coat = job.coats.filter(
        Q(logged_by__isnull=False) | Q(taps__isnull=False)
    ).select_related(
        "step", "surface__room", "logged_by"
    ).order_by("-logged_at", "-pk").first()  # fmt: skip
    test = job.coat_tests.filter(
        Q(logged_by__isnull=False) | Q(taps__isnull=False)
    ).select_related(
        "step", "surface__room", "logged_by"
    ).order_by("-at", "-pk").first()  # fmt: skip
    reading = job.readings.filter(
        Q(taken_by__isnull=False) | Q(taps__isnull=False)
    ).select_related(
        "room", "taken_by"
    ).order_by("-at", "-pk").first()  # fmt: skip
    found = []
    if coat is not None:
        text = f"{coat.step} on {_place(coat.surface)}"
        found.append(
            Logged(kind="coat", row=coat, text=text, at=coat.logged_at,
                   by=_who(job, coat, coat.logged_by))
        )  # fmt: skip
    if test is not None:
        result = test.get_result_display().lower()
        text = f"test on {_place(test.surface)}: {result}"
        found.append(
            Logged(kind="test", row=test, text=text, at=test.at,
                   by=_who(job, test, test.logged_by))
        )  # fmt: skip
    if reading is not None:
        text = f"reading in {reading.room}"
        found.append(
            Logged(kind="reading", row=reading, text=text, at=reading.at,
                   by=_who(job, reading, reading.taken_by))
        )  # fmt: skip
    return max(found, key=lambda entry: entry.at, default=None)


def _who(job: Job, row: Coat | CoatTest | Reading, user: User | None) -> str:
    """Who logged it: who signed in, or the hand whose link it came by."""
    if user is not None:
        return str(user)
    key = row.taps.values_list("hand_key", flat=True).first()
    hand = job.hands.filter(key=key).first()
    return str(hand or key or "")


# What hands say that is nobody's record but the lead's to look at.
SAID_SHOWN = timedelta(days=3)


def said_at_walls(job: Job, now: datetime) -> QuerySet[Tap]:
    """What of the last days nobody has seen to: problems, coats set early or late.

    Newest first, each with the name of who said it as ``who``.
    """
    kinds = (Tap.Kind.PROBLEM, Tap.Kind.SET)
    names = job.hands.filter(key=OuterRef("hand_key")).values("name")[:1]
    named = NullIf(Subquery(names), Value(""))
    key = NullIf(F("hand_key"), Value(""))
    who = Coalesce(
        named, key, NullIf(F("by__name"), Value("")), "by__email", Value("somebody"),
        output_field=CharField(),
    )  # fmt: skip
    rows = job.taps.filter(kind__in=kinds, at__gt=now - SAID_SHOWN, seen_to_at=None)
    return rows.annotate(who=who)[:20]


def sent_by(link: FeedLink, now: datetime) -> QuerySet[Tap]:
    """What came by a link since yesterday, the newest first."""
    return link.taps.filter(at__gt=now - timedelta(days=1))[:12]


def test_results(job: Job) -> dict[tuple[str, str], CoatTest]:
    """The latest test of each surface and step, by their ids."""
    rows = job.coat_tests.select_related("surface", "step", "logged_by")
    return {(row.surface.key, row.step.key): row for row in rows}


def links_without_account(job: Job) -> dict[tuple[str, str, str], FeedLink]:
    """The working addresses, by purpose, hand id and room id."""
    rows = job.feed_links.filter(revoked_at=None)
    return {(row.purpose, row.hand_key, row.room_key): row for row in rows}


def link_or_404(job: Job, pk: int) -> FeedLink:
    """The job's address of that number, whatever its purpose."""
    return get_object_or_404(job.feed_links, pk=pk)


def forecasts_of(job: Job) -> QuerySet[Forecast]:
    """The last good weather of each source, the newest first."""
    return job.forecasts.filter(thrown_away=False)


def forecast_or_404(job: Job, pk: int) -> Forecast:
    """The job's kept forecast of that number."""
    return get_object_or_404(job.forecasts, pk=pk)


def room_or_404(job: Job, key: str) -> Room:
    """The job's room of that id."""
    return get_object_or_404(job.rooms, key=key)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSensor:
    """A room, the working address of its sensor, and how much files brought for it."""

    room: Room
    link: SensorLink | None
    from_files: int


def rooms_with_sensors(job: Job) -> list[RoomSensor]:
    """A job's rooms and their sensors, in two queries."""
    in_files = Count("readings", filter=Q(readings__via=Reading.Via.FILE))
    links = {link.room_id: link for link in job.sensor_links.filter(revoked_at=None)}
    return [
        RoomSensor(room=room, link=links.get(room.pk), from_files=room.in_files)
        for room in job.rooms.annotate(in_files=in_files)
    ]


# What a sensor said lately: long enough to see that it is stuck.
SENSORS_WATCHED = timedelta(hours=24)


def sensor_states(job: Job, now: datetime) -> list[SensorState]:
    """The live sensors of a job with what they said lately, in two queries."""
    links = list(job.sensor_links.filter(revoked_at=None).select_related("room"))
    if not links:
        return []
    said: dict[int, list[tuple[datetime, float, float]]] = {}
    lately = job.readings.filter(
        via=Reading.Via.SENSOR, at__gt=now - SENSORS_WATCHED
    ).order_by("at")
    for room, *air in lately.values_list("room_id", *_AIR):
        said.setdefault(room, []).append(tuple(air))
    return [
        SensorState(
            room=link.room.label,
            readings=said.get(link.room_id, []),
            last_used_at=link.last_used_at,
            trouble=link.trouble,
            trouble_at=link.trouble_at,
        )
        for link in links
    ]


_AIR = ("at", "temperature_c", "humidity_pct")


def closing_ticks(job: Job, day: date) -> dict[str, ClosingTick]:
    """What was ticked off on a day at its end, by what it is, with who did."""
    rows = job.closing_ticks.filter(day=day).select_related("ticked_by")
    return {row.item: row for row in rows}


def closing_days(job: Job, before: date) -> list[date]:
    """The last ten days before a day on which anything was ticked off, newest first."""
    days = job.closing_ticks.filter(day__lt=before).order_by("-day")
    return list(days.values_list("day", flat=True).distinct()[:10])


def material_or_404(job: Job, key: str) -> Material:
    """The job's material of that id."""
    return get_object_or_404(job.materials, key=key)
