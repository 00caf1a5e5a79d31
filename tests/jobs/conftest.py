"""The cast of the records' tests: two companies, their people, and jobs as rows."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest

from jobs.factories import (
    MONDAY,
    RecipeFactory,
    StepFactory,
    SurfaceFactory,
    small_job,
)
from jobs.models import Company, Job, User
from jobs.translation import store_job
from scheduling import problem
from tests.jobs.weather.service import Service, running

NOW = MONDAY + timedelta(hours=7.5)  # the small job's own


@pytest.fixture
def company(db: None) -> Company:
    return Company.objects.create(name="Harbour Finishes")


@pytest.fixture
def lead(company: Company) -> User:
    return User.objects.create_user(
        "lead@example.com", "paper and pigment", company=company, role=User.Role.LEAD
    )


@pytest.fixture
def hand(company: Company) -> User:
    return User.objects.create_user(
        "hand@example.com", "paper and pigment", company=company, role=User.Role.HAND
    )


@pytest.fixture
def stranger(db: None) -> User:
    other = Company.objects.create(name="Elsewhere")
    return User.objects.create_user(
        "lead@elsewhere.example",
        "paper and pigment",
        company=other,
        role=User.Role.LEAD,
    )


@pytest.fixture
def stored(company: Company) -> Callable[..., Job]:
    """Stores the small job with any of its parts replaced."""

    def store(value: problem.Job | None = None, **changes: Any) -> Job:
        return store_job(company, value or small_job(**changes))

    return store


@pytest.fixture
def job(stored: Callable[..., Job]) -> Job:
    """The small job: one wall, two coats, one hand."""
    return stored()


@pytest.fixture
def service(settings: Any) -> Iterator[Service]:
    """Stands in for every weather service, at an address that settings name."""
    with running() as service:
        settings.WEATHER_CONTACT = "air@example.com"
        settings.WEATHER_ADDRESSES = dict.fromkeys(
            settings.WEATHER_ADDRESSES, service.address
        )
        yield service


@pytest.fixture
def two_walls(stored: Callable[..., Job]) -> Job:
    """Two walls of seven hours for one hand: the second goes on the next day."""
    step = StepFactory(id="paint", material=None, setup_min=420.0, apply_min_m2=0.0)
    return stored(
        recipes=(RecipeFactory(id="recipe", steps=(step,)),),
        surfaces=(
            SurfaceFactory(id="first", recipe="recipe", room="room", priority=1),
            SurfaceFactory(id="second", recipe="recipe", room="room"),
        ),
        coats=(),
    )


@pytest.fixture
def sent(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Keys of the runs sent to the queue; stands in for the broker."""
    keys: list[int] = []
    monkeypatch.setattr("jobs.tasks.replan.delay", keys.append)
    return keys


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Keys of the questions sent to the queue: what would bring a surface forward."""
    keys: list[int] = []
    monkeypatch.setattr("jobs.tasks.forward.delay", keys.append)
    return keys
