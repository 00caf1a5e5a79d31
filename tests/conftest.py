"""What any test may ask for: the real services, started when first asked for."""

import os
from collections.abc import Iterator

import pytest
from hypothesis import settings

from tests.services.servers import postgresql_server, redis_server

# The same examples every time, so that a change fails or passes for what it is;
# HYPOTHESIS_PROFILE=wide looks for new ones, and make measure does.
settings.register_profile("steady", derandomize=True, deadline=None, database=None)
settings.register_profile("wide", deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))


@pytest.fixture(scope="session")
def redis_url() -> Iterator[str]:
    """Address of a real Redis; with xdist each process has its own."""
    with redis_server() as url:
        yield url


@pytest.fixture(scope="session")
def postgresql_url() -> Iterator[str]:
    """Address of an empty database on a real PostgreSQL; each process has its own."""
    with postgresql_server() as url:
        yield url
