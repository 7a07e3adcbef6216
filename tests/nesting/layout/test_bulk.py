"""How much of a sheet a part takes up: closed formulas for rectangles and for a bent arm."""

import math

import pytest

from nesting.geometry.contour import Bounds
from nesting.layout.bulk import HULL_SHARE, bulk_of, room_of
from tests.shop_parts import angle, rectangle


def test_a_rectangle_takes_half_a_gap_all_round():
    assert bulk_of(rectangle("a", 200.0, 100.0), 5.0) == pytest.approx(205.0 * 105.0)
    assert bulk_of(rectangle("a", 200.0, 100.0), 0.0) == pytest.approx(200.0 * 100.0)


def test_rectangles_that_tile_a_sheet_have_just_the_bulk_that_it_offers():
    # 4 x 3 rectangles of 100 x 80 mm with gaps of 5 mm take 415 x 250 mm.
    room = room_of(Bounds(10.0, 10.0, 425.0, 260.0), 5.0)
    assert 12 * bulk_of(rectangle("a", 100.0, 80.0), 5.0) == pytest.approx(room)


def test_a_bent_arm_takes_some_of_the_room_in_its_bend():
    arm = angle("arm", 200.0, 200.0, 20.0, fillet=10.0)
    own, hull = arm.outer.area, 200.0**2 - 180.0**2 / 2.0
    bulk = bulk_of(arm, 0.0)
    assert bulk == pytest.approx((1.0 - HULL_SHARE) * own + HULL_SHARE * hull, rel=1e-3)
    assert own < bulk < hull
    assert math.isclose(bulk_of(arm, 5.0), bulk, rel_tol=0.5)
