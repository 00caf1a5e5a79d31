"""Job shops and projects as their authors published them: text in, a network out.

Knows two forms, job-shop text and the ``.sch`` files of ProGen/max; nothing of slots,
hands or the search.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from scheduling.errors import BadInput, bad


@dataclass(frozen=True, slots=True, kw_only=True)
class Activity:
    """Something that takes ``length`` units of time, on a machine or drawing on loads.

    ``latest`` is the last start allowed, None without one.
    """

    length: int
    machine: int | None = None
    demand: tuple[int, ...] = ()
    latest: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Activities, what they share, and how far apart their starts must be.

    ``apart[i, j]`` d: j starts at least d after i; a negative d says that i starts at
    most -d after j.
    """

    activities: tuple[Activity, ...]
    apart: Mapping[tuple[int, int], int]
    machines: int = 0
    capacity: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class _Line:
    """The words of a line that says something."""

    number: int
    words: list[str]

    def whole(self, place: int, allowed: str, low: int, high: int | None = None) -> int:
        """The whole number at ``place``; BadInput unless it lies within the limits."""
        word = self.words[place]
        if re.fullmatch(r"[+-]?[0-9]{1,9}", word):
            value = int(word)
            if low <= value and (high is None or value <= high):
                return value
        raise self.wrong(word, allowed)

    def wrong(self, value: object, allowed: str) -> BadInput:
        return bad(f"line {self.number}", value, allowed)


def _lines(text: str) -> list[_Line]:
    rows = enumerate(text.splitlines(), start=1)
    split = (_Line(number, row.partition("#")[0].split()) for number, row in rows)
    return [line for line in split if line.words]


def _next(lines: Iterable[_Line], text: str, wanted: str) -> _Line:
    line = next(iter(lines), None)
    if line is None:
        raise bad(f"line {len(text.splitlines()) + 1}", "end of file", wanted)
    return line


def _no_more(lines: Iterable[_Line]) -> None:
    line = next(iter(lines), None)
    if line is not None:
        raise line.wrong(" ".join(line.words), "nothing after the last line")


def job_shop(text: str, *, most_wait: int | None = None) -> Network:
    """A job shop: ``jobs machines``, then a line of ``machine duration`` pairs a job.

    ``most_wait`` is the longest wait between two operations of a job, 0 for none.
    """
    rows = iter(_lines(text))
    head = _next(rows, text, "the numbers of jobs and machines")
    if len(head.words) != 2:
        raise head.wrong(" ".join(head.words), "two numbers, of jobs and of machines")
    jobs = head.whole(0, "a number of jobs, 1 or more", 1)
    machines = head.whole(1, "a number of machines, 1 or more", 1)
    activities: list[Activity] = []
    apart: dict[tuple[int, int], int] = {}
    for job in range(jobs):
        row = _next(rows, text, f"a line for each of {jobs} jobs, this one for {job}")
        if len(row.words) != 2 * machines:
            allowed = (
                f"{machines} pairs of machine and duration, {2 * machines} numbers"
            )
            raise row.wrong(f"{len(row.words)} numbers", allowed)
        for place in range(0, 2 * machines, 2):
            allowed = f"a machine from 0 to {machines - 1}"
            machine = row.whole(place, allowed, 0, machines - 1)
            length = row.whole(place + 1, "a duration, a whole number from 0", 0)
            if place:
                before = len(activities) - 1
                step = activities[before].length
                apart[before, before + 1] = step
                if most_wait is not None:
                    apart[before + 1, before] = -step - most_wait
            activities.append(Activity(length=length, machine=machine))
    _no_more(rows)
    return Network(activities=tuple(activities), apart=apart, machines=machines)


def project(text: str) -> Network:
    """A project with minimum and maximum distances between starts (RCPSP/max).

    The ``.sch`` form of ProGen/max: counts, a line of followers and distances for each
    activity, a line of duration and demands for each, the capacities.
    """
    joined = re.sub(r"\[\s*(\S+?)\s*\]", r"[\1]", text)
    rows = iter(_lines(joined))
    head = _next(rows, text, "the numbers of activities and resources")
    if len(head.words) != 4:
        allowed = "four numbers: activities, resources, and two zeros"
        raise head.wrong(" ".join(head.words), allowed)
    count = head.whole(0, "a number of activities, 1 or more", 1) + 2
    kinds = head.whole(1, "a number of resources, 0 or more", 0)
    for place in (2, 3):
        head.whole(place, "0: only resources that renew are read", 0, 0)
    apart: dict[tuple[int, int], int] = {}
    for number in range(count):
        row = _next(rows, text, f"the followers of activity {number}")
        for follower, distance in _followers(row, number, count):
            key = number, follower
            apart[key] = max(distance, apart.get(key, distance))
    lengths, demands = [], []
    for number in range(count):
        row = _next(rows, text, f"the duration and demands of activity {number}")
        _starts_with(row, number, 3 + kinds, f"and {kinds} demands")
        lengths.append(row.whole(2, "a duration, a whole number from 0", 0))
        words = range(3, 3 + kinds)
        demands.append(
            tuple(row.whole(p, "a demand, a whole number from 0", 0) for p in words)
        )
    capacity: tuple[int, ...] = ()
    if kinds:
        row = _next(rows, text, f"{kinds} capacities")
        if len(row.words) != kinds:
            raise row.wrong(f"{len(row.words)} numbers", f"{kinds} capacities")
        words = range(kinds)
        capacity = tuple(row.whole(p, "a capacity, 0 or more", 0) for p in words)
    _no_more(rows)
    return Network(
        activities=tuple(
            Activity(
                length=length,
                demand=demand,
                latest=None if number else 0,  # all distances count from activity 0
            )
            for number, (length, demand) in enumerate(
                zip(lengths, demands, strict=True)
            )
        ),
        apart=apart,
        capacity=capacity,
    )


def _starts_with(row: _Line, number: int, words: int, then: str) -> None:
    """Number and one mode at the head of a line of so many words."""
    if len(row.words) != words:
        allowed = f"{words} numbers: activity, mode, duration {then}"
        raise row.wrong(f"{len(row.words)} numbers", allowed)
    row.whole(0, f"{number}, the number of this line's activity", number, number)
    row.whole(1, "1: activities have one mode", 1, 1)


def _followers(row: _Line, number: int, count: int) -> Iterable[tuple[int, int]]:
    if len(row.words) < 3:
        allowed = "activity, 1, number of followers, followers, [distances]"
        raise row.wrong(" ".join(row.words), allowed)
    row.whole(0, f"{number}, the number of this line's activity", number, number)
    row.whole(1, "1: activities have one mode", 1, 1)
    followers = row.whole(2, f"a number of followers to {count - 1}", 0, count - 1)
    if len(row.words) != 3 + 2 * followers:
        allowed = f"{followers} followers and as many distances in brackets"
        raise row.wrong(f"{len(row.words) - 3} words", allowed)
    for place in range(3, 3 + followers):
        follower = row.whole(place, f"an activity from 0 to {count - 1}", 0, count - 1)
        word = row.words[place + followers]
        found = re.fullmatch(r"\[(-?[0-9]{1,9})\]", word)
        if found is None:
            raise row.wrong(word, "a distance, a whole number in brackets")
        if follower == number:
            raise row.wrong(row.words[place], "an activity other than the line's own")
        yield follower, int(found[1])
