"""Who may import whom, and what the engine does without."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

# Every module of the engine is loaded while these cannot be; a reader of the clock or
# the network is caught by ruff's banned list and by this.
LOAD_ALONE = """
import importlib, pkgutil, sys

BLOCKED = {"django", "celery", "kombu", "redis", "psycopg", "icalendar",
           "jobs", "config"}

class Wall:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in BLOCKED:
            raise ImportError(f"the engine asked for {name}")

sys.meta_path.insert(0, Wall())
import scheduling
names = [m.name for m in pkgutil.walk_packages(scheduling.__path__, "scheduling.")]
for name in names:
    if not name.endswith("__main__"):
        importlib.import_module(name)
print(len(names))
"""


def test_the_import_contracts_hold() -> None:
    run = subprocess.run(
        [str(Path(sys.executable).parent / "lint-imports"), "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr


def test_the_engine_loads_with_django_and_the_queue_out_of_reach() -> None:
    run = subprocess.run(
        [sys.executable, "-c", LOAD_ALONE],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    assert int(run.stdout) >= 3
