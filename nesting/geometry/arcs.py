"""Circular arcs between two points, given by their bulge, and chords that stay within a stated height of them.

A *bulge* is the tangent of a quarter of the arc's included angle, positive anticlockwise, as in DXF polylines: 0 is a
straight line, 1 a half circle bulging to the right of the chord.
"""

import math

from nesting.units import Mm, Point

FLAT = 1e-9
"""Bulges below this are lines: at a 10 m chord the arc rises less than a hundredth of a micrometre."""


def arc_angle(bulge: float) -> float:
    """The included angle in radians, positive anticlockwise."""
    return 4.0 * math.atan(bulge)


def arc_circle(start: Point, end: Point, bulge: float) -> tuple[Point, Mm]:
    """The centre and radius of the arc.

    The centre lies left of the chord for 0 < bulge < 1. Derivation: with the chord's half length h and the angle t,
    r = h / sin(t/2), and the centre stands h / tan(t/2) to the left of the chord's middle.
    """
    half = arc_angle(bulge) / 2.0
    dx, dy = end[0] - start[0], end[1] - start[1]
    rise = 0.5 / math.tan(half)
    centre = ((start[0] + end[0]) / 2.0 - dy * rise, (start[1] + end[1]) / 2.0 + dx * rise)
    return centre, math.hypot(dx, dy) / 2.0 / abs(math.sin(half))


def arc_length(start: Point, end: Point, bulge: float) -> Mm:
    """The length along the arc, or of the straight line where the bulge is flat."""
    chord = math.hypot(end[0] - start[0], end[1] - start[1])
    if abs(bulge) < FLAT:
        return chord
    angle = abs(arc_angle(bulge))
    return chord * angle / (2.0 * math.sin(angle / 2.0))


def arc_segment_area(start: Point, end: Point, bulge: float) -> float:
    """The area between the chord and the arc, positive where the arc lies right of the chord.

    Source: circular segment, r²/2 · (t - sin t).
    """
    if abs(bulge) < FLAT:
        return 0.0
    angle = arc_angle(bulge)
    chord = math.hypot(end[0] - start[0], end[1] - start[1])
    radius = chord / 2.0 / math.sin(angle / 2.0)
    return radius * radius / 2.0 * (angle - math.sin(angle))


def arc_extremes(start: Point, end: Point, bulge: float) -> list[Point]:
    """The points of the arc where it reaches furthest left, right, up or down, its two ends left out."""
    if abs(bulge) < FLAT:
        return []
    (cx, cy), radius = arc_circle(start, end, bulge)
    sweep = arc_angle(bulge)
    first = math.atan2(start[1] - cy, start[0] - cx)
    low, high = sorted((first, first + sweep))
    quarter = math.pi / 2.0
    found = []
    for k in range(math.ceil(low / quarter), math.floor(high / quarter) + 1):
        angle = k * quarter
        found.append((cx + radius * math.cos(angle), cy + radius * math.sin(angle)))
    return found


def chord_count(radius: Mm, angle: float, height: Mm) -> int:
    """How many equal chords keep within `height` of an arc of `angle` radians; at least one per eighth of a turn."""
    step = math.pi / 4.0 if height >= radius else min(math.pi / 4.0, 2.0 * math.acos(1.0 - height / radius))
    return max(1, math.ceil(abs(angle) / step - 1e-9))


def arc_points(start: Point, end: Point, bulge: float, height: Mm, *, outside: bool = False) -> list[Point]:
    """Points that stand for the arc from `start` up to but without `end`.

    On the arc by default, so the chords lie on its inner side. With `outside` the points after `start` are where
    tangents of the arc meet, so the polyline lies on its outer side and the arc within it.
    """
    if abs(bulge) < FLAT:
        return [start]
    (cx, cy), radius = arc_circle(start, end, bulge)
    sweep = arc_angle(bulge)
    count = chord_count(radius, sweep, height / 2.0 if outside else height)
    first = math.atan2(start[1] - cy, start[0] - cx)
    step = sweep / count
    if outside:
        reach = radius / math.cos(step / 2.0)
        angles = [first + (k + 0.5) * step for k in range(count)]
    else:
        reach = radius
        angles = [first + k * step for k in range(1, count)]
    return [start, *((cx + reach * math.cos(a), cy + reach * math.sin(a)) for a in angles)]
