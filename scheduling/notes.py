"""What a job says that the planner does not use yet, said aloud."""

from collections.abc import Iterable

from scheduling.problem import Job
from scheduling.room_air import RoomAir


def unused_notes(job: Job) -> Iterable[str]:
    """A sentence for each value of the job that changes nothing in the plan."""
    if job.site.quiet:
        yield "The site's quiet hours are kept with the job but not planned round yet."
    if any(pause.relay for rule in job.site.hours for pause in rule.breaks):
        yield "Breaks in relay are planned as breaks for everybody."
    for room in job.rooms:
        name = room.name or room.id
        if room.opens:
            yield f"{name}: the hours it opens to the public are not planned round yet."
        if room.hand_back is not None:
            yield f"{name}: its hand-back is not planned for; give it a date instead."
    for surface in job.surfaces:
        if surface.sun:
            yield f"{surface.name or surface.id}: sun on it is not planned round yet."
    for hand in job.hands:
        if hand.hours and any(p.relay for rule in hand.hours for p in rule.breaks):
            yield f"{hand.name or hand.id}: own breaks in relay count as plain breaks."


def air_notes(job: Job, air: RoomAir | None) -> Iterable[str]:
    """How far the outdoor air given reaches."""
    if air is None or not job.outdoors:
        return
    last = max(hour.at for hour in job.outdoors).astimezone(job.site.tz)
    after = (
        "the job's typical air" if job.site.typical_air else "the last 48 h repeated"
    )
    yield f"Outdoor air is given until {last:%a %d %b %H:%M}; after it {after}."
