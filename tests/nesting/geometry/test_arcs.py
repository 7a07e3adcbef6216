import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon

from nesting.geometry.arcs import (
    FLAT,
    arc_angle,
    arc_circle,
    arc_extremes,
    arc_length,
    arc_points,
    arc_segment_area,
    chord_count,
)

coordinates = st.floats(-1000.0, 1000.0)
ends = st.tuples(coordinates, coordinates)
bulges = st.floats(-3.0, 3.0).filter(lambda bulge: abs(bulge) > 1e-3)


@st.composite
def arcs(draw):
    """Start, end and bulge of an arc with a chord of at least a millimetre."""
    start, end = draw(ends), draw(ends)
    return (start, end, draw(bulges)) if math.dist(start, end) > 1.0 else (start, (start[0] + 1.0, start[1]), 0.5)


def point_at(centre, radius, angle):
    return centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)


@pytest.mark.parametrize(
    ("bulge", "degrees"),
    # Source: DXF reference, LWPOLYLINE group 42: the tangent of a quarter of the included angle.
    [(1.0, 180.0), (-1.0, -180.0), (math.tan(math.radians(22.5)), 90.0), (0.0, 0.0), (math.sqrt(3.0), 240.0)],
)
def test_a_bulge_is_the_tangent_of_a_quarter_of_the_angle(bulge, degrees):
    assert math.degrees(arc_angle(bulge)) == pytest.approx(degrees)


def test_a_half_circle_bulges_to_the_right_of_its_chord():
    centre, radius = arc_circle((0.0, 0.0), (10.0, 0.0), 1.0)
    assert centre == pytest.approx((5.0, 0.0))
    assert radius == pytest.approx(5.0)
    assert arc_extremes((0.0, 0.0), (10.0, 0.0), 1.0)[1] == pytest.approx((5.0, -5.0))


def test_the_centre_of_a_quarter_arc_lies_to_the_left():
    # Source: by hand, quarter circle round (0, 0) with radius 10 from (10, 0) to (0, 10).
    centre, radius = arc_circle((10.0, 0.0), (0.0, 10.0), math.tan(math.pi / 8.0))
    assert centre == pytest.approx((0.0, 0.0), abs=1e-12)
    assert radius == pytest.approx(10.0)


@given(arcs())
def test_both_ends_lie_on_the_circle(arc):
    start, end, bulge = arc
    centre, radius = arc_circle(start, end, bulge)
    assert math.dist(centre, start) == pytest.approx(radius, rel=1e-9)
    assert math.dist(centre, end) == pytest.approx(radius, rel=1e-9)


@given(st.floats(0.5, 500.0), st.floats(-3.0, 3.0), st.floats(0.05, 6.0), st.booleans())
def test_length_and_area_are_those_of_a_sector(radius, first, angle, clockwise):
    sweep = -angle if clockwise else angle
    start, end = point_at((3.0, -4.0), radius, first), point_at((3.0, -4.0), radius, first + sweep)
    bulge = math.tan(sweep / 4.0)
    # Source: arc length r·t; circular segment r²/2·(t - sin t).
    assert arc_length(start, end, bulge) == pytest.approx(radius * angle, rel=1e-9)
    expected = radius * radius / 2.0 * (sweep - math.sin(sweep))
    assert arc_segment_area(start, end, bulge) == pytest.approx(expected, rel=1e-6, abs=1e-9 * radius * radius)


def test_a_flat_bulge_is_a_line():
    assert arc_length((0.0, 0.0), (3.0, 4.0), FLAT / 2.0) == pytest.approx(5.0, rel=1e-15)
    assert arc_segment_area((0.0, 0.0), (3.0, 4.0), 0.0) == 0.0
    assert arc_extremes((0.0, 0.0), (3.0, 4.0), 0.0) == []
    assert arc_points((0.0, 0.0), (3.0, 4.0), 0.0, 0.1) == [(0.0, 0.0)]


@given(arcs())
def test_the_bounds_from_the_extremes_are_those_of_a_fine_polyline(arc):
    start, end, bulge = arc
    fine = LineString([*arc_points(start, end, bulge, 1e-4), end])
    points = [start, end, *arc_extremes(start, end, bulge)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    # Source: shapely, bounds of chords within 1e-4 of the arc.
    assert (min(xs), min(ys), max(xs), max(ys)) == pytest.approx(fine.bounds, abs=3e-4)


@given(arcs(), st.floats(0.001, 1.0))
def test_chords_stay_within_their_height_on_the_inner_side(arc, height):
    start, end, bulge = arc
    centre, radius = arc_circle(start, end, bulge)
    points = [*arc_points(start, end, bulge, height), end]
    for a, b in pairwise(points):
        assert math.dist(a, centre) == pytest.approx(radius, rel=1e-9)
        # Source: shapely, distance from the centre to the chord; the arc rises r less that above it.
        rise = radius - LineString([a, b]).distance(Point(centre))
        assert -1e-9 * radius <= rise <= height * (1.0 + 1e-6) + 1e-9 * radius


@given(arcs(), st.floats(0.001, 1.0))
def test_tangents_stay_within_their_height_on_the_outer_side(arc, height):
    start, end, bulge = arc
    centre, radius = arc_circle(start, end, bulge)
    points = [*arc_points(start, end, bulge, height, outside=True), end]
    disc = [point_at(centre, radius, 2.0 * math.pi * k / 360) for k in range(360)]
    inner = Polygon(disc).buffer(-2.0 * radius * math.pi**2 / 360**2)
    assert LineString(points).intersection(inner.buffer(-1e-6 * radius)).length == 0.0
    assert all(math.dist(point, centre) <= radius + height + 1e-9 * radius for point in points)


def test_coarse_chords_still_show_the_shape():
    assert chord_count(1.0, 2.0 * math.pi, 50.0) == 8
    # Source: by hand, one chord of 90 degrees rises r·(1 - cos 45°) = 0.293 r, so 0.3 r would do, but an eighth rules.
    assert chord_count(1.0, math.pi / 2.0, 0.3) == 2
    assert chord_count(1.0, 0.01, 0.3) == 1


@pytest.mark.parametrize("height", [0.001, 0.01, 0.1])
def test_no_more_chords_than_needed(height):
    count = chord_count(100.0, 2.0 * math.pi, height)
    # Source: sagitta of a chord over the angle t: r·(1 - cos(t/2)).
    assert 100.0 * (1.0 - math.cos(math.pi / count)) <= height
    assert 100.0 * (1.0 - math.cos(math.pi / (count - 1))) > height
