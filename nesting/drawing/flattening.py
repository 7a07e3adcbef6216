"""Strokes to lines and arcs in the plane of the sheet, in millimetres.

Here the drawing's unit, blocks that are turned, mirrored or stretched, and entities drawn from behind are worked in.
What does not lie flat, or has coordinates that cannot be, is named with its place.
"""

import math
from typing import NamedTuple

import numpy as np
from ezdxf.math import Matrix44, Vec3

from nesting.drawing.biarcs import SAME_SHAPE, EllipseCurve, ellipse_spans, spline_spans
from nesting.drawing.nurbs import SplineCurve
from nesting.drawing.spans import Span, arc_spans, span_bounds, tidy_span
from nesting.drawing.strokes import Bend, Drawn, Segment, Stroke, Sweep, sweep_of_segment
from nesting.units import JOIN, LARGEST_COORDINATE, SAME_POINT, Mm, Point

FLAT: Mm = JOIN
"""How far the points of one entity may differ in height: what is joined in the plane may differ as much across it."""


class Flat(NamedTuple):
    """One entity in the plane: spans that follow each other, whether they end where they began, the entity's height
    over the plane, and whether any of its curves is approximated. No spans where the entity has no length.
    """

    spans: list[Span]
    closed: bool
    height: Mm
    fitted: bool


class Unusable(NamedTuple):
    """Why an entity cannot be used ("not-a-number", "too-far" or "not-flat"), and a point of it where there is one."""

    reason: str
    at: Point | None


class _Plane(NamedTuple):
    """Where the origin and the unit vectors of an entity's space come to lie, in millimetres."""

    matrix: Matrix44
    x: Vec3
    y: Vec3

    @property
    def turn(self) -> float:
        """1 where a flat shape keeps its form, -1 where it is mirrored too, 0 where it is stretched or tilted."""
        across = self.x.x * self.y.y - self.x.y * self.y.x
        size = self.x.x**2 + self.x.y**2
        other = self.y.x**2 + self.y.y**2
        skew = self.x.x * self.y.x + self.x.y * self.y.y
        if abs(size - other) > 1e-9 * size or abs(skew) > 1e-9 * size:
            return 0.0
        return math.copysign(1.0, across)


def flat(drawn: Drawn, matrix: Matrix44 | None, mm: Mm) -> Flat | Unusable:
    """The entity as spans; `matrix` leads from the block it stands in to the drawing, `mm` is the drawing's unit."""
    total = Matrix44.scale(mm, mm, mm)
    if matrix is not None:
        total = matrix @ total
    if drawn.plane is not None:
        total = drawn.plane @ total
    plane = _Plane(total, total.transform_direction(Vec3(1, 0, 0)), total.transform_direction(Vec3(0, 1, 0)))
    spans: list[Span] = []
    heights: list[float] = []
    fitted = False
    for stroke in drawn.strokes:
        if not _is_finite(stroke):
            return Unusable("not-a-number", _some_point(stroke, mm))
        # Checked before curves are fitted: fitting a curve of light years to a hundredth would take for ever.
        corners, stroke_heights = _frame(stroke, plane)
        if not all(abs(value) <= LARGEST_COORDINATE for corner in corners for value in corner):
            return Unusable("too-far", _some_point(stroke, mm))
        heights += stroke_heights
        new, is_fitted = _stroke_spans(stroke, plane)
        spans += new
        fitted = fitted or is_fitted
    if heights and max(heights) - min(heights) > FLAT:
        return Unusable("not-flat", _some_point(drawn.strokes[0], mm))
    spans = _without_points(spans)
    for span in spans:
        if max(map(abs, span_bounds(span))) > LARGEST_COORDINATE:
            return Unusable("too-far", span.start)
    closed = len(spans) > 1 and math.dist(spans[0].start, spans[-1].end) <= SAME_POINT
    if closed:
        spans[-1] = spans[-1]._replace(end=spans[0].start)
    return Flat(spans, closed, sum(heights) / len(heights) if heights else 0.0, fitted)


def _is_finite(stroke: Stroke) -> bool:
    if isinstance(stroke, Segment):
        return all(map(math.isfinite, (*stroke.start, *stroke.end, stroke.bulge)))
    if isinstance(stroke, Sweep):
        return all(map(math.isfinite, (*stroke.centre, *stroke.u, *stroke.v, stroke.first, stroke.sweep)))
    return bool(np.isfinite(stroke.controls).all() and np.isfinite(stroke.knots).all())


def _some_point(stroke: Stroke, mm: Mm) -> Point | None:
    """A point to find the stroke by, in the file's millimetres; None where none is a sensible number."""
    if isinstance(stroke, Segment):
        candidates = [stroke.start, stroke.end]
    elif isinstance(stroke, Sweep):
        candidates = [stroke.centre]
    else:
        candidates = [tuple(row) for row in stroke.controls]
    for x, y, _ in candidates:
        if math.isfinite(x) and math.isfinite(y) and max(abs(x), abs(y)) * mm <= LARGEST_COORDINATE:
            return float(x) * mm, float(y) * mm
    return None


def _frame(stroke: Stroke, plane: _Plane) -> tuple[list[Point], list[float]]:
    """Points that the stroke cannot lie outside of by much, and heights between which it lies."""
    if isinstance(stroke, Segment):
        points = [plane.matrix.transform(Vec3(stroke.start)), plane.matrix.transform(Vec3(stroke.end))]
        heights = [point.z for point in points]
        if stroke.bulge:
            reach = math.dist(stroke.start, stroke.end) * max(0.5, abs(stroke.bulge) / 2.0)
            heights.append(points[0].z + reach * (abs(plane.x.z) + abs(plane.y.z)))
        return [(point.x, point.y) for point in points], heights
    if isinstance(stroke, Sweep):
        centre = plane.matrix.transform(Vec3(stroke.centre))
        u, v = (plane.matrix.transform_direction(Vec3(axis)) for axis in (stroke.u, stroke.v))
        reach = abs(u.z) + abs(v.z)
        corners = [
            (centre.x + sign * (abs(u.x) + abs(v.x)), centre.y + sign * (abs(u.y) + abs(v.y))) for sign in (-1, 1)
        ]
        return corners, [centre.z - reach, centre.z + reach]
    points = list(plane.matrix.transform_vertices([Vec3(row) for row in stroke.controls]))
    return [(point.x, point.y) for point in points], [point.z for point in points]


def _stroke_spans(stroke: Stroke, plane: _Plane) -> tuple[list[Span], bool]:
    """The stroke's spans, and whether they are fitted to a curve."""
    if isinstance(stroke, Segment):
        start, end = (plane.matrix.transform(Vec3(place)) for place in (stroke.start, stroke.end))
        if not stroke.bulge or plane.turn:
            return [tidy_span((start.x, start.y), (end.x, end.y), stroke.bulge * plane.turn)], False
        if math.dist(stroke.start, stroke.end) == 0.0:
            return [], False
        spans, fitted = _sweep_spans(sweep_of_segment(stroke), plane)
        if spans:
            # Neighbours must go on meeting in the very same point.
            spans[0] = spans[0]._replace(start=(start.x, start.y))
            spans[-1] = spans[-1]._replace(end=(end.x, end.y))
        return spans, fitted
    if isinstance(stroke, Sweep):
        return _sweep_spans(stroke, plane)
    points = plane.matrix.transform_vertices([Vec3(row) for row in stroke.controls])
    controls = np.array([(point.x, point.y) for point in points])
    spans = spline_spans(SplineCurve(stroke.degree, controls, _even_knots(stroke), stroke.weights))
    return spans, any(span.bulge for span in spans)


def _even_knots(stroke: Bend) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """The knots with those that differ by rounding made equal, so that corners are seen as corners."""
    knots = np.array(stroke.knots)
    reach = abs(knots[-1] - knots[0]) * 1e-9
    for i in range(1, len(knots)):
        if 0 < knots[i] - knots[i - 1] < reach:
            knots[i] = knots[i - 1]
    return knots


def _sweep_spans(stroke: Sweep, plane: _Plane) -> tuple[list[Span], bool]:
    centre = plane.matrix.transform(Vec3(stroke.centre))
    u, v = (plane.matrix.transform_direction(Vec3(axis)) for axis in (stroke.u, stroke.v))
    total = u.x**2 + u.y**2 + v.x**2 + v.y**2
    across = u.x * v.y - u.y * v.x
    # Half axes of the ellipse with conjugate radii u and v: a² + b² = |u|² + |v|², a · b = |u x v| (Apollonius).
    long = (math.sqrt(max(0.0, total + 2.0 * abs(across))) + math.sqrt(max(0.0, total - 2.0 * abs(across)))) / 2.0
    short = abs(across) / long if long else 0.0
    if long <= SAME_POINT:
        return [], False
    if long - short <= SAME_SHAPE:
        direction = math.copysign(1.0, across)
        first = math.atan2(u.y, u.x) + direction * stroke.first
        return arc_spans((centre.x, centre.y), (long + short) / 2.0, first, direction * stroke.sweep), False
    curve = EllipseCurve((centre.x, centre.y), (u.x, u.y), (v.x, v.y))
    spans = ellipse_spans(curve, stroke.first, stroke.sweep)
    if abs(stroke.sweep) >= 2.0 * math.pi and spans:
        spans[-1] = spans[-1]._replace(end=spans[0].start)
    return spans, True


def _without_points(spans: list[Span]) -> list[Span]:
    """The spans without those of no length; their neighbours meet where they were."""
    kept: list[Span] = []
    for span in spans:
        start = kept[-1].end if kept else span.start
        if math.dist(start, span.end) > SAME_POINT:
            kept.append(span._replace(start=start))
    return kept
