"""What a solver run of the engine of full sheets is for."""

import time
from collections import Counter
from dataclasses import dataclass, field

from nesting.layout.composites import Pieces
from nesting.layout.sheet_plan import FullSheet
from nesting.model.stock import Sheet
from nesting.units import Mm2, Seconds

SHORTEST: Seconds = 0.8
"""A run shorter than this brings nothing: starting it takes 0.2 s."""


@dataclass
class Goal:
    """A run of the strip library that lays `counts` on one sheet. `sheet` is the full sheet that is to be bettered,
    None for a new one; `extra` is what it would take of the loose pieces.
    """

    kind: Sheet
    counts: Counter[str]
    bulk: Mm2
    seconds: Seconds
    copies: int = 1
    sheet: FullSheet | None = None
    is_last: bool = False
    extra: Counter[str] = field(default_factory=Counter)
    started_at: Seconds = field(default_factory=time.monotonic)

    @property
    def names(self) -> list[str]:
        """The pieces in the order in which the library knows them."""
        return list(self.counts)

    @property
    def held(self) -> Counter[str]:
        """What it has in hand of the loose pieces, for each copy."""
        return self.counts if self.sheet is None else self.extra


@dataclass
class Rival:
    """A run of the packing library on all pieces."""

    pieces: Pieces


class Windows:
    """The run that fills windows."""


@dataclass
class Filler:
    """A run that lays pieces into what a full sheet leaves open, or on a sheet of odd outline (`sheet` None)."""

    kind: Sheet
    counts: Counter[str]
    seconds: Seconds
    copies: int = 1
    sheet: FullSheet | None = None
