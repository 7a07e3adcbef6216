import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.geometry.contour import Contour
from nesting.geometry.ring_walk import RingWalk
from tests.mitred import SECTIONS

CIRCLE = RingWalk(Contour.circle(3.0, 4.0, 10.0))
SQUARE = RingWalk(Contour.rectangle(20.0, 10.0))


def test_a_rectangle_is_walked_along_its_sides():
    # Source: by hand: from the lower left corner, 20 to the right, 10 up, 20 to the left, 10 down.
    assert [SQUARE.point_at(s) for s in (0.0, 5.0, 25.0, 40.0, 59.0, 65.0, -1.0)] == [
        (0.0, 0.0), (5.0, 0.0), (20.0, 5.0), (10.0, 10.0), (0.0, 1.0), (5.0, 0.0), (0.0, 1.0)
    ]  # fmt: skip
    assert SQUARE.way_to((20.0, 5.0)) == (25.0, 0.0)
    assert SQUARE.way_to((22.0, 5.0)) == (25.0, 2.0)


def test_a_circle_is_walked_along_its_arc():
    # Source: by hand: a quarter of the way round from the right is the top.
    assert CIRCLE.girth == pytest.approx(20.0 * math.pi)
    assert CIRCLE.point_at(5.0 * math.pi) == pytest.approx((3.0, 14.0))
    assert CIRCLE.way_to((3.0, -90.0)) == pytest.approx((15.0 * math.pi, 84.0))


@pytest.mark.parametrize("section", SECTIONS, ids=str)
@given(share=st.floats(0.0, 1.0, exclude_max=True))
def test_the_way_to_a_point_on_a_ring_leads_there(section, share):
    walk = RingWalk(section.outlines[0])
    point = walk.point_at(share * walk.girth)
    s, off = walk.way_to(point)
    assert off < 1e-9
    assert walk.point_at(s) == pytest.approx(point, abs=1e-9)


@pytest.mark.parametrize("section", SECTIONS, ids=str)
@given(angle=st.floats(0.0, 360.0), size=st.floats(0.0, 5.0))
def test_no_point_of_a_ring_reaches_further_than_its_reach(section, angle, size):
    walk = RingWalk(section.outlines[0])
    x, y = size * math.cos(math.radians(angle)), size * math.sin(math.radians(angle))
    furthest = max(x * a + y * b for a, b in (walk.point_at(walk.girth * k / 2000) for k in range(2000)))
    # Points 0.3 mm apart on an arc of a millimetre or more miss its furthest one by a hundredth at most.
    assert furthest - 1e-9 <= walk.reach(x, y) <= furthest + 0.1 * size + 1e-9


def test_the_reach_of_a_circle_is_its_radius_from_its_middle():
    assert CIRCLE.reach(0.6, 0.8) == pytest.approx(10.0 + 0.6 * 3.0 + 0.8 * 4.0)
    assert SQUARE.reach(0.0, 0.0) == 0.0
