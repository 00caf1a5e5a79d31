"""The model's parts against brute force; whole plans are held in test_search."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.factories import HandFactory, PinFactory
from scheduling.clock_tables import Gate
from scheduling.placing import hand_classes
from scheduling.solver import Effort, _pieces, solve
from tests.scheduling.planning_jobs import at, coat, job_of, with_hours
from tests.scheduling.test_search import process_of

# -- pieces of a clock's table ---------------------------------------------------------


@st.composite
def gates(draw):
    """Tables as clocks make them and wilder: lows and highs in runs, flat or rising."""
    n = draw(st.integers(4, 40))

    def line():
        values = []
        while len(values) < n:
            start = draw(st.integers(0, n + 3))
            rises = draw(st.booleans())
            length = draw(st.integers(1, n))
            values += [start + k * rises for k in range(length)]
        return np.array(values[:n], dtype=np.int64)

    low = line()
    if draw(st.booleans()):
        low = np.maximum.accumulate(low)
    highs = st.sampled_from(["never", "apart", "above"])
    high = {
        "never": np.full(n, n, dtype=np.int64),
        "apart": line(),
        "above": low + draw(st.integers(0, 4)),
    }[draw(highs)]
    test = np.zeros(n, dtype=bool)
    test[draw(st.integers(0, n)) :] = draw(st.booleans())
    return Gate(low=low, high=high, test=test)


@settings(max_examples=400, deadline=None)
@given(gates(), st.data())
def test_pieces_say_slot_by_slot_what_the_table_says(gate, data):
    """Each slot that leaves room lies in one piece, whose lines give its own ends."""
    n = len(gate.low)
    horizon = data.draw(st.one_of(st.just(n), st.integers(1, n + 2)))
    begin = data.draw(st.integers(0, n))
    latest = data.draw(st.sampled_from([None, 1, n // 2 + 1, n + 3]))
    told = {}
    for first, final, low, high, test in _pieces(gate, begin, horizon, latest=latest):
        assert begin <= first <= final
        for slot in range(first, final + 1):
            assert slot not in told
            offset, rises = low
            opens = offset + slot * rises
            shuts = None
            if high is not None:
                offset, rises = high
                shuts = offset + slot * rises
            if shuts is not None and shuts >= horizon:
                shuts = None  # no work stands there: as good as no window
            told[slot] = (opens, shuts, test)
    table = {
        slot: (
            int(gate.low[slot]),
            int(gate.high[slot]) if gate.high[slot] < horizon else None,
            bool(gate.test[slot]),
        )
        for slot in range(begin, min(horizon, n))
        if gate.low[slot] <= gate.high[slot]
        and gate.low[slot] < (horizon if latest is None else latest)
    }
    assert told == table


def test_a_table_that_rises_throughout_is_one_piece():
    n = 50
    slots = np.arange(n)
    gate = Gate(low=slots + 3, high=np.full(n, 200), test=np.zeros(n, dtype=bool))
    assert list(_pieces(gate, 0, 40)) == [(0, 36, (3, True), None, False)]
    shut = Gate(low=np.full(n, 20), high=slots + 5, test=slots >= 30)
    assert list(_pieces(shut, 5, n)) == [
        (15, 29, (20, False), (5, True), False),  # before, it shuts before it opens
        (30, n - 1, (20, False), (5, True), True),
    ]


# -- hands that are alike --------------------------------------------------------------


def pinned(wall, clock, *hands):
    return PinFactory(
        surface=f"wall-{wall}", step="coat", start=at(0, clock), hands=hands
    )


@pytest.mark.parametrize(
    ("hands", "classes"),
    [((), [[0, 1, 2]]), (("hand-2",), [[0, 2], [1]]), (("hand-1",), [[0], [1, 2]])],
)
def test_a_hand_named_in_a_pin_is_a_class_of_its_own(hands, classes):
    job = job_of((coat(),), hands=3, pins=(pinned(1, "10:00", *hands),))
    assert hand_classes(process_of(job)) == classes


def test_hands_differ_by_skills_and_by_hours():
    crew = (
        HandFactory(id="a"),
        HandFactory(id="b", skills=("gilding",)),
        HandFactory(id="c"),
        HandFactory(id="d", away=((at(0, "08:00"), at(0, "09:00")),)),
    )
    assert hand_classes(process_of(job_of((coat(),), hands=crew))) == [
        [0, 2],
        [1],
        [3],
    ]


def test_each_stint_round_a_pin_has_its_hand_from_first_to_last():
    """Five hours of two hands without a gap: the pin leaves only one way to share.

    By counting heads alone the two-hour wall could be named before the long one, and
    nobody would be free for that from its first minute to its last.
    """
    minutes = (120, 120, 60, 150, 150)
    walls = [(coat("coat", length),) for length in minutes]
    job = job_of(*walls, hands=2, pins=(pinned(3, "10:00", "hand-2"),))
    job = with_hours(job, start="08:00", end="13:00", breaks=())
    process = process_of(job)
    solved = solve(process, None, effort=Effort(budget=10.0))
    assert solved.proved
    assert solved.finish_low == 5 * 12
    placing = solved.placing
    assert max(placed.end for placed in placing.values()) == 5 * 12
    for hand in (0, 1):
        mine = sorted((p.start, p.end) for p in placing.values() if hand in p.hands)
        assert all(one[1] <= next_[0] for one, next_ in pairwise(mine))
        assert sum(end - start for start, end in mine) == 5 * 12
    assert placing[2].hands == (1,)
