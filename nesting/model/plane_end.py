"""Square and mitred ends from their angle alone, for parts that are described and not read from a model."""

import math
from itertools import pairwise

from nesting.errors import BadValue
from nesting.geometry.arcs import FLAT, arc_angle, arc_circle, arc_length
from nesting.geometry.contour import Path, Vertex
from nesting.geometry.ring_walk import RingWalk
from nesting.model.section import Section
from nesting.model.tube_cuts import EndCut, EndKind
from nesting.units import Deg, Mm

CHORD: Mm = 0.005
"""How far a mitre over a corner or round wall may be from its chords: half of what a reader of models allows itself."""


def plane_end(section: Section, length: Mm, angle: Deg, towards: Deg, *, at_start: bool) -> EndCut:
    """The end of a part of that length over all: square where the angle is 0, else its long point lies `towards`.

    Raises:
        BadValue: an angle that no mitre has.
    """
    if angle == 0.0:
        x = 0.0 if at_start else length
        return EndCut(EndKind.SQUARE, Path(((x, 0.0, 0.0), (x, RingWalk(section.outlines[0]).girth, 0.0))))
    if not 0.0 < angle < 90.0:
        raise BadValue(f"A mitre cannot lean by {angle:g}°.")
    slope, a = math.tan(math.radians(angle)), math.radians(towards)
    y, z = slope * math.cos(a), slope * math.sin(a)
    furthest = RingWalk(section.outlines[0]).reach(y, z)
    vertices = []
    for (at_y, at_z), s in _places(section, slope):
        back = furthest - y * at_y - z * at_z
        vertices.append((back if at_start else length - back, s, 0.0))
    return EndCut(EndKind.MITRE, Path(tuple(vertices)), angle, towards % 360.0, bevel=angle)


def ends_cross(ends: tuple[EndCut, EndCut]) -> bool:
    """Whether a part has no length left somewhere round its section: it is too short for its mitres."""
    start, end = (cut.path for cut in ends)
    places = [s for path in (start, end) for _, s, _ in path.vertices]
    return any(_x_at(end, s) <= _x_at(start, s) for s in places)


def _places(section: Section, slope: float) -> list[tuple[tuple[Mm, Mm], Mm]]:
    """Points of the outline with the way to them, once round, close enough for a plane of that slope."""
    ring = section.outlines[0]
    points: list[Vertex] = [*ring.vertices, ring.vertices[0]]
    places, first = [], 0.0
    for (x, y, bulge), (next_x, next_y, _) in pairwise(points):
        start, end = (x, y), (next_x, next_y)
        long = arc_length(start, end, bulge)
        places.append((start, first))
        if abs(bulge) >= FLAT:
            centre, radius = arc_circle(start, end, bulge)
            sweep, begin = arc_angle(bulge), math.atan2(y - centre[1], x - centre[0])
            # Source: derivation. x is slope times radius times a sine, whose chords over d are off by d²/8 of that.
            count = math.ceil(abs(sweep) / math.sqrt(8.0 * CHORD / (slope * radius)))
            for k in range(1, count):
                angle = begin + sweep * k / count
                at = (centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle))
                places.append((at, first + long * k / count))
        first += long
    return [*places, ((points[0][0], points[0][1]), first)]


def _x_at(path: Path, s: Mm) -> Mm:
    for (x, low, _), (next_x, high, _) in pairwise(path.vertices):
        if low <= s < high:
            return x + (next_x - x) * (s - low) / (high - low)
    return path.vertices[-1][0]
