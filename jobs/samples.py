"""Samples of a material: logging one, and letting the label follow it.

One verb, one durable transaction each.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction

from jobs.models import Material, Sample, User
from jobs.recipe_changes import lock, relabel
from jobs.templatetags.plan_format import say_label, say_minutes
from jobs.translation import job_value
from scheduling import problem, samples
from scheduling.job_file import write_material

WATCHED = ("open", "touch", "recoat", "hard", "tack")
HOW = ("label", "point")


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One stage of a sample: watched, and its clock in that air before and after."""

    stage: str
    watched: str
    label: str
    clock: str
    by: dict[str, dict[str, str]]  # "label" and "point": its label and clock then


@transaction.atomic(durable=True)
def log_sample(
    *,
    material: Material,
    laid_at: datetime,
    temperature_c: float,
    humidity_pct: float,
    minutes: Mapping[str, float],
    by: User | None,
    now: datetime,
) -> Sample:
    """A coat that was watched; its label does not follow yet.

    ValidationError where no stage is given or one is still to come.
    """
    if not minutes:
        raise ValidationError("No time was given: give at least one.")
    if laid_at > now:
        raise ValidationError({"laid_at": "This is still to come: give a time past."})
    for stage, watched in minutes.items():
        if laid_at + timedelta(minutes=watched) > now + timedelta(minutes=1):
            raise ValidationError(
                {stage: f"{say_minutes(watched)} after it was laid is still to come."}
            )
    sample = Sample(
        material=material,
        laid_at=laid_at,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
        minutes=dict(minutes),
        logged_by=by,
        logged_at=now,
    )
    sample.full_clean()
    sample.save()
    return sample


@transaction.atomic(durable=True)
def accept_sample(
    *, sample: Sample, how: str, version: int, by: User, now: datetime
) -> Material:
    """Let the label follow the sample; what it said before is kept as its version.

    ``how`` "label" sets the label, "point" bends the law at that air. Stale where the
    label was changed since, BadInput where it cannot be a label so.
    """
    job = sample.material.job
    lock(job, now)
    sample.refresh_from_db()
    if sample.version is not None:
        raise ValidationError(f"Version {sample.version} was made from it already.")
    old = job_value(job).material(sample.material.key)
    kept = relabel(
        job=job,
        written=write_material(learnt(old, sample, how)),
        version=version,
        by=by,
        now=now,
        why=f"a sample laid {sample.laid_at.astimezone(job.tz):%d %b %H:%M}, "
        f"{sample.temperature_c:.1f} °C and {sample.humidity_pct:.0f} %",
    )
    if kept.version != version:
        sample.version = kept.version
        sample.save(update_fields=("version",))
    return kept


def learnt(material: problem.Material, sample: Sample, how: str) -> problem.Material:
    """The material as the sample would have it."""
    learn = samples.relabelled if how == "label" else samples.pointed
    return learn(material, air_of(sample), sample.minutes)


def air_of(sample: Sample) -> problem.Air:
    """The air in which a sample was watched."""
    return problem.Air(
        temperature_c=sample.temperature_c, humidity_pct=sample.humidity_pct
    )


def compared(
    material: problem.Material, sample: Sample, ways: Mapping[str, problem.Material]
) -> list[Compared]:
    """Each stage watched beside its clock now, and as each way would have it."""
    air = air_of(sample)

    def said(one: problem.Material, stage: str) -> dict[str, str]:
        label = one.labels.get(stage)
        if label is None:
            return {"label": "", "clock": "not on the label"}
        clock = samples.likely_min(one, stage, air)
        return {
            "label": say_label(label),
            "clock": say_minutes(clock if clock < float("inf") else None),
        }

    return [
        Compared(
            stage=stage,
            watched=say_minutes(watched),
            **said(material, stage),
            by={how: said(one, stage) for how, one in ways.items()},
        )
        for stage, watched in sample.minutes.items()
    ]
