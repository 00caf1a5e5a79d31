"""The factories build values the job format accepts."""

import dataclasses

import factory
import pytest

from jobs import factories
from scheduling import job_file, problem

FACTORIES = {
    made._meta.model: made
    for made in vars(factories).values()
    if isinstance(made, type) and issubclass(made, factory.Factory)
}


def test_the_small_job_is_a_valid_job_file():
    job = factories.small_job()
    assert job_file.read_job(job_file.write_job(job)) == job


def test_two_small_jobs_are_equal_values():
    assert factories.small_job() == factories.small_job()


def test_any_part_of_the_small_job_can_be_replaced():
    wide = factories.SurfaceFactory(id="wall", width_m=12)
    job = factories.small_job(surfaces=(wide,), title="A wide wall")
    assert job.surface("wall").area_m2 == pytest.approx(30)
    assert job.title == "A wide wall"
    assert job_file.read_job(job_file.write_job(job)) == job


def test_a_small_job_may_log_read_pin_and_wish():
    job = factories.small_job(
        coats=(factories.CoatFactory(),),
        pins=(factories.PinFactory(step="coat-2"),),
        readings=(factories.ReadingFactory(),),
        dates=(
            factories.DateWishFactory(),
            factories.DateWishFactory(room="room"),
            factories.DateWishFactory(surface="wall"),
        ),
        surfaces=(
            factories.SurfaceFactory(id="wall", gates=(factories.GateFactory(),)),
        ),
    )
    assert job_file.read_job(job_file.write_job(job)) == job


def test_a_date_wish_names_one_thing_and_one_state():
    wish = factories.DateWishFactory(room="room")
    assert (wish.job, wish.room, wish.stage) == (None, "room", "touch")
    wish = factories.DateWishFactory(promise="wash")
    assert (wish.job, wish.stage, wish.promise) == ("job", None, "wash")


def test_ids_of_made_rows_differ():
    assert factories.SurfaceFactory().id != factories.SurfaceFactory().id
    assert factories.HandFactory().id != factories.HandFactory().id


def test_every_value_of_a_job_has_a_factory():
    """What stands in no demo or test by default is built plain."""
    built_plain = {
        problem.TypicalAir,
        problem.LabelPoint,
        problem.After,
        problem.Rescue,
        problem.MoistureReading,
        problem.OutdoorsFrom,
    }
    values = {
        value
        for value in vars(problem).values()
        if isinstance(value, type) and dataclasses.is_dataclass(value)
    }
    assert values - built_plain == set(FACTORIES)
