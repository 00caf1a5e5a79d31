"""Writes about what is bound to a day: gates, other trades' days, dates.

A gate and a trade's days have no id: they are known by what they say.
"""

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError

from jobs.models import DateWish, Job, Room
from jobs.set_up_actions import after_last, changing, put_columns

_CHANGED = "This was changed since by somebody else. Look again before you change it."
Entry = Mapping[str, Any]


def keep_gate(
    *,
    job: Job,
    was: Entry | None,
    gate: Entry | None,
    surfaces: Collection[str],
    now: datetime,
) -> None:
    """A new gate on surfaces by their ids, another in place of ``was``, or none."""
    with changing(job, now):
        found = was is None
        for surface in job.surfaces.all():
            gates = [entry for entry in surface.gates if entry != was]
            found = found or len(gates) < len(surface.gates)
            if gate is not None and surface.key in surfaces and gate not in gates:
                gates.append(dict(gate))
            if gates != surface.gates:
                surface.gates = gates
                surface.save(update_fields=("gates",))
        if not found:
            raise ValidationError(_CHANGED)


def keep_trade(
    *, room: Room, was: Entry | None, trade: Entry | None, now: datetime
) -> None:
    """New days of another trade in a room, others in place of ``was``, or none."""
    with changing(room.job, now):
        room.refresh_from_db(fields=("others",))
        others = list(room.others)
        if was is not None and was not in others:
            raise ValidationError(_CHANGED)
        place = len(others) if was is None else others.index(was)
        others[place : place + 1] = [] if trade is None else [dict(trade)]
        room.others = others
        room.save(update_fields=("others",))


def keep_date(
    *, job: Job, wish: DateWish | None, now: datetime, **columns: Any
) -> DateWish:
    """A new date, or new values for one."""
    with changing(job, now):
        wish = wish or DateWish(job=job, position=after_last(job.dates.all()))
        put_columns(wish, columns)
    return wish


def remove_date(*, wish: DateWish, now: datetime) -> None:
    """Nobody wishes it any more."""
    with changing(wish.job, now):
        wish.delete()
