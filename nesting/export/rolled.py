"""Where a place on the unrolled surface of a tube is in space, and which way the surface faces there, for pictures.

Also the shortening that keeps pictures of long tubes readable: plain stretches are left out between break lines.
"""

import math
from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from nesting.geometry.arcs import FLAT, arc_angle, arc_circle, arc_length
from nesting.geometry.contour import Contour
from nesting.model.part import TubePart
from nesting.units import Mm, Point

LONGEST = 7.0
"""Length over height up to which a tube is drawn whole."""

PLAIN = 1.6
"""Heights of a plain stretch that are still drawn where a tube is drawn shortened."""


@dataclass(frozen=True)
class Rolled:
    """The outer outline of a section, anticlockwise seen from +x, s counted from its first vertex."""

    ring: Contour

    @cached_property
    def _spans(self) -> list[tuple[Mm, Mm, Point, Point, float]]:
        """First s, length, both ends and bulge."""
        spans, first, vertices = list[tuple[Mm, Mm, Point, Point, float]](), 0.0, self.ring.vertices
        for (x, y, bulge), (next_x, next_y, _) in zip(vertices, [*vertices[1:], vertices[0]], strict=True):
            length = arc_length((x, y), (next_x, next_y), bulge)
            spans.append((first, length, (x, y), (next_x, next_y), bulge))
            first += length
        return spans

    @property
    def girth(self) -> Mm:
        return self.ring.length

    @cached_property
    def borders(self) -> list[Mm]:
        """Where the surface turns: the s of the vertices at which a line and an arc, or two sharp lines, meet."""
        kept = []
        for k, (first, _, start, end, bulge) in enumerate(self._spans):
            _, _, before, here, bulge_before = self._spans[k - 1]
            if abs(bulge) >= FLAT and abs(bulge_before) >= FLAT:
                continue  # two arcs of one circle
            way = (here[0] - before[0]) * (end[1] - start[1]) - (here[1] - before[1]) * (end[0] - start[0])
            if abs(bulge) >= FLAT or abs(bulge_before) >= FLAT or abs(way) > 1e-9:
                kept.append(first)
        return kept

    def at(self, s: Mm) -> tuple[Mm, Mm, float, float]:
        """The place's y and z, and those of the normal out of the metal."""
        way = s % self.girth
        k = bisect_right([span[0] for span in self._spans], way) - 1
        first, length, start, end, bulge = self._spans[k]
        share = (way - first) / length
        if abs(bulge) < FLAT:
            dy, dz = (end[0] - start[0]) / length, (end[1] - start[1]) / length
            return start[0] + share * length * dy, start[1] + share * length * dz, dz, -dy
        (cy, cz), radius = arc_circle(start, end, bulge)
        angle = math.atan2(start[1] - cz, start[0] - cy) + share * arc_angle(bulge)
        sign = 1.0 if bulge > 0 else -1.0
        return (
            cy + radius * math.cos(angle),
            cz + radius * math.sin(angle),
            sign * math.cos(angle),
            sign * math.sin(angle),
        )


@dataclass(frozen=True)
class Shortened:
    """Stretches of x, each (from, to, drawn from); between two stretches a plain piece is left out."""

    stretches: tuple[tuple[Mm, Mm, Mm], ...]

    @classmethod
    def of(cls, part: TubePart) -> "Shortened":
        """The whole tube, or what is left of it once plain stretches are left out."""
        tall = part.section.height
        if part.length <= LONGEST * tall:
            return cls(((0.0, part.length, 0.0),))
        pad = PLAIN * tall / 2.0
        taken = [(0.0, 0.0), (part.length, part.length)]
        for end in part.ends or ():
            bounds = end.path.bounds
            taken.append((bounds.left, bounds.right))
        taken += [(cut.x - cut.length / 2.0, cut.x + cut.length / 2.0) for cut in part.cut_outs]
        kept: list[list[Mm]] = []
        padded = [(max(0.0, low - pad), min(part.length, high + pad)) for low, high in sorted(taken)]
        for low, high in padded:
            if kept and low <= kept[-1][1] + 0.25 * tall:
                kept[-1][1] = max(kept[-1][1], high)
            else:
                kept.append([low, high])
        drawn, stretches = 0.0, []
        for low, high in kept:
            stretches.append((low, high, drawn))
            drawn += high - low + 0.25 * tall
        return cls(tuple(stretches))

    @property
    def length(self) -> Mm:
        low, high, drawn = self.stretches[-1]
        return drawn + high - low

    @property
    def breaks(self) -> list[tuple[Mm, Mm]]:
        """Drawn x at which one stretch ends and the next begins."""
        pairs = pairwise(self.stretches)
        return [(drawn + high - low, following[2]) for (low, high, drawn), following in pairs]

    def at(self, x: Mm) -> Mm:
        """Where x is drawn; in a piece that is left out, in the gap that stands for it."""
        for low, high, drawn in self.stretches:
            if x <= high:
                return drawn + max(0.0, x - low) if x >= low else drawn
        low, high, drawn = self.stretches[-1]
        return drawn + x - low
