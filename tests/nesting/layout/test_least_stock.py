"""The cheapest sheets for a stated room, held to every choice tried one by one."""

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.layout.least_stock import Kind, fewest, least_cost, least_share_cost, most_room

LARGE, SMALL, REMNANT = Kind(100.0, 100.0), Kind(60.0, 60.0), Kind(30.0, 5.0, 1.0)


def test_one_kind_is_bought_in_whole_sheets():
    assert least_cost([LARGE], 201.0) == 300.0
    assert least_cost([LARGE], 200.0) == 200.0
    assert fewest([LARGE], 201.0) == 3
    assert least_share_cost([LARGE], 201.0) == pytest.approx(201.0)


def test_two_sizes_are_mixed_where_that_is_cheaper():
    # Source: by hand: 120 is two small ones, 160 one of each, 230 one large with three small or two large and a small.
    assert [least_cost([LARGE, SMALL], need) for need in (120.0, 160.0, 161.0, 230.0)] == [120.0, 160.0, 180.0, 240.0]


def test_a_remnant_goes_first_and_only_once():
    assert least_cost([LARGE, REMNANT], 130.0) == 105.0
    assert least_cost([LARGE, REMNANT], 30.0) == 5.0
    assert fewest([LARGE, REMNANT], 230.0) == 3


def test_too_little_stock_has_no_cost():
    assert least_cost([REMNANT], 31.0) is None
    assert fewest([REMNANT], 31.0) is None
    assert least_share_cost([REMNANT], 31.0) is None


def test_the_most_room_for_money_takes_the_cheapest_kinds_first():
    assert most_room([LARGE, REMNANT], 105.0) == pytest.approx(130.0)
    assert most_room([Kind(10.0, 0.0)], 0.0) == math.inf
    assert most_room([Kind(10.0, 0.0, 2.0), Kind(50.0, 1.0, 0.0)], 7.0) == 20.0


kinds = st.lists(
    st.builds(Kind, st.integers(1, 40).map(float), st.integers(0, 40).map(float), st.integers(0, 3).map(float)),
    min_size=1,
    max_size=4,
)


@given(kinds, st.integers(1, 200))
@settings(max_examples=150)
def test_no_choice_is_cheaper_or_has_fewer_sheets_and_one_comes_to_it(some, need):
    choices = [
        counts
        for counts in itertools.product(*(range(int(kind.count) + 1) for kind in some))
        if sum(n * kind.room for n, kind in zip(counts, some, strict=True)) >= need
    ]
    costs = [sum(n * kind.price for n, kind in zip(counts, some, strict=True)) for counts in choices]
    assert least_cost(some, need) == (min(costs) if choices else None)
    assert fewest(some, need) == min((sum(counts) for counts in choices), default=None)
    for cost, counts in zip(costs, choices, strict=True):
        room = sum(n * kind.room for n, kind in zip(counts, some, strict=True))
        assert most_room(some, cost) >= room * (1.0 - 1e-9)
