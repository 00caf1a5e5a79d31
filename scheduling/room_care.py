"""Fans, windows and dehumidifiers, as the coats in a room want them hour by hour.

Still while a coat is open, moving air and dry air once it has set; lime is kept from
draughts and from drying throughout, oil from dust. Common practice, no source.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from typing import Literal

from scheduling.plan import Stint
from scheduling.problem import SIZES, AirControl, Family, Job, Material

Fan = Literal["off", "low"]
Windows = Literal["shut", "ajar"]


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """How a room is kept; ``dehumidifier`` None where the room has none."""

    fan: Fan
    windows: Windows
    dehumidifier: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Care:
    """A state of a room from ``start`` to ``end``, for the sake of some stints."""

    start: datetime
    end: datetime
    state: State
    stints: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Wish:
    """What one coat wants; None where it does not mind."""

    start: datetime
    end: datetime
    fan: Fan | None
    windows: Windows | None
    dry: bool | None
    stint: str


# After a coat has set: fan, windows, whether dry air helps. Oil hardens in fresh air
# but fears dust on a draught; spirit wants its fumes away; lime wants none of it.
_SET: Mapping[Family, tuple[Fan, Windows, bool]] = {
    "waterborne": ("low", "shut", True),
    "glaze": ("low", "shut", True),
    "distemper": ("low", "shut", True),
    "gypsum": ("low", "shut", True),
    "two-part": ("low", "shut", True),
    "oil": ("off", "ajar", False),
    "spirit": ("low", "ajar", False),
    "lime": ("off", "shut", False),
    "oil-size": ("off", "shut", False),
    "water-size": ("off", "shut", False),
}


def room_care(job: Job, stints: Iterable[Stint]) -> Mapping[str, tuple[Care, ...]]:
    """By room, how it is kept from its first coat on, in order and without overlap.

    Where coats disagree, still air wins over moving, shut over ajar and off over on:
    what is open is spoilt at once, what has set only waits longer. Without a
    dehumidifier the water of what dries goes out by the window.
    """
    wishes: dict[str, list[_Wish]] = {}
    for stint in stints:
        room = job.surface(stint.surface).room
        wishes.setdefault(room, []).extend(_wishes(job, stint))
    return {
        room: tuple(_merged(rows, has=_has_dehumidifier(job, room)))
        for room, rows in wishes.items()
        if rows
    }


def care_of(job: Job, stint: Stint) -> tuple[Care, ...]:
    """What this stint's coat alone wants of its room."""
    room = job.surface(stint.surface).room
    return tuple(_merged(list(_wishes(job, stint)), has=_has_dehumidifier(job, room)))


def _has_dehumidifier(job: Job, room_id: str) -> bool:
    air = job.room(room_id).air
    return isinstance(air, AirControl) and bool(air.dehumidifier_l_day)


def _wishes(job: Job, stint: Stint) -> Iterable[_Wish]:
    step = job.step_of(stint.surface, stint.step)
    if stint.kind == "test" or step.material is None:
        return
    material = job.material(step.material)
    fan, windows, dry = _SET[material.family]
    sets = _sets(stint, material)
    if material.family in ("lime", *SIZES):  # from first to last the same
        until = _done(stint) or sets
        yield _Wish(stint.start, until, fan, windows, dry, stint.id)
        return
    yield _Wish(stint.start, sets, "off", "shut", False, stint.id)
    done = _done(stint)
    if done is not None and sets < done:
        yield _Wish(sets, done, fan, windows, dry, stint.id)


def _sets(stint: Stint, material: Material) -> datetime:
    """When a coat no longer minds moving air: its open time over, or dry to touch."""
    touch = stint.ready.get("touch")
    ends = [stint.end]
    if stint.open is not None and stint.open.safe is not None:
        ends.append(stint.open.safe)
    elif touch is not None and touch.safe is not None:
        ends.append(touch.safe)
    if material.family == "spirit" and touch is not None and touch.safe is not None:
        ends.append(touch.safe)  # no turbulence at all while it flashes
    return max(ends)


def _done(stint: Stint) -> datetime | None:
    """When its air no longer matters: safe to recoat, or to leaf no more."""
    closes = stint.closes.likely if stint.closes else None
    recoat = stint.ready.get("recoat") or stint.ready.get("touch")
    return closes or (recoat.safe if recoat else None)


def _merged(wishes: Sequence[_Wish], *, has: bool) -> Iterable[Care]:
    edges = sorted(
        {
            edge.astimezone(UTC)
            for wish in wishes
            for edge in (wish.start, wish.end)
            if wish.start < wish.end
        }
    )
    zone = wishes[0].start.tzinfo if wishes else UTC
    found: list[Care] = []
    for start, end in pairwise(edges):
        here = [wish for wish in wishes if wish.start <= start and end <= wish.end]
        if not here:
            continue
        dry = all(wish.dry for wish in here)
        ajar = all(w.windows == "ajar" or (dry and not has) for w in here)
        state = State(
            fan="off" if any(wish.fan == "off" for wish in here) else "low",
            windows="ajar" if ajar else "shut",
            dehumidifier=dry if has else None,
        )
        stints = tuple(wish.stint for wish in here)
        last = found[-1] if found else None
        if last is not None and (last.end, last.state) == (start, state):
            stints = tuple(dict.fromkeys((*last.stints, *stints)))
            start = last.start
            found.pop()
        found.append(Care(start=start, end=end, state=state, stints=stints))
    for care in found:
        yield Care(
            start=care.start.astimezone(zone),
            end=care.end.astimezone(zone),
            state=care.state,
            stints=care.stints,
        )
