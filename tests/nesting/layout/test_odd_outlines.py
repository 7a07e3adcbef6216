"""Whether a part has room on a remnant of odd outline: a no is always true."""

import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from nesting.geometry.contour import Contour
from nesting.geometry.placing import placed
from nesting.layout.odd_outlines import FEW_CORNERS, MOST_MOVED, _light, may_have_room
from nesting.model.part import QUARTER_TURNS, SheetPart
from nesting.model.stock import Sheet
from tests.shop_parts import L_REMNANT, QUARTER, angle, flange, rectangle, square, triangle
from tests.strategies import rings

REMNANT = Sheet("rest", L_REMNANT, 1, is_remnant=True)


def has_room(part, turns=QUARTER_TURNS, margin=10.0, mirror=False):
    return may_have_room(part, turns, REMNANT, margin, mirror=mirror)


@pytest.mark.parametrize(
    ("part", "has"),
    [
        (rectangle("a", 880.0, 380.0), True),  # fills the lower leg to its margin
        (rectangle("a", 880.0, 380.2), False),
        (rectangle("a", 880.2, 380.0), False),
        (rectangle("a", 280.0, 780.0), True),  # fills the upper leg
        (rectangle("a", 780.0, 280.0), True),  # turned by 90°
        (square("a", 400.0), False),  # over the inner corner in any turn
        (square("a", 380.0), True),
        (angle("a", 880.0, 780.0, 280.0), True),  # lies round the inner corner
        (angle("a", 880.0, 780.0, 280.2), False),  # fills the upper leg and more
        (square("a", 385.0), False),  # covers less than either leg and goes into neither
    ],
)
def test_room_on_an_l_shaped_remnant(part, has):
    assert has_room(part) is has


def test_an_inner_corner_is_kept_off_in_a_circle_and_not_squarely():
    # By hand: this part fills the remnant to its margin, and goes round the inner corner (300, 400) in an arc of 10 mm.
    inner = ((300, 390, -QUARTER), (290, 400, 0))
    ring = ((10, 10, 0), (890, 10, 0), (890, 390, 0), *inner, (290, 790, 0), (10, 790, 0))
    assert has_room(SheetPart("a", Contour(ring)), (0.0,))


def test_a_disc_that_just_fits_a_round_remnant_has_room():
    disc = Sheet("disc", Contour.circle(500.0, 500.0, 300.0), is_remnant=True)
    assert may_have_room(flange("f", 580.0, 100.0), (0.0, 17.0), disc, 10.0, mirror=False)


def test_only_allowed_turns_count():
    assert has_room(rectangle("a", 400.0, 300.0), (0.0,))
    assert not has_room(rectangle("a", 880.0, 300.0), (90.0, 270.0))
    assert has_room(angle("a", 880.0, 780.0, 280.0), (0.0,))
    assert not has_room(angle("a", 880.0, 780.0, 280.0), (90.0, 180.0, 270.0))


def test_a_part_that_fits_mirrored_only_needs_leave_to_be_mirrored():
    other_way = SheetPart("a", placed(angle("a", 880.0, 780.0, 280.0).outer, 0.0, 0.0, mirrored=True))
    assert not has_room(other_way, (0.0,))
    assert has_room(other_way, (0.0,), mirror=True)


def test_nothing_has_room_in_the_margin():
    assert not has_room(square("a", 1.0), margin=400.0)


def test_a_remnant_that_its_margin_cuts_in_two_is_two_rooms():
    # A dumb-bell: two squares of 400 mm joined by a neck 50 mm wide.
    neck = ((400, 175, 0), (600, 175, 0))
    bell = ((0, 0, 0), (400, 0, 0), *neck, (600, 0, 0), (1000, 0, 0), (1000, 400, 0), (600, 400, 0))
    sheet = Sheet("bell", Contour((*bell, (600, 225, 0), (400, 225, 0), (400, 400, 0), (0, 400, 0))))
    assert may_have_room(rectangle("a", 300.0, 300.0), (0.0,), sheet, 30.0, mirror=False)
    assert not may_have_room(rectangle("a", 400.0, 20.0), (0.0,), sheet, 30.0, mirror=False)
    assert may_have_room(rectangle("a", 980.0, 20.0), (0.0,), sheet, 10.0, mirror=False)


@given(rings(), st.floats(0.0, 360.0), st.floats(0.0, 360.0), st.integers(0, 3), st.floats(0.0, 30.0))
def test_a_part_that_a_remnant_was_made_round_always_has_room(ring, turn, way, corner, margin):
    """The remnant is the part with its margin, and a leg going off in some direction."""
    part = SheetPart("a", ring)
    there = Polygon(placed(ring, 700.0, 600.0, turn).polygon(0.01, "outwards"))
    leg = shapely.box(0.0, -30.0, 400.0, 30.0 + 20.0 * corner)
    leg = shapely.affinity.translate(shapely.affinity.rotate(leg, way, origin=(0, 0)), 700.0, 600.0)
    outline = shapely.union_all([there.buffer(margin + 0.01, join_style="mitre"), leg])
    sheet = Sheet("rest", Contour(tuple((x, y, 0.0) for x, y in outline.exterior.coords[:-1])), is_remnant=True)
    assert may_have_room(part, (turn,), sheet, margin, mirror=False)


def rough(radius, count):
    """A ring with a fine tooth at every other corner."""
    angles = [2.0 * math.pi * k / count for k in range(count)]
    reach = [radius * (1.0 - 0.004 * (k % 2)) for k in range(count)]
    return [(r * math.cos(a), r * math.sin(a)) for r, a in zip(reach, angles, strict=True)]


def test_rough_outlines_are_judged_by_few_corners_on_the_safe_side():
    shape = Polygon(rough(400.0, 2000))
    larger, smaller = _light(shape, 1.0), _light(shape, -1.0)
    assert max(len(each.exterior.coords) - 1 for each in (larger, smaller)) <= FEW_CORNERS
    assert larger.covers(shape)
    assert shape.covers(smaller)
    assert larger.difference(shape.buffer(2.0 * MOST_MOVED)).is_empty


def test_an_outline_that_cannot_be_made_light_is_not_judged():
    teeth = [(x, 0.0 if k % 2 else 200.0) for k, x in enumerate(range(0, 3000, 50))]
    comb = Polygon([*teeth, (3000.0, 900.0), (-50.0, 900.0)])
    assert len(comb.exterior.coords) > FEW_CORNERS
    assert _light(comb, -1.0) is None
    sheet = Sheet("comb", Contour(tuple((x, y, 0.0) for x, y in comb.exterior.coords[:-1])))
    assert may_have_room(rectangle("a", 3000.0, 850.0), (0.0,), sheet, 0.0, mirror=False)


def test_round_parts_and_remnants_are_told_apart():
    disc = Sheet("disc", Contour.circle(500.0, 500.0, 300.0), is_remnant=True)
    assert may_have_room(flange("f", 560.0, 100.0), (0.0,), disc, 10.0, mirror=False)
    assert not may_have_room(square("a", 560.0), (0.0,), disc, 10.0, mirror=False)
    assert not may_have_room(triangle("t", 500.0, 500.0), (0.0,), disc, 10.0, mirror=False)
