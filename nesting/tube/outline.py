"""The outline of a hollow section in the plane across the tube: which points lie on it, how far off, how far round.

A tube has two, outer and inner. Points across the tube are rows `(n, 2)` (y, z), with (0, 0) in the middle, y along the
width and z along the height. The way round, s, starts in the middle of the +y side and runs from +y towards +z.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.units import Mm, Mm2

type Numbers = NDArray[np.float64]
type CrossPoints = NDArray[np.float64]
"""Rows (y, z)."""


@dataclass(frozen=True)
class Outline:
    """A rectangle with round corners, or a circle where width, height and twice the radius are one."""

    width: Mm
    height: Mm
    radius: Mm

    @classmethod
    def circle(cls, radius: Mm) -> "Outline":
        return cls(2.0 * radius, 2.0 * radius, radius)

    @property
    def flats(self) -> tuple[Mm, Mm]:
        """Half the straight length of the sides, along y and along z."""
        return max(0.0, self.width / 2 - self.radius), max(0.0, self.height / 2 - self.radius)

    @property
    def girth(self) -> Mm:
        y, z = self.flats
        return 4.0 * (y + z) + 2.0 * math.pi * self.radius

    @property
    def area(self) -> Mm2:
        return self.width * self.height - (4.0 - math.pi) * self.radius**2

    def distance(self, points: CrossPoints) -> Numbers:
        """How far each point lies outside the outline, negative inside."""
        beyond = np.abs(points) - np.array(self.flats)
        outside = np.hypot(*np.maximum(beyond, 0.0).T)
        return np.asarray(outside + np.minimum(beyond.max(axis=1), 0.0) - self.radius)

    def around(self, points: CrossPoints) -> Numbers:
        """How far round each point lies, 0 to the girth; points off the outline count where they are nearest."""
        flat_y, flat_z = self.flats
        y, z = points[:, 0], points[:, 1]
        corner = self.radius * math.pi / 2.0
        # Each quarter is unfolded from the middle of the +y (or -y) side to the middle of the +z (or -z) side.
        beyond_y, beyond_z = np.abs(y) - flat_y, np.abs(z) - flat_z
        on_y_side = np.minimum(np.abs(z), flat_z)
        angle = np.arctan2(np.maximum(beyond_z, 0.0), np.maximum(beyond_y, 0.0))
        on_corner = flat_z + self.radius * angle
        on_z_side = flat_z + corner + np.maximum(0.0, flat_y - np.abs(y))
        side_of_y = beyond_z <= 0.0
        side_of_z = (beyond_y <= 0.0) & ~(side_of_y & (beyond_y >= beyond_z))
        quarter = np.where(side_of_z, on_z_side, np.where(side_of_y, on_y_side, on_corner))
        half = self.girth / 2.0
        upper = np.where(y >= 0.0, quarter, half - quarter)
        return np.asarray(np.where(z >= 0.0, upper, np.where(upper > 0.0, self.girth - upper, 0.0)))

    def inwards(self, wall: Mm, radius: Mm) -> "Outline":
        """The inner outline of a tube with that wall and inner corner radius."""
        return Outline(self.width - 2.0 * wall, self.height - 2.0 * wall, radius)
