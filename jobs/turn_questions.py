"""What somebody supposes about the days to come, and the job as if it were so. Pure."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any

from scheduling.errors import bad
from scheduling.problem import AirHour, GivenAir, Hand, Job

Question = Mapping[str, Any]  # {} is the air as it is; else "what", "day" and more


def supposed(job: Job, question: Question, *, at: datetime) -> Job:
    """The job as if the question were so, from ``at`` on; BadInput where it cannot be.

    "humidity" sets the outdoor air (and the given air of rooms) of a day; "off" takes a
    hand away for a day, "late" until that day.
    """
    if not question:
        return job
    day = date.fromisoformat(question["day"])
    if question["what"] == "humidity":
        return _damp(job, day, float(question["pct"]))
    begins = datetime.combine(day, time(), job.site.tz)
    ends = datetime.combine(day + timedelta(days=1), time(), job.site.tz)
    gone = (begins, ends) if question["what"] == "off" else (at, begins)
    return replace(job, hands=tuple(_without(job, question["hand"], gone)))


def question_text(question: Question, names: Mapping[str, str]) -> str:
    """The question as a sentence, with the hands' names."""
    if not question:
        return ""
    day = f"{date.fromisoformat(question['day']):%a %d %b}"
    if question["what"] == "humidity":
        return f"If it is {question['pct']:g} % outdoors on {day}"
    name = names.get(question["hand"], question["hand"])
    if question["what"] == "off":
        return f"If {name} is off on {day}"
    return f"If {name} does not come before {day}"


def _damp(job: Job, day: date, pct: float) -> Job:
    def on_it(hour: AirHour) -> bool:
        return hour.at.astimezone(job.site.tz).date() == day

    def damp(hour: AirHour) -> AirHour:
        return replace(hour, humidity_pct=pct) if on_it(hour) else hour

    rooms = tuple(
        replace(room, air=replace(room.air, given=tuple(map(damp, room.air.given))))
        if isinstance(room.air, GivenAir)
        else room
        for room in job.rooms
    )
    other = replace(job, rooms=rooms, outdoors=tuple(map(damp, job.outdoors)))
    if other == job and not any(map(on_it, job.outdoors)):
        raise bad("day", day.isoformat(), "a day that the forecast covers")
    return other


def _without(job: Job, hand: str, gone: tuple[datetime, datetime]) -> list[Hand]:
    known = [row.id for row in job.hands]
    if hand not in known:
        raise bad("hand", hand, f"one of the job's hands: {', '.join(known)}")
    if gone[0] >= gone[1]:
        raise bad("day", gone[1].date().isoformat(), "a day still to come")
    return [
        replace(row, away=(*row.away, gone)) if row.id == hand else row
        for row in job.hands
    ]
