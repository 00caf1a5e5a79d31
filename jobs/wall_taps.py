"""What a hand may send from My walls, and how it becomes a record, exactly once.

ValidationError names what cannot be, as in actions. The moment of the tap is told as
seconds ago, so that a phone whose clock is wrong does not log tomorrow.
"""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from jobs import actions
from jobs.measures import TEMPERATURE, say
from jobs.models import CoatTest, FeedLink, Room, Step, Stint, Surface, Tap
from jobs.templatetags.plan_format import say_minutes, say_place


def keep_tap(
    *, link: FeedLink, key: UUID, given: dict[str, Any], now: datetime
) -> tuple[Tap, bool]:
    """The tap as it is kept, and whether it was new; once for each key of a link.

    ``given`` is what a form of ``wall_forms`` read: ``kind``, ``ago_s`` and what the
    kind needs. ValidationError where it cannot be.
    """
    earlier = link.taps.filter(key=key)
    if (known := earlier.first()) is not None:
        return known, False
    tap = Tap(
        job=link.job,
        link=link,
        key=key,
        kind=given["kind"],
        at=now - timedelta(seconds=given["ago_s"]),
        received_at=now,
        hand_key=link.hand_key,
    )
    try:
        _KEEP[given["kind"]](tap, given, now)
    except (ValidationError, IntegrityError):
        # The same tap was kept while this one was on its way.
        if (known := earlier.first()) is not None:
            return known, False
        raise
    return tap, True


def _done(tap: Tap, given: dict[str, Any], now: datetime) -> None:
    stint = _stint(tap, given["stint"])
    surface, step = _at_the_wall(tap, stint)
    end = tap.at - timedelta(minutes=given["ended"])
    tap.said = f"Done: {step} on {_place(surface)}"
    actions.log_coat(
        job=tap.job,
        surface=surface,
        step=step,
        section=stint.section,
        start=end - (stint.end - stint.start),
        end=end,
        by=None,
        now=now,
        tap=tap,
    )


def _test(tap: Tap, given: dict[str, Any], now: datetime) -> None:
    stint = _stint(tap, given["stint"])
    surface, step = _at_the_wall(tap, stint)
    result = CoatTest.Result(given["result"])
    tap.said = f"Test before {step} on {_place(surface)}: {result.label.lower()}"
    actions.log_test(
        job=tap.job,
        surface=surface,
        step=step,
        section=stint.section,
        result=result,
        at=tap.at,
        by=None,
        now=now,
        tap=tap,
    )


def _set(tap: Tap, given: dict[str, Any], now: datetime) -> None:
    surface, step = _at_the_wall(tap, _stint(tap, given["stint"]))
    tap.minutes = given["minutes"]
    tap.said = f"Under {step} on {_place(surface)}: set {set_words(tap.minutes)}"
    _keep_alone(tap)


def _reading(tap: Tap, given: dict[str, Any], now: datetime) -> None:
    room = Room.objects.filter(job=tap.job, key=given["room"]).first()
    if room is None:
        raise ValidationError({"room": f"{given['room']} is no room of this job."})
    tap.room_key = room.key
    said = say(TEMPERATURE, given["temperature_c"], tap.link.units)
    tap.said = f"Reading in {room}: {said}, {given['humidity_pct']:g} %"
    actions.add_reading(
        job=tap.job,
        room=room,
        at=tap.at,
        temperature_c=given["temperature_c"],
        humidity_pct=given["humidity_pct"],
        by=None,
        now=now,
        tap=tap,
    )


def _problem(tap: Tap, given: dict[str, Any], now: datetime) -> None:
    surface, step = _at_the_wall(tap, _stint(tap, given["stint"]))
    tap.problem = Tap.Problem(given["problem"])
    tap.said = f"Problem at {step} on {_place(surface)}: {tap.get_problem_display()}"
    _keep_alone(tap)


_KEEP: dict[str, Callable[[Tap, dict[str, Any], datetime], None]] = {
    Tap.Kind.DONE: _done,
    Tap.Kind.TEST: _test,
    Tap.Kind.SET: _set,
    Tap.Kind.READING: _reading,
    Tap.Kind.PROBLEM: _problem,
}


@transaction.atomic(durable=True)
def _keep_alone(tap: Tap) -> None:
    """A tap that makes no record but itself."""
    tap.save(force_insert=True)


def set_words(minutes: int) -> str:
    """ "as planned", "1 h 30 min late" or "30 min early"."""
    if not minutes:
        return "as planned"
    return f"{say_minutes(abs(minutes))} {'late' if minutes > 0 else 'early'}"


def _stint(tap: Tap, key: str) -> Stint:
    """The stint as the newest plan ever issued has it for this hand.

    Not the plan of now alone: a tap made without a line may come after the next issue.
    """
    rows = Stint.objects.filter(
        plan__job=tap.job, plan__issued_at__isnull=False, key=key
    ).order_by("-plan__number")
    for row in rows:
        if tap.hand_key in row.hands:
            return row
    raise ValidationError({"stint": "This is not among your stints any more."})


def _at_the_wall(tap: Tap, stint: Stint) -> tuple[Surface, Step]:
    surface = (
        tap.job.surfaces.select_related("room", "recipe")
        .filter(key=stint.surface_key)
        .first()
    )
    step = surface and surface.recipe.steps.filter(key=stint.step_key).first()
    if surface is None or step is None:
        raise ValidationError({"stint": "The job does not have this any more."})
    tap.surface_key, tap.step_key = surface.key, step.key
    tap.section, tap.room_key = stint.section, surface.room.key
    return surface, step


def _place(surface: Surface) -> str:
    return say_place(str(surface.room), str(surface))
