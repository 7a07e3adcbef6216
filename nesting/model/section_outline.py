"""The rings of lines and arcs that a cut across a bar or tube shows, from its measures.

x is the way across along the width, y along the height; (0, 0) is the middle of the measures over all. Rings run
anticlockwise. Nothing here knows what a section is called in the shop: `section` does.
"""

import math
from collections.abc import Sequence

from nesting.geometry.contour import Contour, Vertex
from nesting.units import SAME_POINT, Mm

type Corner = tuple[Mm, Mm, Mm]
"""x, y of a corner, and the radius that rounds it, inside or outside."""


def rounded(corners: Sequence[Corner]) -> Contour:
    """The polygon with each corner rounded by an arc that touches both sides."""
    count, vertices = len(corners), list[Vertex]()
    for i, (x, y, radius) in enumerate(corners):
        if radius <= 0.0:
            vertices.append((x, y, 0.0))
            continue
        before, after = corners[i - 1], corners[(i + 1) % count]
        arriving = math.atan2(y - before[1], x - before[0])
        leaving = math.atan2(after[1] - y, after[0] - x)
        turn = math.remainder(leaving - arriving, 2.0 * math.pi)
        reach = radius * math.tan(abs(turn) / 2.0)
        vertices.append((x - reach * math.cos(arriving), y - reach * math.sin(arriving), math.tan(turn / 4.0)))
        vertices.append((x + reach * math.cos(leaving), y + reach * math.sin(leaving), 0.0))
    return Contour(_without_doubles(vertices))


def _without_doubles(vertices: Sequence[Vertex]) -> tuple[Vertex, ...]:
    """Where arcs take up a whole side, its two ends are one point."""
    ends = [*vertices[1:], vertices[0]]
    kept = [v for v, end in zip(vertices, ends, strict=True) if math.dist(v[:2], end[:2]) > SAME_POINT]
    return tuple(kept)


def box(width: Mm, height: Mm, radius: Mm, *, from_middle: bool = True) -> Contour:
    """A rectangle with round corners that starts in the middle of its right side, or at its upper end; a circle where
    all is one.
    """
    x, y = width / 2.0, height / 2.0
    if abs(radius - x) < SAME_POINT and abs(radius - y) < SAME_POINT:
        return Contour.circle(0.0, 0.0, x)
    if abs(radius - x) < SAME_POINT:
        flat = y - radius
        return Contour(((x, 0.0, 0.0), (x, flat, 1.0), (-x, flat, 0.0), (-x, -flat, 1.0), (x, -flat, 0.0)))
    ring = rounded([(x, y, radius), (-x, y, radius), (-x, -y, radius), (x, -y, radius)])
    return Contour(((x, 0.0, 0.0), *ring.vertices)) if from_middle and y - radius > SAME_POINT else ring


def angle(width: Mm, height: Mm, wall: Mm, root: Mm, toe: Mm, heel: Mm) -> Contour:
    """Two legs that meet in the heel, lower left; it starts there."""
    x, y = width / 2.0, height / 2.0
    return rounded(
        [(-x, -y, heel), (x, -y, 0.0), (x, wall - y, toe), (wall - x, wall - y, root), (wall - x, y, toe), (-x, y, 0.0)]
    )


def channel(width: Mm, height: Mm, wall: Mm, flange: Mm, root: Mm, toe: Mm, corner: Mm) -> Contour:
    """The web on the left, flanges below and above; it starts at the lower left."""
    x, y = width / 2.0, height / 2.0
    lower = [(-x, -y, corner), (x, -y, 0.0), (x, flange - y, toe), (wall - x, flange - y, root)]
    return rounded([*lower, *((a, -b, r) for a, b, r in reversed(lower))])


def tee(width: Mm, height: Mm, wall: Mm, flange: Mm, root: Mm, toe: Mm) -> Contour:
    """The flange on top, the stem below; it starts at the stem's foot."""
    x, y, half = width / 2.0, height / 2.0, wall / 2.0
    right = [(half, -y, 0.0), (half, y - flange, root), (x, y - flange, toe), (x, y, 0.0)]
    return rounded([*right, *((-a, b, r) for a, b, r in reversed(right))])


def i_beam(width: Mm, height: Mm, wall: Mm, flange: Mm, root: Mm, toe: Mm) -> Contour:
    """The web upright between two flanges; it starts at the lower right."""
    x, y, half = width / 2.0, height / 2.0, wall / 2.0
    right = [(x, -y, 0.0), (x, flange - y, toe), (half, flange - y, root)]
    right += [(a, -b, r) for a, b, r in reversed(right)]
    return rounded([*right, *((-a, b, r) for a, b, r in reversed(right))])
