"""Every error the engine raises; outcomes (no plan, never dry) are values instead."""

import json
from collections.abc import Iterable
from dataclasses import dataclass


class PlanningError(Exception):
    """Root of everything the engine raises on purpose."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with what was given: where, what it is, what is allowed."""

    path: str
    value: object
    allowed: str

    def __str__(self) -> str:
        return f"{self.path}: {shown(self.value)}: {self.allowed}"


class BadInput(PlanningError):
    """What was given cannot be used; ``faults`` names each place."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__(self.faults)  # args let a worker send it back

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


def bad(path: str, value: object, allowed: str) -> BadInput:
    """The error for a single fault."""
    return BadInput([Fault(path, value, allowed)])


def shown(value: object) -> str:
    """A value as it stood in the file, cut to a line."""
    try:
        text = json.dumps(value, ensure_ascii=False, allow_nan=True)
    except (TypeError, ValueError):
        text = str(value)
    return text if len(text) <= 80 else text[:77] + "..."
