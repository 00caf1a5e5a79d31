"""Writes: one thing a person does, one durable transaction each.

A person's mistake is a ValidationError with the field's name, a job that cannot be read
a BadInput. Moments come in as arguments.
"""

from datetime import datetime
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Max, Q

from jobs import tasks
from jobs.calendar_entries import update_entries
from jobs.models import (
    Coat,
    CoatTest,
    Company,
    ForwardRun,
    Job,
    Plan,
    PlanRun,
    Reading,
    Room,
    Step,
    Surface,
    Tap,
    TurnRun,
    User,
)
from jobs.translation import job_value, store_job
from scheduling.errors import bad
from scheduling.job_changes import with_changes
from scheduling.job_file import read_job


@transaction.atomic(durable=True)
def start_company(*, name: str, email: str, password: str, person: str = "") -> User:
    """A new company and its first lead, who can sign in at once."""
    company = Company(name=name.strip())
    company.full_clean()
    lead = User(email=email.strip().lower(), name=person.strip(), role=User.Role.LEAD)
    lead.set_password(password)
    lead.full_clean(exclude=("company",))
    try:
        validate_password(password, lead)
    except ValidationError as error:
        raise ValidationError({"password": error.messages}) from None
    company.save()
    lead.company = company
    lead.save()
    return lead


def import_job(*, company: Company, written: Any, replace: bool = False) -> Job:
    """The job in parsed JSON as rows; ``replace`` lets it take its old one's place.

    BadInput with every fault, also where its id is taken and ``replace`` is not set.
    """
    job = read_job(written)
    try:
        with transaction.atomic(durable=True):
            return store_job(company, job, replace=replace)
    except IntegrityError:  # the same file came in twice at one moment
        raise bad("id", job.id, "an id not yet taken in this company") from None


@transaction.atomic(durable=True)
def log_coat(
    *,
    job: Job,
    surface: Surface,
    step: Step,
    start: datetime,
    end: datetime,
    by: User | None,
    now: datetime,
    section: str = "",
    tap: Tap | None = None,
) -> Coat:
    """The fact that a step was done; on the whole surface without a section.

    ``tap`` is what a hand sent by a link, kept together with what it makes.
    """
    _lock(job, now)
    coat = Coat(
        job=job,
        surface=surface,
        step=step,
        section=section,
        start=start,
        end=end,
        logged_by=by,
        logged_at=now,
        position=_after_last(job.coats),
    )
    _own(job, surface)
    coat.full_clean()
    _not_after(end=end, now=now)
    same = job.coats.filter(surface=surface, step=step)
    if section:
        same = same.filter(Q(section=section) | Q(section=""))
    logged = same.first()
    if logged is not None:
        when = f"{logged.end.astimezone(job.tz):%d %b %H:%M}"
        message = f"{step.label} is logged already, ended {when}. Undo that one first."
        raise ValidationError({"step": message})
    coat.save()
    if tap is not None:
        tap.coat = coat
        tap.save(force_insert=True)
    return coat


@transaction.atomic(durable=True)
def undo_coat(*, coat: Coat, now: datetime) -> None:
    """Take a logged coat back."""
    _lock(coat.job, now)
    coat.delete()


@transaction.atomic(durable=True)
def log_test(
    *,
    job: Job,
    surface: Surface,
    step: Step,
    result: str,
    at: datetime,
    by: User | None,
    now: datetime,
    section: str = "",
    tap: Tap | None = None,
) -> CoatTest:
    """What a test before ``step`` said; ``tap`` as in ``log_coat``."""
    _own(job, surface)
    test = CoatTest(
        job=job,
        surface=surface,
        step=step,
        section=section,
        result=result,
        at=at,
        logged_by=by,
    )
    test.full_clean()
    _not_after(at=at, now=now)
    test.save()
    if tap is not None:
        tap.test = test
        tap.save(force_insert=True)
    return test


@transaction.atomic(durable=True)
def add_reading(
    *,
    job: Job,
    room: Room,
    at: datetime,
    temperature_c: float,
    humidity_pct: float,
    by: User | None,
    now: datetime,
    surface_c: float | None = None,
    tap: Tap | None = None,
) -> Reading:
    """A hygrometer's word on a room, in degrees Celsius and percent.

    ``tap`` as in ``log_coat``.
    """
    _lock(job, now)
    _between("temperature_c", temperature_c, -60, 70, "°C")
    _between("humidity_pct", humidity_pct, 0, 100, "%")
    if surface_c is not None:
        _between("surface_c", surface_c, -60, 70, "°C")
    reading = Reading(
        job=job,
        room=room,
        at=at,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
        surface_c=surface_c,
        taken_by=by,
        position=_after_last(job.readings),
    )
    reading.full_clean()
    _not_after(at=at, now=now)
    reading.save()
    if tap is not None:
        tap.reading = reading
        tap.save(force_insert=True)
    return reading


@transaction.atomic(durable=True)
def request_plan(*, job: Job, by: User | None, now: datetime) -> PlanRun:
    """Ask for a plan from ``now`` on; a run that still waits takes the new moment."""
    return _request_plan(job, by, now)


def _request_plan(job: Job, by: User | None, now: datetime) -> PlanRun:
    Job.objects.select_for_update().get(pk=job.pk)
    waiting = job.plan_runs.filter(state=PlanRun.State.QUEUED)
    if not waiting.update(at=now, requested_by=by):
        PlanRun.objects.create(job=job, at=now, requested_by=by, requested_at=now)
    run = waiting.get()

    def send() -> None:
        tasks.replan.delay(run.pk)

    # Robust: with the broker away the row waits, and the sweep sends it.
    transaction.on_commit(send, robust=True)
    return run


@transaction.atomic(durable=True)
def request_forward(
    *, job: Job, surface: Surface, by: User | None, now: datetime
) -> ForwardRun:
    """Ask what would bring the surface forward; one that is on its way answers it."""
    _own(job, surface)
    Job.objects.select_for_update().get(pk=job.pk)
    under_way = job.forward_runs.filter(
        surface_key=surface.key,
        state__in=(ForwardRun.State.QUEUED, ForwardRun.State.RUNNING),
    ).first()
    if under_way is not None:
        return under_way
    run = ForwardRun.objects.create(
        job=job, surface_key=surface.key, at=now, requested_by=by, requested_at=now
    )
    # Robust: with the broker away the row waits, and the sweep sends it.
    transaction.on_commit(lambda: tasks.forward.delay(run.pk), robust=True)
    return run


@transaction.atomic(durable=True)
def request_turn(
    *, job: Job, question: dict[str, Any], by: User | None, now: datetime
) -> TurnRun:
    """Ask what new air does to the issued plan; the newest question is what waits."""
    Job.objects.select_for_update().get(pk=job.pk)
    issued = job.plans.filter(state=Plan.State.ISSUED).first()
    if issued is None:
        raise ValidationError("No plan is issued yet: issue one first.")
    waiting = job.turn_runs.filter(state=TurnRun.State.QUEUED)
    asked = {
        "at": now,
        "requested_by": by,
        "requested_at": now,
        "question": question,
        "plan_number": issued.number,
    }
    if not waiting.update(**asked):
        TurnRun.objects.create(job=job, **asked)
    run = waiting.get()
    # Robust: with the broker away the row waits, and the sweep sends it.
    transaction.on_commit(lambda: tasks.turn.delay(run.pk), robust=True)
    return run


@transaction.atomic(durable=True)
def accept_ways(
    *, job: Job, run: str, ways: list[str], by: User | None, now: datetime
) -> PlanRun:
    """Change the job as those ways of the last answer do, and ask for a draft.

    BadInput where two of them set one thing otherwise, or what one changes is gone.
    """
    Job.objects.select_for_update().get(pk=job.pk)
    answered = job.turn_runs.filter(state=TurnRun.State.DONE).first()
    if answered is None or str(answered.pk) != run:
        raise ValidationError("There is a newer answer. Choose from that one.")
    kept = {str(number): row for number, row in enumerate(answered.helps)}
    if not ways:
        raise ValidationError("Nothing is ticked: tick a way, or keep the plan.")
    unknown = next((way for way in ways if way not in kept), None)
    if unknown is not None:
        raise ValidationError(f"{unknown} is not among the ways that were found.")
    changes = [kept[way]["change"] for way in ways]
    store_job(job.company, with_changes(job_value(job), changes), replace=True)
    return _request_plan(job, by, now)


@transaction.atomic(durable=True)
def stop_run(*, run: PlanRun, now: datetime) -> None:
    """Stop planning: a run that waits ends now, one that searches keeps its best."""
    this = PlanRun.objects.filter(pk=run.pk)
    ended = this.filter(state=PlanRun.State.QUEUED).update(
        state=PlanRun.State.STOPPED, finished_at=now
    )
    if not ended:
        this.filter(state=PlanRun.State.RUNNING).update(stop_requested=True)


@transaction.atomic(durable=True)
def issue_plan(*, plan: Plan, by: User | None, now: datetime) -> Plan:
    """Make a draft the plan people work by; the one before it is superseded."""
    job = Job.objects.select_for_update().get(pk=plan.job_id)
    issued = job.plans.filter(state=Plan.State.ISSUED)
    newer = issued.filter(number__gt=plan.number).first()
    if newer is not None:
        raise ValidationError(f"{newer} is newer and already issued. Plan again first.")
    if not plan.is_plan:
        raise ValidationError(
            f"{plan} says that there is no plan: it cannot be issued."
        )
    issued.exclude(pk=plan.pk).update(state=Plan.State.SUPERSEDED)
    draft = Plan.objects.filter(pk=plan.pk, state=Plan.State.DRAFT)
    if not draft.update(state=Plan.State.ISSUED, issued_at=now, issued_by=by):
        raise ValidationError(f"{plan} is no draft any more: it was issued before.")
    plan.refresh_from_db()
    update_entries(plan, now)
    return plan


def _lock(job: Job, now: datetime) -> None:
    """One write at a time to a job's lists, and note that plans are older than it."""
    Job.objects.select_for_update().get(pk=job.pk)
    Job.objects.filter(pk=job.pk).update(changed_at=now)
    job.changed_at = now


def _after_last(rows: Any) -> int:
    last = rows.aggregate(last=Max("position"))["last"]
    return 0 if last is None else last + 1


def _own(job: Job, surface: Surface) -> None:
    if surface.job_id != job.pk:
        raise ValidationError({"surface": "Choose a surface of this job."})


def _between(field: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:  # written this way round, it refuses NaN too
        raise ValidationError(
            {field: f"{value:g} {unit} cannot be: allowed is {low} to {high} {unit}."}
        )


def _not_after(*, now: datetime, **moments: datetime) -> None:
    for field, moment in moments.items():
        if moment > now:
            raise ValidationError({field: "This is still to come; give a moment past."})
