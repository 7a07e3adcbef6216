"""Contours made light for a solver: repeated points taken out, needless corners taken off, useless holes closed.

Always on the strict side: an outer contour only grows, a hole or a sheet only shrinks, so what the solver lays with
the light shape can be cut with the true one.
"""

from collections.abc import Mapping, Sequence
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import Polygon

from nesting.geometry.contour import Contour, Vertex
from nesting.model.part import SheetPart
from nesting.units import CHORD, SAME_POINT, Mm

FEW_CORNERS = 40
"""Up to so many lines and arcs a contour is left as it is: solvers take arcs as they are and like few corners."""

STEPS: tuple[Mm, ...] = (0.05, 0.1, 0.2, 0.4, 0.8)
"""How far the contour may be moved, tried in turn until few corners are left."""


def lighter(ring: Contour, side: Literal["outwards", "inwards"]) -> Contour:
    """An anticlockwise ring that encloses the given one ("outwards") or lies within it, with few corners."""
    ring = _without_repeats(ring.anticlockwise())
    if len(ring.vertices) <= FEW_CORNERS:
        return ring
    exact = Polygon(ring.polygon(CHORD, side))
    if not exact.is_valid:
        return ring
    best = None
    for step in STEPS:
        moved = exact.buffer(step if side == "outwards" else -step, join_style="mitre").simplify(step)
        if not isinstance(moved, Polygon) or moved.is_empty:
            break
        moved = Polygon(moved.exterior)
        if not (moved.covers(exact) if side == "outwards" else exact.covers(moved)):
            continue
        best = moved
        if len(moved.exterior.coords) <= FEW_CORNERS:
            break
    if best is None:
        return ring
    corners = shapely.get_coordinates(best.exterior)[:-1].tolist()
    return Contour(tuple((x, y, 0.0) for x, y in corners)).anticlockwise()


def _without_repeats(ring: Contour) -> Contour:
    """The ring without spans of no length, which make a solver hang."""
    kept: list[Vertex] = []
    for vertex in ring.vertices:
        if kept and abs(vertex[0] - kept[-1][0]) <= SAME_POINT and abs(vertex[1] - kept[-1][1]) <= SAME_POINT:
            kept[-1] = (kept[-1][0], kept[-1][1], vertex[2])
        else:
            kept.append(vertex)
    first, last = kept[0], kept[-1]
    if len(kept) > 2 and abs(first[0] - last[0]) <= SAME_POINT and abs(first[1] - last[1]) <= SAME_POINT:
        kept.pop()
    return Contour(tuple(kept)) if len(kept) < len(ring.vertices) else ring


def fillable_holes(parts: Sequence[SheetPart], gap: Mm) -> Mapping[str, list[Contour]]:
    """Each part's holes that could take some part of the job with the gap all round, judged by their widths."""
    narrowest = min((_width(part.outer) for part in parts), default=0.0)
    return {
        part.name: [hole for hole in part.holes if _width(hole) >= narrowest + 2.0 * gap - SAME_POINT] for part in parts
    }


def _width(ring: Contour) -> Mm:
    """The least distance between two parallel lines with the ring between them.

    One of the lines runs along an edge of the hull (known for convex polygons, from memory), so the smallest height
    over the hull's edges is taken.
    """
    hull = Polygon(ring.polygon(CHORD, "on")).convex_hull
    corners = shapely.get_coordinates(hull)
    if len(corners) < 4:
        return 0.0
    edges = corners[1:] - corners[:-1]
    normals = np.column_stack([-edges[:, 1], edges[:, 0]]) / np.hypot(edges[:, 0], edges[:, 1])[:, None]
    heights = corners @ normals.T
    return float((heights.max(axis=0) - heights.min(axis=0)).min())
