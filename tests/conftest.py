"""What any test may ask for: the real services, started when first asked for."""

from collections.abc import Iterator

import pytest

from tests.services.servers import postgresql_server, redis_server


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
