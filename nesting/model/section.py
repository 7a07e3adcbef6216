"""Cross-sections of tube, open profiles and solid bar, with area, mass and outer girth from their dimensions."""

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from nesting.errors import BadValue
from nesting.geometry.contour import Contour
from nesting.model import section_outline
from nesting.units import SAME_POINT, Kg, Mm, Mm2


class SectionShape(StrEnum):
    SQUARE = "square"
    RECTANGULAR = "rectangular"
    ROUND = "round"
    OVAL = "oval"
    """Hollow, two flat sides and two half circles."""
    ANGLE = "angle"
    CHANNEL = "channel"
    I_BEAM = "i-beam"
    TEE = "tee"
    FLAT_BAR = "flat bar"
    SQUARE_BAR = "square bar"
    ROUND_BAR = "round bar"


HOLLOW = frozenset({SectionShape.SQUARE, SectionShape.RECTANGULAR, SectionShape.ROUND, SectionShape.OVAL})
OPEN = frozenset({SectionShape.ANGLE, SectionShape.CHANNEL, SectionShape.I_BEAM, SectionShape.TEE})
SOLID = frozenset({SectionShape.FLAT_BAR, SectionShape.SQUARE_BAR, SectionShape.ROUND_BAR})

_EQUAL_SIDES = frozenset(
    {SectionShape.SQUARE, SectionShape.ROUND, SectionShape.SQUARE_BAR, SectionShape.ROUND_BAR},
)
_UNEQUAL_SIDES = frozenset({SectionShape.RECTANGULAR, SectionShape.OVAL, SectionShape.FLAT_BAR})
_WITH_FLANGE = frozenset({SectionShape.CHANNEL, SectionShape.I_BEAM, SectionShape.TEE})
_CORNERLESS = frozenset({SectionShape.ROUND, SectionShape.ROUND_BAR, SectionShape.TEE, SectionShape.I_BEAM})


@dataclass(frozen=True)
class Section:
    """A cross-section; the class methods build each shape from the measures it has.

    `height` is the longer outside measure and `width` the shorter; for round tube and bar both are the diameter. For
    channel, I and T the height runs along the web or stem and the width along the flanges, whichever is longer.
    `wall` is the thickness of wall, leg, web or stem, and the width again for solid bar; `flange` that of the flanges
    of channel, I and T, 0 for all others.

    `corner_radius` is the outer one, 0 for a sharp corner and for round shapes; half the width for oval; that of the
    heel or web corners where angle or channel is bent. `inner_corner` is the inner radius where it is stated, for it
    need not be the outer one less the wall: the tables of EN 10219-2 (cold formed) use the wall less, those of
    EN 10210-2 (hot finished) 1.5 T outside and 1.0 T inside. None means the outer one less the wall, not below 0; so
    does a stated radius that is the same. `inner_radius` is the number either way. `root_radius` fills the inner
    corners of open profiles, `toe_radius` rounds the inner edges of their toes.

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
    flange: Mm = 0.0
    root_radius: Mm = 0.0
    toe_radius: Mm = 0.0

    def __post_init__(self) -> None:
        measures = (self.height, self.width, self.wall, self.corner_radius)
        rest = (self.flange, self.root_radius, self.toe_radius)
        if not all(math.isfinite(m) for m in (*measures, *rest)) or min(self.height, self.width, self.wall) <= 0:
            raise BadValue(f"Section: height, width and wall must be above 0, not {measures}.")
        if self.shape in HOLLOW and self.wall >= self.width / 2:
            raise BadValue(f"Section: a wall of {self.wall} mm leaves no inside in a width of {self.width} mm.")
        if not 0 <= self.corner_radius <= min(self.width, self.height) / 2 + SAME_POINT:
            raise BadValue(f"Section: a corner radius of {self.corner_radius} mm does not fit in {self.width} mm.")
        if self.shape not in _WITH_FLANGE and self.height < self.width:
            raise BadValue("Section: height is the longer outside measure.")
        equal = self.height == self.width
        if (self.shape in _EQUAL_SIDES and not equal) or (self.shape in _UNEQUAL_SIDES and equal):
            raise BadValue(f"Section: {self.height} x {self.width} mm is not {self.shape}.")
        if self.shape in _CORNERLESS and self.corner_radius:
            kind = "round tube" if self.shape is SectionShape.ROUND else self.shape.value
            raise BadValue(f"Section: a {kind} has no corner radius.")
        if self.shape is SectionShape.OVAL and abs(self.corner_radius - self.width / 2) > SAME_POINT:
            raise BadValue("Section: the ends of an oval are half circles; its corner radius is half the width.")
        if self.shape in SOLID and self.wall != self.width:
            raise BadValue(f"Section: the wall of solid {self.shape} is its width, {self.width} mm.")
        if self.inner_corner is not None:
            self._check_inner_corner(self.inner_corner)
        self._check_flanges()

    def _check_inner_corner(self, radius: Mm) -> None:
        if self.shape is SectionShape.ROUND:
            raise BadValue("Section: a round tube has no inner corner radius.")
        if self.shape not in HOLLOW:
            raise BadValue(f"Section: {self.shape} has no inner corner radius.")
        if not (math.isfinite(radius) and 0 <= radius <= self.width / 2 - self.wall + SAME_POINT):
            raise BadValue(f"Section: an inner corner radius of {radius} mm does not fit.")
        # Along the diagonal the arcs lie r(√2 - 1) inside their sharp corners, which stand wall·√2 apart.
        if (self.corner_radius - radius) * (math.sqrt(2.0) - 1.0) >= self.wall * math.sqrt(2.0):
            raise BadValue(f"Section: corners of {self.corner_radius} mm outside and {radius} mm inside leave no wall.")
        if math.isclose(radius, max(0.0, self.corner_radius - self.wall), rel_tol=0.0, abs_tol=SAME_POINT):
            object.__setattr__(self, "inner_corner", None)

    def _check_flanges(self) -> None:
        rest = (self.flange, self.root_radius, self.toe_radius)
        if self.shape not in OPEN:
            if any(rest):
                raise BadValue(f"Section: {self.shape} has neither flanges nor roots or toes.")
            return
        if (self.flange <= 0) == (self.shape in _WITH_FLANGE):
            raise BadValue(f"Section: a flange of {self.flange} mm does not belong to {self.shape}.")
        if min(rest) < 0:
            raise BadValue("Section: flange, root and toe radius cannot be below 0.")
        # What is left of the inner faces beside the root and toe.
        across = self.width - self.wall if self.shape in (SectionShape.ANGLE, SectionShape.CHANNEL) else (
            (self.width - self.wall) / 2.0
        )  # fmt: skip
        thick = self.flange or self.wall
        along = {
            SectionShape.ANGLE: self.height - self.wall - self.toe_radius,
            SectionShape.TEE: self.height - self.flange,
        }.get(self.shape, self.height / 2.0 - self.flange)
        if across - self.toe_radius - self.root_radius < -SAME_POINT or along - self.root_radius < -SAME_POINT:
            raise BadValue(f"Section: walls and radii leave no room between the legs of this {self.shape}.")
        if self.toe_radius > thick + SAME_POINT or min(across, along) <= 0:
            raise BadValue(f"Section: legs, walls and toes of this {self.shape} do not fit.")
        # On the diagonal of a bent corner, the outer arc must not reach the inner one.
        if (self.corner_radius - self.root_radius) * (math.sqrt(2.0) - 1.0) >= self.wall * math.sqrt(2.0):
            raise BadValue(f"Section: a corner of {self.corner_radius} mm leaves no wall in this {self.shape}.")

    @classmethod
    def round(cls, diameter: Mm, wall: Mm) -> "Section":
        return cls(SectionShape.ROUND, diameter, diameter, wall)

    @classmethod
    def box(cls, height: Mm, width: Mm, wall: Mm, corner_radius: Mm, inner_corner: Mm | None = None) -> "Section":
        """A square or rectangular section, whichever the two measures make; in either order."""
        long, short = (height, width) if height >= width else (width, height)
        shape = SectionShape.SQUARE if long == short else SectionShape.RECTANGULAR
        return cls(shape, long, short, wall, corner_radius, inner_corner)

    @classmethod
    def oval(cls, height: Mm, width: Mm, wall: Mm) -> "Section":
        """Flat-sided oval tube, its ends half circles."""
        return cls(SectionShape.OVAL, height, width, wall, width / 2.0)

    @classmethod
    def angle(
        cls, height: Mm, width: Mm, wall: Mm, root_radius: Mm = 0.0, toe_radius: Mm = 0.0, corner_radius: Mm = 0.0
    ) -> "Section":
        """Angle with legs of one thickness, in either order."""
        long, short = (height, width) if height >= width else (width, height)
        shape = SectionShape.ANGLE
        return cls(shape, long, short, wall, corner_radius, root_radius=root_radius, toe_radius=toe_radius)

    @classmethod
    def channel(
        cls,
        height: Mm,
        width: Mm,
        wall: Mm,
        flange: Mm,
        root_radius: Mm = 0.0,
        toe_radius: Mm = 0.0,
        corner_radius: Mm = 0.0,
    ) -> "Section":
        """Channel with parallel flanges."""
        return cls(SectionShape.CHANNEL, height, width, wall, corner_radius, None, flange, root_radius, toe_radius)

    @classmethod
    def i_beam(
        cls, height: Mm, width: Mm, wall: Mm, flange: Mm, root_radius: Mm = 0.0, toe_radius: Mm = 0.0
    ) -> "Section":
        """I or H with parallel flanges."""
        return cls(SectionShape.I_BEAM, height, width, wall, 0.0, None, flange, root_radius, toe_radius)

    @classmethod
    def tee(cls, height: Mm, width: Mm, wall: Mm, flange: Mm, root_radius: Mm = 0.0, toe_radius: Mm = 0.0) -> "Section":
        """T with parallel faces."""
        return cls(SectionShape.TEE, height, width, wall, 0.0, None, flange, root_radius, toe_radius)

    @classmethod
    def bar(cls, height: Mm, width: Mm, corner_radius: Mm = 0.0) -> "Section":
        """Solid flat or square bar, whichever the two measures make; in either order."""
        long, short = (height, width) if height >= width else (width, height)
        shape = SectionShape.SQUARE_BAR if long == short else SectionShape.FLAT_BAR
        return cls(shape, long, short, short, corner_radius)

    @classmethod
    def round_bar(cls, diameter: Mm) -> "Section":
        return cls(SectionShape.ROUND_BAR, diameter, diameter, diameter)

    @property
    def is_hollow(self) -> bool:
        return self.shape in HOLLOW

    @property
    def inner_radius(self) -> Mm:
        """The inner corner radius of hollow section, stated or not; 0 for round tube."""
        return max(0.0, self.corner_radius - self.wall) if self.inner_corner is None else self.inner_corner

    @cached_property
    def outlines(self) -> tuple[Contour, ...]:
        """What a cut across shows: the outer ring, and the inner one of hollow section; (0, 0) in the middle."""
        wide, tall, wall = self.width, self.height, self.wall
        rest = (self.flange, self.root_radius, self.toe_radius)
        match self.shape:
            case SectionShape.ANGLE:
                ring = section_outline.angle(wide, tall, wall, self.root_radius, self.toe_radius, self.corner_radius)
            case SectionShape.CHANNEL:
                ring = section_outline.channel(wide, tall, wall, *rest, self.corner_radius)
            case SectionShape.TEE:
                ring = section_outline.tee(wide, tall, wall, *rest)
            case SectionShape.I_BEAM:
                ring = section_outline.i_beam(wide, tall, wall, *rest)
            case SectionShape.ROUND | SectionShape.ROUND_BAR:
                ring = section_outline.box(wide, tall, tall / 2.0)
            case _:
                ring = section_outline.box(wide, tall, self.corner_radius, from_middle=self.is_hollow)
        if not self.is_hollow:
            return (ring,)
        inner = tall / 2.0 - wall if self.shape is SectionShape.ROUND else self.inner_radius
        return ring, section_outline.box(wide - 2.0 * wall, tall - 2.0 * wall, inner)

    @property
    def metal_area(self) -> Mm2:
        """The area of metal in a cut across the tube or bar.

        Source: for hollow section EN 10219-2 and EN 10210-2, annex on sectional properties:
        A = 2T(B + H - 2T) - (4 - pi)(ro² - ri²); for round tube pi (D - T) T. For all others that of the outline.
        """
        if self.shape is SectionShape.ROUND:
            return math.pi * (self.height - self.wall) * self.wall
        if not self.is_hollow:
            return self.outlines[0].area
        return 2.0 * self.wall * (self.width + self.height - 2.0 * self.wall) - (4.0 - math.pi) * (
            self.corner_radius**2 - self.inner_radius**2
        )

    @property
    def girth(self) -> Mm:
        """Length once round the outside."""
        if self.shape is SectionShape.ROUND:
            return math.pi * self.height
        if not self.is_hollow:
            return self.outlines[0].length
        return 2.0 * (self.height + self.width) - (8.0 - 2.0 * math.pi) * self.corner_radius

    def mass(self, length: Mm, density_kg_m3: float) -> Kg:
        """The mass of a plain length of this section."""
        return self.metal_area * length * density_kg_m3 * 1e-9

    def __str__(self) -> str:
        def text(*values: Mm) -> str:
            return " x ".join(f"{value:.2f}".rstrip("0").rstrip(".") for value in values)

        if self.shape is SectionShape.ROUND:
            return f"round {text(self.height, self.wall)}"
        if self.shape in (SectionShape.ROUND_BAR, SectionShape.SQUARE_BAR):
            return f"{self.shape} {text(self.height)}"
        if self.shape is SectionShape.FLAT_BAR:
            return f"flat bar {text(self.height, self.width)}"
        name = "I-beam" if self.shape is SectionShape.I_BEAM else self.shape
        measures = (self.height, self.width, self.wall)
        return f"{name} {text(*measures, self.flange) if self.flange else text(*measures)}"
