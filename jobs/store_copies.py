"""Copies of the embedded store: made while it is in use, put back while it is not.

``Refused`` says why nothing was done. A store that is replaced is kept beside the new.
"""

import fcntl
import os
import secrets
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path

from django.db.migrations.loader import MigrationLoader

FIRST_OF_OURS = ("jobs", "0001_records")
IN_USE_FILE = "in-use"  # beside the store: who serves it holds a lock on this
_SHORT_WAIT_S = 2.0  # Assumed: for a page that is just being answered
_NO_STORE = "no store at {}: run `manage.py serve` once to make one"


class Refused(Exception):
    """Field, value and what is allowed, or what stands in the way."""


def back_up(store: Path, to: Path) -> int:
    """Write the store as it is at one moment into the new file ``to``; its bytes.

    SQLite's own online backup: whoever writes meanwhile is waited for, or waits.
    """
    if not store.is_file():
        raise Refused(_NO_STORE.format(store))
    _reserve(to)
    draft = _draft_of(to)
    try:
        _copy(store, draft)
        os.replace(draft, to)
    except BaseException as error:
        to.unlink(missing_ok=True)
        if isinstance(error, sqlite3.DatabaseError):
            raise Refused(f"{store}: a store that can be copied ({error})") from None
        raise
    finally:
        draft.unlink(missing_ok=True)
    _settle(to.parent)
    return to.stat().st_size


def put_back(
    file: Path, store: Path, *, now: datetime, bring_up_to_date: Callable[[Path], None]
) -> Path | None:
    """Make ``file`` the store; where the old one is kept, None if there was none.

    ``bring_up_to_date`` gets a copy before it takes the store's place: should it fail,
    everything is as before.
    """
    check(file)
    draft = _draft_of(store)
    try:
        _copy(file, draft)
        with alone(store):
            bring_up_to_date(draft)
            _leave_wal(draft)
            kept = _kept_beside(store, now)
            if kept is not None:
                os.replace(store, kept)
            os.replace(draft, store)
            _settle(store.parent)
    finally:
        for rest in ("", "-wal", "-shm"):
            draft.with_name(draft.name + rest).unlink(missing_ok=True)
    return kept


def check(file: Path) -> None:
    """Refuse what is no whole store of ours, or one of a newer version."""
    if not file.is_file():
        raise Refused(f"file: {file}: a file that manage.py backup made")
    try:
        with closing(_open(file)) as database:
            damage = database.execute("PRAGMA quick_check(1)").fetchone()[0]
            rows = set(database.execute("SELECT app, name FROM django_migrations"))
    except sqlite3.OperationalError as error:
        if "no such table" not in str(error):
            raise Refused(f"file: {file}: one that can be read ({error})") from None
        rows, damage = set(), "ok"
    except sqlite3.DatabaseError:  # SQLite's word for what is none of its files
        raise Refused(f"file: {file}: a file that manage.py backup made") from None
    if FIRST_OF_OURS not in rows:
        raise Refused(f"file: {file}: a store of Coat by Coat, and this is another's")
    if damage != "ok":
        raise Refused(f"file: {file}: a whole store, and this one is damaged: {damage}")
    known = set(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)
    newer = sorted(
        name for app, name in rows if app == "jobs" and (app, name) not in known
    )
    if newer:
        raise Refused(
            f"file: {file}: a store of this version or an older one, and this one is "
            f"newer ({newer[-1]}): install the version it was made with"
        )


@contextmanager
def in_use(store: Path) -> Iterator[None]:
    """Hold the store as one of those who serve it; Refused while it is replaced."""
    with _locked(store, fcntl.LOCK_SH, "the store is being put back: wait for it"):
        yield


@contextmanager
def alone(store: Path) -> Iterator[None]:
    """Hold the store against everybody; Refused while somebody has it open."""
    busy = "the store is in use: stop the service (Ctrl-C where serve runs), then again"
    with _locked(store, fcntl.LOCK_EX, busy):
        if store.is_file():
            try:
                _leave_wal(store)
            except sqlite3.OperationalError:
                raise Refused(busy) from None
            except sqlite3.DatabaseError:
                pass  # damaged: all the more reason to put a copy in its place
        yield


def _leave_wal(file: Path) -> None:
    """Write all that is in the log into the file itself. Takes it to be alone."""
    with closing(sqlite3.connect(file, timeout=_SHORT_WAIT_S)) as database:
        database.execute("PRAGMA journal_mode=DELETE")


@contextmanager
def _locked(store: Path, how: int, busy: str) -> Iterator[None]:
    file = store.with_name(IN_USE_FILE)
    with file.open("a") as handle:
        try:
            fcntl.flock(handle, how | fcntl.LOCK_NB)
        except BlockingIOError:
            raise Refused(busy) from None
        yield  # the lock goes with the handle, also when the process is killed


def _open(file: Path) -> sqlite3.Connection:
    """For reading alone: nothing beside a file on a stick that is write-protected."""
    return sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)


def _copy(source: Path, target: Path) -> None:
    """Into a new file that is one file, with no log beside it, and on the disk."""
    os.close(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    with closing(_open(source)) as old, closing(sqlite3.connect(target)) as new:
        old.backup(new)
        new.execute("PRAGMA journal_mode=DELETE")
    handle = os.open(target, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _reserve(file: Path) -> None:
    try:
        os.close(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    except FileExistsError:
        raise Refused(f"file: {file}: a new name; this one is there already") from None
    except OSError as error:
        raise Refused(
            f"file: {file}: a file that can be made ({error.strerror})"
        ) from None


def _draft_of(file: Path) -> Path:
    return file.with_name(f"{file.name}.{secrets.token_hex(4)}.part")


def _kept_beside(store: Path, now: datetime) -> Path | None:
    if not store.exists():
        return None
    name = f"{store.name}.before-{now:%Y%m%d-%H%M%S}"
    for more in ("", *(f"-{number}" for number in range(2, 1000))):
        kept = store.with_name(name + more)
        if not kept.exists():
            return kept
    raise Refused(f"{store.parent}: too many stores of the same second are kept here")


def _settle(folder: Path) -> None:
    """The new name is on the disk too."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
