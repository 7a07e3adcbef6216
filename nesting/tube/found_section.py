"""What a section finder gives back: where a tube or bar lies, how long it is, and its outlines."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from nesting.model.section import Section
from nesting.tube.outline import Outline
from nesting.tube.ring_outline import RingOutline
from nesting.tube.solid import Vector
from nesting.units import Mm, Mm2

FIT: Mm = 0.01
"""Faces and points this close to where they should be count as there: kernels write about 1e-4 mm, mills 0.1 mm."""

ROUND_OFF = 6
"""Decimals that dimensions keep: float noise below SAME_POINT would keep equal sections apart."""


@dataclass(frozen=True, eq=False)
class Frame:
    """Where a tube lies: `axes` are the rows x (along), y (along the width) and z (along the height); `origin` is the
    middle of the section at the end where x is 0.
    """

    origin: Vector
    axes: np.ndarray

    def local(self, points: np.ndarray) -> np.ndarray:
        """Points `(n, 3)` as x along the tube, y and z across."""
        return np.asarray((points - self.origin) @ self.axes.T)


@dataclass(frozen=True, eq=False)
class HollowSection:
    """A hollow section: frame, length, both outlines, the wall, and whether it is round."""

    frame: Frame
    length: Mm
    outer: Outline
    inner: Outline
    wall: Mm
    is_round: bool

    @property
    def metal_area(self) -> Mm2:
        """The area of metal in a cut across the plain tube."""
        return self.outer.area - self.inner.area

    @cached_property
    def section(self) -> Section:
        """The noun, its measures rounded; a height and width that differ by less than FIT are one.

        Raises:
            BadValue: measures that no section can have.
        """
        wall = round(self.wall, ROUND_OFF)
        height, width = round(self.outer.height, ROUND_OFF), round(self.outer.width, ROUND_OFF)
        if self.is_round:
            return Section.round(height, wall)
        if abs(height - width) < FIT / 10.0:
            width = height
        elif abs(self.outer.radius - self.outer.width / 2.0) < FIT / 10.0:
            return Section.oval(height, width, wall)
        return Section.box(
            height, width, wall, round(self.outer.radius, ROUND_OFF), round(self.inner.radius, ROUND_OFF)
        )


@dataclass(frozen=True, eq=False)
class BarSection:
    """An open profile or solid bar: frame, length, the only outline, and the section."""

    frame: Frame
    length: Mm
    outer: RingOutline
    section: Section

    @property
    def metal_area(self) -> Mm2:
        return self.outer.area


type FoundSection = HollowSection | BarSection
