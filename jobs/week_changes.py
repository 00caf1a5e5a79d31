"""A plan beside the one people work by: what moves, why, and for whom.

Pure: a job and two plans in, sentences out. Times by the site's clock.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from jobs.calendar_words import hands_text, label, moment_text
from jobs.templatetags.plan_format import say_clock, say_minutes, say_place
from jobs.week_words import wish_text
from scheduling.corrections import standing
from scheduling.plan import Plan, Stint
from scheduling.problem import Job

# The kinds of move, in the order in which they upset people.
GROUPS = (
    ("day", "To another day"),
    ("hands", "To other hands"),
    ("hour", "To another hour of its day"),
    ("new", "New"),
    ("gone", "No longer planned"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A stint that stands otherwise; ``was`` or ``now`` is None where it is in one."""

    kind: str  # a key of GROUPS
    was: Stint | None
    now: Stint | None

    @property
    def stint(self) -> Stint:
        """The stint as it is now, else as it was."""
        found = self.now or self.was
        assert found is not None  # noqa: S101 - one of both is given
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveLine:
    """One move in words; ``why`` is what holds the stint where it now stands."""

    stint: str  # its id, "" where it is gone
    what: str
    moved: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveGroup:
    """All moves of one kind."""

    name: str
    lines: tuple[MoveLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ForHand:
    """What changes for one person; no lines where nothing does."""

    name: str
    lines: tuple[str, ...]


def moves_between(old: Plan, new: Plan, job: Job, zone: ZoneInfo) -> tuple[Move, ...]:
    """Each stint whose day, hour or hands differ, in the order of the new plan.

    What is logged by now is no move: leave it out of ``new`` and name it in the job.
    """
    before = {stint.id: stint for stint in old.stints if stint.kind != "test"}
    after = {stint.id: stint for stint in new.stints if stint.kind != "test"}
    logged = {(coat.surface, coat.step) for coat in standing(job)}
    moves = [
        Move(kind=kind, was=before.get(stint.id), now=stint)
        for stint in sorted(after.values(), key=lambda row: row.start.timestamp())
        if (kind := _kind(before.get(stint.id), stint, zone)) is not None
    ]
    moves += [
        Move(kind="gone", was=stint, now=None)
        for stint in before.values()
        if stint.id not in after and (stint.surface, stint.step) not in logged
    ]
    return tuple(moves)


def move_groups(
    moves: Iterable[Move], job: Job, zone: ZoneInfo
) -> tuple[MoveGroup, ...]:
    """The moves by kind, each in words with its reason."""
    by_kind: dict[str, list[MoveLine]] = {}
    for move in moves:
        line = MoveLine(
            stint=move.now.id if move.now else "",
            what=stint_text(job, move.stint),
            moved=_moved_text(job, move, zone),
            why=move.now.reason.text if move.now else "",
        )
        by_kind.setdefault(move.kind, []).append(line)
    return tuple(
        MoveGroup(name=name, lines=tuple(by_kind[kind]))
        for kind, name in GROUPS
        if kind in by_kind
    )


def for_hands(moves: Iterable[Move], job: Job, zone: ZoneInfo) -> tuple[ForHand, ...]:
    """Hand by hand what comes, goes and moves, in the job's order."""
    moved = list(moves)
    return tuple(
        ForHand(
            name=label(hand),
            lines=tuple(
                line
                for move in moved
                if (line := _line_for(job, hand.id, move, zone)) is not None
            ),
        )
        for hand in job.hands
    )


def date_changes(old: Plan, new: Plan, job: Job, zone: ZoneInfo) -> tuple[str, ...]:
    """Wished dates that come out otherwise: "...: was kept, now 2 h late"."""
    before = {late.date: late.by_min for late in old.late}
    after = {late.date: late.by_min for late in new.late}
    return tuple(
        f"{wish_text(job, wish, zone)}: was {_late_text(before, number)}, "
        f"now {_late_text(after, number)}"
        for number, wish in enumerate(job.dates)
        if _late_text(before, number) != _late_text(after, number)
    )


def stint_text(job: Job, stint: Stint) -> str:
    """Where and what: "Lounge, north wall, part 2: rescue before the glaze"."""
    surface = job.surface(stint.surface)
    where = say_place(label(job.room(surface.room)), label(surface))
    part = f", part {stint.section}" if stint.section else ""
    step = label(job.recipe(surface.recipe).step(stint.step))
    before = "rescue before " if stint.kind == "rescue" else ""
    return f"{where}{part}: {before}{step}"


def _kind(was: Stint | None, now: Stint, zone: ZoneInfo) -> str | None:
    if was is None:
        return "new"
    if was.start.astimezone(zone).date() != now.start.astimezone(zone).date():
        return "day"
    if set(was.hands) != set(now.hands):
        return "hands"
    same = was.start.timestamp() == now.start.timestamp()
    return None if same else "hour"


def _moved_text(job: Job, move: Move, zone: ZoneInfo) -> str:
    was, now = move.was, move.now
    if was is None or now is None:
        at = moment_text(move.stint.start, zone)
        who = hands_text(job, move.stint.hands)
        return f"{'' if now else 'was '}{at}{', ' if who else ''}{who}"
    text = _from_to(was, now, zone)
    if set(was.hands) != set(now.hands):
        hands = f"{hands_text(job, was.hands)} → {hands_text(job, now.hands)}"
        text = f"{text}; {hands}" if text else hands
    return text


def _from_to(was: Stint, now: Stint, zone: ZoneInfo) -> str:
    if was.start.timestamp() == now.start.timestamp():
        return ""
    here = moment_text(was.start, zone)
    same = was.start.astimezone(zone).date() == now.start.astimezone(zone).date()
    there = say_clock(now.start, zone) if same else moment_text(now.start, zone)
    return f"{here} → {there}"


def _line_for(job: Job, hand: str, move: Move, zone: ZoneInfo) -> str | None:
    was, now = move.was, move.now
    had = was is not None and hand in was.hands
    has = now is not None and hand in now.hands
    what = stint_text(job, move.stint)
    if was is not None and now is not None and had and has:
        moved = _from_to(was, now, zone)
        if not moved:
            others = hands_text(job, (name for name in now.hands if name != hand))
            moved = f"now with {others}" if others else "now alone"
        return f"{what}: {moved}"
    if now is not None and has:
        return f"{what}: comes to you, {moment_text(now.start, zone)}"
    if was is not None and had:
        return f"{what}: no longer yours, was {moment_text(was.start, zone)}"
    return None


def _late_text(late: dict[int, float | None], number: int) -> str:
    if number not in late:
        return "kept"
    by_min = late[number]
    return "never reached" if by_min is None else f"{say_minutes(by_min)} late"
