"""Ellipses and splines as lines and arcs that stay within a stated distance of them.

Each stretch of the curve is tried as one line, then as one arc, then as a *biarc*: two arcs that meet smoothly and
leave and arrive in the curve's own directions. What is not close enough is halved and tried again. The result lies on
either side of the curve.

Source: the biarc with equal control arms, from the usual condition that both arms meet in one tangent.
"""

import math
from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from nesting.drawing.nurbs import SplineCurve
from nesting.drawing.spans import Span, tidy_span
from nesting.errors import BadValue
from nesting.geometry.arcs import arc_angle, arc_circle
from nesting.units import Mm, Point

CURVE: Mm = 0.01
"""Greatest distance of the arcs from the curve, on either side: a third of what machines repeat to (about 30 um)."""

SAME_SHAPE: Mm = 0.001
"""A stretch this close to a line or to one arc is that line or arc; programs write circles as splines this well."""

SAMPLES = 24
"""Points looked at between two knots: what a piece hides between them is a small share of `CURVE` even where the curve
turns back on itself, and eight were not enough for that."""

MOST_STRETCHES = 20_000
"""Stretches that one curve may be tried in. A spline with a thousand knots needs a tenth of that; a curve that needs
more is damaged, for rounding makes its points jump about."""

MOST_KNOTS = 66
"""Knots of a stretch that is worth a try; long splines are halved unseen, for they are no single arc."""

type Floats = NDArray[np.float64]


class Curve(Protocol):
    """What can be fitted: points and derivatives, each (k, 2), at parameters (k,)."""

    def points(self, at: Floats) -> tuple[Floats, Floats]: ...


@dataclass(frozen=True)
class EllipseCurve:
    """The points centre + cos t · u + sin t · v; u and v need not stand square to each other."""

    centre: Point
    u: Point
    v: Point

    def points(self, at: Floats) -> tuple[Floats, Floats]:
        cos, sin = np.cos(at)[:, None], np.sin(at)[:, None]
        u, v = np.array(self.u), np.array(self.v)
        return np.array(self.centre) + cos * u + sin * v, cos * v - sin * u

    def axis_parameter(self) -> float:
        """A parameter at which the curve stands on its long axis (Rytz)."""
        (ux, uy), (vx, vy) = self.u, self.v
        return 0.5 * math.atan2(2.0 * (ux * vx + uy * vy), ux * ux + uy * uy - vx * vx - vy * vy)


def ellipse_spans(curve: EllipseCurve, first: float, sweep: float) -> list[Span]:
    """The arc of an ellipse from parameter `first` through `sweep`, cut where it crosses its axes."""
    quarter = math.pi / 2.0
    low, high = sorted((first, first + sweep))
    start = curve.axis_parameter()
    steps = range(math.floor((low - start) / quarter) + 1, math.ceil((high - start) / quarter))
    inside = [t for t in (start + k * quarter for k in steps) if low + 1e-9 < t < high - 1e-9]
    stops = [low, *inside, high]
    spans = curve_spans(curve, stops, stops)
    if sweep < 0:
        return [Span(span.end, span.start, -span.bulge) for span in reversed(spans)]
    return spans


def spline_spans(curve: SplineCurve) -> list[Span]:
    """The whole spline; cut at its corners."""
    breaks, corners = curve.breaks()
    return curve_spans(curve, breaks, corners)


def curve_spans(curve: Curve, breaks: list[float], stops: list[float]) -> list[Span]:
    """The curve from the first to the last of `stops`, which stay span ends; between `breaks` it is smooth.

    Raises:
        BadValue: the curve is too ragged to be one.
    """
    spans: list[Span] = []
    tried = 0
    for low, high in pairwise(stops):
        todo = [(low, high)]
        while todo:
            a, b = todo.pop()
            tried += 1
            knots = [a, *breaks[bisect_right(breaks, a) : bisect_left(breaks, b)], b]
            fitted = _fitted(curve, np.array(knots)) if len(knots) <= MOST_KNOTS else None
            if fitted is not None:
                spans += fitted
                continue
            middle = knots[len(knots) // 2] if len(knots) > 2 else (a + b) / 2.0
            if tried > MOST_STRETCHES or not a < middle < b:
                raise BadValue(f"A curve was tried in {tried} stretches and still is no line or arc.")
            todo += [(middle, b), (a, middle)]
    return spans


def _fitted(curve: Curve, knots: Floats) -> list[Span] | None:
    """The stretch as a line, an arc or a biarc; None where none is close enough."""
    inner = (knots[:-1, None] + np.diff(knots)[:, None] * np.arange(SAMPLES) / SAMPLES).ravel()[1:]
    # At a corner the slope behind it would be given, so the last one is taken a hair before the end.
    almost = knots[-1] - (knots[-1] - knots[0]) * 1e-10
    points, slopes = curve.points(np.concatenate([knots[:1], inner, [almost, knots[-1]]]))
    samples, start, end = points[1:-2], _as_point(points[0]), _as_point(points[-1])
    if math.dist(start, end) < SAME_SHAPE:
        # A closed stretch has no chord to go by; one that keeps to one spot is a point or as good as a line.
        if _spread(samples, start) > SAME_SHAPE:
            return None
        return [] if start == end else [Span(start, end)]
    line = Span(start, end)
    if _is_close(samples, [line], SAME_SHAPE):
        return [line]
    middle = _as_point(samples[len(samples) // 2])
    arc = _arc_through(start, middle, end)
    if arc is not None and _is_close(samples, [arc], SAME_SHAPE):
        return [arc]
    out = _direction(slopes[0], samples[0] - points[0])
    arrive = _direction(slopes[-2], points[-1] - samples[-1])
    if out is None or arrive is None:
        return None
    biarc = _biarc(start, out, end, arrive)
    return biarc if biarc is not None and _is_close(samples, biarc, CURVE) else None


def _as_point(row: Floats) -> Point:
    return float(row[0]), float(row[1])


def _spread(points: Floats, centre: Point) -> float:
    return float(np.abs(points - np.array(centre)).max())


def _direction(slope: Floats, instead: Floats) -> Point | None:
    """The unit vector of a slope, or of the way to the next sample where the curve stands still."""
    for vector in (slope, instead):
        length = float(np.hypot(vector[0], vector[1]))
        if length > 1e-9:
            return float(vector[0]) / length, float(vector[1]) / length
    return None


def _is_close(points: Floats, spans: list[Span], tolerance: Mm) -> bool:
    """Whether every point lies within the tolerance of one of the spans, and in their order."""
    best = np.full(len(points), np.inf)
    along = np.zeros(len(points))
    for index, span in enumerate(spans):
        distance, fraction = _beside(span, points)
        nearer = distance < best
        best = np.where(nearer, distance, best)
        along = np.where(nearer, index + fraction, along)
    return bool((best <= tolerance).all() and (np.diff(along) > -0.02).all())


def _beside(span: Span, points: Floats) -> tuple[Floats, Floats]:
    """Distance to the span, and the fraction of it that each point stands beside, clipped to 0 to 1."""
    start, end = np.array(span.start), np.array(span.end)
    if not span.bulge:
        way = end - start
        fraction = np.clip((points - start) @ way / (way @ way), 0.0, 1.0)
        gap = points - start - fraction[:, None] * way
        return np.hypot(gap[:, 0], gap[:, 1]), fraction
    centre, radius = arc_circle(span.start, span.end, span.bulge)
    sweep = arc_angle(span.bulge)
    off = points - np.array(centre)
    turn = np.arctan2(off[:, 1], off[:, 0]) - math.atan2(start[1] - centre[1], start[0] - centre[0])
    middle = abs(sweep) / 2.0
    turn = (np.sign(sweep) * turn - middle + math.pi) % (2.0 * math.pi) - math.pi + middle
    on_arc = (turn >= 0.0) & (turn <= abs(sweep))
    to_ends = np.minimum(
        np.hypot(points[:, 0] - start[0], points[:, 1] - start[1]),
        np.hypot(points[:, 0] - end[0], points[:, 1] - end[1]),
    )
    distance = np.where(on_arc, np.abs(np.hypot(off[:, 0], off[:, 1]) - radius), to_ends)
    return distance, np.clip(turn / abs(sweep), 0.0, 1.0)


def _arc_through(start: Point, middle: Point, end: Point) -> Span | None:
    """The arc of at most half a turn through three points; None where it would be longer."""
    ax, ay = start[0] - middle[0], start[1] - middle[1]
    bx, by = end[0] - middle[0], end[1] - middle[1]
    # The angle at the middle point is half of what the arc leaves of the full turn (inscribed angle).
    seen = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
    quarter = (math.pi - abs(seen)) / 2.0
    if quarter > math.pi / 4.0 + 1e-6:
        return None
    return tidy_span(start, end, math.copysign(math.tan(quarter), -seen))


def _biarc(start: Point, out: Point, end: Point, arrive: Point) -> list[Span] | None:
    """Two arcs from `start` in direction `out` to `end` in direction `arrive`; None where they would turn too far."""
    vx, vy = end[0] - start[0], end[1] - start[1]
    tx, ty = out[0] + arrive[0], out[1] + arrive[1]
    square, along = vx * vx + vy * vy, vx * tx + vy * ty
    denominator = 2.0 * (1.0 - out[0] * arrive[0] - out[1] * arrive[1])
    if denominator > 1e-12:
        arm = (-along + math.sqrt(along * along + denominator * square)) / denominator
    elif along > 0:
        arm = square / (2.0 * along)
    else:
        return None
    meet = (
        (start[0] + end[0] + arm * (out[0] - arrive[0])) / 2.0,
        (start[1] + end[1] + arm * (out[1] - arrive[1])) / 2.0,
    )
    if min(math.dist(start, meet), math.dist(meet, end)) < 1e-9:
        # The curve turns back on its way: one of the two would have no length.
        return None
    first = _turn(out, (meet[0] - start[0], meet[1] - start[1]))
    second = _turn((end[0] - meet[0], end[1] - meet[1]), arrive)
    if max(abs(first), abs(second)) > math.pi / 3.0:
        return None
    return [tidy_span(start, meet, math.tan(first / 2.0)), tidy_span(meet, end, math.tan(second / 2.0))]


def _turn(a: Point, b: Point) -> float:
    """The angle from a to b, positive anticlockwise."""
    return math.atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1])
