"""Which of two answers is better, and how far placements reach."""

import math

import pytest

from nesting.layout.score import Extents, Score, score_bars, score_sheets
from nesting.model.nest import BarLayout, BarNest, Piece, Placement, SheetLayout, SheetNest
from tests.shop_parts import bar_job, rectangle, sheet_job, square


def test_more_laid_goes_before_cheaper_and_cheaper_before_shorter():
    best = Score(10, 100.0, 500.0)
    assert best.is_better_than(None)
    assert best.is_better_than(Score(9, 1.0, 1.0))
    assert best.is_better_than(Score(10, 100.1, 1.0))
    assert best.is_better_than(Score(10, 100.0, 500.1))
    assert not best.is_better_than(best)


def test_float_noise_is_no_progress():
    assert not Score(1, 100.0 - 1e-9, 500.0).is_better_than(Score(1, 100.0, 500.0))
    assert not Score(1, 100.0, 500.0 - 1e-9).is_better_than(Score(1, 100.0, 500.0))


@pytest.mark.parametrize(("turn", "right", "top"), [(0.0, 110.0, 60.0), (90.0, 10.0, 120.0), (180.0, 10.0, 20.0)])
def test_reach_follows_the_turn(turn, right, top):
    # Source: by hand: 100 x 40 turned about its lower left corner, which lies at (10, 20).
    job = sheet_job((rectangle("a", 100.0, 40.0), 1))
    layout = SheetLayout("1000x500", (Placement("a", 10.0, 20.0, turn),))
    extents = Extents(job)
    assert (extents.right(layout), extents.top(layout)) == (pytest.approx(right), pytest.approx(top))


def test_an_empty_layout_reaches_nowhere():
    assert Extents(sheet_job()).right(SheetLayout("1000x500", ())) == -math.inf


def test_the_last_sheet_is_the_one_least_taken_up_and_copies_cost_each():
    job = sheet_job((square("a", 100.0), 5))
    full = SheetLayout("1000x500", tuple(Placement("a", 10.0 + 105.0 * i, 10.0) for i in range(2)), copies=2)
    last = SheetLayout("1000x500", (Placement("a", 10.0, 10.0),))
    # Source: by hand: three sheets at their area; the last is taken up for 100 mm beyond its margin of 10 mm.
    assert score_sheets(SheetNest(job, (full, last)), Extents(job)) == Score(5, 1_500_000.0, 100.0)


def test_bars_are_scored_alike():
    job = bar_job((1000.0, 3), stock=[(6000.0, None, 50.0)])
    first = BarLayout("bar 0", (Piece("piece 0", 0.0), Piece("piece 0", 1005.0)))
    last = BarLayout("bar 0", (Piece("piece 0", 30.0),))
    assert score_bars(BarNest(job, (first, last))) == Score(3, 100.0, 1030.0)
