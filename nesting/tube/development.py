"""The cut contours of a recognised tube, laid flat with lines and circles as exact as they are on its flat sides.

Whatever is neither a line nor a circle on a flat side is followed by chords within CHORD_OF_CUTS.
"""

import math
from collections.abc import Sequence

import numpy as np

from nesting.geometry.arcs import FLAT, arc_points
from nesting.geometry.contour import Contour, Path, Vertex
from nesting.model.section import Section
from nesting.tube import contours
from nesting.tube.outline import Numbers
from nesting.tube.solid import Edge, Solid
from nesting.tube.tube_shape import TubeShape
from nesting.tube.unroll import outline_of, unrolled
from nesting.units import SAME_POINT, Mm

CHORD_OF_CUTS: Mm = 0.01
"""How far a cut over a corner or round wall may be from its chords: a tenth of what tube and machine repeat to."""

FLAT_WITHIN: Mm = 1e-5
"""Edges this near a flat side lie on it: the kernel's own noise, and measures rounded to SAME_POINT."""

IS_CIRCLE: Mm = 1e-4
"""A curve on a flat side this near a circle is one: programs write circles as free curves to about 1e-6 mm."""


def end_path(solid: Solid, shape: TubeShape, contour: contours.Contour) -> Path:
    """The contour of an end, once round from s = 0 to the girth."""
    section = shape.section.section
    run = _flat_run(solid, shape, contour, section)
    girth = outline_of(section).girth
    if run[-1][1] < run[0][1]:
        run = _reversed(run)
    return Path(tuple(_from_zero(run, girth)))


def cut_ring(solid: Solid, shape: TubeShape, contour: contours.Contour) -> Contour:
    """The contour of an opening, its middle within the first round."""
    section = shape.section.section
    run = _flat_run(solid, shape, contour, section)[:-1]
    ring = Contour(tuple(run))
    girth = outline_of(section).girth
    middle = (ring.bounds.bottom + ring.bounds.top) / 2.0
    shift = girth * np.floor((middle + SAME_POINT) / girth)
    return Contour(tuple((x, float(s - shift), bulge) for x, s, bulge in ring.vertices))


def _flat_run(solid: Solid, shape: TubeShape, contour: contours.Contour, section: Section) -> list[Vertex]:
    """The vertices along the contour, the first again at the end; straight over the gap of a tube that is slit."""
    outline = outline_of(section)
    vertices: list[Vertex] = []
    for number, forwards in zip(contour.edges, contour.forwards, strict=True):
        edge = solid.edges[number]
        points = edge.fine_points(contours.FOLLOWED)
        local = shape.section.frame.local(points if forwards else points[::-1])
        places = unrolled(section, local)
        if vertices:  # the same point, perhaps a round further
            rounds = np.round((vertices[-1][1] - places[0, 1]) / outline.girth)
            places = places + np.array([0.0, outline.girth * rounds])
            if np.hypot(*(places[0] - vertices[-1][:2])) < contours.SAME_END:
                vertices.pop()
        vertices += _flat_edge(
            edge, places, is_flat=any(side.is_under(local[:, 1:], FLAT_WITHIN) for side in outline.sides)
        )
    (x, s, _), (last_x, last_s, _) = vertices[0], vertices[-1]
    s += outline.girth * round((last_s - s) / outline.girth)
    if np.hypot(last_x - x, last_s - s) >= contours.SAME_END:
        vertices.append((x, s, 0.0))
    return vertices


def _flat_edge(edge: Edge, places: Numbers, *, is_flat: bool) -> list[Vertex]:
    if edge.conic is None and edge.slopes is None:
        return _lines(places)
    if is_flat and (arc := _arc(places)) is not None:
        return arc
    return _lines(_thinned(places, CHORD_OF_CUTS - contours.FOLLOWED))


def _lines(places: Numbers) -> list[Vertex]:
    return [(float(x), float(s), 0.0) for x, s in places]


def _arc(places: Numbers) -> list[Vertex] | None:
    """The arc that the places lie on, in steps of half a turn at most; None where they lie on none."""
    if len(places) < 5:
        return None
    reference = places[0]
    apart = places - reference
    matrix = np.column_stack([2.0 * apart, np.ones(len(apart))])
    (cx, cs, rest), *_ = np.linalg.lstsq(matrix, np.sum(apart**2, axis=1), rcond=None)
    square = rest + cx**2 + cs**2
    if square <= 0.0:
        return None
    radius, out = np.sqrt(square), apart - np.array([cx, cs])
    if radius > 1e4 or float(np.abs(np.hypot(*out.T) - radius).max()) > IS_CIRCLE:
        return None
    turned = np.unwrap(np.arctan2(out[:, 1], out[:, 0]))
    sweep = float(turned[-1] - turned[0])
    count = max(1, int(np.ceil(abs(sweep) / np.pi - 1e-6)))
    bulge = float(np.tan(sweep / count / 4.0))
    stops = [turned[0] + sweep * k / count for k in range(1, count)]
    centre_x, centre_s = reference + np.array([cx, cs])
    between = [(float(centre_x + radius * np.cos(t)), float(centre_s + radius * np.sin(t)), bulge) for t in stops]
    (first_x, first_s), (last_x, last_s) = places[0], places[-1]
    return [(float(first_x), float(first_s), bulge), *between, (float(last_x), float(last_s), 0.0)]


def _thinned(places: Numbers, chord: Mm) -> Numbers:
    """Fewer of the places, whose chords stay within `chord` of those left out.

    A chord goes on while its end lies in the wedge of directions that pass every place left out near enough.
    """
    points = [(float(x), float(s)) for x, s in places]
    kept, first = [0], 0
    while first < len(points) - 1:
        x0, s0 = points[first]
        last, furthest, base = first, 0.0, 0.0
        low, high = -math.inf, math.inf
        for k in range(first + 1, len(points)):
            along, up = points[k][0] - x0, points[k][1] - s0
            apart = math.hypot(along, up)
            way = math.atan2(up, along)
            if high == math.inf:
                base = way
            way = (way - base + math.pi) % (2.0 * math.pi) - math.pi
            if k > first + 1 and not (apart >= furthest and low <= way <= high):
                break
            last, furthest = k, apart
            if apart > chord:
                half = math.asin(chord / apart)
                low, high = max(low, way - half), min(high, way + half)
        kept.append(last)
        first = last
    return places[kept]


def _reversed(run: Sequence[Vertex]) -> list[Vertex]:
    bulges = [-bulge for *_, bulge in run[-2::-1]] + [0.0]
    return [(x, s, bulge) for (x, s, _), bulge in zip(run[::-1], bulges, strict=True)]


def _from_zero(run: Sequence[Vertex], girth: Mm) -> list[Vertex]:
    """The same way round, begun where it first passes s = 0 upwards; the run gains one girth."""
    zero = float(girth * np.ceil((run[0][1] - SAME_POINT) / girth))
    k = _crossing(run, zero)
    if abs(run[k][2]) >= FLAT:  # an arc of a notch that lies there: its chords do
        chords = arc_points(run[k][:2], run[k + 1][:2], run[k][2], CHORD_OF_CUTS / 2.0)
        run = [*run[:k], *((x, s, 0.0) for x, s in chords), *run[k + 1 :]]
        k = _crossing(run, zero)
    (x0, s0, _), (x1, s1, _) = run[k], run[k + 1]
    at = x0 + (x1 - x0) * min(1.0, max(0.0, (zero - s0) / (s1 - s0)))
    later = [(x, s + girth, bulge) for x, s, bulge in run[: k + 1]]
    vertices = [(at, zero, 0.0), *run[k + 1 : -1], *later, (at, zero + girth, 0.0)]
    return _without_doubles([(x, s - zero, bulge) for x, s, bulge in vertices])


def _crossing(run: Sequence[Vertex], zero: Mm) -> int:
    reach = zero + SAME_POINT
    return next(k for k in range(len(run) - 1) if run[k][1] <= reach < run[k + 1][1])


def _without_doubles(run: Sequence[Vertex]) -> list[Vertex]:
    kept = [run[0]]
    for vertex in run[1:]:
        if abs(vertex[0] - kept[-1][0]) < SAME_POINT and abs(vertex[1] - kept[-1][1]) < SAME_POINT:
            kept[-1] = (*kept[-1][:2], vertex[2])
        else:
            kept.append(vertex)
    return kept
