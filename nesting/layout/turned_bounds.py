"""The bounds of a ring at many turns at once: free turning asks for hundreds, of rings with thousands of corners."""

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from nesting.geometry.arcs import FLAT, arc_angle, arc_circle
from nesting.geometry.contour import Bounds, Contour
from nesting.geometry.placing import turn_vector
from nesting.units import Deg

AT_ONCE = 2**20
"""Turned corners worked out at once, so that memory stays bounded."""

type Floats = npt.NDArray[np.float64]


def turned_bounds(ring: Contour, turns: Sequence[Deg]) -> list[Bounds]:
    """The exact bounds of the ring at each turn about the origin, as `placed(ring, 0, 0, turn).bounds`."""
    corners = np.array([vertex[:2] for vertex in ring.vertices])
    ends = ring.vertices[1:] + ring.vertices[:1]
    arcs = []
    for (x1, y1, bulge), (x2, y2, _) in zip(ring.vertices, ends, strict=True):
        if abs(bulge) >= FLAT:
            (x, y), radius = arc_circle((x1, y1), (x2, y2), bulge)
            begin, sweep = math.atan2(y1 - y, x1 - x), arc_angle(bulge)
            arcs.append((x, y, radius, begin if sweep > 0 else begin + sweep, abs(sweep)))
    step = max(1, AT_ONCE // (len(corners) + len(arcs)))
    found: list[Bounds] = []
    for first in range(0, len(turns), step):
        found += _bounds(corners, np.array(arcs).reshape(-1, 5), turns[first : first + step])
    return found


def _bounds(corners: Floats, arcs: Floats, turns: Sequence[Deg]) -> list[Bounds]:
    """`corners` is (n, 2); `arcs` is (m, 5): centre, radius, the angle where it begins anticlockwise, and its sweep."""
    cos, sin = np.array([turn_vector(turn) for turn in turns]).T
    reaches = []
    # How far it reaches to the right, up, left and down: the farthest of its corners and of its arcs that point there.
    for quarter, (ux, uy) in enumerate(((cos, -sin), (sin, cos), (-cos, sin), (-sin, -cos))):
        reach = (np.outer(corners[:, 0], ux) + np.outer(corners[:, 1], uy)).max(axis=0)
        if len(arcs):
            x, y, radius, begin, sweep = (column[:, None] for column in arcs.T)
            way = quarter * math.pi / 2.0 - np.radians(turns)
            points_there = (way - begin) % (2.0 * math.pi) <= sweep
            reach = np.maximum(reach, np.where(points_there, x * ux + y * uy + radius, -np.inf).max(axis=0))
        reaches.append(reach.tolist())
    return [Bounds(-left, -down, right, up) for right, up, left, down in zip(*reaches, strict=True)]
