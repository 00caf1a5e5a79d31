"""The generated jobs are what the measurements say they are."""

import pytest

from scheduling.job_file import job_sha256
from tests.benchmarks.finishing_jobs import SEEDS, SIZES, SMALL, finishing_job


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size.rooms} rooms")
def test_a_size_has_its_steps_windows_and_hands(size):
    for seed in SEEDS:
        job = finishing_job(size, seed)
        recipes = [job.recipe(surface.recipe) for surface in job.surfaces]
        assert sum(len(recipe.steps) for recipe in recipes) >= size.least_steps
        closing = [
            any(
                {"window", "closes"} & set(job.material(step.material).labels)
                for step in recipe.steps[:-1]
                if step.material
            )
            for recipe in recipes
        ]
        assert sum(closing) >= len(closing) / 3
        assert len(job.hands) == size.hands


def test_a_seed_gives_the_same_job_and_another_seed_another():
    one, again, other = (finishing_job(SMALL, seed) for seed in (1, 1, 2))
    assert job_sha256(one) == job_sha256(again)
    assert job_sha256(one) != job_sha256(other)
