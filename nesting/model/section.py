"""Cross-sections of hollow tube, with area, mass and outer girth from their dimensions."""

import math
from dataclasses import dataclass
from enum import StrEnum

from nesting.errors import BadValue
from nesting.units import SAME_POINT, Kg, Mm, Mm2


class SectionShape(StrEnum):
    SQUARE = "square"
    RECTANGULAR = "rectangular"
    ROUND = "round"


@dataclass(frozen=True)
class Section:
    """A hollow section of even wall.

    `height` is the longer outside measure and `width` the shorter; for round tube both are the diameter.
    `corner_radius` is the outer one, 0 for a sharp corner and for round tube. `inner_corner` is the inner radius where
    it is stated, for it need not be the outer one less the wall: the tables of EN 10219-2 (cold formed) use the wall
    less, those of EN 10210-2 (hot finished) 1.5 T outside and 1.0 T inside. None means the outer one less the wall,
    not below 0; so does a stated radius that is the same. `inner_radius` is the number either way.

    Raises:
        BadValue: a measure that is not positive, a wall of half the width or more, a corner that does not fit, or
            measures that belong to another shape.
    """

    shape: SectionShape
    height: Mm
    width: Mm
    wall: Mm
    corner_radius: Mm = 0.0
    inner_corner: Mm | None = None

    def __post_init__(self) -> None:
        measures = (self.height, self.width, self.wall, self.corner_radius)
        if not all(math.isfinite(m) for m in measures) or min(self.height, self.width, self.wall) <= 0:
            raise BadValue(f"Section: height, width and wall must be above 0, not {measures}.")
        if self.wall >= self.width / 2:
            raise BadValue(f"Section: a wall of {self.wall} mm leaves no inside in a width of {self.width} mm.")
        if not 0 <= self.corner_radius <= self.width / 2 + SAME_POINT:
            raise BadValue(f"Section: a corner radius of {self.corner_radius} mm does not fit in {self.width} mm.")
        if self.height < self.width:
            raise BadValue("Section: height is the longer outside measure.")
        if (self.shape is not SectionShape.RECTANGULAR) != (self.height == self.width):
            raise BadValue(f"Section: {self.height} x {self.width} mm is not {self.shape}.")
        if self.shape is SectionShape.ROUND and self.corner_radius:
            raise BadValue("Section: a round tube has no corner radius.")
        if self.inner_corner is not None:
            self._check_inner_corner(self.inner_corner)

    def _check_inner_corner(self, radius: Mm) -> None:
        if self.shape is SectionShape.ROUND:
            raise BadValue("Section: a round tube has no inner corner radius.")
        if not (math.isfinite(radius) and 0 <= radius <= self.width / 2 - self.wall + SAME_POINT):
            raise BadValue(f"Section: an inner corner radius of {radius} mm does not fit.")
        # Along the diagonal the arcs lie r(√2 - 1) inside their sharp corners, which stand wall·√2 apart.
        if (self.corner_radius - radius) * (math.sqrt(2.0) - 1.0) >= self.wall * math.sqrt(2.0):
            raise BadValue(f"Section: corners of {self.corner_radius} mm outside and {radius} mm inside leave no wall.")
        if math.isclose(radius, max(0.0, self.corner_radius - self.wall), rel_tol=0.0, abs_tol=SAME_POINT):
            object.__setattr__(self, "inner_corner", None)

    @classmethod
    def round(cls, diameter: Mm, wall: Mm) -> "Section":
        return cls(SectionShape.ROUND, diameter, diameter, wall)

    @classmethod
    def box(cls, height: Mm, width: Mm, wall: Mm, corner_radius: Mm, inner_corner: Mm | None = None) -> "Section":
        """A square or rectangular section, whichever the two measures make; in either order."""
        long, short = (height, width) if height >= width else (width, height)
        shape = SectionShape.SQUARE if long == short else SectionShape.RECTANGULAR
        return cls(shape, long, short, wall, corner_radius, inner_corner)

    @property
    def inner_radius(self) -> Mm:
        """The inner corner radius, stated or not; 0 for round tube."""
        return max(0.0, self.corner_radius - self.wall) if self.inner_corner is None else self.inner_corner

    @property
    def metal_area(self) -> Mm2:
        """The area of metal in a cut across the tube.

        Source: EN 10219-2 and EN 10210-2, annex on sectional properties: A = 2T(B + H - 2T) - (4 - pi)(ro² - ri²);
        for round tube pi (D - T) T.
        """
        if self.shape is SectionShape.ROUND:
            return math.pi * (self.height - self.wall) * self.wall
        return 2.0 * self.wall * (self.width + self.height - 2.0 * self.wall) - (4.0 - math.pi) * (
            self.corner_radius**2 - self.inner_radius**2
        )

    @property
    def girth(self) -> Mm:
        """Length once round the outside."""
        if self.shape is SectionShape.ROUND:
            return math.pi * self.height
        return 2.0 * (self.height + self.width) - (8.0 - 2.0 * math.pi) * self.corner_radius

    def mass(self, length: Mm, density_kg_m3: float) -> Kg:
        """The mass of a plain length of this section."""
        return self.metal_area * length * density_kg_m3 * 1e-9

    def __str__(self) -> str:
        def text(value: Mm) -> str:
            return f"{value:.2f}".rstrip("0").rstrip(".")

        if self.shape is SectionShape.ROUND:
            return f"round {text(self.height)} x {text(self.wall)}"
        return f"{self.shape} {text(self.height)} x {text(self.width)} x {text(self.wall)}"
