"""What moved between two plans, stint by stint, in words."""

from scheduling.plan import Change, Plan, Stint
from scheduling.problem import Job
from scheduling.process import called, day_text


def changes_between(job: Job, old: Plan, new: Plan) -> tuple[Change, ...]:
    """Stints of ``new`` that stand elsewhere or with other hands than in ``old``.

    A stint of the old plan that the job has since logged is no change. Dropped are
    those planned before and neither planned nor logged now.
    """
    before = {stint.id: stint for stint in old.stints}
    after = {stint.id: stint for stint in new.stints}
    logged = {(coat.surface, coat.step) for coat in job.coats}
    changes = []
    for stint in new.stints:
        was = before.get(stint.id)
        if was is None:
            changes.append(_change(job, stint, None, stint))
        elif _moved(was, stint) or set(was.hands) != set(stint.hands):
            changes.append(_change(job, stint, was, stint))
    surfaces = {surface.id for surface in job.surfaces}
    changes += [
        _change(job, stint, stint, None)
        for stint in old.stints
        if stint.id not in after
        and (stint.surface, stint.step) not in logged
        and stint.surface in surfaces
    ]
    return tuple(changes)


def _moved(was: Stint, now: Stint) -> bool:
    """Whether the start differs; by the second, since autumn shows an hour twice."""
    return was.start.timestamp() != now.start.timestamp()


def _change(job: Job, stint: Stint, was: Stint | None, now: Stint | None) -> Change:
    surface = job.surface(stint.surface)
    steps = {step.id: step.name or step.id for step in job.recipe(surface.recipe).steps}
    name = f"{called(surface)}, {steps.get(stint.step, stint.step)}"
    if was is None and now is not None:
        kind, text = "added", f"{name}: new, {day_text(now.start, job)}"
    elif now is None and was is not None:
        kind, text = "dropped", f"{name}: no longer planned"
    elif was is not None and now is not None and _moved(was, now):
        kind = "moved"
        text = (
            f"{name}: {day_text(was.start, job)} → {day_text(now.start, job)}. "
            f"{now.reason.text}"
        )
    else:
        assert was is not None  # noqa: S101 - one of both is given
        assert now is not None  # noqa: S101 - and here the other too
        kind = "hands"
        text = f"{name}: {', '.join(was.hands)} → {', '.join(now.hands)}"
    return Change(
        stint=stint.id,
        surface=stint.surface,
        step=stint.step,
        kind=kind,  # type: ignore[arg-type]
        text=text,
        was=was.start if was else None,
        now=now.start if now else None,
    )
