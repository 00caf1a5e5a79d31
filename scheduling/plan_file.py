"""The plan format ``coat-by-coat-plan/1``: read, write, and its JSON Schema."""

from typing import Any

from scheduling.cautions import Caution
from scheduling.errors import BadInput, Fault
from scheduling.job_file import HUMIDITY, TEMPERATURE
from scheduling.plan import Bound, Change, Late, Plan, Range, Reason, Stint
from scheduling.problem import PROMISES, STAGES, AirHour
from scheduling.roles import ROLES
from scheduling.shapes import (
    Choice,
    Flag,
    Json,
    Key,
    ListOf,
    MapOf,
    Moment,
    NullOr,
    Number,
    Record,
    Text,
    ident,
)

FORMAT = "coat-by-coat-plan/1"

_moment_or_never = NullOr(Moment())
_range = Record(
    Range, {name: Key(_moment_or_never) for name in ("early", "likely", "safe")}
)
_reason = Record(
    Reason,
    {
        "code": Key(Text(40)),
        "text": Key(Text(1000)),
        "other": Key(ident(), optional=True),
    },
)
_caution = Record(
    Caution,
    {"code": Key(Text(40)), "text": Key(Text(1000)), "source": Key(Text(200))},
)
_stint = Record(
    Stint,
    {
        "id": Key(ident()),
        "kind": Key(Choice(("work", "test", "rescue"))),
        "surface": Key(ident()),
        "section": Key(ident(), optional=True),
        "step": Key(ident()),
        "hands": Key(ListOf(ident())),
        "from": Key(Moment(), "start"),
        "to": Key(Moment(), "end"),
        "open": Key(_range, optional=True),
        "ready": Key(MapOf(_range, names=STAGES)),
        "closes": Key(_range, optional=True),
        "promises": Key(MapOf(_range, names=PROMISES), optional=True, default={}),
        "cautions": Key(ListOf(_caution), optional=True, default=()),
        "roles": Key(MapOf(Choice(ROLES)), optional=True, default={}),
        "reason": Key(_reason),
    },
)
_late = Record(
    Late,
    {
        "date": Key(Number(0, 100_000, whole=True)),
        "by_min": Key(NullOr(Number(0, 1e9))),
    },
)
_bound = Record(
    Bound,
    {
        "finish_not_before": Key(_moment_or_never),
        "proved": Key(Flag()),
        "air": Key(Text(200)),
    },
)
_change = Record(
    Change,
    {
        "stint": Key(ident()),
        "surface": Key(ident()),
        "step": Key(ident()),
        "kind": Key(Choice(("moved", "hands", "added", "dropped"))),
        "text": Key(Text(1000)),
        "was": Key(Moment(), optional=True),
        "now": Key(Moment(), optional=True),
    },
)
_air_hour = Record(
    AirHour,
    {
        "at": Key(Moment()),
        "temperature_c": Key(TEMPERATURE),
        "humidity_pct": Key(HUMIDITY),
    },
)


def _make_plan(format: str, **values: Any) -> Plan:
    return Plan(**values)


_plan = Record(
    _make_plan,
    {
        "format": Key(Choice((FORMAT,))),
        "job_sha256": Key(Text(64)),
        "outcome": Key(Choice(("plan", "no-plan"))),
        "finish": Key(_moment_or_never),
        "bound": Key(_bound),
        "late": Key(ListOf(_late)),
        "air": Key(MapOf(ListOf(_air_hour))),
        "stints": Key(ListOf(_stint, unique=True)),
        "reasons": Key(ListOf(_reason)),
        "changes": Key(ListOf(_change)),
        "notes": Key(ListOf(Text(1000))),
    },
)


def write_plan(plan: Plan) -> dict[str, Json]:
    """The plan as JSON values, keys in the format's order."""
    written: dict[str, Json] = {"format": FORMAT}
    for name, key in _plan.keys.items():
        if name != "format":
            written[name] = key.shape.write(getattr(plan, key.attribute or name))
    return written


def read_plan(value: Json) -> Plan:
    """The plan in parsed JSON; BadInput with every fault found."""
    faults: list[Fault] = []
    plan = _plan.read(value, "", faults)
    if faults:
        raise BadInput(faults)
    assert isinstance(plan, Plan)  # noqa: S101 - no fault means a plan
    return plan


def plan_schema() -> dict[str, Json]:
    """JSON Schema (2020-12) of the plan format."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A plan for a decorative finishing job, coat-by-coat-plan/1",
        "description": "null in a range or a date's lateness: never in this air.",
        **_plan.schema(),
    }
