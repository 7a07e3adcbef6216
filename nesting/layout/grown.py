"""Areas of outlines grown or shrunk all round, each on the side that keeps a bound true.

With a gap g every part keeps the area of its outline grown by g/2 for itself: these grown outlines touch at most. The
area of a convex outline grown by r is A + L r + pi r^2 (Steiner's formula, from memory); of any other it is measured
on polygons.
"""

import math

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.geometry.contour import Contour
from nesting.units import CHORD, Mm, Mm2

FINE: Mm = CHORD / 5.0
"""Flattening height: a round part of 160 mm loses 0.02 % of its area to it, in a fifth of a millisecond."""

CONVEX = 1e-9
"""Share of its area by which a hull may be larger than what still counts as convex."""


MOST_CORNERS = 240
"""Buffers of outlines with more corners that are not convex may take a minute, and a coarser bound is still true."""


def steiner(area: Mm2, length: Mm, by: Mm) -> Mm2:
    return area + length * by + math.pi * by * by


def grown_area(outer: Contour, by: Mm) -> Mm2:
    """The area of an anticlockwise outline grown by a disk of radius `by`, or a little less."""
    if by <= 0.0:
        return outer.area
    within = Polygon(outer.polygon(FINE, "inwards"))
    if not within.is_valid:
        return outer.area
    if within.convex_hull.area <= within.area * (1.0 + CONVEX):
        return steiner(outer.area, outer.length, by)
    if len(within.exterior.coords) > MOST_CORNERS:
        # Source: the inequality of Brunn and Minkowski in the plane, from memory: of all outlines of an area the circle
        # grows least.
        return steiner(outer.area, 2.0 * math.sqrt(math.pi * outer.area), by)
    # Round corners of a polygon's buffer are chords of the true arcs, so this is below the truth too.
    return max(outer.area, float(within.buffer(by).area))


def shrunk(ring: Contour, by: Mm) -> BaseGeometry:
    """What is left of an outline, or of a hole, `by` away from its edge, or a little more; may be empty or in parts."""
    around: BaseGeometry = Polygon(ring.anticlockwise().polygon(FINE, "outwards"))
    if not around.is_valid or len(shapely.get_coordinates(around)) > MOST_CORNERS:
        around = around.convex_hull
    # Chords of the rounds that reflex corners get are within them, so a little more is left than in truth.
    return around.buffer(-by) if by else around
