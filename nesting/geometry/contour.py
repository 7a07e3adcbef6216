"""One closed ring of lines and arcs: its direction, area, length, extent, and polygons that stand for it.

Also `Path`, an open run of lines and arcs, used for marking lines and for sketches of what could not be closed.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, Self

from nesting.errors import BadValue
from nesting.geometry.arcs import arc_extremes, arc_length, arc_points, arc_segment_area
from nesting.units import Mm, Mm2, Point

type Vertex = tuple[float, float, float]
"""x, y, and the bulge of the way from here to the next vertex."""

type Side = Literal["on", "outwards", "inwards"]


@dataclass(frozen=True)
class Bounds:
    """The smallest upright rectangle round something."""

    left: Mm
    bottom: Mm
    right: Mm
    top: Mm

    @property
    def width(self) -> Mm:
        return self.right - self.left

    @property
    def height(self) -> Mm:
        return self.top - self.bottom

    def joined(self, other: "Bounds") -> "Bounds":
        """The bounds round both."""
        return Bounds(
            min(self.left, other.left),
            min(self.bottom, other.bottom),
            max(self.right, other.right),
            max(self.top, other.top),
        )


@dataclass(frozen=True)
class Path:
    """An open run of lines and arcs; the last vertex's bulge is not used.

    Raises:
        BadValue: fewer than two vertices, or a coordinate that is not a number.
    """

    vertices: tuple[Vertex, ...]

    def __post_init__(self) -> None:
        _check_vertices(self.vertices, self._fewest, type(self).__name__)

    _fewest = 2

    def _spans(self) -> list[tuple[Point, Point, float]]:
        return [((a[0], a[1]), (b[0], b[1]), a[2]) for a, b in zip(self.vertices, self.vertices[1:], strict=False)]

    @cached_property
    def length(self) -> Mm:
        """Length along lines and arcs."""
        return math.fsum(arc_length(*span) for span in self._spans())

    @cached_property
    def bounds(self) -> Bounds:
        """Exact extent: arcs count with the points where they reach furthest."""
        points = [(v[0], v[1]) for v in self.vertices]
        for start, end, bulge in self._spans():
            points += arc_extremes(start, end, bulge)
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return Bounds(min(xs), min(ys), max(xs), max(ys))

    @cached_property
    def mean_x(self) -> Mm:
        """The mean x over the run's extent in y, arcs exact; the first x of a run that ends as high as it began."""
        area = 0.0
        for (x, y), (next_x, next_y), bulge in self._spans():
            area += (x + next_x) / 2.0 * (next_y - y) + arc_segment_area((x, y), (next_x, next_y), bulge)
        high = self.vertices[-1][1] - self.vertices[0][1]
        return area / high if high else self.vertices[0][0]

    def flattened(self, height: Mm) -> list[Point]:
        """Points on the run whose chords stay within `height` of it, both ends included."""
        points: list[Point] = []
        for start, end, bulge in self._spans():
            points += arc_points(start, end, bulge, height)
        points.append((self.vertices[-1][0], self.vertices[-1][1]))
        return points


@dataclass(frozen=True)
class Contour(Path):
    """A ring of lines and arcs that closes itself from the last vertex to the first.

    Two vertices make a ring only with arcs between them, such as a circle: `Contour.circle`.

    Raises:
        BadValue: fewer than two vertices, a coordinate that is not a number, or a ring without area.
    """

    def __post_init__(self) -> None:
        super().__post_init__()
        if abs(self.area) <= 0.0:
            raise BadValue("Contour: the ring encloses no area.")

    @classmethod
    def circle(cls, x: Mm, y: Mm, radius: Mm) -> Self:
        """An anticlockwise circle of two half circles."""
        return cls(((x + radius, y, 1.0), (x - radius, y, 1.0)))

    @classmethod
    def rectangle(cls, width: Mm, height: Mm, x: Mm = 0.0, y: Mm = 0.0) -> Self:
        """An anticlockwise upright rectangle with its lower left corner at (x, y)."""
        return cls(((x, y, 0.0), (x + width, y, 0.0), (x + width, y + height, 0.0), (x, y + height, 0.0)))

    def _spans(self) -> list[tuple[Point, Point, float]]:
        ends = self.vertices[1:] + self.vertices[:1]
        return [((a[0], a[1]), (b[0], b[1]), a[2]) for a, b in zip(self.vertices, ends, strict=True)]

    @cached_property
    def signed_area(self) -> Mm2:
        """Area with arcs exact; positive for an anticlockwise ring.

        Source: shoelace formula plus the circular segment of each arc.
        """
        x0, y0, _ = self.vertices[0]
        total = []
        for (x1, y1), (x2, y2), bulge in self._spans():
            total.append(((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)) / 2.0)
            total.append(arc_segment_area((x1, y1), (x2, y2), bulge))
        return math.fsum(total)

    @property
    def area(self) -> Mm2:
        """Area with arcs exact, never negative."""
        return abs(self.signed_area)

    @property
    def is_anticlockwise(self) -> bool:
        return self.signed_area > 0

    def reversed(self) -> Self:
        """The same ring run the other way."""
        ring = self.vertices[::-1]
        bulges = [-v[2] for v in self.vertices[-2::-1]] + [-self.vertices[-1][2]]
        return type(self)(tuple((v[0], v[1], b) for v, b in zip(ring, bulges, strict=True)))

    def anticlockwise(self) -> Self:
        return self if self.is_anticlockwise else self.reversed()

    def clockwise(self) -> Self:
        return self.reversed() if self.is_anticlockwise else self

    def polygon(self, height: Mm, side: Side = "on") -> list[Point]:
        """Corner points of a polygon within `height` of the ring, in the ring's own direction, first not repeated.

        "outwards" encloses every point of the ring's area, "inwards" lies wholly within it, "on" has its corners on
        the ring.
        """
        points: list[Point] = []
        left_turning = self.is_anticlockwise
        for start, end, bulge in self._spans():
            bulges_out = (bulge > 0) == left_turning
            outside = (side == "outwards" and bulges_out) or (side == "inwards" and not bulges_out)
            points += arc_points(start, end, bulge, height, outside=outside)
        return points

    def flattened(self, height: Mm) -> list[Point]:
        points = self.polygon(height)
        return [*points, points[0]]


def _check_vertices(vertices: tuple[Vertex, ...], fewest: int, noun: str) -> None:
    if len(vertices) < fewest:
        raise BadValue(f"{noun}: {len(vertices)} vertices, at least {fewest} are needed.")
    for vertex in vertices:
        if len(vertex) != 3 or not all(math.isfinite(value) for value in vertex):
            raise BadValue(f"{noun}: vertex {vertex!r} is not three finite numbers.")
