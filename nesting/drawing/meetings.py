"""Where two spans meet: cross, touch, or run along each other.

Every place where two lines or arcs can come closest is one of a few: a crossing of their whole lines or circles, an
end of one, or the point where one passes the other in parallel. Each is tried, so that nothing is found by chance.
"""

import math

from nesting.drawing.spans import Span, distance_to, fraction_beside, point_on
from nesting.geometry.arcs import arc_circle
from nesting.units import Mm, Point


def meetings(one: Span, other: Span, reach: Mm) -> list[Point]:
    """Points at which the spans come within `reach` of each other; empty where they keep apart."""
    if one.bulge and other.bulge:
        candidates = _of_circles(one, other, reach)
    elif one.bulge or other.bulge:
        arc, line = (one, other) if one.bulge else (other, one)
        candidates = _of_line_and_circle(line, arc)
    else:
        candidates = _of_lines(one, other)
    found = [p for p in candidates if distance_to(one, p) <= reach and distance_to(other, p) <= reach]
    found += [end for end in (one.start, one.end) if distance_to(other, end) <= reach]
    found += [end for end in (other.start, other.end) if distance_to(one, end) <= reach]
    return found


def _of_lines(one: Span, other: Span) -> list[Point]:
    (ax, ay), (bx, by) = one.start, other.start
    ux, uy = one.end[0] - ax, one.end[1] - ay
    vx, vy = other.end[0] - bx, other.end[1] - by
    across = ux * vy - uy * vx
    if abs(across) <= 1e-14 * math.hypot(ux, uy) * math.hypot(vx, vy):
        return []
    t = ((bx - ax) * vy - (by - ay) * vx) / across
    return [(ax + t * ux, ay + t * uy)] if 0.0 <= t <= 1.0 else []


def _of_line_and_circle(line: Span, arc: Span) -> list[Point]:
    centre, radius = arc_circle(arc.start, arc.end, arc.bulge)
    length = math.dist(line.start, line.end)
    ux, uy = (line.end[0] - line.start[0]) / length, (line.end[1] - line.start[1]) / length
    along = (centre[0] - line.start[0]) * ux + (centre[1] - line.start[1]) * uy
    foot = (line.start[0] + along * ux, line.start[1] + along * uy)
    off = math.dist(foot, centre)
    half = math.sqrt(max(0.0, radius * radius - off * off))
    # Without a crossing the foot of the centre is nearest; a touch is then within reach there.
    return [(foot[0] + sign * half * ux, foot[1] + sign * half * uy) for sign in ((-1.0, 1.0) if half else (0.0,))]


def _of_circles(one: Span, other: Span, reach: Mm) -> list[Point]:
    c0, r0 = arc_circle(one.start, one.end, one.bulge)
    c1, r1 = arc_circle(other.start, other.end, other.bulge)
    gap = math.dist(c0, c1)
    if gap <= reach:
        # One centre: the arcs run along each other or nowhere near. Ends tell, and so do the middles.
        return [point_on(one, 0.5), point_on(other, 0.5)] if abs(r0 - r1) <= reach else []
    ux, uy = (c1[0] - c0[0]) / gap, (c1[1] - c0[1]) / gap
    along = (gap * gap + r0 * r0 - r1 * r1) / (2.0 * gap)
    square = r0 * r0 - along * along
    if square >= 0.0:
        half = math.sqrt(square)
        x, y = c0[0] + along * ux, c0[1] + along * uy
        return [(x - half * uy, y + half * ux), (x + half * uy, y - half * ux)]
    # Apart or one inside the other: nearest on the line through both centres.
    sign = -1.0 if r1 > r0 and gap < r1 else 1.0
    return [(c0[0] + sign * r0 * ux, c0[1] + sign * r0 * uy)]


def doubles_back(one: Span, other: Span, reach: Mm) -> bool:
    """Whether `other`, which sets out where `one` ends, runs back along it."""
    ahead = point_on(other, min(0.5, 0.5 * _shorter(one, other)))
    fraction = fraction_beside(one, ahead)
    return 0.0 < fraction < 1.0 and distance_to(one, ahead) <= reach


def _shorter(one: Span, other: Span) -> float:
    return math.dist(one.start, one.end) / max(math.dist(other.start, other.end), 1e-12)
