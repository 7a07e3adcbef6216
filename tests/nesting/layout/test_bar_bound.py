"""What is said of bars that no nest can do without."""

from dataclasses import replace

import pytest

from nesting.layout.bar_bound import bar_bound, left_to_win
from nesting.model.nest import BarLayout, BarNest, Piece, Unplaced
from tests.shop_parts import bar_job


def test_a_cost_is_so_many_bars_of_one_kind():
    # Source: by hand: three bars of 6000 mm cost 18000.
    bound = bar_bound(bar_job((2000.0, 9)), [17_999.0, 18_000.0])
    assert (bound.cost, bound.count, bound.last, bound.taken) == (18_000.0, 3, 0.0, 18_000.0)


def test_of_several_kinds_the_dearest_is_counted():
    # Source: by hand: 9001 is more than one bar of 9000, and two of them would pay for it.
    job = bar_job((2000.0, 4), stock=((6000.0, None), (9000.0, None)))
    assert bar_bound(job, [9001.0]).count == 2
    assert bar_bound(job, [9000.0]).count == 1


def test_where_nothing_is_known_nothing_is_said():
    assert bar_bound(bar_job((2000.0, 4)), []) is None
    assert bar_bound(bar_job((2000.0, 0)), [6000.0]) is None
    assert bar_bound(bar_job((2000.0, 4), stock=()), [0.0]) is None


def test_what_is_left_to_win_is_a_share_of_the_cost():
    # Source: by hand: four pieces of 1500 mm go on one bar of 6000 mm; on two, half could be saved.
    job = bar_job((1500.0, 4))
    pieces = tuple(Piece("piece 0", 1500.0 * k) for k in range(2))
    nest = BarNest(job, (BarLayout("bar 0", pieces, 2),), bound=bar_bound(job, [6000.0]))
    assert left_to_win(nest) == pytest.approx(0.5)
    assert left_to_win(replace(nest, bound=None)) is None
    assert left_to_win(replace(nest, unplaced=(Unplaced("piece 0", 1, "no room"),))) is None
