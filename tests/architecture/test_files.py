"""What may be in the repository, and what may not."""

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]

TOP_LEVEL = {
    ".ci",
    ".gitattributes",
    ".gitignore",
    "CHANGELOG.md",
    "DEVELOPERS.md",
    "LICENSE",
    "Makefile",
    "README.md",
    "config",
    "docker",
    "jobs",
    "manage.py",
    "pyproject.toml",
    "requirements.txt",
    "scheduling",
    "templates",
    "tests",
}
READERS = {
    "broker",
    "contact",
    "database",
    "flag",
    "kept_secret",
    "mail",
    "number",
    "path",
    "secret",
    "site_address",
    "text",
}
# Assembled, so that this file does not hold what it looks for.
MACHINE_PATHS = [
    re.escape(str(ROOT)) + r"\b",
    re.escape(sys.prefix) + r"\b",
    r"/" + r"home/[a-z]",
    r"/" + r"Users/[A-Za-z]",
    r"/" + r"root/",
    r"[A-Z]:\\" + r"Users",
]


def files() -> list[Path]:
    """Everything that is in the repository or about to be added to it."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    found = [ROOT / name for name in listed.split("\0") if name]
    return [file for file in found if file.is_file()]


def test_the_top_level_holds_only_what_has_a_place_there() -> None:
    top = {file.relative_to(ROOT).parts[0] for file in files()}
    assert top - TOP_LEVEL == set()


def test_no_file_names_a_path_of_somebodys_machine() -> None:
    pattern = re.compile("|".join(MACHINE_PATHS))
    found = []
    for file in files():
        content = file.read_bytes()
        if b"\0" not in content:
            text = content.decode("utf-8")
            found += [
                f"{file.relative_to(ROOT)}: {hit}" for hit in pattern.findall(text)
            ]
    assert found == []


def variables_read() -> set[str]:
    """Names that config reads from the environment, and that the start scripts read."""
    names = set()
    for file in (ROOT / "config").glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text())):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id in READERS
                and node.args
                and isinstance(node.args[0], ast.Constant)
                and isinstance(node.args[0].value, str)
                and node.args[0].value.isupper()
            ):
                names.add(node.args[0].value)
    for file in (ROOT / "docker").glob("start-*"):
        names |= set(re.findall(r"\$\{([A-Z_]+)", file.read_text()))
    return names


def test_every_setting_has_a_row_in_the_developers_guide() -> None:
    names = variables_read()
    assert {"DATA_DIR", "SITE_URL", "SECRET_KEY", "WORKER_PROCESSES"} <= names
    guide = (ROOT / "DEVELOPERS.md").read_text()
    rows = set(re.findall(r"^\|\s*`([A-Z_]+)`\s*\|", guide, re.M))
    assert names - rows == set()


@pytest.mark.parametrize(
    ("lock", "group"),
    [("requirements.txt", None), ("tests/requirements.txt", "test")],
)
def test_each_direct_dependency_is_locked_with_hashes(
    lock: str, group: str | None
) -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    wanted = (
        project["dependency-groups"][group]
        if group
        else project["project"]["dependencies"]
    )
    text = (ROOT / lock).read_text()
    pins: dict[str, list[str]] = {}
    for name, version in re.findall(r"^([A-Za-z0-9._-]+)==([^ \\]+)", text, re.M):
        pins.setdefault(canonicalize_name(name), []).append(version)
    for line in wanted:
        requirement = Requirement(line)
        versions = pins.get(canonicalize_name(requirement.name), [])
        assert versions, f"{requirement.name} is not in {lock}: run make lock"
        assert all(requirement.specifier.contains(version) for version in versions)


@pytest.mark.parametrize("lock", ["requirements.txt", "tests/requirements.txt"])
def test_a_lock_names_versions_and_hashes_and_no_place_to_fetch_them(lock: str) -> None:
    lines = (ROOT / lock).read_text().splitlines()
    pin = re.compile(r"[A-Za-z0-9._-]+(\[[a-z,]+\])?==\S+( ; .+)? \\")
    digest = re.compile(r"    --hash=sha256:[0-9a-f]{64}( \\)?")
    comment = re.compile(r" *#[^:/]*(:[^:/]*)?$")
    wrong = [
        line
        for line in lines
        if not (pin.fullmatch(line) or digest.fullmatch(line))
        and not (comment.match(line) or "via -c requirements.txt" in line)
        and "pyproject.toml" not in line
    ]
    assert wrong == []
    assert "://" not in "\n".join(lines)
