"""Whole tins: never short, few, and little over."""

import time
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.mixing import L_PER_US_GALLON
from scheduling.tins import whole_tins


def counts(need_l, *sizes_l):
    return {tin.size_l: tin.count for tin in whole_tins(need_l, sizes_l)}


@pytest.mark.parametrize(
    ("need_l", "sizes", "expected"),
    [
        (6.4, (1, 2.5, 5), {5: 1, 1: 2}),  # 7.0 for five tins of together 6.5
        (6.0, (1, 2.5, 5), {5: 1, 1: 1}),
        (0.1, (0.75,), {0.75: 1}),
        (5.0, (5, 2.5), {5: 1}),
        (9.0, (5, 3), {3: 3}),  # nothing over, where two of the largest leave one
        (9.5, (5, 3), {5: 2}),
        (103.0, (5, 2.5, 1), {5: 21}),
    ],
)
def test_few_tins_and_little_over(need_l, sizes, expected):
    assert counts(need_l, *sizes) == expected


def test_no_sizes_and_no_need_buy_nothing():
    assert counts(3.0) == {}
    assert counts(0.0, 2.5) == {}


def test_gallons_and_quarts_are_never_short():
    gallon, quart = L_PER_US_GALLON, L_PER_US_GALLON / 4
    assert counts(gallon * 1.25 - 0.01, gallon, quart) == {gallon: 1, quart: 1}
    found = counts(gallon * 2.5, gallon, quart)
    assert sum(size * count for size, count in found.items()) >= gallon * 2.5


sizes = st.lists(
    st.integers(1, 40).map(lambda tenths: tenths / 10), min_size=1, max_size=3
)


@given(st.integers(1, 90), sizes)
def test_it_is_as_good_as_trying_every_count(tenths, sizes_l):
    found = counts(tenths / 10, *sizes_l)
    bought = round(sum(size * count for size, count in found.items()) * 10)
    units = sorted({round(size * 10) for size in sizes_l})
    ways = (range(tenths // unit + 2) for unit in units)
    totals = [
        (sum(n * unit for n, unit in zip(ns, units, strict=True)), sum(ns))
        for ns in product(*ways)
    ]
    enough = [total for total in totals if total[0] >= tenths]
    least = min(enough)[0]
    spare = min(tenths // 10, units[-1])  # in whole tenths of a litre
    few = [(count, total) for total, count in enough if total <= least + spare]
    assert (sum(found.values()), bought) == min(few)


def test_odd_sizes_of_a_great_need_take_no_time():
    start = time.perf_counter()
    found = counts(1e6, 59.999, 0.051, 0.053, 0.946, 3.785, 18.927)
    assert time.perf_counter() - start < 1.0
    assert sum(size * count for size, count in found.items()) >= 1e6
