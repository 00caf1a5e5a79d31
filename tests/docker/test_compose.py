"""What the image and the compose file promise, as far as text can show it.

The image itself is not built here: no container engine runs the tests.
"""

import re
import stat
from pathlib import Path
from typing import Any

import pytest
import yaml

DOCKER = Path(__file__).resolve().parents[2] / "docker"
ROOT = DOCKER.parent


@pytest.fixture(scope="module")
def services() -> dict[str, Any]:
    """The services of the compose file, with its anchors resolved."""
    return yaml.safe_load((DOCKER / "compose.yaml").read_text())["services"]


def test_every_part_is_there_and_has_a_health_check(services: dict[str, Any]) -> None:
    assert set(services) == {"web", "worker", "beat", "redis", "postgres"}
    for name, service in services.items():
        assert service["healthcheck"]["test"], name


def test_the_queue_never_throws_a_message_away(services: dict[str, Any]) -> None:
    command = services["redis"]["command"]
    assert command[command.index("--maxmemory-policy") + 1] == "noeviction"


@pytest.mark.parametrize("part", ["web", "worker", "beat"])
def test_each_part_starts_a_script_that_exists(
    services: dict[str, Any], part: str
) -> None:
    script = ROOT / services[part]["command"]
    assert script.stat().st_mode & stat.S_IXUSR
    assert script.read_text().startswith("#!/bin/sh\n")
    assert services[part]["read_only"] is True


def test_only_the_web_part_is_reachable_and_only_from_this_host(
    services: dict[str, Any],
) -> None:
    published = {
        name: service["ports"]
        for name, service in services.items()
        if "ports" in service
    }
    assert published == {"web": ["127.0.0.1:8000:8000"]}


def test_the_image_copies_what_exists_and_does_not_run_as_root() -> None:
    lines = (DOCKER / "Dockerfile").read_text().splitlines()
    copied = [line.split()[1:-1] for line in lines if line.startswith("COPY ")]
    sources = [source for line in copied for source in line]
    assert {"config", "jobs", "scheduling", "templates"} <= set(sources)
    assert [source for source in sources if not (ROOT / source).exists()] == []
    users = [line.split()[1] for line in lines if line.startswith("USER ")]
    assert users[-1] == "coat"
    kept = (DOCKER / "Dockerfile.dockerignore").read_text().split()
    assert {f"!{source}" for source in sources} <= set(kept)


def test_the_example_environment_holds_no_real_secret() -> None:
    text = (DOCKER / "example.env").read_text()
    secrets = re.findall(r"^(?:SECRET_KEY|POSTGRES_PASSWORD)=(.*)$", text, re.M)
    assert secrets == ["change-me", "change-me"]
