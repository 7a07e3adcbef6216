"""Curves as lines and arcs: within 0.01 mm of the curve, in its direction, and the very arc where it is one."""

import itertools
import math

import numpy as np
import pytest
import shapely
from ezdxf.math import rational_bspline_from_arc
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ellipe

from nesting.drawing.biarcs import CURVE, EllipseCurve, curve_spans, ellipse_spans, spline_spans
from nesting.drawing.nurbs import SplineCurve
from nesting.drawing.spans import distance_to, span_length, start_direction, vertices_of
from nesting.errors import BadValue
from nesting.geometry.arcs import arc_circle
from nesting.geometry.contour import Contour
from tests.nesting.drawing.test_nurbs import curves


def furthest(curve, first, last, spans, count=600):
    """The greatest distance of points of the curve from the spans."""
    points, _ = curve.points(np.linspace(first, last, count))
    return max(min(distance_to(span, tuple(point)) for span in spans) for point in points)


def follow_each_other(spans):
    return all(a.end == b.start for a, b in itertools.pairwise(spans))


@given(
    st.floats(0.5, 900.0), st.floats(0.05, 1.0), st.floats(0.0, math.pi), st.floats(-7.0, 7.0), st.floats(-6.28, 6.28)
)
def test_an_arc_of_an_ellipse_stays_within_tolerance(major, ratio, turn, first, sweep):
    if abs(sweep) * major < 0.1:
        return
    u = (major * math.cos(turn), major * math.sin(turn))
    v = (-ratio * u[1], ratio * u[0])
    curve = EllipseCurve((30.0, -20.0), u, v)
    spans = ellipse_spans(curve, first, sweep)
    assert follow_each_other(spans)
    ends, _ = curve.points(np.array([first, first + sweep]))
    assert spans[0].start == pytest.approx(tuple(ends[0]), abs=1e-9)
    assert spans[-1].end == pytest.approx(tuple(ends[1]), abs=1e-9)
    assert furthest(curve, first, first + sweep, spans, 120) <= CURVE * 1.05


@pytest.mark.parametrize(("a", "b"), [(40.0, 25.0), (300.0, 20.0), (10.0, 9.99), (1500.0, 900.0)])
def test_a_whole_ellipse_has_its_area_and_perimeter(a, b):
    spans = ellipse_spans(EllipseCurve((0, 0), (a, 0), (0, b)), 0.0, 2.0 * math.pi)
    ring = Contour(vertices_of(spans, closed=True))
    # Source: pi a b, and 4 a E(1 - b²/a²), a complete elliptic integral (scipy).
    perimeter = 4.0 * a * ellipe(1.0 - (b / a) ** 2)
    assert ring.area == pytest.approx(math.pi * a * b, abs=CURVE * perimeter)
    assert ring.length == pytest.approx(perimeter, rel=1e-4)
    # The distance falls with the cube of the length at least, so four halvings of a quarter do: 16 biarcs each.
    assert len(spans) <= 4 * 16 * 2


def test_neighbours_meet_smoothly():
    spans = ellipse_spans(EllipseCurve((0, 0), (80, 0), (0, 30)), 0.0, 2.0 * math.pi)
    for one, other in zip(spans, [*spans[1:], spans[0]], strict=True):
        (cx, cy), _ = arc_circle(one.start, one.end, one.bulge)
        tangent = start_direction(other)
        assert abs(tangent[0] * (one.end[0] - cx) + tangent[1] * (one.end[1] - cy)) < 0.05 * math.dist(
            one.end, (cx, cy)
        )


def spline_of(tool):
    controls = np.array([(point.x, point.y) for point in tool.control_points])
    weights = np.array(tool.weights()) if tool.is_rational else np.ones(len(controls))
    return SplineCurve(tool.degree, controls, np.array(tool.knots()), weights)


@pytest.mark.parametrize(("first", "last"), [(0, 90), (30, 200), (0, 359), (-80, 10)])
def test_a_spline_that_is_an_arc_becomes_that_arc(first, last):
    spans = spline_spans(spline_of(rational_bspline_from_arc((5, 6), 40, first, last)))
    assert all(span.bulge > 0 for span in spans)
    for span in spans:
        centre, radius = arc_circle(span.start, span.end, span.bulge)
        assert centre == pytest.approx((5, 6), abs=2e-3)
        assert radius == pytest.approx(40, abs=2e-3)
    assert sum(map(span_length, spans)) == pytest.approx(math.radians(last - first) * 40, rel=1e-6)


def test_a_straight_spline_becomes_one_line():
    controls = np.array([(0, 0), (10, 5), (30, 15), (40, 20)], float)
    curve = SplineCurve(3, controls, np.array([0] * 4 + [1] * 4, float), np.ones(4))
    (span,) = spline_spans(curve)
    assert (span.start, span.end, span.bulge) == ((0, 0), (40, 20), 0.0)


def test_a_corner_in_a_spline_stays_a_corner():
    controls = np.array([(0, 0), (20, 0), (40, 0), (50, 0), (50, 10), (50, 30), (50, 50)], float)
    knots = np.array([0, 0, 0, 0, 1, 1, 1, 2, 2, 2, 2], float)
    spans = spline_spans(SplineCurve(3, controls, knots, np.ones(7)))
    assert [(span.start, span.end, span.bulge) for span in spans] == [((0, 0), (50, 0), 0.0), ((50, 0), (50, 50), 0.0)]


def test_a_polygon_written_as_a_spline_is_its_lines():
    controls = np.array([(0, 0), (30, 0), (30, 20), (0, 20), (0, 0)], float)
    spans = spline_spans(SplineCurve(1, controls, np.array([0, 0, 1, 2, 3, 4, 4], float), np.ones(5)))
    assert [span.bulge for span in spans] == [0.0] * 4
    assert Contour(vertices_of(spans, closed=True)).area == pytest.approx(600.0)


def polyline(curve):
    """The curve by fine chords, with its corners, and how far it may be from them."""
    breaks, _ = curve.breaks()
    at = np.union1d(np.linspace(curve.first, curve.last, 3000), breaks)
    points, _ = curve.points(at)
    between, _ = curve.points((at[:-1] + at[1:]) / 2.0)
    ends = np.stack([points[:-1], points[1:]], axis=1)
    return shapely.LineString(points), shapely.distance(shapely.linestrings(ends), shapely.points(between)).max()


@given(curves())
@settings(max_examples=40, derandomize=True)
def test_any_spline_stays_within_tolerance(curve):
    try:
        spans = spline_spans(curve)
    except BadValue:
        pytest.fail("A plain spline was given up.")
    if not spans:
        # Only a spline that keeps to one spot has none.
        points, _ = curve.points(np.linspace(curve.first, curve.last, 200))
        assert np.ptp(points, axis=0).max() < CURVE
        return
    assert follow_each_other(spans)
    assert furthest(curve, curve.first, curve.last, spans, 300) <= CURVE * 1.5
    true, rise = polyline(curve)
    for at in {point for span in spans for point in (span.start, span.end)}:
        assert true.distance(shapely.Point(at)) <= CURVE * 1.5 + 2.0 * rise


def test_a_curve_that_rounding_makes_jump_is_given_up():
    class Ragged:
        def points(self, at):
            # Looks like noise however closely one looks; an even wave would seem smooth at even steps.
            rough = (np.sin(at * 12.9898) * 43758.5453) % 1.0
            return np.column_stack([at * 100, rough * 5]), np.column_stack([np.ones(len(at)), rough])

    with pytest.raises(BadValue, match="still is no line or arc"):
        curve_spans(Ragged(), [0.0, 1.0], [0.0, 1.0])
