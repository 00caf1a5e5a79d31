"""What a move breaks, and what is held and forbidden, in the trade's words.

Pure: values in, sentences out. Times by the site's clock.
"""

import re
from datetime import datetime
from zoneinfo import ZoneInfo

from jobs.calendar_words import hands_text, label, moment_text
from jobs.templatetags.plan_format import say_place
from jobs.week_changes import stint_text
from jobs.week_words import wish_text
from scheduling.moving import DATE, Broken
from scheduling.plan import Plan
from scheduling.problem import Ban, Job, Pin

_MOMENT = re.compile(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d(?:\.\d+)?[+-]\d\d:\d\d")
# By rule of the audit what it says of a stint; {at} is the moment that it names.
WORDS = {
    "past": "it would begin in the past",
    "site-hours": "outside the site's hours, or across a break it may not cross",
    "room-hours": "the room is shut then",
    "hand-hours": "not all of its hands are there all that time",
    "hands": "that is not as many hands as the step takes",
    "skill": "none of them has the skill {skill}",
    "same-hand": "the walls of this room would not come from one hand",
    "twice": "one of its hands is at another stint then",
    "room-heads": "more hands in the room than it holds",
    "wall": "another stint is on that wall then",
    "wait": "what it waits for is not ready{at}",
    "test": "a test has to come first",
    "window": "the window of the coat below has shut{at}",
    "rescue": "its rescue no longer stands where it should",
    "order": "what is above it in the room is not done by then",
    "air": "no coat may start in the air of that hour",
    "gate": "a gate is not open yet{at}",
    "opens": "it would not be dry to touch when the room opens{at}",
    "quiet": "quiet hours{at}: no dust and no noise",
    "smell": "smell-free hours{at}",
    "sun": "the sun is on it{at}",
    "trade": "another trade has the room then",
    "trade-air": "another trade works in the same air then",
    "settles": "dust has not settled{at}",
    "dust": "dust would meet a coat that is open or tacky",
    "steam": "steam would meet a coat that is open or tacky",
    "solvent": "solvent would meet a coat that is open or tacky",
    "shuts": "a gate has shut{at}",
    "hand-back": "the room is handed back before it is done and dry to touch",
    "ban-hand": "somebody at it is kept off it",
    "ban-time": "it is forbidden then",
    "minutes": "its time is not what the work takes",
}


def broken_text(broken: Broken, job: Job, plan: Plan, zone: ZoneInfo) -> str:
    """One broken rule: "Lounge, north wall: Base 2: what it waits for is not ready"."""
    moments = [
        moment_text(datetime.fromisoformat(found), zone)
        for found in _MOMENT.findall(broken.text)
    ]
    if broken.rule == DATE and isinstance(broken.stint, int):
        wish = job.dates[broken.stint]
        reached = f"; reached {moments[0]}" if moments else ", never reached"
        kept = "must be kept" if wish.must else "is wished"
        said = wish_text(job, wish, zone)
        return f"{said}: missed, and it {kept}{reached}"
    stint = plan.stint(str(broken.stint))
    if stint is None:
        return broken.text
    surface = job.surface(stint.surface)
    step = job.recipe(surface.recipe).step(stint.step)
    said = WORDS.get(broken.rule, broken.text).format(
        at=f" until {moments[0]}"
        if broken.rule in ("wait", "gate", "settles") and moments
        else f", {moments[0]}"
        if moments
        else "",
        skill=step.skill or "",
    )
    return f"{stint_text(job, stint)}: {said}"


def pin_text(pin: Pin, job: Job, zone: ZoneInfo) -> str:
    """A pin: "Lounge, north wall: Base 2, held Wed 14 Oct 10:00 with Ada"."""
    who = f" with {hands_text(job, pin.hands)}" if pin.hands else ""
    return f"{_place(pin, job)}, held {moment_text(pin.start, zone)}{who}"


def ban_text(ban: Ban, job: Job, zone: ZoneInfo) -> str:
    """A ban: "..., not by Bo", "..., not from Wed 14 Oct 00:00 to Thu 15 Oct 00:00"."""
    if ban.start is None or ban.end is None:
        return f"{_place(ban, job)}, not by {hands_text(job, ban.hands)}"
    return (
        f"{_place(ban, job)}, not from {moment_text(ban.start, zone)} to "
        f"{moment_text(ban.end, zone)}"
    )


def _place(row: Pin | Ban, job: Job) -> str:
    surface = job.surface(row.surface)
    where = say_place(label(job.room(surface.room)), label(surface))
    part = f", part {row.section}" if row.section else ""
    return f"{where}{part}: {label(job.recipe(surface.recipe).step(row.step))}"
