"""The outline of any section as a ring of lines and arcs: which points lie on it, how far off, how far round.

The same questions as `outline` answers for hollow sections, and the way back from s to a point. Points across the bar
are rows `(n, 2)` (y, z). The way round, s, starts at the ring's first vertex and runs anticlockwise seen from +x.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from nesting.geometry.arcs import FLAT, arc_angle, arc_circle, arc_length
from nesting.geometry.contour import Contour
from nesting.tube.outline import CrossPoints, Numbers
from nesting.units import Mm, Mm2


@dataclass(frozen=True, eq=False)
class Span:
    """One line or arc of the ring, from s = `first` on. `centre` and `radius` are 0 for a line; `sweep` is in radians,
    positive anticlockwise, and then the metal lies on the side of the centre.
    """

    start: Numbers
    end: Numbers
    first: Mm
    length: Mm
    sweep: float = 0.0
    centre: Numbers | None = None
    radius: Mm = 0.0

    def nearest(self, points: CrossPoints) -> tuple[Numbers, Numbers]:
        """For each point the distance from the span, negative on the metal's side, and the way along it."""
        if self.centre is None:
            along = (self.end - self.start) / self.length
            way = np.clip((points - self.start) @ along, 0.0, self.length)
            apart = points - self.start - way[:, None] * along
            side = apart @ np.array([along[1], -along[0]])
        else:
            out = points - self.centre
            sign = math.copysign(1.0, self.sweep)
            first = math.atan2(*(self.start - self.centre)[::-1])
            turn = np.mod(sign * (np.arctan2(out[:, 1], out[:, 0]) - first), 2.0 * math.pi)
            whole = abs(self.sweep)
            # Beyond the end, whichever end is nearer the short way round.
            beyond = turn > whole
            turn = np.where(beyond, np.where(turn - whole < 2.0 * math.pi - turn, whole, 0.0), turn)
            angle = first + sign * turn
            outwards = np.stack([np.cos(angle), np.sin(angle)], axis=1)
            apart = out - self.radius * outwards
            side = sign * np.sum(apart * outwards, axis=1)
            way = turn * self.radius
        return np.copysign(np.hypot(*apart.T), side), np.asarray(way)

    def at(self, ways: Numbers) -> CrossPoints:
        """The points so far along it."""
        if self.centre is None:
            return np.asarray(self.start + np.outer(ways / self.length, self.end - self.start))
        angle = math.atan2(*(self.start - self.centre)[::-1]) + ways / self.length * self.sweep
        return np.asarray(self.centre + self.radius * np.stack([np.cos(angle), np.sin(angle)], axis=1))


@dataclass(frozen=True, eq=False)
class Side:
    """One flat side: the straight spans that lie in one line, from s = `first` on; `first` may be below 0."""

    spans: tuple[Span, ...]
    first: Mm
    length: Mm

    def is_under(self, points: CrossPoints, within: Mm) -> bool:
        """Whether all the points lie on it."""
        return bool(np.min([np.abs(span.nearest(points)[0]) for span in self.spans], axis=0).max() < within)


@dataclass(frozen=True)
class RingOutline:
    """An anticlockwise ring."""

    ring: Contour

    @cached_property
    def spans(self) -> tuple[Span, ...]:
        spans, first, vertices = list[Span](), 0.0, self.ring.vertices
        for (x, y, bulge), (next_x, next_y, _) in zip(vertices, [*vertices[1:], vertices[0]], strict=True):
            ends = (x, y), (next_x, next_y)
            length, start, end = arc_length(*ends, bulge), np.array(ends[0]), np.array(ends[1])
            if abs(bulge) < FLAT:
                spans.append(Span(start, end, first, length))
            else:
                centre, radius = arc_circle(*ends, bulge)
                spans.append(Span(start, end, first, length, arc_angle(bulge), np.array(centre), radius))
            first += length
        return tuple(spans)

    @property
    def girth(self) -> Mm:
        return self.ring.length

    @property
    def area(self) -> Mm2:
        return self.ring.area

    def _nearest(self, points: CrossPoints) -> tuple[Numbers, Numbers]:
        distances, ways = zip(*(span.nearest(points) for span in self.spans), strict=True)
        closest = np.abs(distances).argmin(axis=0)
        row = np.arange(len(points))
        first = np.array([span.first for span in self.spans])
        return np.array(distances)[closest, row], first[closest] + np.array(ways)[closest, row]

    def distance(self, points: CrossPoints) -> Numbers:
        """How far each point lies outside the outline, negative inside."""
        return self._nearest(points)[0]

    def around(self, points: CrossPoints) -> Numbers:
        """How far round each point lies, 0 to the girth; points off the outline count where they are nearest."""
        return np.mod(self._nearest(points)[1], self.girth)

    def at(self, s: Numbers) -> CrossPoints:
        """The points so far round; s may pass the girth."""
        ways = np.mod(s, self.girth)
        first = np.array([span.first for span in self.spans])
        which = np.searchsorted(first, ways, side="right") - 1
        points = np.empty((len(ways), 2))
        for k, span in enumerate(self.spans):
            points[which == k] = span.at(ways[which == k] - span.first)
        return points

    @cached_property
    def sides(self) -> tuple[Side, ...]:
        """The flat sides, the one that the ring begins in first."""
        found: list[Side] = []
        for span in self.spans:
            if span.centre is not None:
                continue
            if found and _goes_on(found[-1].spans[-1], span):
                found[-1] = Side((*found[-1].spans, span), found[-1].first, found[-1].length + span.length)
            else:
                found.append(Side((span,), span.first, span.length))
        if len(found) > 1 and _goes_on(found[-1].spans[-1], found[0].spans[0]):
            last = found.pop()
            found[0] = Side((*last.spans, *found[0].spans), last.first - self.girth, last.length + found[0].length)
        return tuple(found)

    def side_at(self, s: Mm) -> Side | None:
        """The flat side at s, or None on an arc."""
        return next((side for side in self.sides if (s - side.first) % self.girth <= side.length + 1e-9), None)


def _goes_on(span: Span, following: Span) -> bool:
    """Whether the second begins where the first ends, and runs the same way."""
    first, second = span.end - span.start, following.end - following.start
    meets = float(np.abs(span.end - following.start).max()) < 1e-9
    turn = first[0] * second[1] - first[1] * second[0]
    return meets and abs(float(turn)) < 1e-9 * span.length * following.length and float(first @ second) > 0.0
