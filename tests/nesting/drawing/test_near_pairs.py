import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.drawing import near_pairs as module
from nesting.drawing.near_pairs import BITE, near_pairs
from nesting.drawing.refusals import StopReading

coordinates = st.integers(-60, 60)
boxes = st.lists(st.tuples(coordinates, coordinates, st.integers(0, 30), st.integers(0, 30)), max_size=40)


def pairs(rows, reach):
    bounds = np.array([(x, y, x + w, y + h) for x, y, w, h in rows], dtype=float).reshape(-1, 4)
    return sorted(
        (int(i), int(j)) for ones, others in near_pairs(bounds, reach) for i, j in zip(ones, others, strict=True)
    )


@given(boxes, st.sampled_from([0.0, 0.5, 3.0]))
def test_the_pairs_are_those_of_comparing_all_with_all(rows, reach):
    # Source: two upright boxes come within a reach of each other where they do so in x and in y.
    wanted = []
    for j, (x, y, w, h) in enumerate(rows):
        for i, (u, v, a, b) in enumerate(rows[:j]):
            if x - reach <= u + a and u - reach <= x + w and y - reach <= v + b and v - reach <= y + h:
                wanted.append((i, j))
    assert pairs(rows, reach) == sorted(wanted)


def test_none_and_one_have_no_neighbours():
    assert pairs([], 1.0) == pairs([(0, 0, 5, 5)], 1.0) == []


def test_more_than_one_bite_gives_each_pair_once():
    count = 2 * BITE + 7
    row = [(10 * k, 0, 10, 1) for k in range(count)]  # each touches the next
    assert pairs(row, 0.0) == [(k, k + 1) for k in range(count - 1)]


def test_too_many_pairs_end_in_a_sentence_and_not_in_the_memory(monkeypatch):
    monkeypatch.setattr(module, "MOST_PAIRS", 1000)
    with pytest.raises(StopReading) as stop:
        pairs([(0, 0, 5, 5)] * 100, 0.0)
    assert stop.value.finding.code == "too-crowded"
    assert pairs([(0, 0, 5, 5)] * 31, 0.0) == [(i, j) for i in range(31) for j in range(i + 1, 31)]
