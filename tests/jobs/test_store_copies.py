"""Backup and restore of the embedded store, on real files beside real writers."""

import os
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from django.db.migrations.loader import MigrationLoader

from jobs import store_copies
from jobs.store_copies import Refused, alone, back_up, check, in_use, put_back
from tests.jobs.conftest import NOW

ROOT = Path(__file__).resolve().parents[2]


def make_store(
    file: Path, *, rows: int = 3, unknown: str = "", journal: str = "WAL"
) -> Path:
    """A store as Django leaves it: WAL, its migrations noted, and a table of words."""
    with closing(sqlite3.connect(file)) as database, database:
        database.execute(f"PRAGMA journal_mode={journal}")
        database.execute("CREATE TABLE django_migrations (app TEXT, name TEXT)")
        names = [name for app, name in disk() if app == "jobs"]
        names += [unknown] if unknown else []
        database.executemany(
            "INSERT INTO django_migrations VALUES ('jobs', ?)", [(n,) for n in names]
        )
        database.execute("CREATE TABLE word (number INTEGER)")
        database.executemany("INSERT INTO word VALUES (?)", [(n,) for n in range(rows)])
    return file


def disk() -> list[tuple[str, str]]:
    return sorted(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)


def count(file: Path) -> int:
    with closing(sqlite3.connect(file)) as database:
        return database.execute("SELECT COUNT(*) FROM word").fetchone()[0]


def write(file: Path, number: int) -> None:
    with closing(sqlite3.connect(file, timeout=20)) as database, database:
        database.execute("INSERT INTO word VALUES (?)", (number,))


def as_it_is(_: Path) -> None:
    """Nothing to bring up to date."""


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return make_store(tmp_path / "coat.sqlite3")


def files(folder: Path) -> set[str]:
    return {file.name for file in folder.iterdir()} - {store_copies.IN_USE_FILE}


def test_a_backup_is_one_private_file_with_all_that_was_written(
    store: Path, tmp_path: Path
) -> None:
    with closing(sqlite3.connect(store)) as open_one:  # its log is not yet in the file
        open_one.execute("INSERT INTO word VALUES (99)")
        open_one.commit()
        size = back_up(store, tmp_path / "copy.sqlite3")
    copy = tmp_path / "copy.sqlite3"
    assert (count(copy), copy.stat().st_size) == (4, size)
    assert copy.stat().st_mode & 0o777 == 0o600
    assert not (tmp_path / "copy.sqlite3-wal").exists()
    check(copy)


def test_a_backup_is_of_one_moment_while_others_write(
    store: Path, tmp_path: Path
) -> None:
    stop = threading.Event()

    def writes() -> None:
        number = 3
        while not stop.is_set():
            write(store, number)
            number += 1

    writer = threading.Thread(target=writes)
    writer.start()
    try:
        for round_ in range(5):
            copy = tmp_path / f"copy-{round_}"
            back_up(store, copy)
            with closing(sqlite3.connect(copy)) as database:
                numbers = [row[0] for row in database.execute("SELECT * FROM word")]
            assert numbers == list(range(len(numbers)))  # none is missing between
            check(copy)
    finally:
        stop.set()
        writer.join()
    assert count(store) > 3  # they did write


def test_a_backup_never_overwrites(store: Path, tmp_path: Path) -> None:
    there = tmp_path / "there"
    there.write_text("a letter")
    with pytest.raises(Refused, match="there already"):
        back_up(store, there)
    assert there.read_text() == "a letter"


def test_a_backup_that_cannot_be_leaves_nothing(tmp_path: Path, store: Path) -> None:
    with pytest.raises(Refused, match="serve` once to make one"):
        back_up(tmp_path / "nowhere", tmp_path / "copy")
    with pytest.raises(Refused, match="can be made"):
        back_up(store, tmp_path / "no-folder" / "copy")
    store.write_bytes(b"no database, though it is long enough to be taken for one" * 99)
    with pytest.raises(Refused, match="a store that can be copied"):
        back_up(store, tmp_path / "copy")
    assert files(tmp_path) == {"coat.sqlite3"}


def test_a_restore_puts_all_back_and_keeps_the_old_store_beside(
    store: Path, tmp_path: Path
) -> None:
    back_up(store, tmp_path / "copy")
    write(store, 99)
    kept = put_back(tmp_path / "copy", store, now=NOW, bring_up_to_date=as_it_is)
    assert count(store) == 3
    assert kept is not None
    assert kept.name == "coat.sqlite3.before-20261012-073000"
    assert count(kept) == 4
    again = put_back(kept, store, now=NOW, bring_up_to_date=as_it_is)
    assert again is not None
    assert again.name == "coat.sqlite3.before-20261012-073000-2"
    assert (count(store), count(kept), count(again)) == (4, 4, 3)
    assert files(tmp_path) == {"coat.sqlite3", "copy", kept.name, again.name}


def test_a_restore_makes_a_store_where_there_is_none(
    store: Path, tmp_path: Path
) -> None:
    back_up(store, tmp_path / "copy")
    other = tmp_path / "other" / "coat.sqlite3"
    other.parent.mkdir()
    assert (
        put_back(tmp_path / "copy", other, now=NOW, bring_up_to_date=as_it_is) is None
    )
    assert count(other) == 3


def test_a_damaged_store_can_be_replaced_and_is_kept(
    store: Path, tmp_path: Path
) -> None:
    back_up(store, tmp_path / "copy")
    store.write_bytes(b"spoilt" * 5000)
    kept = put_back(tmp_path / "copy", store, now=NOW, bring_up_to_date=as_it_is)
    assert count(store) == 3
    assert kept is not None
    assert kept.read_bytes() == b"spoilt" * 5000


def spoilt(file: Path) -> None:
    content = bytearray(file.read_bytes())
    content[4096:8192] = b"\xff" * 4096  # the second page of what SQLite wrote
    file.write_bytes(content)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda file: None, "a file that manage.py backup made"),
        (lambda file: file.mkdir(), "a file that manage.py backup made"),
        (lambda file: file.write_text("a letter" * 999), "manage.py backup made"),
        (lambda file: sqlite3.connect(file).execute("CREATE TABLE a (b)").close(),
         "this is another's"),
        (lambda file: file.write_bytes(b""), "this is another's"),
        (lambda file: make_store(file, unknown="9999_of_tomorrow", journal="DELETE"),
         "newer .9999_of_tomorrow."),
        (lambda file: spoilt(make_store(file, rows=9000, journal="DELETE")),
         "damaged|backup made"),
    ],
)  # fmt: skip
def test_what_cannot_be_put_back_is_said_and_nothing_is_touched(
    make: Callable[[Path], object], said: str, store: Path, tmp_path: Path
) -> None:
    make(tmp_path / "file")
    before = files(tmp_path)
    with pytest.raises(Refused, match=said):
        put_back(tmp_path / "file", store, now=NOW, bring_up_to_date=as_it_is)
    assert count(store) == 3
    assert files(tmp_path) == before


def test_a_restore_waits_for_nobody_who_works_on_the_store(
    store: Path, tmp_path: Path
) -> None:
    back_up(store, tmp_path / "copy")
    with in_use(store), pytest.raises(Refused, match="stop the service"):
        put_back(tmp_path / "copy", store, now=NOW, bring_up_to_date=as_it_is)
    with closing(sqlite3.connect(store)) as open_one:  # a shell, or a worker alone
        open_one.execute("SELECT * FROM word").fetchone()
        with pytest.raises(Refused, match="stop the service"):
            put_back(tmp_path / "copy", store, now=NOW, bring_up_to_date=as_it_is)
    with alone(store), pytest.raises(Refused, match="being put back"), in_use(store):
        pass
    put_back(tmp_path / "copy", store, now=NOW, bring_up_to_date=as_it_is)


def test_a_restore_that_cannot_be_brought_up_to_date_changes_nothing(
    store: Path, tmp_path: Path
) -> None:
    def breaks(_: Path) -> None:
        raise RuntimeError("no such column")

    back_up(store, tmp_path / "copy")
    write(store, 99)
    with pytest.raises(RuntimeError):
        put_back(tmp_path / "copy", store, now=NOW, bring_up_to_date=breaks)
    assert count(store) == 4
    assert files(tmp_path) == {"coat.sqlite3", "copy"}


def manage(folder: Path, *given: str, **more: str) -> subprocess.CompletedProcess[str]:
    own = {
        "PATH": os.environ["PATH"], "DATA_DIR": str(folder),
        "COAT_PASSWORD": "paper and pigment", **more,
    }  # fmt: skip
    return subprocess.run(
        [sys.executable, "manage.py", *given],
        cwd=ROOT, env=own, capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_one_command_each_and_an_older_store_is_brought_up_to_date(
    tmp_path: Path,
) -> None:
    data, copy = tmp_path / "data", tmp_path / "copy"
    assert manage(data, "migrate", "jobs", "0006", "-v0").returncode == 0
    made = manage(data, "backup", str(copy))
    assert (made.returncode, made.stderr) == (0, "")
    assert "`manage.py restore` puts it back" in made.stdout
    again = manage(data, "backup", str(copy))
    assert (again.returncode, again.stdout) == (2, "")
    assert "there already" in again.stderr
    back = manage(data, "restore", str(copy))
    assert (back.returncode, back.stderr) == (0, "")
    kept = back.stdout.splitlines()[1].removeprefix("Those of before are kept in ")
    with closing(sqlite3.connect(data / "coat.sqlite3")) as database:
        names = {row[0] for row in database.execute(
            "SELECT name FROM django_migrations WHERE app = 'jobs'"
        )}  # fmt: skip
    assert names == {name for app, name in disk() if app == "jobs"}
    with closing(sqlite3.connect(kept.rstrip("."))) as database:
        old = database.execute(
            "SELECT MAX(name) FROM django_migrations WHERE app = 'jobs'"
        ).fetchone()
    assert old == ("0006_link_units",)
    assert not list(data.glob("*.part*"))


@pytest.mark.parametrize(
    ("command", "said"), [("backup", "pg_dump"), ("restore", "pg_restore")]
)
def test_on_postgresql_they_say_what_to_use_instead(
    command: str, said: str, tmp_path: Path
) -> None:
    run = manage(
        tmp_path, command, str(tmp_path / "copy"),
        DATABASE_URL="postgresql://a:b@127.0.0.1:1/c",
    )  # fmt: skip
    assert (run.returncode, run.stdout) == (2, "")
    assert said in run.stderr
    assert not (tmp_path / "copy").exists()
