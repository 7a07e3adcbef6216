import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from nesting.drawing import contour_faults as module
from nesting.drawing.contour_faults import TOUCH, ContourFault, contour_faults, fault_findings
from nesting.drawing.spans import arc_spans, spans_of
from nesting.geometry.contour import Contour
from tests.strategies import rings


def box(width, height, x=0.0, y=0.0):
    return spans_of(((x, y, 0), (x + width, y, 0), (x + width, y + height, 0), (x, y + height, 0)), closed=True)


def circle(x, y, radius):
    return arc_spans((x, y), radius, 0.0, 2.0 * math.pi)


def ring(*corners):
    return spans_of(tuple((*corner, 0.0) if len(corner) == 2 else corner for corner in corners), closed=True)


def slot(length, width):
    r = width / 2.0
    return ring((0.0, -r, 0.0), (length, -r, 1.0), (length, r, 0.0), (0.0, r, 1.0))


def pairs(*contours):
    return {(fault.one, fault.other) for fault in contour_faults(contours)}


@pytest.mark.parametrize(
    "contours",
    [
        [],
        [box(60, 40)],
        [circle(0, 0, 5)],
        [slot(40, 10)],
        [box(60, 40), circle(30, 20, 8), box(20, 20, 100, 0)],
        [circle(0, 0, 50), circle(0, 0, 49.99)],
        [box(60, 40), circle(30, 20, 20 - 2 * TOUCH)],
        [slot(40, 10), slot(40, 9.9)],
        # Six decimals round the tangent of an arc away from its line.
        [ring((0, 0), (80, 0, 0.414214), (90, 10), (90, 40), (0, 40))],
    ],
)
def test_contours_that_keep_apart_have_no_fault(contours):
    assert contour_faults(contours) == []


def test_contours_that_cross_are_one_fault_at_a_place_where_they_do():
    (fault,) = contour_faults([box(60, 40), box(60, 40, 30, 20)])
    assert (fault.one, fault.other) == (0, 1)
    assert fault.at in ((60.0, 20.0), (30.0, 40.0))


@pytest.mark.parametrize(
    "other",
    [
        box(20, 40, 60, 0),  # along a whole side
        box(20, 10, 60, 10),  # along a piece of a side
        box(20, 20, 60 + TOUCH / 2, 0),  # nearer than any beam can tell
        ring((60, 20), (80, 10), (80, 30)),  # a corner on a side
        ring((60, 40), (80, 40), (80, 60)),  # corner on corner
        circle(70, 20, 10),  # a circle against a side
        circle(30, 20, 20),  # and from within
        circle(60, 40, 5),  # over a corner
    ],
)
def test_contours_that_touch_are_a_fault(other):
    assert pairs(box(60, 40), other) == {(0, 1)}
    assert pairs(other, box(60, 40)) == {(0, 1)}


def test_each_pair_is_told_once_and_only_those_that_meet():
    contours = [box(60, 40), circle(60, 20, 5), circle(0, 20, 5), circle(30, 20, 5), circle(62, 20, 5)]
    assert pairs(*contours) == {(0, 1), (0, 2), (0, 4), (1, 4)}
    assert len(contour_faults(contours)) == 4


@pytest.mark.parametrize(
    ("contour", "at"),
    [
        (ring((0, 0), (40, 40), (40, 0), (0, 40)), (20, 20)),  # a bow
        (ring((0, 0), (40, 0), (40, 40), (20, 0), (0, 40)), (20, 0)),  # a corner on its own side
        (ring((0, 0), (60, 0), (30, 0), (30, 40)), (60, 0)),  # there and back
        (ring((0, 0), (40, 0), (40, 20, -1.8), (40, 40), (0, 40)), None),  # an arc through the far side
    ],
)
def test_a_contour_that_meets_itself_is_a_fault(contour, at):
    found = contour_faults([box(9, 9, 200, 0), contour])
    assert {(fault.one, fault.other) for fault in found} == {(1, 1)} or at is None
    if at is not None:
        assert min(math.dist(fault.at, at) for fault in found) < 1e-6


def test_an_arc_bulging_through_the_other_side_is_a_fault():
    # Source: by hand, the arc from (40, 5) to (40, 35) with bulge -2.5 reaches 37.5 mm to the left, to x = 2.5.
    deep = ring((5, 0), (40, 0), (40, 5, -2.5), (40, 35), (40, 40), (5, 40))
    assert {(f.one, f.other) for f in contour_faults([deep])} == {(0, 0)}
    shallow = ring((0, 0), (60, 0), (60, 5, -1.0), (60, 35), (60, 40), (0, 40))
    assert contour_faults([shallow]) == []


@given(rings())
@settings(max_examples=40)
def test_a_ring_that_never_crosses_itself_has_no_fault(contour):
    assert contour_faults([spans_of(contour.vertices, closed=True)]) == []


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=4, max_size=8, unique=True))
@settings(max_examples=60)
def test_straight_rings_are_judged_as_shapely_judges_them(corners):
    polygon = Polygon(corners)
    found = contour_faults([ring(*corners)])
    # Source: shapely's own test of validity; on whole numbers nothing is nearly a crossing.
    assert bool(found) == (not polygon.is_valid)


@given(rings(radius=30.0), st.floats(0.0, 110.0), st.floats(0.0, 6.2))
@settings(max_examples=60)
def test_two_rings_are_judged_as_shapely_judges_them(contour, away, angle):
    moved = Contour(tuple((x + away * math.cos(angle), y + away * math.sin(angle), b) for x, y, b in contour.vertices))
    fixed = Contour.circle(0.0, 0.0, 25.0)
    one, other = (Polygon(each.polygon(1e-5)) for each in (fixed, moved))
    apart = one.exterior.distance(other.exterior)
    if 0.0 < apart < 0.01:
        return  # too near to say for chords
    found = contour_faults([spans_of(each.vertices, closed=True) for each in (fixed, moved)])
    assert bool(found) == (apart == 0.0)


def test_the_search_ends_where_nobody_reads_on(monkeypatch):
    monkeypatch.setattr(module, "MOST_FAULTS", 7)
    comb = [circle(3.0 * k, 0, 2) for k in range(100)]
    assert 7 <= len(contour_faults(comb)) < 20


def test_the_sentences_name_both_sizes_and_the_place():
    contours = [box(60, 40), circle(60, 20, 5)]
    crossing, itself = fault_findings([ContourFault(0, 1, (60.0, 15.0)), ContourFault(0, 0, (1.0, 2.0))], contours)
    assert (crossing.code, crossing.at, crossing.blocks) == ("crossing-contours", (60.0, 15.0), True)
    assert "contours of 60.0 x 40.0 mm and 10.0 x 10.0 mm cross or touch each other at 60.0, 15.0" in crossing.message
    assert (itself.code, itself.at) == ("self-crossing", (1.0, 2.0))
    assert "contour of 60.0 x 40.0 mm crosses or touches itself at 1.0, 2.0" in itself.message
