"""What no nest of a job can do without: the least stock, known from areas and lengths before anything is laid."""

import math
from dataclasses import dataclass

from nesting.errors import BadValue
from nesting.units import Mm

LARGEST = 1e12
"""Records hold no larger number."""


@dataclass(frozen=True)
class StockBound:
    """No nest that lays all that is wanted costs less than `cost` or takes fewer than `count` sheets or bars.

    One that costs no more has `last` at least taken up, along x, on each of its sheets or bars: margins, trim and the
    chuck's end left out. `taken` is the least that a nest uses up, in the measure of prices, when what is left behind
    the last piece of one sheet or bar counts as not used.

    Raises:
        BadValue: a figure that is below 0, above LARGEST or no number.
    """

    cost: float
    count: int
    last: Mm
    taken: float

    def __post_init__(self) -> None:
        for name, value in (("cost", self.cost), ("count", self.count), ("last", self.last), ("taken", self.taken)):
            if not (math.isfinite(value) and 0 <= value <= LARGEST):
                raise BadValue(f"StockBound: {name} must be 0 to {LARGEST:g}, not {value}.")
