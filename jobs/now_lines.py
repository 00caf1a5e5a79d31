"""What stands on Now: each surface's state as the sentences a finisher would say.

Pure: states and a job in, lines out. Times by the site's clock, sizes in the reader's
units.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta, tzinfo

from jobs.calendar_words import ceil, floor
from jobs.small_wedge import SmallWedge, SmallWindow, small_wedge, small_window
from jobs.templatetags.plan_format import (
    say_age,
    say_length,
    say_minutes,
    say_moment,
    say_place,
    say_within,
)
from jobs.week_marks import Progress, wedge_shares
from scheduling.drying import hours_in
from scheduling.plan import Range, Stint
from scheduling.problem import Job, Step
from scheduling.readiness import SurfaceState
from scheduling.room_air import RoomAir
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
    "air": "A dehumidifier, or warming the wall, brings the margin back.",
    "gate": "It goes on when that has happened.",
    "window": "The rescue comes first, then the coat.",
    "order": "What is above comes first.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One surface on Now, or several that stand alike."""

    key: str
    name: str
    answer: str
    why: tuple[str, ...]
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

    def at(self, moment: datetime | None) -> str:
        """Day and time on site, a wait's end told to the next five minutes."""
        if moment is None:
            return say_moment(None, self.zone, self.now)
        return say_moment(ceil(moment), self.zone, self.now)

    def by(self, moment: datetime | None) -> str:
        """Day and time on site, a deadline told to the last five minutes."""
        if moment is None:
            return say_moment(None, self.zone, self.now)
        return say_moment(floor(moment), self.zone, self.now)

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
    by_state: dict[str, list[Line]] = {state: [] for state, _ in GROUPS}
    for state in sorted(states, key=lambda state: _turn(state, words)):
        by_state[state.state].append(
            _line(job, state, airs.get(state.surface.id), words)
        )
    by_state["held"] = list(_alike(job, by_state["held"]))
    return tuple(
        Group(state=state, name=name, lines=tuple(by_state[state]))
        for state, name in GROUPS
        if by_state[state]
    )


def _turn(state: SurfaceState, words: Words) -> datetime:
    """Those that are free come in the plan's order; the others stay as they are."""
    stint = words.stint(state) if state.state == "now" else None
    return stint.start if stint else words.now + timedelta(days=36_500)


def _line(job: Job, state: SurfaceState, air: RoomAir | None, words: Words) -> Line:
    surface = state.surface
    room = job.room(surface.room)
    name = say_place(room.name or room.id, surface.name or surface.id)
    if state.section:
        name += f", part {state.section}"
    base = Line(
        key=f"{surface.id}-{state.section}" if state.section else surface.id,
        name=name,
        answer="",
        why=(),
        room=surface.room,
        surface=surface.id,
        step=state.step.id if state.step else "",
        section=state.section or "",
        recipe=surface.recipe,
    )
    describe = {
        "closing": _closing,
        "now": _now,
        "working": _working,
        "soon": _waiting,
        "today": _waiting,
        "held": _held,
        "done": _done,
    }[state.state]
    line = describe(base, job, state, air, words)
    extra = _said([words.tested(state), _planned(job, state, words)])
    return replace(line, why=(*line.why, *extra))


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
    why += [_test_first(state), _sure(state)]
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
    why += [_test_first(state), _sure(state)]
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
    test, step = _test_name(state), _step_name(state.step)
    if state.last_coat is not None:
        answer = f"{test} at {words.at(until.likely)}, then {_lower(step)}"
    else:
        answer = f"{step} from {words.at(until.likely)}"
    held = [entry.text for entry in state.held_by if entry.code != "wait"]
    why = [_coat_below(job, state, words), _likely_safe(until, words), *held]
    why += [_test_first(state), _sure(state)]
    return replace(
        line,
        answer=answer,
        why=_said(why),
        test=state.last_coat is not None,
        wedge=_wedge(state, air, words),
    )


def _held(
    line: Line, job: Job, state: SurfaceState, air: RoomAir | None, words: Words
) -> Line:
    until = state.until
    first = state.held_by[0] if state.held_by else None
    answer = _sentence(first.text).rstrip(".") if first else "Held"
    end = (first.until if first and first.until else until) or None
    why = [_coat_below(job, state, words), f"Then {_lower(_step_name(state.step))}."]
    if first is not None and first.code == "wait" and state.stage and end is not None:
        reached = READY.get(state.stage, state.stage)
        answer = f"Never {reached} in this air"
        if end.likely is not None:
            answer = f"Not {reached} until {words.at(end.likely)}"
    elif end is not None and end.likely is not None and not _tells_a_time(answer):
        answer += f", until {words.at(end.likely)}"
    why += [_sentence(entry.text) for entry in state.held_by[1:]]
    if until is not None and first is not None and first.code == "wait":
        why.append(_likely_safe(until, words))
    if first is not None:
        why.append(FREES.get(first.code, ""))
    why.append(_sure(state))
    return replace(line, answer=answer, why=_said(why), wedge=_wedge(state, air, words))


def _done(
    line: Line, job: Job, state: SurfaceState, air: RoomAir | None, words: Words
) -> Line:
    end = state.last_coat.end if state.last_coat else None
    why = (f"Last coat {words.at(end)}.",) if end else ()
    return replace(line, answer="Finished", why=why)


def _planned(job: Job, state: SurfaceState, words: Words) -> str:
    """When the plan has the next step, and whose it is."""
    stint = words.stint(state)
    if stint is None or state.state in ("working", "done"):
        return ""
    names = {hand.id: hand.name or hand.id for hand in job.hands}
    listed = [names.get(hand, hand) for hand in stint.hands]
    who = " and ".join(filter(None, (", ".join(listed[:-1]), *listed[-1:])))
    when = say_moment(stint.start, words.zone, words.now)
    late = ", which is past" if stint.end < words.now else ""
    return f"The plan has it **{when}**{late}{f', by {who}' if who else ''}."


def _coat_below(job: Job, state: SurfaceState, words: Words) -> str:
    """What is on the surface, since when, and what it has reached."""
    coat = state.last_coat
    if coat is None:
        return ""
    name = _step_name(job.recipe(state.surface.recipe).step(coat.step))
    text = f"{name} put on {words.at(coat.end)}"
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
    if step is None or not step.wet or step.material is None or air is None:
        return ""
    material = job.material(step.material)
    if "open" not in material.labels:
        return ""
    clock = hours_in(material, "open", air, air.minute(words.now))
    open_min = float(clock.early_min)
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
        return f"{text}{found.why}"
    strips = (
        f"strips **{say_length(found.strip_m, words.units)}** wide"
        if found.strips > 1
        else "in one go"
    )
    took = say_minutes(found.wall_min)
    return f"{text}{who[0].upper()}{who[1:]}, {strips}, about **{took}**."


def _wedge(state: SurfaceState, air: RoomAir | None, words: Words) -> SmallWedge | None:
    coat, until = state.last_coat, state.until
    if coat is None or air is None or state.material is None or not state.stage:
        return None
    if until is None or until.likely is None:
        return None
    shares = wedge_shares(
        state.material, state.stage, air, coat.end, until.likely, words.progress
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


def _likely_safe(until: Range, words: Words) -> str:
    if until.likely is None:
        return "In this air it never gets there."
    if until.safe is None:
        return f"Likely {words.at(until.likely)}, but no moment is safe in this air."
    if until.safe == until.likely:
        return ""
    return f"Likely **{words.at(until.likely)}**, safe **{words.at(until.safe)}**."


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


def _alike(job: Job, lines: Iterable[Line]) -> Iterable[Line]:
    """Surfaces of one room held by the same thing for as long, as one line."""
    found: dict[tuple[str, str, tuple[str, ...]], list[Line]] = {}
    for line in lines:
        found.setdefault((line.room, line.answer, line.why), []).append(line)
    for (room_id, _, _), same in found.items():
        if len(same) == 1:
            yield same[0]
            continue
        room = job.room(room_id)
        room_name = room.name or room.id
        rest = [_lower(say_within(room_name, line.name)) for line in same]
        yield replace(same[0], name=f"{room_name}: {', '.join(rest)}")
