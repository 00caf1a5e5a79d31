"""Gates, other trades' days and dates on the pages of setting up."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.test import Client

from jobs.factories import (
    DateWishFactory,
    GateFactory,
    RoomFactory,
    SurfaceFactory,
    TradeFactory,
    small_job,
)
from jobs.models import Job, User
from jobs.set_up_calendar import keep_gate
from jobs.translation import job_json, job_value
from scheduling.planning import plan_job
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import words

pytestmark = pytest.mark.django_db(transaction=True)

THERE = "/jobs/job/set-up/"
SCAFFOLD = {"name": "Scaffold up", "not_before": "2026-10-14T08:00"}


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def two_walls(stored: Callable[..., Job]) -> Job:
    walls = tuple(SurfaceFactory(id=f"wall-{n}", name=f"Wall {n}") for n in (1, 2))
    return stored(small_job(surfaces=walls))


@pytest.fixture
def signed_in(client: Client, lead: User) -> Client:
    client.force_login(lead)
    return client


def test_a_gate_is_put_on_surfaces_changed_and_taken_off(
    two_walls: Job, signed_in: Client
) -> None:
    both = SCAFFOLD | {"surfaces": ["wall-1", "wall-2"]}
    assert signed_in.post(f"{THERE}gate/", both).status_code == 302
    value = job_value(two_walls)
    (gate,) = value.surfaces[1].gates
    assert gate.name == "Scaffold up"
    assert gate.not_before.isoformat() == "2026-10-14T08:00:00+01:00"
    plan = plan_job(value, at=NOW, budget=1.0)
    assert min(stint.start for stint in plan.stints) >= gate.not_before

    said = words(signed_in.get(THERE).content.decode())
    assert "not before Wed 08:00 : Wall 1; Wall 2" in said.replace(": Wall", " : Wall")
    page = signed_in.get(f"{THERE}gate/?of=wall-2&n=0")
    assert page.context["form"]["surfaces"].value() == ["wall-1", "wall-2"]
    one = SCAFFOLD | {"not_before": "2026-10-13T08:00", "surfaces": ["wall-1"]}
    assert signed_in.post(f"{THERE}gate/?of=wall-2&n=0", one).status_code == 302
    first, second = job_value(two_walls).surfaces
    assert [gate.not_before.day for gate in first.gates] == [13]
    assert second.gates == ()
    gone = signed_in.post(f"{THERE}gate/?of=wall-1&n=0", {"remove": "yes"})
    assert gone.status_code == 302
    assert job_value(two_walls).surfaces[0].gates == ()


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"not_before": ""}, "give one of the two"),
        ({"not_before": "soon"}, "a day and a time, such as"),
        ({"surfaces": []}, "one surface or more"),
        ({"surfaces": ["roof"]}, "roof is not here"),
        ({"not_after": "2026-10-13T08:00"}, "later than not_before, which is"),
    ],
)
def test_a_gate_that_cannot_be_is_refused_beside_its_field(
    two_walls: Job, signed_in: Client, typed: dict[str, Any], told: str
) -> None:
    sent = SCAFFOLD | {"surfaces": ["wall-1"]} | typed
    answer = signed_in.post(f"{THERE}gate/", sent)
    assert answer.status_code == 422
    assert told in words(answer.content.decode())
    assert job_value(two_walls).surfaces[0].gates == ()


def test_a_gate_that_somebody_changed_meanwhile_is_not_overwritten(
    two_walls: Job,
) -> None:
    was = {"name": "Scaffold up", "not_before": "2026-10-14T08:00:00+01:00"}
    with pytest.raises(ValidationError, match="changed since"):
        keep_gate(job=two_walls, was=was, gate=None, surfaces=(), now=NOW)


def test_another_trades_days_keep_the_room_free_and_can_be_taken_off(
    two_walls: Job, signed_in: Client
) -> None:
    address = f"{THERE}rooms/room/trade/"
    days = {"name": "Floor layer", "from": "2026-10-12T08:00",
            "to": "2026-10-12T16:30", "makes": ["dust"]}  # fmt: skip
    late = signed_in.post(address, days | {"to": "2026-10-11T08:00"})
    assert late.status_code == 422
    assert "later than" in words(late.content.decode())
    assert signed_in.post(address, days).status_code == 302
    (trade,) = job_value(two_walls).rooms[0].others
    assert (trade.name, trade.makes) == ("Floor layer", ("dust",))
    assert "Floor layer" in words(signed_in.get(THERE).content.decode())
    assert (
        signed_in.post(f"{address}?n=0", days | {"name": "Joiner"}).status_code == 302
    )
    assert [row.name for row in job_value(two_walls).rooms[0].others] == ["Joiner"]
    signed_in.post(f"{address}?n=0", {"remove": "yes"})
    assert job_value(two_walls).rooms[0].others == ()


def test_dates_are_of_the_job_a_room_or_a_surface(
    two_walls: Job, signed_in: Client
) -> None:
    typed = {"by": "2026-10-16T16:30", "reached": "touch", "must": "wished",
             "weight": "1"}  # fmt: skip
    for of in ("job", "room-room", "surface-wall-2"):
        sent = signed_in.post(f"{THERE}new-date/", typed | {"of": of})
        assert sent.status_code == 302
    dates = job_value(two_walls).dates
    assert [(row.job, row.room, row.surface) for row in dates] == [
        ("job", None, None), (None, "room", None), (None, None, "wall-2"),
    ]  # fmt: skip
    row = two_walls.dates.first()
    changed = typed | {"of": "room-room", "reached": "wash", "must": "must"}
    assert signed_in.post(f"{THERE}dates/{row.pk}/", changed).status_code == 302
    wish = job_value(two_walls).dates[0]
    assert (wish.room, wish.stage, wish.promise, wish.must) == (
        "room", None, "wash", True,
    )  # fmt: skip
    assert "fit to wash by Fri 16:30, must be kept" in words(
        signed_in.get(THERE).content.decode()
    )
    signed_in.post(f"{THERE}dates/{row.pk}/", {"remove": "yes"})
    assert len(job_value(two_walls).dates) == 2


def test_a_date_that_cannot_be_is_refused_and_what_was_typed_stays(
    two_walls: Job, signed_in: Client
) -> None:
    typed = {"of": "attic", "by": "2026-10-16T16:30", "reached": "perfect",
             "must": "maybe", "weight": "0"}  # fmt: skip
    answer = signed_in.post(f"{THERE}new-date/", typed)
    said = words(answer.content.decode())
    assert answer.status_code == 422
    for told in ("attic is not here", "perfect is not here", "maybe is not here",
                 "a number from 0.01 to 1000"):  # fmt: skip
        assert told in said
    assert 'value="2026-10-16T16:30"' in answer.content.decode()
    assert not two_walls.dates.exists()


def test_saving_what_is_shown_changes_no_value(
    stored: Callable[..., Job], signed_in: Client
) -> None:
    odd = NOW.replace(second=7)  # no form shows seconds
    gate = GateFactory(not_before=odd, not_after=odd.replace(day=20))
    trade = replace(TradeFactory(makes=("dust",)), start=odd)
    wish = DateWishFactory(surface="wall", by=odd, stage="window", weight=1 / 3)
    wall = SurfaceFactory(id="wall", gates=(gate,))
    rooms = (RoomFactory(id="room", others=(trade,)),)
    row = stored(small_job(surfaces=(wall,), rooms=rooms, dates=(wish,)))
    before = job_json(row)
    for address in (
        f"{THERE}gate/?of=wall&n=0",
        f"{THERE}rooms/room/trade/?n=0",
        f"{THERE}dates/{row.dates.get().pk}/",
    ):
        form = signed_in.get(address).context["form"]
        sent = {
            bound.html_name: value
            for bound in form
            if (value := bound.field.prepare_value(bound.value())) is not None
        }
        answer = signed_in.post(address, sent)
        assert answer.status_code == 302, (address, form.errors)
        assert job_json(row) == before, address
