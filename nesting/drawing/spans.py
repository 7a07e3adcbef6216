"""A *span*: one straight line or one arc between two points. Lengths, nearest points, pieces and tables of spans.

Fractions run from 0 at the start to 1 at the end, along the line or the arc.
"""

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nesting.geometry.arcs import arc_angle, arc_circle, arc_extremes, arc_length
from nesting.geometry.contour import Vertex
from nesting.units import Mm, Point

FLATTEST_RISE: Mm = 1e-7
"""An arc that rises less than this above its chord is a line; its centre would be lost in rounding."""


class Span(NamedTuple):
    """A line (bulge 0) or an arc from `start` to `end`."""

    start: Point
    end: Point
    bulge: float = 0.0


class SpanTable(NamedTuple):
    """Many spans as arrays, one row each: `start`, `end` (n, 2), `bulge` (n,), `bounds` (n, 4) left, bottom, right,
    top with arcs exact.
    """

    start: NDArray[np.float64]
    end: NDArray[np.float64]
    bulge: NDArray[np.float64]
    bounds: NDArray[np.float64]


def tidy_span(start: Point, end: Point, bulge: float) -> Span:
    """The span, straight where its arc is too flat to tell."""
    if bulge and abs(bulge) * math.dist(start, end) / 2.0 < FLATTEST_RISE:
        bulge = 0.0
    return Span(start, end, bulge)


def arc_spans(centre: Point, radius: Mm, first: float, sweep: float) -> list[Span]:
    """The arc that begins at angle `first` and runs through `sweep` (radians, positive anticlockwise), in spans of at
    most half a turn. A sweep of a whole turn ends exactly where it began.
    """
    count = max(1, math.ceil(abs(sweep) / math.pi - 1e-9))
    bulge = math.tan(sweep / count / 4.0)
    cx, cy = centre
    points = []
    for k in range(count + 1):
        angle = first + sweep * k / count
        points.append((cx + radius * math.cos(angle), cy + radius * math.sin(angle)))
    if abs(abs(sweep) - 2.0 * math.pi) < 1e-9:
        points[-1] = points[0]
    return [tidy_span(a, b, bulge) for a, b in pairwise(points)]


def reverse(span: Span) -> Span:
    return Span(span.end, span.start, -span.bulge)


def span_length(span: Span) -> Mm:
    return arc_length(span.start, span.end, span.bulge)


def point_on(span: Span, fraction: float) -> Point:
    """The point at a fraction of the span's length; the ends exactly."""
    if fraction <= 0.0 or fraction >= 1.0:
        return span.start if fraction <= 0.0 else span.end
    (x0, y0), (x1, y1) = span.start, span.end
    if not span.bulge:
        return x0 + (x1 - x0) * fraction, y0 + (y1 - y0) * fraction
    (cx, cy), _ = arc_circle(span.start, span.end, span.bulge)
    turn = arc_angle(span.bulge) * fraction
    cos, sin = math.cos(turn), math.sin(turn)
    return cx + (x0 - cx) * cos - (y0 - cy) * sin, cy + (x0 - cx) * sin + (y0 - cy) * cos


def piece_of(span: Span, first: float, last: float) -> Span:
    """The piece between two fractions."""
    bulge = math.tan(math.atan(span.bulge) * (last - first)) if span.bulge else 0.0
    return tidy_span(point_on(span, first), point_on(span, last), bulge)


def fraction_beside(span: Span, point: Point) -> float:
    """Where along the span the point stands beside it. May lie outside 0 to 1 for a line; for an arc the part of the
    circle that is not drawn is shared between both ends, so that it lies from 1 up and below 0.
    """
    if not span.bulge:
        dx, dy = span.end[0] - span.start[0], span.end[1] - span.start[1]
        square = dx * dx + dy * dy
        return ((point[0] - span.start[0]) * dx + (point[1] - span.start[1]) * dy) / square if square else 0.0
    (cx, cy), _ = arc_circle(span.start, span.end, span.bulge)
    sweep = arc_angle(span.bulge)
    turn = math.atan2(point[1] - cy, point[0] - cx) - math.atan2(span.start[1] - cy, span.start[0] - cx)
    turn = math.copysign(1.0, sweep) * turn % (2.0 * math.pi)
    undrawn = 2.0 * math.pi - abs(sweep)
    return (turn - 2.0 * math.pi if turn > abs(sweep) + undrawn / 2.0 else turn) / abs(sweep)


def distance_to(span: Span, point: Point) -> Mm:
    """The distance from a point to the nearest point of the span."""
    fraction = fraction_beside(span, point)
    if 0.0 < fraction < 1.0:
        if span.bulge:
            centre, radius = arc_circle(span.start, span.end, span.bulge)
            return abs(math.dist(point, centre) - radius)
        return math.dist(point, point_on(span, fraction))
    return min(math.dist(point, span.start), math.dist(point, span.end))


def start_direction(span: Span) -> tuple[float, float]:
    """The unit vector in which the span sets out."""
    dx, dy = span.end[0] - span.start[0], span.end[1] - span.start[1]
    length = math.hypot(dx, dy) or 1.0
    half = 2.0 * math.atan(span.bulge)
    cos, sin = math.cos(half), math.sin(half)
    # The tangent at the start lies half the arc's angle to the right of the chord of an anticlockwise arc.
    return (dx * cos + dy * sin) / length, (dy * cos - dx * sin) / length


def span_bounds(span: Span) -> tuple[Mm, Mm, Mm, Mm]:
    """Left, bottom, right, top, with arcs exact."""
    (x0, y0), (x1, y1) = span.start, span.end
    left, right = (x0, x1) if x0 < x1 else (x1, x0)
    bottom, top = (y0, y1) if y0 < y1 else (y1, y0)
    if span.bulge:
        for x, y in arc_extremes(span.start, span.end, span.bulge):
            left, bottom, right, top = min(left, x), min(bottom, y), max(right, x), max(top, y)
    return left, bottom, right, top


def span_table(spans: Sequence[Span]) -> SpanTable:
    """The spans as arrays."""
    if not spans:
        return SpanTable(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0), np.zeros((0, 4)))
    start = np.array([span.start for span in spans])
    end = np.array([span.end for span in spans])
    bulge = np.array([span.bulge for span in spans])
    return SpanTable(start, end, bulge, np.array([span_bounds(span) for span in spans]))


def spans_of(vertices: Sequence[Vertex], *, closed: bool) -> list[Span]:
    """The spans of a run of vertices, with the one from the last back to the first where it is closed."""
    follow = [*vertices[1:], vertices[0]] if closed else vertices[1:]
    return [Span((a[0], a[1]), (b[0], b[1]), a[2]) for a, b in zip(vertices, follow, strict=False)]


def vertices_of(spans: Iterable[Span], *, closed: bool) -> tuple[Vertex, ...]:
    """The vertices of connected spans; an open run gets its last point too."""
    row = list(spans)
    vertices = [(span.start[0], span.start[1], span.bulge) for span in row]
    if not closed:
        vertices.append((row[-1].end[0], row[-1].end[1], 0.0))
    return tuple(vertices)
