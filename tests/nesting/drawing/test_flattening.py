import math
from itertools import pairwise

import numpy as np
import pytest
from ezdxf.entities import factory
from ezdxf.math import Matrix44

from nesting.drawing.flattening import FLAT, Flat, Unusable, flat
from nesting.drawing.spans import Span, point_on, span_length
from nesting.drawing.strokes import Bend, Drawn, Segment, Sweep, strokes_of
from nesting.units import LARGEST_COORDINATE

UNIT = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)


def circle(radius=10.0, centre=(0.0, 0.0, 0.0), sweep=2 * math.pi, plane=None):
    (ux, _, _), _ = UNIT
    return Drawn([Sweep(centre, (radius * ux, 0.0, 0.0), (0.0, radius, 0.0), 0.0, sweep)], True, plane)


def line(*ends, plane=None):
    return Drawn([Segment(*ends)], False, plane)


def test_the_drawings_unit_is_worked_in():
    # Source: 1 inch is 25.4 mm.
    found = flat(line((1, 2, 0), (3, 2, 0)), None, 25.4)
    assert found == Flat([Span((25.4, 50.8), (pytest.approx(76.2), 50.8))], False, 0.0, False)


def test_a_circle_is_two_half_circles_and_closed():
    found = flat(circle(), None, 1.0)
    assert [abs(span.bulge) for span in found.spans] == pytest.approx([1.0, 1.0])
    assert found.closed
    assert not found.fitted
    assert found.spans[0].start == found.spans[-1].end


def test_a_turned_shifted_and_mirrored_block_keeps_arcs():
    arc = Drawn([Segment((0, 0, 0), (10, 0, 0), 0.5)], False, None)
    matrix = Matrix44.scale(-2, 2, 2) @ Matrix44.z_rotate(math.pi / 2) @ Matrix44.translate(100, 0, 0)
    (span,) = flat(arc, matrix, 1.0).spans
    # Source: by hand, (10, 0) times (-2, 2) is (-20, 0), turned (0, -20), shifted (100, -20).
    assert span.start == pytest.approx((100.0, 0.0))
    assert span.end == pytest.approx((100.0, -20.0))
    assert span.bulge == pytest.approx(-0.5)


def test_a_stretched_circle_becomes_an_ellipse_of_arcs():
    found = flat(circle(), Matrix44.scale(3, 1, 1), 1.0)
    assert found.fitted
    assert found.closed
    points = [point_on(span, k / 8) for span in found.spans for k in range(8)]
    # Source: by hand, half axes 30 and 10.
    assert max(abs((x / 30) ** 2 + (y / 10) ** 2 - 1) for x, y in points) < 3e-3
    assert max(x for x, _ in points) == pytest.approx(30.0, abs=0.01)


def test_a_stretched_arc_of_a_polyline_still_meets_its_neighbours():
    drawn = Drawn([Segment((0, 0, 0), (10, 0, 0), 1.0), Segment((10, 0, 0), (10, 9, 0))], False, None)
    found = flat(drawn, Matrix44.scale(1, 4, 1), 1.0)
    assert (found.spans[0].start, found.spans[-1].start) == ((0.0, 0.0), (10.0, 0.0))
    assert found.spans[-2].end == found.spans[-1].start
    assert min(point_on(span, 0.5)[1] for span in found.spans) < -19.0


def test_what_is_drawn_from_behind_is_turned_to_the_front():
    entity = factory.new("ARC", dxfattribs={"center": (10, 0), "radius": 5, "start_angle": 0, "end_angle": 90})
    entity.dxf.extrusion = (0, 0, -1)
    (span,) = flat(strokes_of(entity), None, 1.0).spans
    assert span.start == pytest.approx((-15.0, 0.0))
    assert span.end == pytest.approx((-10.0, 5.0))
    assert point_on(span, 0.5) == pytest.approx((-10 - 5 * math.sqrt(0.5), 5 * math.sqrt(0.5)))


def test_heights_are_told_and_those_that_differ_are_refused():
    assert flat(line((0, 0, 7), (9, 0, 7)), None, 1.0).height == 7.0
    assert flat(line((0, 0, 7), (9, 0, 7)), None, 25.4).height == pytest.approx(177.8)
    assert isinstance(flat(line((0, 0, 0), (9, 0, 0.9 * FLAT)), None, 1.0), Flat)
    for drawn in (
        line((3, 0, 0), (9, 0, 1.1 * FLAT)),
        circle(plane=Matrix44.y_rotate(0.1)),
        Drawn([Segment((3, 0, 0), (9, 0, 0), 1.0)], False, Matrix44.x_rotate(0.5)),
    ):
        found = flat(drawn, None, 1.0)
        assert isinstance(found, Unusable)
        assert found.reason == "not-flat"
        assert found.at is not None


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_none_is_refused_with_a_point_that_is_good(bad):
    found = flat(line((5, 6, 0), (bad, 0, 0)), None, 2.0)
    assert found == Unusable("not-a-number", (10.0, 12.0))
    assert flat(line((bad, 6, 0), (0, bad, 0)), None, 1.0) == Unusable("not-a-number", None)
    assert flat(Drawn([Segment((0, 0, 0), (1, 0, 0), bad)], False, None), None, 1.0).reason == "not-a-number"
    assert flat(circle(radius=bad), None, 1.0).reason == "not-a-number"
    bend = Bend(1, np.array([(0, 0, 0), (bad, 1, 0)]), np.array([0.0, 0, 1, 1]), np.ones(2))
    assert flat(Drawn([bend], False, None), None, 1.0).reason == "not-a-number"


def test_what_reaches_beyond_a_kilometre_is_refused_whatever_brought_it_there():
    far = 1.1 * LARGEST_COORDINATE
    for drawn, matrix, mm in (
        (line((0, 0, 0), (far, 0, 0)), None, 1.0),
        (line((0, 0, 0), (far / 1000, 0, 0)), None, 1000.0),
        (line((0, 0, 0), (1, 0, 0)), Matrix44.translate(far, 0, 0), 1.0),
        (circle(radius=far), None, 1.0),
        # The ends are near, the arc between them is not.
        (Drawn([Segment((0, 0, 0), (0, 1000, 0), 2e4)], False, None), None, 1.0),
    ):
        found = flat(drawn, matrix, mm)
        assert isinstance(found, Unusable)
        assert found.reason == "too-far"


def test_points_are_no_lines_and_their_neighbours_meet():
    assert flat(line((5, 5, 0), (5, 5, 0)), None, 1.0).spans == []
    assert flat(circle(radius=0.0), None, 1.0).spans == []
    run = [(0, 0, 0), (10, 0, 0), (10, 5e-7, 0), (10, 10, 0)]
    drawn = Drawn([Segment(a, b) for a, b in pairwise(run)], False, None)
    found = flat(drawn, None, 1.0).spans
    assert [span.start for span in found] == [(0.0, 0.0), (10.0, 0.0)]
    assert found[0].end == found[1].start


def test_a_run_that_ends_where_it_began_is_closed_whatever_it_says():
    run = [(0, 0, 0), (10, 0, 0), (10, 10, 0), (1e-7, 0, 0)]
    found = flat(Drawn([Segment(a, b) for a, b in pairwise(run)], False, None), None, 1.0)
    assert found.closed
    assert found.spans[-1].end == found.spans[0].start


def test_a_spline_is_fitted_and_a_straight_one_stays_straight():
    bow = Bend(2, np.array([(0, 0, 0), (50, 60, 0), (100, 0, 0)], float), np.array([0.0, 0, 0, 1, 1, 1]), np.ones(3))
    found = flat(Drawn([bow], False, None), None, 1.0)
    assert found.fitted
    # Source: with these controls the curve is y = 1.2 x - 0.012 x² from 0 to 100; its length by summing small steps.
    steps = np.linspace(0, 100, 100_001)
    length = float(np.hypot(np.diff(steps), np.diff(1.2 * steps - 0.012 * steps**2)).sum())
    assert sum(span_length(span) for span in found.spans) == pytest.approx(length, rel=1e-5)
    straight = Bend(
        2, np.array([(0, 0, 0), (50, 0, 0), (100, 0, 0)], float), np.array([0.0, 0, 0, 1, 1, 1]), np.ones(3)
    )
    found = flat(Drawn([straight], False, None), None, 1.0)
    assert not found.fitted
    assert sum(span_length(span) for span in found.spans) == pytest.approx(100.0)
