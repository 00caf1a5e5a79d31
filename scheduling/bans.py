"""Bans: what the lead forbids a step, hands to do it or time to do it in.

They are about the step's own work; its rescue is as free as any other stint.
"""

from collections.abc import Iterable

from scheduling.problem import Ban, Job, Pin, Step, Surface


def bans_on(
    job: Job, surface: Surface, step: Step, section: str | None
) -> Iterable[Ban]:
    """The bans that a step on a surface or on one of its sections has."""
    for ban in job.bans:
        here = (ban.surface, ban.step) == (surface.id, step.id)
        if here and (None in (ban.section, section) or ban.section == section):
            yield ban


def kept_off(
    job: Job, surface: Surface, step: Step, section: str | None
) -> frozenset[str]:
    """The hands who may not do a step there."""
    bans = bans_on(job, surface, step, section)
    return frozenset(hand for ban in bans for hand in ban.hands)


def by_section(job: Job, surface: Surface, step: Step) -> bool:
    """Whether a pin or a ban is about one section of a wall: each is done by itself."""
    rows: tuple[Pin | Ban, ...] = (*job.pins, *job.bans)
    return any(
        row.section is not None and (row.surface, row.step) == (surface.id, step.id)
        for row in rows
    )
