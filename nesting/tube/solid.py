"""A solid in plain numbers: its faces, edges and volume, as recognition needs them and without the geometry kernel.

Points and directions are rows of arrays `(n, 3)` in millimetres. Normals point out of the metal.
"""

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nesting.units import Mm, Mm2

type Points = NDArray[np.float64]
"""Rows of three coordinates."""

type Vector = NDArray[np.float64]
"""Three coordinates."""


EMPTY: Points = np.empty((0, 3))


class Surface(StrEnum):
    PLANE = "plane"
    CYLINDER = "cylinder"
    CONE = "cone"
    SPHERE = "sphere"
    TORUS = "torus"
    FREE = "free"
    """Anything else: a free-form surface that is none of the above."""


@dataclass(frozen=True, eq=False)
class Face:
    """One face.

    `point` lies on the plane, on the axis, or is the centre; `direction` is the plane's normal out of the metal, or
    the axis. `radius` is that of a cylinder, sphere, or cone at `point`, or the larger one of a torus, and
    `tube_radius` the smaller one. `is_hollow` says that the metal lies outside of it, as round a bore. `turn` is the
    share of a full turn that the face goes round its axis. `samples` are points inside faces that may reach further
    than their edges; else there are none.
    """

    surface: Surface
    area: Mm2
    point: Vector
    direction: Vector
    radius: Mm = 0.0
    tube_radius: Mm = 0.0
    slope: float = 0.0
    is_hollow: bool = False
    turn: float = 0.0
    samples: Points | None = None

    def normals(self, points: Points) -> Points | None:
        """The normals out of the metal at points `(n, 3)` on the face; None for a free-form face.

        A cone's `slope` is the radius it gains per length along its axis.
        """
        if self.surface is Surface.PLANE:
            return np.broadcast_to(self.direction, points.shape)
        if self.surface in (Surface.FREE, Surface.TORUS):
            return None
        out = points - self.point
        if self.surface is not Surface.SPHERE:
            out = out - np.outer(out @ self.direction, self.direction)
        out = out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-300)
        if self.surface is Surface.CONE:
            out = (out - self.slope * self.direction) / np.hypot(1.0, self.slope)
        return -out if self.is_hollow else out


@dataclass(frozen=True, eq=False)
class Conic:
    """A circle or ellipse: centre + cos t · major + sin t · minor for t from `first` to `last`."""

    centre: Vector
    major: Vector
    minor: Vector
    first: float
    last: float


@dataclass(frozen=True, eq=False)
class Edge:
    """One edge between faces.

    `points` run along it, both ends included; a line has two. `slopes` are the derivatives at the points by the
    running number of the point, for free curves only. `faces` are the indices of the faces that meet in it: two; one
    where a face meets itself (`is_seam`), or where the solid has a gap.
    """

    points: Points
    length: Mm
    faces: tuple[int, ...]
    is_seam: bool = False
    conic: Conic | None = None
    slopes: Points | None = None

    def extent(self, direction: Vector) -> tuple[float, float]:
        """How far it reaches along a direction, least and most; exact for lines and conics.

        A free curve is taken as cubics through its points and slopes, which misses by the fourth power of the step.
        """
        along = self.points @ direction
        values = [along]
        if self.conic is not None:
            cosine, sine = self.conic.major @ direction, self.conic.minor @ direction
            top = np.arctan2(sine, cosine)
            for turned in (top, top + np.pi):
                t = turned + 2.0 * np.pi * np.ceil((self.conic.first - turned) / (2.0 * np.pi))
                if t <= self.conic.last:
                    values.append(np.array([self.conic.centre @ direction + cosine * np.cos(t) + sine * np.sin(t)]))
        elif self.slopes is not None:
            values.append(_cubic_extremes(along, self.slopes @ direction))
        every = np.concatenate(values)
        return float(every.min()), float(every.max())

    def fine_points(self, chord: Mm) -> Points:
        """Points along it whose chords stay within about `chord` of it, both ends included.

        On lines and conics they are exact, on free curves on the cubics through points and slopes.
        """
        if self.conic is not None:
            conic = self.conic
            reach = max(float(np.linalg.norm(conic.major)), float(np.linalg.norm(conic.minor)))
            # A whole number of steps to a quarter turn, so that a whole circle has its outermost points among them.
            step = np.pi / 2.0 / np.ceil(np.pi / 4.0 / np.arccos(max(0.0, 1.0 - chord / reach)))
            t = np.linspace(conic.first, conic.last, max(2, int(np.ceil((conic.last - conic.first) / step - 1e-9))) + 1)
            points = conic.centre + np.outer(np.cos(t), conic.major) + np.outer(np.sin(t), conic.minor)
            return np.asarray(points)
        if self.slopes is None:
            return self.points
        start, end, first, last = self.points[:-1], self.points[1:], self.slopes[:-1], self.slopes[1:]
        # Half-way, a cubic stands an eighth of the difference of its slopes off its chord.
        rise = float(np.linalg.norm(first - last, axis=1).max()) / 8.0
        count = max(1, int(np.ceil(np.sqrt(rise / chord))))
        t = (np.arange(count) / count)[:, None, None]
        cubic, square = 2.0 * (start - end) + first + last, 3.0 * (end - start) - 2.0 * first - last
        runs = start + t * (first + t * (square + t * cubic))
        return np.concatenate([runs.transpose(1, 0, 2).reshape(-1, 3), self.points[-1:]])


def _cubic_extremes(values: NDArray[np.float64], slopes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Values where the cubics through values and slopes turn round, between the points."""
    start, end, first, last = values[:-1], values[1:], slopes[:-1], slopes[1:]
    cubic = 2.0 * (start - end) + first + last
    square = 3.0 * (end - start) - 2.0 * first - last
    under = square**2 - 3.0 * cubic * first
    found = []
    with np.errstate(divide="ignore", invalid="ignore"):
        for sign in (1.0, -1.0):
            # The stable form of the roots of 3·cubic·t² + 2·square·t + first = 0.
            t = -first / (square + sign * np.sqrt(under))
            inside = (t > 0.0) & (t < 1.0)
            at = t[inside]
            found.append(start[inside] + at * (first[inside] + at * (square[inside] + at * cubic[inside])))
    return np.concatenate(found)


@dataclass(frozen=True, eq=False)
class Solid:
    """A solid of one part. `is_closed` is False where an edge has a face on one side only; `is_sound` says that the
    kernel's own check found nothing wrong in it.
    """

    faces: tuple[Face, ...]
    edges: tuple[Edge, ...]
    volume: float
    is_sound: bool = True

    @property
    def is_closed(self) -> bool:
        return all(len(edge.faces) == 2 or edge.is_seam for edge in self.edges)

    def points(self) -> Points:
        """Every point that is known to lie on it."""
        inner = [face.samples for face in self.faces if face.samples is not None]
        return np.concatenate([edge.points for edge in self.edges] + inner)

    @cached_property
    def _corners(self) -> Points:
        """Points that bound it but for its curves: the ends of lines, and samples of faces."""
        lines = [edge.points for edge in self.edges if edge.conic is None and edge.slopes is None]
        return np.concatenate([*lines, *(face.samples for face in self.faces if face.samples is not None), EMPTY])

    def extent(self, direction: Vector) -> tuple[float, float]:
        """How far it reaches along a direction, least and most."""
        curves = [edge.extent(direction) for edge in self.edges if edge.conic is not None or edge.slopes is not None]
        along = self._corners @ direction
        ends = [(float(along.min()), float(along.max()))] if len(along) else []
        low, high = zip(*curves, *ends, strict=True)
        return min(low), max(high)
