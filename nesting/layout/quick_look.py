"""A quick look at one sheet of pieces before an engine builds on it: inside the usable area, and gaps kept.

Nests are checked elsewhere by code that is independent of all this. This only keeps an engine from building half a
minute on what would not pass.
"""

import math
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.geometry.contour import Bounds
from nesting.model.nest import Placement
from nesting.model.part import SheetPart
from nesting.units import CHECK_SLACK, CHORD, Deg, Mm

FORGIVEN: Mm = 0.75 * CHECK_SLACK


class QuickLook:
    """Knows the outlines of some parts, each worked out once at each turn."""

    def __init__(self, parts: Mapping[str, SheetPart], gap: Mm) -> None:
        self._parts, self._gap = parts, gap
        self._turned: dict[tuple[str, Deg, bool], BaseGeometry] = {}

    def bounds(self, placements: Sequence[Placement]) -> list[Bounds]:
        return [Bounds(*map(float, self._placed(p).bounds)) for p in placements]

    def is_right(self, placements: Sequence[Placement], usable: Bounds) -> bool:
        """Whether all lie in the usable rectangle and none comes nearer to another than the gap."""
        shapes = np.array([self._placed(p) for p in placements], dtype=object)
        if len(shapes) == 0:
            return True
        left, bottom, right, top = shapely.total_bounds(shapes)
        if min(left - usable.left, bottom - usable.bottom, usable.right - right, usable.top - top) < -FORGIVEN:
            return False
        reach = self._gap - FORGIVEN
        if reach <= 0:
            shapes, reach = shapely.buffer(shapes, -FORGIVEN / 2.0), 0.0
        pairs = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=reach)
        return int(np.count_nonzero(pairs[0] < pairs[1])) == 0

    def _placed(self, p: Placement) -> BaseGeometry:
        key = (p.part, p.turn, p.mirrored)
        if key not in self._turned:
            shape: BaseGeometry = Polygon(self._parts[p.part].outer.polygon(CHORD, "on"))
            if p.mirrored:
                shape = affinity.scale(shape, -1.0, 1.0, origin=(0.0, 0.0))
            self._turned[key] = affinity.rotate(shape, p.turn, origin=(0.0, 0.0))
        return affinity.translate(self._turned[key], p.x, p.y)


def span(bounds: Sequence[Bounds], left: Mm) -> Mm:
    """How far along x the bounds reach from `left`."""
    return max((b.right - left for b in bounds), default=-math.inf)
