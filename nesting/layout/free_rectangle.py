"""The largest upright rectangle inside a sheet of any outline: where rows go on a remnant, and what is kept of it.

The rectangle found lies wholly inside. It is the largest whose sides run through corners of the outline or through an
even raster over it, so beside a slanted or round edge a slightly larger one may exist.
"""

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.geometry.contour import Bounds, Contour
from nesting.units import CHORD, SAME_POINT, Mm

RASTER = 24
"""Even divisions in each direction beside the corners themselves."""

MOST_LINES = 120
"""Dividing lines in each direction; an outline with more corners is sampled, so that the work stays bounded."""


def is_upright_rectangle(outline: Contour) -> bool:
    """Whether the outline fills its bounds, once: a ring that runs round twice encloses more than they hold."""
    bounds = outline.bounds
    return math.isclose(outline.area, bounds.width * bounds.height, rel_tol=1e-12)


def usable_area(outline: Contour, margin: Mm) -> BaseGeometry:
    """The sheet less its margin, on the strict side: arcs inwards, and inner corners kept off squarely."""
    area = Polygon(outline.anticlockwise().polygon(CHORD, "inwards"))
    if not area.is_valid:
        return Polygon()
    return area.buffer(-margin, join_style="mitre", mitre_limit=2.0) if margin else area


def usable_rectangle(outline: Contour, margin: Mm) -> Bounds | None:
    """The largest upright rectangle of the sheet less its margin; None where nothing is left."""
    if is_upright_rectangle(outline):
        b = outline.bounds
        inner = Bounds(b.left + margin, b.bottom + margin, b.right - margin, b.top - margin)
        return inner if inner.width > 0 and inner.height > 0 else None
    return largest_rectangle(usable_area(outline, margin))


def largest_rectangle(area: BaseGeometry) -> Bounds | None:
    """The largest upright rectangle in a polygon, with or without holes; None where there is none."""
    if area.is_empty:
        return None
    corners = shapely.get_coordinates(area)
    xs, ys = _lines(corners[:, 0]), _lines(corners[:, 1])
    left, bottom = np.meshgrid(xs[:-1], ys[:-1])
    right, top = np.meshgrid(xs[1:], ys[1:])
    shapely.prepare(area)
    # A hair is taken off each cell, because cells that share an edge with the outline may miss it by rounding.
    hair = SAME_POINT / 10.0
    free = shapely.covers(area, shapely.box(left + hair, bottom + hair, right - hair, top - hair))
    best, best_size = None, 0.0
    heights = np.zeros(len(xs) - 1, dtype=int)
    for row in range(len(ys) - 1):
        heights = np.where(free[row], heights + 1, 0)
        for first, last, depth in _widest_under(heights.tolist()):
            found = Bounds(float(xs[first]), float(ys[row + 1 - depth]), float(xs[last + 1]), float(ys[row + 1]))
            if found.width * found.height > best_size:
                best, best_size = found, found.width * found.height
    return best


def _lines(values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Where the area is divided: at the corners, which are sampled if they are many, and evenly between."""
    own = np.unique(np.round(values, 7))
    if len(own) > MOST_LINES - RASTER:
        own = own[np.linspace(0, len(own) - 1, MOST_LINES - RASTER).astype(int)]
    return np.unique(np.concatenate([own, np.linspace(own[0], own[-1], RASTER + 1)]))


def _widest_under(heights: Sequence[int]) -> list[tuple[int, int, int]]:
    """For every way to be the lowest of a run of columns: its first and last column and its depth.

    Source: the usual stack method for the largest rectangle under a histogram (from memory).
    """
    found, stack = [], list[tuple[int, int]]()
    for i, height in enumerate([*heights, 0]):
        first = i
        while stack and stack[-1][1] >= height:
            first, depth = stack.pop()
            if depth:
                found.append((first, i - 1, depth))
        stack.append((first, height))
    return found
