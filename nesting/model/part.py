"""What is cut: a part from sheet, with true lines and arcs, or a part from tube, with its section and length."""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from nesting.errors import BadValue
from nesting.geometry.contour import Bounds, Contour, Path
from nesting.model.section import Section
from nesting.model.tube_cuts import CutOut, EndCut
from nesting.units import Deg, Kg, Mm, Mm2

type Turns = tuple[Deg, ...] | Literal["any"]
"""The turns a part may be laid at, anticlockwise; "any" for free turning."""

QUARTER_TURNS: Turns = (0.0, 90.0, 180.0, 270.0)


@dataclass(frozen=True)
class SheetPart:
    """A part cut from sheet: an anticlockwise outer contour, clockwise holes, and lines to mark but not cut through.

    Contours are turned to their right direction when the part is built. Whether holes lie inside and keep apart is
    for the reader and the checker: this noun does not test it.

    Raises:
        BadValue: an empty name.
    """

    name: str
    outer: Contour
    holes: tuple[Contour, ...] = ()
    marks: tuple[Path, ...] = ()

    def __post_init__(self) -> None:
        if not self.name:
            raise BadValue("SheetPart: the name is empty.")
        object.__setattr__(self, "outer", self.outer.anticlockwise())
        object.__setattr__(self, "holes", tuple(hole.clockwise() for hole in self.holes))

    @property
    def bounds(self) -> Bounds:
        return self.outer.bounds

    @cached_property
    def area(self) -> Mm2:
        """Area of metal: the outer contour less its holes, arcs exact."""
        return self.outer.area - math.fsum(hole.area for hole in self.holes)

    @cached_property
    def cut_length(self) -> Mm:
        """Length of all contours cut through, without lead-ins; marks are not counted."""
        return self.outer.length + math.fsum(hole.length for hole in self.holes)

    @property
    def pierce_count(self) -> int:
        """One for each contour cut through."""
        return 1 + len(self.holes)

    def mass(self, thickness: Mm, density_kg_m3: float) -> Kg:
        return self.area * thickness * density_kg_m3 * 1e-9


@dataclass(frozen=True)
class TubePart:
    """A part cut from straight tube.

    `length` is the total extent along the tube, mitred or notched ends included. `hole_count` counts openings cut in
    the wall, `cut_length` is measured along the outer surface over both ends and all openings, and `metal_volume` is
    that of the solid (mm³), or None where only section and length are known. `ends` are the cuts at its start and end,
    None where nothing more is known of them than `square_ends`; `cut_outs` describe the openings, where known.

    Raises:
        BadValue: an empty name, a length that is not positive, or a negative count.
    """

    name: str
    section: Section
    length: Mm
    hole_count: int = 0
    cut_length: Mm = 0.0
    square_ends: bool = True
    metal_volume: float | None = None
    ends: tuple[EndCut, EndCut] | None = None
    cut_outs: tuple[CutOut, ...] = ()

    def __post_init__(self) -> None:
        if not self.name:
            raise BadValue("TubePart: the name is empty.")
        if not (math.isfinite(self.length) and self.length > 0):
            raise BadValue(f"TubePart: the length must be above 0, not {self.length}.")
        if self.hole_count < 0 or self.cut_length < 0:
            raise BadValue("TubePart: counts and lengths cannot be negative.")

    @property
    def pierce_count(self) -> int:
        """One for each end cut and each opening. The end shared with the piece before is counted once."""
        return 1 + self.hole_count

    @cached_property
    def mean_length(self) -> Mm:
        """The length between both ends in the mean over the section's outline; the whole length where they are unknown.

        What mitred pieces share of a bar adds up in it: two that interlock are together no longer than both means.
        """
        if self.ends is None:
            return self.length
        start, end = (cut.path.mean_x for cut in self.ends)
        return min(self.length, max(0.0, end - start))

    def mass(self, density_kg_m3: float) -> Kg:
        """Mass of the solid where its volume is known, else of a plain length of its section."""
        if self.metal_volume is not None:
            return self.metal_volume * density_kg_m3 * 1e-9
        return self.section.mass(self.length, density_kg_m3)


type Part = SheetPart | TubePart
