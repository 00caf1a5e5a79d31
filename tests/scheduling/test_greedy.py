"""The constructive plan: bounded in its tries, and sound in what it places."""

import pytest

from jobs.factories import HandFactory, HoursFactory, MaterialFactory, PinFactory
from scheduling.decoder import TRIES_A_UNIT
from scheduling.greedy import RETRIES, Greedy
from tests.scheduling.planning_jobs import (
    at,
    coat,
    dry,
    job_of,
    paint,
    people,
    with_hours,
)
from tests.scheduling.test_search import process_of


def chain(length):
    """Steps in windows one after the other; for the last two hands are wanted.

    They are together from 08:00 to 08:10 alone, and no window of 100 min lasts a night.
    """
    early = HandFactory(id="early", hours=(HoursFactory(end="08:10", breaks=()),))
    steps = [coat(f"step-{n}", 10) for n in range(length - 1)]
    job = job_of(
        (*steps, coat("last", 10, hands=people(2))),
        hands=(HandFactory(id="all-day"), early),
        materials=(paint(open=5.0, touch=10.0, recoat=30.0, window=100.0),),
    )
    return process_of(with_hours(job, start="08:00", end="12:00", breaks=()))


@pytest.mark.parametrize("length", [4, 5])
def test_windows_that_cannot_be_met_are_given_up_after_a_number_of_tries(
    length, monkeypatch
):
    """Without a bound the tries multiply along the chain: 7,711 for four steps."""
    greedy, tries = Greedy(chain(length)), []
    first = greedy.decoder._first

    def counted(*given):
        tries.append(given)
        return first(*given)

    monkeypatch.setattr(greedy.decoder, "_first", counted)
    assert greedy.place_all([0.0] * length) is None
    assert greedy.failed is not None
    # One look for the slot, one for where a missed step could go.
    assert TRIES_A_UNIT < len(tries) <= 2 * TRIES_A_UNIT * length


def test_orders_are_tried_anew_often_for_the_first_and_twice_for_the_others(
    monkeypatch,
):
    greedy, orders = Greedy(chain(4)), []
    place_all = greedy.place_all

    def counted(keys):
        orders.append(tuple(keys))
        return place_all(keys)

    monkeypatch.setattr(greedy, "place_all", counted)
    assert greedy.best() is None
    assert len(orders) == (RETRIES + 1) + 3 + 3


def test_a_unit_has_a_window_where_one_binds_it_to_another():
    process = process_of(
        job_of(
            (coat("one"), coat("two")), (coat("one"),), materials=(paint(window=600.0),)
        )
    )
    greedy = Greedy(process)
    assert [greedy.has_window(unit) for unit in process.units] == [True, True, False]
    plain = process_of(job_of((coat("one"), coat("two"))))
    assert not any(Greedy(plain).has_window(unit) for unit in plain.units)


def test_what_is_pinned_is_placed_first_with_the_hands_named():
    pin = PinFactory(
        surface="wall-2", step="coat", start=at(0, "08:30"), hands=("hand-1",)
    )
    process = process_of(job_of((coat(),), (coat(),), hands=1, pins=(pin,)))
    placing = Greedy(process).place_all([0.0, 1.0])
    assert placing is not None
    by_wall = {u.surface.id: placing[u.index] for u in process.units}
    assert (by_wall["wall-2"].start, by_wall["wall-2"].hands) == (6, (0,))
    assert by_wall["wall-1"].start == 18  # 09:30: before the pin there is half an hour


def test_a_test_and_its_work_are_not_parted_by_a_break():
    """The wait is over at 11:55: five minutes to test, but the work is after lunch."""
    slow = MaterialFactory(
        id="material",
        family="oil-size",
        labels={"tack": (60, 350), "closes": (200, 600)},
    )
    job = job_of((coat("size", 30), dry("leaf", 60, wet=True)), materials=(slow,))
    process = process_of(job)
    leaf = Greedy(process).best()[1]
    assert leaf.test
    ends = process.axis.stretch_end
    assert ends[leaf.start] == ends[leaf.work_start] == ends[leaf.last]
