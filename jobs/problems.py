"""Problems at a wall, said by who is signed in, and seen to.

From a hand's link they come as taps like all else there; both stand on Now until they
have been seen to.
"""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from jobs.models import Surface, Tap, User
from jobs.templatetags.plan_format import say_place


@transaction.atomic(durable=True)
def say_problem(
    *, surface: Surface, problem: Tap.Problem, key: UUID, by: User, now: datetime
) -> Tap:
    """Keep that something is wrong at a surface; the same ``key`` again is the same."""
    room = surface.room
    said = f"Problem at {say_place(str(room), str(surface))}: {problem.label}"
    tap, _ = surface.job.taps.get_or_create(
        key=key,
        link=None,
        defaults={
            "kind": Tap.Kind.PROBLEM,
            "at": now,
            "received_at": now,
            "by": by,
            "room_key": room.key,
            "surface_key": surface.key,
            "problem": problem,
            "said": said[:200],
        },
    )
    return tap


@transaction.atomic(durable=True)
def see_to(*, tap: Tap, now: datetime) -> bool:
    """Somebody has seen to what was said; False where somebody had before."""
    rows = Tap.objects.filter(pk=tap.pk, seen_to_at=None)
    return bool(rows.update(seen_to_at=now))
