from itertools import combinations_with_replacement

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.layout.bar_order import BarOrder
from nesting.layout.bar_way import Lengths, best_patterns
from nesting.layout.joints import Joints
from nesting.model.nest import BarRules
from nesting.model.stock import Bar
from tests.mitred import BOX, brace, frame_side, mitred, mitred_job


def lengths_of(*parts, room=2000.0, gap=5.0):
    job = mitred_job(*((part, 9) for part in parts), rules=BarRules(gap), bars=[Bar("bar", room)])
    joints = Joints(job)
    return Lengths(job, joints), BarOrder(job, joints), job


@given(
    st.lists(st.floats(300.0, 900.0), min_size=3, max_size=3),
    st.lists(st.floats(0.1, 9.0), min_size=3, max_size=3),
    st.floats(900.0, 2500.0),
)
@settings(max_examples=20, deadline=None)
def test_no_filling_of_a_bar_is_worth_more_than_the_pattern(long, prices, room):
    long = [round(each, 2) for each in long]
    parts = (
        frame_side("a", length=long[0]),
        brace("b", length=long[1], angle=30.0),
        mitred("c", BOX, long[2], (45.0, 0.0)),
    )
    lengths, order, _ = lengths_of(*parts, room=round(room, 2))
    price = dict(zip("abc", prices, strict=True))
    ((worth, patterns),) = best_patterns(
        lengths, np.array([price[i.names[0][0]] for i in lengths.items]), lengths.rooms
    )
    # Source: every multiset of up to eight pieces, whose length is worked out by the order that takes least.
    best = 0.0
    for count in range(1, 9):
        for names in combinations_with_replacement("abc", count):
            # What differs by less than the units that lengths are rounded to may go either way.
            if order.used(names) <= room - 0.02 * count:
                best = max(best, sum(price[name] for name in names))
    assert worth >= best - 1e-9
    for times in patterns:
        names = [item.names[0][0] for item, n in zip(lengths.items, times, strict=True) for _ in range(round(n))]
        assert order.used(names) <= room + 1e-3
    top = patterns[0] if patterns else np.zeros(3)
    assert sum(price[i.names[0][0]] * n for i, n in zip(lengths.items, top, strict=True)) == pytest.approx(worth)


def test_loosely_rounded_lengths_are_never_longer_nor_savings_smaller():
    parts = [
        frame_side("a", length=500.123, angle=31.7),
        brace("b", length=500.1239, angle=12.3),
        mitred("c", BOX, 500.129),
    ]
    lengths, *_ = lengths_of(*parts, room=2000.007, gap=3.333)
    loose = lengths.rounded_loosely
    assert [item.names for item in loose.items] == [item.names for item in lengths.items]
    assert all(a.length <= b.length for a, b in zip(loose.items, lengths.items, strict=True))
    assert (loose.saved >= lengths.saved).all()
    assert loose.rooms[0] >= lengths.rooms[0]


def test_parts_that_are_alike_for_a_bar_are_one_item_and_get_their_names_back():
    lengths, *_ = lengths_of(frame_side("a"), frame_side("b"), brace("c"))
    assert sorted(item.names for item in lengths.items) == [(("a", 9), ("b", 9)), (("c", 9),)]
    k = next(k for k, item in enumerate(lengths.items) if len(item.names) == 2)
    times = np.zeros(2)
    times[k] = 4.0
    shared = list(lengths.names_in_turn().shared_out(times, 4))
    assert sum(each * names.count("a") for names, each in shared) == 9
    assert sum(each * names.count("b") for names, each in shared) == 7
    assert sum(each for _, each in shared) == 4


def test_a_bar_that_takes_nothing_is_worth_nothing():
    lengths, *_ = lengths_of(frame_side(length=900.0), room=800.0)
    assert best_patterns(lengths, np.array([1.0]), lengths.rooms) == [(0.0, [])]
