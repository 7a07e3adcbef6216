"""What parts are cut from: sheets, remnants of sheets, and bars of tube; how many of each, and what using one costs."""

import math
from dataclasses import dataclass

from nesting.errors import BadValue
from nesting.geometry.contour import Contour
from nesting.units import Mm


def _check(noun: str, name: str, count: int | None, cost: float | None) -> None:
    if not name:
        raise BadValue(f"{noun}: the name is empty.")
    if count is not None and count < 0:
        raise BadValue(f"{noun} {name}: the count cannot be negative.")
    if cost is not None and not (math.isfinite(cost) and cost >= 0):
        raise BadValue(f"{noun} {name}: the cost must be 0 or more.")


@dataclass(frozen=True)
class Sheet:
    """One kind of sheet. A remnant is a sheet with an outline of its own; else it is a rectangle from (0, 0).

    `count` None means as many as needed. `cost` None means its area.

    Raises:
        BadValue: an empty name, a negative count or cost, or an outline without area.
    """

    name: str
    outline: Contour
    count: int | None = None
    cost: float | None = None
    is_remnant: bool = False

    def __post_init__(self) -> None:
        _check("Sheet", self.name, self.count, self.cost)
        object.__setattr__(self, "outline", self.outline.anticlockwise())

    @classmethod
    def rectangle(
        cls, name: str, width: Mm, height: Mm, count: int | None = None, cost: float | None = None
    ) -> "Sheet":
        """A plain sheet, `width` along x."""
        if not (math.isfinite(width) and math.isfinite(height) and width > 0 and height > 0):
            raise BadValue(f"Sheet {name}: width and height must be above 0, not {width} x {height}.")
        return cls(name, Contour.rectangle(width, height), count, cost)

    @property
    def price(self) -> float:
        """What using one costs: the stated cost, else the area in mm²."""
        return self.outline.area if self.cost is None else self.cost


@dataclass(frozen=True)
class Bar:
    """One kind of bar. `count` None means as many as needed, `cost` None means its length.

    Raises:
        BadValue: an empty name, a length that is not positive, or a negative count or cost.
    """

    name: str
    length: Mm
    count: int | None = None
    cost: float | None = None

    def __post_init__(self) -> None:
        _check("Bar", self.name, self.count, self.cost)
        if not (math.isfinite(self.length) and self.length > 0):
            raise BadValue(f"Bar {self.name}: the length must be above 0, not {self.length}.")

    @property
    def price(self) -> float:
        """What using one costs: the stated cost, else the length in mm."""
        return self.length if self.cost is None else self.cost
