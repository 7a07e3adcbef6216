import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.affinity import rotate
from shapely.geometry import Polygon, box

from nesting.export.label_room import LabelRoom
from nesting.geometry.contour import Contour
from nesting.model.part import SheetPart
from tests.strategies import sheet_parts


def metal(part):
    """The part as a fine polygon of our own making, a micrometre larger all round."""
    whole = Polygon(part.outer.polygon(1e-3))
    for hole in part.holes:
        whole = whole.difference(Polygon(hole.polygon(1e-3)))
    return whole.buffer(2e-3)


def label_box(spot, aspect):
    half = spot.height * aspect / 2, spot.height / 2
    flat = box(spot.x - half[0], spot.y - half[1], spot.x + half[0], spot.y + half[1])
    return rotate(flat, spot.turn, origin=(spot.x, spot.y))


@given(sheet_parts(name="plate", marks=False), st.floats(0.5, 30.0))
def test_labels_lie_on_metal(part, aspect):
    room = LabelRoom(part)
    widest = room.widest(aspect, 20.0, (0.0, 90.0))
    assert 0 < widest.height <= 20.0
    assert metal(part).covers(label_box(widest, aspect))
    for turn in (0.0, 33.0, 90.0):
        spot = room.in_circle(aspect, 20.0)
        turned = rotate(label_box(spot, aspect), turn, origin=(spot.x, spot.y))
        assert metal(part).covers(turned)


def test_a_label_fills_a_strap_along_its_length():
    room = LabelRoom(SheetPart("strap", Contour.rectangle(20, 400)))
    spot = room.widest(10.0, 100.0, (0.0, 90.0))
    assert spot.turn == 90.0
    # Source: by hand, a box 10 times as long as wide in 400 x 20 is held by the width: 20 tall, 200 long.
    assert spot.height == pytest.approx(20.0, rel=1e-3)


def test_a_circle_at_any_turn_is_held_by_the_largest_circle_in_the_part():
    room = LabelRoom(SheetPart("disc", Contour.circle(50, 60, 10)))
    spot = room.in_circle(1.0, 100.0)
    assert math.dist((spot.x, spot.y), (50, 60)) < 0.2
    # Source: the square in a circle of diameter 20 has a side of 20 / sqrt(2).
    assert spot.height == pytest.approx(20 / math.sqrt(2), rel=0.01)


def test_the_tallest_height_is_not_passed():
    assert LabelRoom(SheetPart("plate", Contour.rectangle(900, 900))).widest(3.0, 15.0, (0.0,)).height == 15.0


def test_a_part_that_crosses_itself_still_has_a_label():
    bow_tie = SheetPart("bow tie", Contour(((0, 0, 0), (60, 40, 0), (60, 0, 0), (0, 30, 0))))
    assert LabelRoom(bow_tie).widest(3.0, 15.0, (0.0,)).height > 0


def test_a_part_eaten_up_by_its_hole_still_has_a_label():
    nothing_left = SheetPart("frame", Contour.rectangle(10, 10), (Contour.rectangle(12, 12, -1, -1),))
    assert LabelRoom(nothing_left).widest(3.0, 15.0, (0.0,)).height > 0
