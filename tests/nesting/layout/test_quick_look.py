"""The look at one sheet before more is built on it: gap, edge and overlap to a hundredth of a millimetre."""

import pytest

from nesting.geometry.contour import Bounds
from nesting.layout.quick_look import QuickLook, span
from nesting.model.nest import Placement
from tests.shop_parts import flange, rectangle

PARTS = {"a": rectangle("a", 100.0, 50.0), "ring": flange("ring", 80.0, 30.0)}
SHEET = Bounds(10.0, 10.0, 310.0, 160.0)


def look(*placements, gap=5.0):
    return QuickLook(PARTS, gap).is_right(placements, SHEET)


def test_nothing_is_right():
    assert look()


@pytest.mark.parametrize(
    ("distance", "right"), [(5.0, True), (5.01, True), (4.99, False), (0.0, False), (-20.0, False)]
)
def test_two_beside_each_other_keep_the_gap(distance, right):
    assert look(Placement("a", 10.0, 10.0), Placement("a", 110.0 + distance, 10.0)) is right


@pytest.mark.parametrize(("distance", "right"), [(0.0, True), (0.01, True), (-0.01, False)])
def test_without_a_gap_they_may_touch(distance, right):
    assert look(Placement("a", 10.0, 10.0), Placement("a", 110.0 + distance, 10.0), gap=0.0) is right


@pytest.mark.parametrize(("x", "y"), [(9.99, 10.0), (10.0, 9.99), (210.01, 10.0), (10.0, 110.01)])
def test_none_leaves_the_usable_rectangle(x, y):
    assert not look(Placement("a", x, y))
    assert look(Placement("a", min(max(x, 10.0), 210.0), min(max(y, 10.0), 110.0)))


def test_turned_and_mirrored_parts_lie_where_they_are_put():
    turned = Placement("a", 60.0, 10.0, 90.0)
    assert look(turned)
    assert not look(Placement("a", 60.0, 10.0, 270.0))  # it hangs below the sheet
    assert look(Placement("a", 110.0, 10.0, 0.0, True))
    [bounds] = QuickLook(PARTS, 5.0).bounds([turned])
    assert (bounds.left, bounds.bottom, bounds.right, bounds.top) == pytest.approx((10.0, 10.0, 60.0, 110.0))


def test_span_reaches_from_the_left_to_the_furthest():
    assert span([Bounds(10.0, 0.0, 60.0, 5.0), Bounds(30.0, 0.0, 45.0, 5.0)], 10.0) == 50.0
