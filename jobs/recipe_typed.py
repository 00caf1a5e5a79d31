"""A recipe's steps as typed in its form: read from a post, moved, added, taken out.

Pure: rows of text in, rows of text out. Nothing is judged here.
"""

import re
from collections.abc import Iterable
from typing import Any

from django.utils.text import slugify

from scheduling.problem import Step

Json = dict[str, Any]
MOST_STEPS = 40  # Assumed: no finish has more, and a form must fit in a request
TEXTS = (
    *("id", "name", "material", "apply_min_m2", "work_min_m2", "setup_min"),
    *("hands_least", "hands_most", "skill", "after_step", "after_stage"),
    *("rescue_min_m2", "rescue_stage", "coat", "seals", "prefers"),
)
FLAGS = ("wet", "splits", "same_hand")


def typed_steps(posted: Any) -> list[Json]:
    """Every step in a post, in order, as it was typed."""
    rows: list[Json] = []
    while f"step-{len(rows)}-id" in posted:
        prefix = f"step-{len(rows)}-"
        rows.append(
            {name: posted.get(prefix + name, "") for name in TEXTS}
            | {name: prefix + name in posted for name in FLAGS}
            | {"makes": posted.getlist(f"{prefix}makes")}
        )
    return rows


def moved(rows: list[Json], wish: str) -> tuple[list[Json], str]:
    """The steps after a button "up-2", "down-2", "remove-2" or "add-2"; what to say.

    A button that is not there any more changes nothing.
    """
    verb, _, where = wish.partition("-")
    if not where.isdecimal() or len(where) > 3 or int(where) >= max(len(rows), 1):
        return rows, ""
    place, rows = int(where), list(rows)
    if verb == "up" and place:
        rows[place - 1], rows[place] = rows[place], rows[place - 1]
    elif verb == "down" and place + 1 < len(rows):
        rows[place + 1], rows[place] = rows[place], rows[place + 1]
    elif verb == "remove":
        if len(rows) < 2:
            return rows, "A recipe has at least one step."
        gone = rows.pop(place)
        for row in rows:
            if row["after_step"] == gone["id"]:
                row |= {"after_step": "", "after_stage": ""}
    elif verb == "add":
        if len(rows) >= MOST_STEPS:
            return rows, f"A recipe has at most {MOST_STEPS} steps."
        rows.insert(place + 1, new_step(row["id"] for row in rows))
    return rows, ""


def new_step(taken: Iterable[str]) -> Json:
    """An empty step under an id that none of the others has."""
    used = set(taken)
    number = next(n for n in range(1, 1000) if f"step-{n}" not in used)
    return {
        **dict.fromkeys(TEXTS, ""),
        **dict.fromkeys(FLAGS, False),
        **{"id": f"step-{number}", "hands_least": "1", "makes": []},
    }


def shown_step(step: Step) -> Json:
    """A step as its form shows it; paces come from its own fields, in their units."""
    row: Json = {
        "id": step.id,
        "name": step.name or step.id,
        "material": step.material or "",
        "setup_min": _figure(step.setup_min),
        "hands_least": str(step.hands.least),
        "hands_most": "" if step.hands.most is None else str(step.hands.most),
        "skill": step.skill or "",
        "after_step": step.after.step if step.after else "",
        "after_stage": step.after.stage if step.after else "",
        "rescue_stage": (step.rescue.stage or "") if step.rescue else "",
        "coat": "" if step.coat == 1.0 else _figure(step.coat),
        "seals": {True: "yes", False: "no"}.get(step.seals, ""),
        "prefers": step.prefers or "",
        "makes": list(step.makes),
    }
    return row | {name: getattr(step, name) for name in FLAGS}


def plain_time(text: str) -> str:
    """A time as the reader of labels takes it: 6,5 h and 2 to 4 h are understood.

    A comma before three digits stays: it could mean thousands.
    """
    point = re.sub(r"(?<=[0-9]),(?=[0-9]{1,2}(?![0-9]))", ".", text)
    return point.replace("\u2013", "-").replace(" to ", "-")


def free_key(name: str, taken: Iterable[str]) -> str:
    """An id for something new, made from its name."""
    used = set(taken)
    base = slugify(name)[:34].strip("-_").replace("_", "-") or "new"
    return next(
        key
        for key in (base, *(f"{base}-{n}" for n in range(2, 10_000)))
        if key not in used
    )


def _figure(value: float) -> str:
    return f"{value:.10g}" if value else ""
