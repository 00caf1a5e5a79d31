"""The published schemas are the code's, and agree with what the code reads."""

import copy
import itertools
import json
from collections.abc import Callable
from typing import Any

import jsonschema
import pytest

from jobs.demo_job import marram_house
from jobs.factories import MONDAY, small_job
from jobs.management.commands.write_schemas import schemas
from scheduling.errors import BadInput
from scheduling.job_file import job_schema, read_job, write_job
from scheduling.plan_file import plan_schema, read_plan, write_plan
from scheduling.planning import plan_job
from tests.jobs.test_translation import full_job

JOBS = {
    "small": small_job,
    "full": full_job,
    "demo": lambda: marram_house(MONDAY.date()),
}
draft = jsonschema.Draft202012Validator


def test_the_published_schemas_are_fresh() -> None:
    for file, text in schemas().items():
        assert file.read_text(encoding="utf-8") == text, (
            f"{file.name} is old: run `python manage.py write_schemas`"
        )


@pytest.mark.parametrize("schema", [job_schema, plan_schema])
def test_the_schemas_are_schemas(schema: Callable[[], dict[str, Any]]) -> None:
    draft.check_schema(schema())


@pytest.mark.parametrize("name", JOBS)
def test_every_valid_job_satisfies_the_schema(name: str) -> None:
    draft(job_schema()).validate(json.loads(json.dumps(write_job(JOBS[name]()))))


def test_a_real_plan_satisfies_the_schema_and_reads_back() -> None:
    plan = plan_job(small_job(), at=MONDAY, budget=0.2)
    written = json.loads(json.dumps(write_plan(plan)))
    draft(plan_schema()).validate(written)
    assert read_plan(written) == plan
    written["bound"]["proved"] = "yes"
    assert not draft(plan_schema()).is_valid(written)
    with pytest.raises(BadInput, match="proved"):
        read_plan(written)


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place in a JSON value below the root."""
    if isinstance(value, dict):
        entries: list[tuple[Any, Any]] = list(value.items())
    else:
        entries = list(enumerate(value)) if isinstance(value, list) else []
    found = []
    for key, entry in entries:
        found += [(*path, key), *places(entry, (*path, key))]
    return found


def changed(written: Any, path: tuple[Any, ...], value: Any) -> Any:
    """A copy with another value at that place, or without it for ``...``."""
    written = copy.deepcopy(written)
    parent = written
    for key in path[:-1]:
        parent = parent[key]
    if value is ...:
        del parent[path[-1]]
    else:
        parent[path[-1]] = value
    return written


WRONG = (..., None, True, -1e9, 1e9, "", "Ünknown word\n", [], {}, [[]], {"x": 1})
EACH = 2  # of them at every place, another two at the next: all takes half a minute

# What only the reader knows: names that refer to nothing, orders, one aim a date.
# A format (moment, zone, no control characters) is a note to most schema readers.
READER_ONLY = (
    "a date",
    "a time zone",
    "text of 1 to",
    "one of ",
    "puts nothing on",
    "label of",
    "no less than",
    "no earlier than",
    "later than",
    "at least one hour",
    "inside",
    "rising",
    "gross area",
    "or more",
    "circle",
    "not_before, not_after or both",
    "either hands, or from and to",
)


def fault_of(written: Any) -> str:
    """Why the reader refuses it; empty where it does not."""
    try:
        read_job(written)
    except BadInput as error:
        return str(error)
    return ""


def test_reader_and_schema_refuse_the_same_mutations() -> None:
    """The reader refuses all that the schema does, and what else it does is listed."""
    written = json.loads(json.dumps(write_job(full_job())))
    validator = draft(job_schema())
    wrong = itertools.cycle(WRONG)
    refused = 0
    for path in places(written):
        for value in itertools.islice(wrong, EACH):
            mutant = changed(written, path, value)
            fits, fault = validator.is_valid(mutant), fault_of(mutant)
            refused += not fits
            assert fits or fault, f"the reader takes {value!r} at {path}"
            known = any(words in fault for words in READER_ONLY)
            assert not fits or not fault or known, (
                f"the schema takes {value!r} at {path}: {fault}"
            )
    assert refused > 300
