"""What stands on Now: each surface's state as the sentences a finisher would say.

Pure: states and a job in, lines out. Times by the site's clock, sizes in the reader's
units.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta, tzinfo

from jobs.calendar_words import ceil, floor, names_in
from jobs.measures import say_in
from jobs.small_wedge import SmallWedge, SmallWindow, small_wedge, small_window
from jobs.templatetags.plan_format import (
    say_age,
    say_clock,
    say_length,
    say_minutes,
    say_moment,
    say_place,
    say_within,
)
from jobs.week_marks import Progress, wedge_shares
from scheduling.plan import Range, Stint
from scheduling.problem import Job, Step
from scheduling.readiness_state import HeldBy, SurfaceState
from scheduling.room_air import RoomAir
from scheduling.this_wall import open_time_of, used_share_in
from scheduling.wet_edge import wet_edge

GROUPS = (
    ("closing", "Window closing"),
    ("now", "Can take the next coat"),
    ("working", "At work"),
    ("soon", "Within two hours"),
    ("today", "Later today"),
    ("held", "Held"),
    ("done", "Done"),
)
SURE = {
    "high": "Sure",
    "medium": "Fairly sure",
    "low": "Not sure, so test early",
}
READY = {
    "recoat": "dry to recoat",
    "touch": "dry to touch",
    "through": "dry through",
    "hard": "hard",
    "tack": "at tack",
    "cured": "cured",
}
# What would free a held surface, by what holds it.
FREES = {
    "wait": "Drier, warmer or moving air brings it nearer.",
    "dust": "It is free when the dust has settled.",
    "steam": "It is free when the steam has gone.",
    "solvent": "It is free when the fumes have gone.",
    "corner": "It is free when the wall beside it is dry to touch.",
    "air": "A dehumidifier, or warming the wall, brings the margin back.",
    "opens": "More hands, or air that dries it sooner, would have it ready in time.",
    "sun": "Shade on the wall, or a stop line, lets it begin sooner.",
    "trade": "Ask them whether they leave sooner.",
    "trade-air": "Ask them whether they leave sooner.",
    "room": "It is free when enough have left the room.",
}
HOURS = ("access", "opens", "quiet", "smell", "sun")
# Surfaces of a room whose waits end this near to each other are told as one.
TOGETHER = timedelta(hours=2)
_FIRST = datetime.min.replace(tzinfo=UTC)
_LAST = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One surface on Now, or several that stand alike."""

    key: str
    name: str
    answer: str
    why: tuple[str, ...]
    aside: tuple[str, ...]
    room: str
    surface: str
    step: str
    section: str
    recipe: str
    coat: bool = False
    test: bool = False
    wedge: SmallWedge | None = None
    window: SmallWindow | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Lines of one state under its heading."""

    state: str
    name: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """How this reader is told things, and what to draw waits with."""

    zone: tzinfo
    now: datetime
    units: str
    progress: Progress
    tested: Callable[[SurfaceState], str] = lambda _: ""
    planned: Mapping[tuple[str, str, str | None], Stint] = field(default_factory=dict)
    names: frozenset[str] = frozenset()  # the job's own, never read as figures

    def told(self, text: str) -> str:
        """A sentence of the engine in the reader's units."""
        return say_in(text, self.units, self.names)

    def when(self, moment: datetime | None) -> str:
        """Time on site, with its day where that is not today."""
        today = self.now.astimezone(self.zone).date()
        if moment is not None and moment.astimezone(self.zone).date() == today:
            return say_clock(moment, self.zone)
        return say_moment(moment, self.zone, self.now)

    def at(self, moment: datetime | None) -> str:
        """When a wait ends, told to the next five minutes."""
        return self.when(None if moment is None else ceil(moment))

    def by(self, moment: datetime | None) -> str:
        """A deadline, told to the last five minutes."""
        return self.when(None if moment is None else floor(moment))

    def between(self, moments: Iterable[datetime | None]) -> str:
        """One moment, or the first and the last of several."""
        known = sorted(ceil(moment) for moment in moments if moment is not None)
        if not known:
            return self.when(None)
        first, last = (moment.astimezone(self.zone) for moment in (known[0], known[-1]))
        if first == last:
            return self.when(first)
        end = f"{last:%H:%M}" if first.date() == last.date() else self.when(last)
        return f"{self.when(first)} to {end}"

    def stint(self, state: SurfaceState) -> Stint | None:
        """When the plan has the surface's next step."""
        if state.step is None:
            return None
        surface, step = state.surface.id, state.step.id
        return self.planned.get((surface, step, state.section)) or self.planned.get(
            (surface, step, None)
        )


def now_groups(
    job: Job,
    states: Iterable[SurfaceState],
    airs: Mapping[str, RoomAir],
    words: Words,
) -> tuple[Group, ...]:
    """The groups that hold anything, in the order of their worth."""
    words = replace(words, names=names_in(job))
    by_state: dict[str, list[Line]] = {state: [] for state, _ in GROUPS}
    for alike in _alike(sorted(states, key=lambda state: _turn(state, words))):
        air = airs.get(alike[-1].surface.id)
        by_state[alike[0].state].append(_line(job, alike, air, words))
    by_state["held"] = list(_said_once(by_state["held"]))
    return tuple(
        Group(state=state, name=name, lines=tuple(by_state[state]))
        for state, name in GROUPS
        if by_state[state]
    )


def _alike(states: Iterable[SurfaceState]) -> list[list[SurfaceState]]:
    """Surfaces of one room held by the same thing for about as long, together."""
    found: list[list[SurfaceState]] = []
    for state in states:
        same = next((row for row in found if _same_hold(row[0], state)), None)
        if same is None:
            found.append([state])
        else:
            same.append(state)
    return [sorted(row, key=lambda state: _free_at(state) or _FIRST) for row in found]


def _same_hold(one: SurfaceState, other: SurfaceState) -> bool:
    def told(state: SurfaceState) -> tuple[object, ...]:
        holds = [
            (hold.code, "" if hold.code == "wait" else hold.text)
            for hold in state.held_by
        ]
        step, room = _step_name(state.step), state.surface.room
        minded = [caution.code for caution in state.cautions]
        bare = state.last_coat is None
        return (room, step, state.stage, state.sure, bare, holds, minded)

    if one.state != "held" or other.state != "held" or told(one) != told(other):
        return False
    ends = _free_at(one), _free_at(other)
    if ends[0] is None or ends[1] is None:
        return ends[0] == ends[1]
    return abs(ends[0] - ends[1]) <= TOGETHER


def _free_at(state: SurfaceState) -> datetime | None:
    return state.until.likely if state.until else None


def _said_once(lines: Iterable[Line]) -> Iterable[Line]:
    """What would free a wall is said on the first line that it is true of."""
    said: set[str] = set()
    for line in lines:
        new = [text for text in line.why if text not in said]
        said |= set(new) & set(FREES.values())
        yield replace(line, why=tuple(new))


def _turn(state: SurfaceState, words: Words) -> datetime:
    """Those that are free come in the plan's order; the others stay as they are."""
    stint = words.stint(state) if state.state == "now" else None
    return stint.start if stint else words.now + timedelta(days=36_500)


def _line(
    job: Job, alike: list[SurfaceState], air: RoomAir | None, words: Words
) -> Line:
    state = alike[0]
    surface = state.surface
    room = job.room(surface.room)
    room_name = room.name or room.id
    name = say_place(room_name, surface.name or surface.id)
    if len(alike) > 1:
        surfaces = [row.surface.name or row.surface.id for row in alike]
        rest = [_lower(say_within(room_name, surface)) for surface in surfaces]
        name = f"{room_name}: {_and(rest)}"
    if state.section:
        name += f", part {state.section}"
    base = Line(
        key=f"{surface.id}-{state.section}" if state.section else surface.id,
        name=name,
        answer="",
        why=(),
        aside=(),
        room=surface.room,
        surface=surface.id,
        step=state.step.id if state.step else "",
        section=state.section or "",
        recipe=surface.recipe,
    )
    if state.state == "held":
        line = _held(base, job, alike, air, words)
    else:
        describe = {
            "closing": _closing,
            "now": _now,
            "working": _working,
            "soon": _waiting,
            "today": _waiting,
            "done": _done,
        }[state.state]
        line = describe(base, job, state, air, words)
    if state.state in ("working", "done"):
        return line
    tested = [words.tested(state)] if len(alike) == 1 else []
    minded = dict.fromkeys(c.text for row in alike[:1] for c in row.cautions)
    return replace(
        line,
        why=_said([*tested, *line.why, *minded]),
        aside=_said([_planned(job, alike, words), _sure(state)]),
    )


def _closing(
    line: Line, job: Job, state: SurfaceState, air: RoomAir | None, words: Words
) -> Line:
    close = state.closes.early if state.closes else None
    opened = (state.since.likely if state.since else None) or words.now
    why = [_coat_below(job, state, words)]
    step = state.step
    if step is not None and step.rescue is not None:
        minutes = say_minutes(step.rescue.min_m2 * state.surface.area_m2)
        why.append(f"After that the surface needs rescuing first, about {minutes}.")
    else:
        why.append("After that the window is shut.")
    why.append(_test_first(state))
    window = None
    if close is not None:
        text = f"Window from {words.at(opened)} to {words.by(close)}"
        window = small_window(opened, close, words.now, text)
    return replace(
        line,
        answer=f"{_step_name(step)} by {words.by(close)}",
        why=_said(why),
        coat=True,
        test=True,
        window=window,
    )


def _now(
    line: Line, job: Job, state: SurfaceState, air: RoomAir | None, words: Words
) -> Line:
    since = state.since.likely if state.since else None
    answer = _step_name(state.step)
    if since is not None:
        answer += f", since {words.at(since)}"
    why = [_coat_below(job, state, words), _still_open(job, state, air, words)]
    if state.last_coat is None:
        why.insert(0, "Nothing has to dry first.")
    if state.closes and state.closes.early:
        why.append(f"The window stays open until **{words.by(state.closes.early)}**.")
    why.append(_test_first(state))
    has_below = state.last_coat is not None
    return replace(line, answer=answer, why=_said(why), coat=True, test=has_below)


def _working(
    line: Line, job: Job, state: SurfaceState, air: RoomAir | None, words: Words
) -> Line:
    end = state.until.likely if state.until else None
    return replace(
        line, answer=f"{_step_name(state.step)} until {words.at(end)}", why=()
    )


def _waiting(
    line: Line, job: Job, state: SurfaceState, air: RoomAir | None, words: Words
) -> Line:
    until = state.until or Range(early=None, likely=None, safe=None)
    step = _step_name(state.step)
    why = [_coat_below(job, state, words), _likely_safe([until], words)]
    if _waits(state):
        answer = f"{_test_name(state)} at {words.at(until.likely)}, then {_lower(step)}"
        rest = state.test[len(_test_name(state)) :].strip(" :;.")
        why += [*_holds(state, words), f"Look for: {_lower(rest)}." if rest else ""]
    else:
        answer = f"{step} from {words.at(until.likely)}"
        why += [*_holds(state, words), _test_first(state)]
    return replace(
        line,
        answer=answer,
        why=_said(why),
        test=state.last_coat is not None,
        wedge=_wedge(state, air, words),
    )


def _held(
    line: Line, job: Job, alike: list[SurfaceState], air: RoomAir | None, words: Words
) -> Line:
    state = alike[-1]  # the last of them to be free
    first = state.held_by[0] if state.held_by else None
    answer = _sentence(words.told(first.text)).rstrip(".") if first else "Held"
    waits = first is not None and first.code == "wait" and bool(state.stage)
    ends = [_wait_end(row) for row in alike] if waits else [_free_at(state)]
    if waits:
        reached = READY.get(state.stage or "", state.stage)
        answer = f"Never {reached} in this air"
        if all(ends):
            answer = f"Not {reached} until {words.between(ends)}"
    elif ends[0] is not None and not _tells_a_time(answer):
        answer += f", until {words.at(ends[0])}"
    why = [_coat_below(job, state, words, alike)]
    why.append(f"Then {_lower(_step_name(state.step))}.")
    why += _holds(state, words, but=None if waits else first)
    if waits:
        untils = [row.until for row in alike if row.until is not None]
        why.append(_likely_safe(untils, words))
    if first is not None:
        tacky = first.text.startswith("Makes ")  # then dust is what it would make
        why.append("" if tacky else FREES.get(first.code, ""))
    return replace(line, answer=answer, why=_said(why), wedge=_wedge(state, air, words))


def _waits(state: SurfaceState) -> bool:
    """Whether the coat below is what is waited for."""
    return any(hold.code == "wait" for hold in state.held_by)


def _wait_end(state: SurfaceState) -> datetime | None:
    wait = next((hold for hold in state.held_by if hold.code == "wait"), None)
    until = wait.until if wait else state.until
    return until.likely if until else None


def _holds(state: SurfaceState, words: Words, but: HeldBy | None = None) -> list[str]:
    """What holds it beside its own wait; of several of a kind, the longest.

    Hours of a day that come round again are told each.
    """
    by_code: dict[str, list[HeldBy]] = {}
    for hold in state.held_by:
        if hold.code != "wait" and hold is not but:
            kind = hold.text if hold.code in HOURS else hold.code
            by_code.setdefault(kind, []).append(hold)
    said = []
    for holds in by_code.values():
        longest = max(holds, key=_hold_end)
        more = len(holds) - 1
        others = f" So {'is' if more == 1 else 'are'} {more} more." if more else ""
        said.append(_sentence(words.told(longest.text)) + others)
    return said


def _hold_end(hold: HeldBy) -> datetime:
    until = hold.until
    if until is None:
        return _FIRST
    return until.safe or until.likely or _LAST


def _done(
    line: Line, job: Job, state: SurfaceState, air: RoomAir | None, words: Words
) -> Line:
    end = state.last_coat.end if state.last_coat else None
    why = (f"Last coat {words.at(end)}.",) if end else ()
    return replace(line, answer="Finished", why=why)


def _planned(job: Job, alike: Iterable[SurfaceState], words: Words) -> str:
    """When the plan has the next step, and whose it is."""
    stints = [stint for state in alike if (stint := words.stint(state)) is not None]
    if not stints:
        return ""
    stint = min(stints, key=lambda stint: stint.start)
    names = {hand.id: hand.name or hand.id for hand in job.hands}
    who = _and([names.get(hand, hand) for hand in stint.hands])
    by = f", by {who}" if who else ""
    start, end = words.when(stint.start), words.when(stint.end)
    if stint.end < words.now:
        return f"The plan had it **{start}**{by}; it is not logged."
    if stint.start <= words.now:
        return f"The plan has it **now**, {start} to {end}{by}."
    return f"The plan has it {'first ' if len(stints) > 1 else ''}**{start}**{by}."


def _coat_below(
    job: Job,
    state: SurfaceState,
    words: Words,
    alike: Iterable[SurfaceState] = (),
) -> str:
    """What is on the surface, since when, and what it has reached."""
    coat = state.last_coat
    if coat is None:
        return ""
    step = job.recipe(state.surface.recipe).step(coat.step)
    done = "done" if step.material is None else "put on"
    ends = [row.last_coat.end for row in alike if row.last_coat is not None]
    text = f"{_step_name(step)} {done} {words.between(ends or [coat.end])}"
    if state.since and state.since.likely and state.stage:
        text += f", {READY.get(state.stage, state.stage)} since " + words.at(
            state.since.likely
        )
    return f"{text}."


def _still_open(
    job: Job, state: SurfaceState, air: RoomAir | None, words: Words
) -> str:
    """Open time, strips and the number of hands for wet work started now."""
    step, surface = state.step, state.surface
    if step is None or not step.wet or air is None:
        return ""
    opened = open_time_of(job, surface, step, air, words.now)
    if opened is None:
        return ""
    open_min = opened.early_min
    share = 1.0
    if state.section:
        share = dict(surface.sections).get(state.section, 1.0)
    found = None
    for hands in step.hands.counts:
        found = wet_edge(
            area_m2=surface.area_m2 * share,
            width_m=surface.width_m * share,
            height_m=surface.height_m,
            apply_min_m2=step.apply_min_m2,
            work_min_m2=step.work_min_m2,
            setup_min=step.setup_min,
            wet=True,
            open_min=open_min,
            hands=hands,
            k=used_share_in(air, words.now),
            stop_lines_m=() if state.section else surface.stop_lines_m,
        )
        if found.feasible:
            break
    text = f"It stays open about **{say_minutes(open_min)}** in this air. "
    if found is None:
        return text
    numbers = {1: "one hand", 2: "two", 3: "three", 4: "four"}
    who = numbers.get(hands, str(hands)) + (" at the wall" if hands > 1 else "")
    if not found.feasible:
        return f"{text}{words.told(found.why)}"
    strips = (
        f"strips **{say_length(found.strip_m, words.units)}** wide"
        if found.strips > 1
        else "in one go"
    )
    took = say_minutes(found.wall_min)
    return f"{text}{who[0].upper()}{who[1:]}, {strips}, about **{took}**."


def _wedge(state: SurfaceState, air: RoomAir | None, words: Words) -> SmallWedge | None:
    coat = state.last_coat
    if coat is None or air is None or state.material is None or not state.stage:
        return None
    wait = next((hold for hold in state.held_by if hold.code == "wait"), None)
    until = wait.until if wait else None
    if until is None or until.likely is None:
        return None
    shares = wedge_shares(
        state.material,
        state.stage,
        air,
        coat.end,
        until.likely,
        words.progress,
        coat=state.laid.coat,
    )
    left = [share for at, share in shares if at >= words.now]
    part = f"{left[0] * 100:.0f} % of the wait is left" if left else "Nothing is left"
    safe = f", safe {words.at(until.safe)}" if until.safe else ""
    return small_wedge(
        shares,
        likely=until.likely,
        safe=until.safe,
        now=words.now,
        words=f"{part}; likely {words.at(until.likely)}{safe}.",
    )


def _likely_safe(untils: Iterable[Range], words: Words) -> str:
    ends = list(untils)
    likely, safe = [end.likely for end in ends], [end.safe for end in ends]
    if not all(likely):
        return "In this air it never gets there."
    if not all(safe):
        return f"Likely {words.between(likely)}, but no moment is safe in this air."
    if safe == likely:
        return ""
    return f"Likely **{words.between(likely)}**, safe **{words.between(safe)}**."


def _test_name(state: SurfaceState) -> str:
    return state.test.split(":")[0].split(";")[0].strip().rstrip(".") or "Test"


def _test_first(state: SurfaceState) -> str:
    return f"Test first: {_lower(state.test)}." if state.test else ""


def _sure(state: SurfaceState) -> str:
    """How sure, and the age of the reading it rests on."""
    text = SURE[state.sure]
    if state.reading_age_min is None:
        return f"{text}; no reading in this room yet."
    return f"{text}; the reading is {say_age(state.reading_age_min)}."


def _step_name(step: Step | None) -> str:
    return _sentence((step.name or step.id) if step else "Nothing more")


def _said(sentences: Iterable[str]) -> tuple[str, ...]:
    return tuple(text for text in sentences if text)


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _lower(text: str) -> str:
    """The text as it stands inside a sentence; a capital inside a word stays."""
    first = text.split(" ", 1)[0]
    return text if first[1:] != first[1:].lower() else f"{text[:1].lower()}{text[1:]}"


def _tells_a_time(text: str) -> bool:
    return any(part.count(":") == 1 and part[:2].isdigit() for part in text.split())


def _and(names: Sequence[str]) -> str:
    """ "one, two and three"."""
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))
