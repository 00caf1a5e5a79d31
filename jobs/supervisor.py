"""Keeps child processes alive until told to stop, and leaves none behind.

Each child leads a session of its own, so that its own children end with it: a worker
that is killed must not leave its helpers running beside those of the next one.
"""

import ctypes
import logging
import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from types import FrameType

log = logging.getLogger(__name__)

LOOK_EVERY_S = 0.2
SHORT_LIFE_S = 5.0  # a child that ends sooner has not started properly
LONGEST_WAIT_S = 10.0
GIVE_UP_AFTER = 6  # short lives in a row, about 25 s with the waits between them
STOP_WITHIN_S = 15.0  # a worker may hand over the best plan so far
_PR_SET_PDEATHSIG = 1  # linux/prctl.h


@dataclass(kw_only=True)
class Child:
    """A command that should be running."""

    name: str
    command: Sequence[str]
    environment: Mapping[str, str] = field(default_factory=dict)
    process: subprocess.Popen[bytes] | None = None
    started: float = 0.0
    start_at: float = 0.0
    short_lives: int = 0

    def start(self, now: float) -> None:
        self.started = now
        self.process = subprocess.Popen(  # noqa: S603 - our own commands
            self.command,
            env={**os.environ, **self.environment},
            stdin=subprocess.DEVNULL,
            start_new_session=True,
            preexec_fn=_end_with_parent if sys.platform == "linux" else None,
        )
        log.info("%s started (process %s)", self.name, self.process.pid)

    def signal(self, number: int) -> None:
        """To the child and all it has started."""
        if self.process is not None:
            with suppress(ProcessLookupError):
                os.killpg(self.process.pid, number)

    @property
    def runs(self) -> bool:
        return self.process is not None and self.process.poll() is None


class Supervisor:
    """Starts children, restarts those that end, stops them all on SIGTERM or SIGINT."""

    def __init__(self, children: Sequence[Child]) -> None:
        self.children = children
        self.stopping = False
        self.status = 0

    def run(self) -> int:
        """Until told to stop; 0, or 1 where a child would not stay up."""
        for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            signal.signal(number, self._told_to_stop)
        try:
            while not self.stopping:
                now = time.monotonic()
                for child in self.children:
                    self._look_after(child, now)
                time.sleep(LOOK_EVERY_S)
        finally:
            self._stop_all()
        return self.status

    def _told_to_stop(self, number: int, frame: FrameType | None) -> None:
        if self.stopping:  # asked twice: somebody is in a hurry
            for child in self.children:
                child.signal(signal.SIGKILL)
        self.stopping = True

    def _look_after(self, child: Child, now: float) -> None:
        if child.runs:
            if now - child.started > SHORT_LIFE_S:
                child.short_lives = 0
            return
        if child.process is not None:
            ended = child.process.returncode
            child.signal(signal.SIGKILL)  # what it left behind
            child.process = None
            child.short_lives += now - child.started <= SHORT_LIFE_S
            if child.short_lives >= GIVE_UP_AFTER:
                log.error("%s does not stay up (it ended with %s)", child.name, ended)
                self.stopping, self.status = True, 1
                return
            wait_s = min(0.5 * 2**child.short_lives, LONGEST_WAIT_S)
            log.warning("%s ended with %s; again in %.1f s", child.name, ended, wait_s)
            child.start_at = now + wait_s
        if now >= child.start_at and not self.stopping:
            child.start(now)

    def _stop_all(self) -> None:
        for child in self.children:
            child.signal(signal.SIGTERM)
        deadline = time.monotonic() + STOP_WITHIN_S
        while any(child.runs for child in self.children):
            if time.monotonic() > deadline:
                break
            time.sleep(0.05)
        for child in self.children:
            child.signal(signal.SIGKILL)
            if child.process is not None:
                child.process.wait()


def _end_with_parent() -> None:
    """Linux tells the child when a supervisor is killed that cannot tell it itself."""
    ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)
