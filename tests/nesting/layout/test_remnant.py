"""What is left of a sheet or bar and worth keeping."""

import pytest

from nesting.layout.remnant import bar_remnant, sheet_remnant
from nesting.model.nest import BarLayout, BarNest, Piece, Placement, SheetLayout, SheetNest
from nesting.model.stock import Sheet
from tests.shop_parts import L_REMNANT, bar_job, rectangle, sheet_job


def left_of(*places, part=None, stock=None, **least):
    part = part or rectangle("a", 100.0, 200.0)
    job = sheet_job((part, len(places)), stock=stock)
    layout = SheetLayout(job.stock[0].name, tuple(Placement(part.name, x, y) for x, y in places))
    found = sheet_remnant(SheetNest(job, (layout,)), 0, **least)
    return None if found is None else (found.bounds.left, found.bounds.bottom, found.bounds.width, found.bounds.height)


def test_the_rest_of_a_sheet_begins_a_gap_behind_the_last_part():
    # Source: by hand: parts to 110 mm, a gap of 5 mm, and 885 of the 1000 mm are left, over the whole width.
    assert left_of((10.0, 10.0)) == (115.0, 0.0, 885.0, 500.0)


def test_the_larger_of_the_rests_beside_and_above_is_kept():
    wide = rectangle("a", 900.0, 100.0)
    # Source: by hand: beside it 85 x 500 mm are left, above it 1000 x 385 mm.
    assert left_of((10.0, 10.0), part=wide) == (0.0, 115.0, 1000.0, 385.0)


def test_an_empty_sheet_is_left_whole():
    assert left_of() == (0.0, 0.0, 1000.0, 500.0)


@pytest.mark.parametrize(("least", "is_kept"), [(885.0, False), (500.0, True), (500.1, False)])
def test_a_narrow_rest_is_scrap(least, is_kept):
    assert (left_of((10.0, 10.0), least_side=least) is not None) is is_kept


def test_a_small_rest_is_scrap():
    assert left_of((10.0, 10.0), least_area=442_500.0) is not None
    assert left_of((10.0, 10.0), least_area=442_501.0) is None


def test_of_an_l_the_largest_rectangle_right_of_its_parts_or_above_them_is_kept():
    stock = [Sheet("remnant", L_REMNANT)]
    # Source: by hand: an L 300 wide above y = 400 and 400 high beyond x = 300. Right of 115 mm it holds
    # 785 x 400 mm, above 215 mm 300 x 585 mm.
    assert left_of((10.0, 10.0), stock=stock) == pytest.approx((115.0, 0.0, 785.0, 400.0))


def bar_left(*pieces, **least):
    job = bar_job((1000.0, len(pieces)), gap=5.0, dead_end=300.0)
    return bar_remnant(BarNest(job, (BarLayout("bar 0", tuple(Piece("piece 0", x) for x in pieces)),)), 0, **least)


def test_the_rest_of_a_bar_has_the_dead_end_in_it():
    # Source: by hand: 6000 - 2005 - 5.
    assert bar_left(0.0, 1005.0) == 3990.0
    assert bar_left() == 6000.0


def test_a_short_rest_of_a_bar_is_scrap():
    assert bar_left(0.0, least_length=4995.0) == 4995.0
    assert bar_left(0.0, least_length=4995.1) is None
