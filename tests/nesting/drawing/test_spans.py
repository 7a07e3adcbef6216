import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from nesting.drawing.spans import (
    Span,
    arc_spans,
    distance_to,
    fraction_beside,
    piece_of,
    point_on,
    reverse,
    span_bounds,
    span_length,
    span_table,
    spans_of,
    start_direction,
    tidy_span,
    vertices_of,
)
from nesting.geometry.arcs import arc_circle

coordinates = st.floats(-500.0, 500.0)
points = st.tuples(coordinates, coordinates)
fractions = st.floats(0.0, 1.0)


@st.composite
def spans(draw):
    """Lines, and arcs of up to a whole turn less a sixteenth, either way."""
    start, end = draw(points), draw(points)
    assume(math.dist(start, end) > 1e-2)
    return Span(start, end, draw(st.one_of(st.just(0.0), st.floats(0.01, 5.0), st.floats(-5.0, -0.01))))


def along(span, count=2000):
    """The span as a shapely line of many chords, independent of `point_on`."""
    if not span.bulge:
        return LineString([span.start, span.end])
    (cx, cy), radius = arc_circle(span.start, span.end, span.bulge)
    first = math.atan2(span.start[1] - cy, span.start[0] - cx)
    step = 4.0 * math.atan(span.bulge) / count
    angles = (first + k * step for k in range(count + 1))
    return LineString([(cx + radius * math.cos(a), cy + radius * math.sin(a)) for a in angles])


def slack(span):
    """How far the chords of `along` may be from the arc."""
    return 1e-6 + (arc_circle(span.start, span.end, span.bulge)[1] * 1e-5 if span.bulge else 0.0)


@given(spans())
def test_length_and_bounds_are_those_of_fine_chords(span):
    line = along(span)
    assert span_length(span) == pytest.approx(line.length, rel=1e-5)
    assert span_bounds(span) == pytest.approx(line.bounds, abs=slack(span))


@given(spans(), points)
def test_the_distance_to_a_point_is_that_to_fine_chords(span, point):
    assert distance_to(span, point) == pytest.approx(along(span).distance(Point(point)), abs=slack(span))


@given(spans(), fractions)
def test_a_point_on_the_span_lies_on_it_at_its_share_of_the_length(span, share):
    at = point_on(span, share)
    assert distance_to(span, at) < 1e-6
    if 1e-6 < share < 1.0 - 1e-6:
        assert fraction_beside(span, at) == pytest.approx(share, abs=1e-6)
    assert along(span).project(Point(at)) == pytest.approx(share * span_length(span), rel=1e-4, abs=10 * slack(span))


@given(spans(), fractions, fractions)
def test_pieces_lie_on_the_span_and_have_their_share_of_its_length(span, one, other):
    first, last = sorted((one, other))
    assume((last - first) * span_length(span) > 1e-3)
    piece = piece_of(span, first, last)
    assert (piece.start, piece.end) == (point_on(span, first), point_on(span, last))
    assert span_length(piece) == pytest.approx((last - first) * span_length(span), rel=1e-5)
    assert distance_to(span, point_on(piece, 0.3)) < 1e-5


@given(spans())
def test_a_reversed_span_runs_back_on_the_same_way(span):
    back = reverse(span)
    assert reverse(back) == span
    assert point_on(back, 0.25) == pytest.approx(point_on(span, 0.75), abs=1e-6)


@given(spans())
def test_a_span_sets_out_in_its_own_direction(span):
    direction = start_direction(span)
    ahead = point_on(span, 1e-6)
    way = math.dist(span.start, ahead)
    assert math.hypot(*direction) == pytest.approx(1.0)
    expected = ((ahead[0] - span.start[0]) / way, (ahead[1] - span.start[1]) / way)
    assert direction == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize("sweep", [0.3, math.pi, 2.0, 4.5, 2 * math.pi, -2.0, -2 * math.pi])
def test_an_arc_is_cut_into_spans_of_half_a_turn_at_most(sweep):
    row = arc_spans((3.0, -2.0), 10.0, 0.7, sweep)
    assert all(abs(span.bulge) <= 1.0 + 1e-9 for span in row)
    assert row[0].start == pytest.approx((3 + 10 * math.cos(0.7), -2 + 10 * math.sin(0.7)))
    assert row[-1].end == pytest.approx((3 + 10 * math.cos(0.7 + sweep), -2 + 10 * math.sin(0.7 + sweep)))
    assert sum(map(span_length, row)) == pytest.approx(10.0 * abs(sweep))
    if abs(sweep) == 2 * math.pi:
        assert row[-1].end == row[0].start


def test_an_arc_too_flat_to_tell_is_a_line():
    assert tidy_span((0, 0), (100, 0), 1e-10).bulge == 0.0
    assert tidy_span((0, 0), (100, 0), 1e-6).bulge == 1e-6


@given(st.lists(st.tuples(coordinates, coordinates, st.floats(-2, 2)), min_size=2, max_size=6))
def test_vertices_become_spans_and_spans_vertices(vertices):
    closed = spans_of(vertices, closed=True)
    assert vertices_of(closed, closed=True) == tuple(vertices)
    run = spans_of(vertices, closed=False)
    assert vertices_of(run, closed=False) == (*vertices[:-1], (*vertices[-1][:2], 0.0))
    assert len(closed) == len(run) + 1


def test_a_table_has_a_row_for_each_span():
    row = [Span((0, 0), (10, 0)), Span((10, 0), (0, 0), 1.0)]
    table = span_table(row)
    assert table.start.tolist() == [[0, 0], [10, 0]]
    assert table.end.tolist() == [[10, 0], [0, 0]]
    assert table.bulge.tolist() == [0.0, 1.0]
    # Source: a half circle of diameter 10 over the line it closes.
    assert table.bounds[1] == pytest.approx([0, 0, 10, 5], abs=1e-9)
    assert [len(column) for column in span_table([])] == [0, 0, 0, 0]
