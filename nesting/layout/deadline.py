"""How long a layout may take, with which seed, and whether somebody has asked to stop."""

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from nesting.errors import BadValue
from nesting.units import Seconds

LONGEST: Seconds = 86_400.0
"""A day: a budget beyond it is a typing error, and solvers that take whole milliseconds would overflow."""


def nobody_stops() -> bool:
    """Stands where nobody can ask to stop."""
    return False


@dataclass(frozen=True)
class Deadline:
    """A time budget that runs from the moment this is built, a seed for everything random, and a flag to stop.

    `should_stop` is asked often and from several threads, so it must be quick.

    Raises:
        BadValue: a budget that is not above 0 or is over a day.
    """

    budget: Seconds
    seed: int = 0
    should_stop: Callable[[], bool] = nobody_stops
    started_at: Seconds = field(default_factory=time.monotonic)

    def __post_init__(self) -> None:
        if not (math.isfinite(self.budget) and 0 < self.budget <= LONGEST):
            raise BadValue(f"The time budget must be above 0 and up to {LONGEST:g} s, not {self.budget}.")

    @property
    def elapsed(self) -> Seconds:
        return time.monotonic() - self.started_at

    @property
    def remaining(self) -> Seconds:
        """What is left of the budget, never below 0."""
        return max(0.0, self.budget - self.elapsed)

    @property
    def is_over(self) -> bool:
        """Whether the time has run out or somebody asked to stop."""
        return self.remaining <= 0.0 or self.should_stop()
