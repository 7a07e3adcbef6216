"""Walks round a ring: the point after so much way, the way to a point, and how far the ring reaches in a direction.

The way s counts from the ring's first vertex in the ring's own direction, along lines and arcs.
"""

import math
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

from nesting.geometry.arcs import FLAT, arc_angle, arc_circle, arc_length
from nesting.geometry.contour import Contour
from nesting.units import Mm, Point


@dataclass(frozen=True)
class RingWalk:
    """The ring with what is worked out of it once."""

    ring: Contour

    @cached_property
    def _spans(self) -> list[tuple[Point, Point, float]]:
        points = [(x, y) for x, y, _ in self.ring.vertices]
        bulges = [bulge for *_, bulge in self.ring.vertices]
        return list(zip(points, [*points[1:], points[0]], bulges, strict=True))

    @cached_property
    def _firsts(self) -> list[Mm]:
        """The way to each vertex, and once round."""
        return [0.0, *accumulate(arc_length(*span) for span in self._spans)]

    @property
    def girth(self) -> Mm:
        """Once round."""
        return self._firsts[-1]

    def point_at(self, s: Mm) -> Point:
        """The point at s; s may go on over the start, in either direction."""
        s %= self.girth
        k = min(bisect_right(self._firsts, s) - 1, len(self._spans) - 1)
        start, end, bulge = self._spans[k]
        share = (s - self._firsts[k]) / (self._firsts[k + 1] - self._firsts[k])
        if abs(bulge) < FLAT:
            return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])
        (x, y), radius = arc_circle(start, end, bulge)
        angle = math.atan2(start[1] - y, start[0] - x) + share * arc_angle(bulge)
        return x + radius * math.cos(angle), y + radius * math.sin(angle)

    def way_to(self, point: Point) -> tuple[Mm, Mm]:
        """The way, 0 up to the girth, to the place on the ring that is nearest to the point, and how far off it is."""
        off, s = min(self._nearest(point))
        return (0.0 if s >= self.girth else s), off

    def _nearest(self, point: Point) -> Iterator[tuple[Mm, Mm]]:
        """Distance and way of the nearest place on each span."""
        px, py = point
        for first, following, (start, end, bulge) in zip(self._firsts, self._firsts[1:], self._spans, strict=False):
            (ax, ay), (bx, by) = start, end
            if abs(bulge) < FLAT:
                square = (bx - ax) ** 2 + (by - ay) ** 2
                share = min(1.0, max(0.0, ((px - ax) * (bx - ax) + (py - ay) * (by - ay)) / square))
            else:
                (cx, cy), _ = arc_circle(start, end, bulge)
                sweep = arc_angle(bulge)
                turned = math.atan2(py - cy, px - cx) - math.atan2(ay - cy, ax - cx)
                share = (math.copysign(1.0, sweep) * turned % math.tau) / abs(sweep)
                if share > 1.0:  # beyond one of the ends: the nearer one
                    share = 0.0 if math.dist(point, start) <= math.dist(point, end) else 1.0
            s = first + share * (following - first)
            x, y = self.point_at(s)
            yield math.hypot(px - x, py - y), s

    def reach(self, x: float, y: float) -> float:
        """The greatest of x·px + y·py over all points (px, py) of the ring, arcs exact."""
        best = -math.inf
        size = math.hypot(x, y)
        for start, end, bulge in self._spans:
            best = max(best, x * start[0] + y * start[1])
            if abs(bulge) < FLAT or size == 0.0:
                continue
            (cx, cy), radius = arc_circle(start, end, bulge)
            sweep = arc_angle(bulge)
            turned = math.atan2(y, x) - math.atan2(start[1] - cy, start[0] - cx)
            if math.copysign(1.0, sweep) * turned % math.tau <= abs(sweep):
                best = max(best, x * cx + y * cy + radius * size)
        return best
