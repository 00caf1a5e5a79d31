"""Who leads a step that one person does on all of a room's matching walls.

Two appliers never drag or rag alike, so walls that are seen together come from one
hand; common practice, no source.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from scheduling.openings import Openings
from scheduling.problem import Job, Recipe, Step, Surface

Group = tuple[str, str, str]  # room, recipe, step


@dataclass(frozen=True, slots=True, kw_only=True)
class Leads:
    """By group its hand, by number; and what there is to say of the others."""

    by_group: Mapping[Group, int]
    notes: tuple[str, ...] = ()

    def of(self, surface: Surface, step: Step) -> int | None:
        """The hand that leads the step on the surface, None where anybody may."""
        return self.by_group.get((surface.room, surface.recipe, step.id))


def leads_of(openings: Openings) -> Leads:
    """Share the groups out: the most work first, to the hand that has the least so far.

    A hand named in a pin on one of a group's walls leads it, one kept off a wall of it
    does not. Reckoned with all of the
    job and not with what is left, so that a later plan shares them out alike.
    """
    job = openings.job
    load = [0.0] * len(openings.hands)
    found: dict[Group, int] = {}
    notes = []
    for group, minutes, step in sorted(_groups(job), key=lambda row: (-row[1], row[0])):
        able = [
            number
            for number, hand in enumerate(openings.hands)
            if step.skill in (None, *hand.skills)
        ]
        off = _kept_off(job, group)
        free = [number for number in able if openings.hands[number].id not in off]
        if able and not free:
            notes.append(
                f"{step.name or step.id}: everybody who could do all of the room's "
                "walls is kept off one of them; each is done by whoever may."
            )
        able = free
        named = [
            n
            for n in able
            if all(openings.hands[n].id in row for row in _named(job, group))
        ]
        if able and not named:
            notes.append(
                f"{step.name or step.id}: pins name different hands for walls of "
                "one room that one hand should do; each is left as pinned."
            )
        able = named or able
        if able:
            lead = min(able, key=lambda n: (load[n] / max(1, _there(openings, n)), n))
            load[lead] += minutes
            found[group] = lead
    return Leads(by_group=found, notes=tuple(notes))


def _there(openings: Openings, number: int) -> int:
    return int(openings.hands[number].there.sum())


def _groups(job: Job) -> Iterable[tuple[Group, float, Step]]:
    """Steps that one hand does on all walls of a room, with their minutes.

    Also on a single one that may be done in parts.
    """
    recipes: dict[str, Recipe] = {recipe.id: recipe for recipe in job.recipes}
    walls: dict[tuple[str, str], list[Surface]] = {}
    for surface in job.surfaces:
        walls.setdefault((surface.room, surface.recipe), []).append(surface)
    for (room, name), surfaces in walls.items():
        for step in recipes[name].steps:
            in_parts = step.splits or (job.in_relay and not step.wet)
            several = len(surfaces) > 1 or len(surfaces[0].sections) > 1
            if step.same_hand and (several or in_parts):
                minutes = sum(step.minutes(row.area_m2, 1) for row in surfaces)
                yield (room, name, step.id), minutes, step


def _kept_off(job: Job, group: Group) -> frozenset[str]:
    """The hands who may not do one of a group's walls."""
    room, recipe, step = group
    walls = {row.id for row in job.surfaces if (row.room, row.recipe) == (room, recipe)}
    return frozenset(
        hand
        for ban in job.bans
        if ban.step == step and ban.surface in walls
        for hand in ban.hands
    )


def _named(job: Job, group: Group) -> list[tuple[str, ...]]:
    """The hands that pins name on a group's walls."""
    room, recipe, step = group
    walls = {row.id for row in job.surfaces if (row.room, row.recipe) == (room, recipe)}
    return [
        pin.hands
        for pin in job.pins
        if pin.hands and pin.step == step and pin.surface in walls
    ]
