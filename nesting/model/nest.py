"""What is wanted, by which rules, and the nest that answers it: sheets with placements, bars with pieces."""

import math
from dataclasses import dataclass
from functools import cached_property

from nesting.errors import BadValue
from nesting.model.part import QUARTER_TURNS, SheetPart, TubePart, Turns
from nesting.model.stock import Bar, Sheet
from nesting.units import Deg, Mm, Seconds

MOST_COPIES = 1_000_000
"""More of one part than any shop cuts; a larger count is a typing error and would only exhaust memory."""


def _measure(noun: str, **values: Mm) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value >= 0):
            raise BadValue(f"{noun}: {name} must be 0 or more, not {value}.")


def _names_differ(noun: str, names: list[str]) -> None:
    twice = next((name for i, name in enumerate(names) if name in names[:i]), None)
    if twice is not None:
        raise BadValue(f"{noun}: the name {twice!r} is used twice.")


@dataclass(frozen=True)
class Demand[P: (SheetPart, TubePart)]:
    """How many of a part are wanted. `turns` None means the rules' turns; it has no meaning on bars.

    Raises:
        BadValue: a count below 0 or above MOST_COPIES, or no turn at all.
    """

    part: P
    count: int
    turns: Turns | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.count <= MOST_COPIES:
            raise BadValue(f"Demand for {self.part.name}: the count must be 0 to {MOST_COPIES}, not {self.count}.")
        if self.turns == ():
            raise BadValue(f"Demand for {self.part.name}: no turn is allowed.")


@dataclass(frozen=True)
class SheetRules:
    """`gap` between two parts, `margin` from any part to the sheet's edge, allowed turns, and whether mirrored too."""

    gap: Mm = 5.0
    margin: Mm = 10.0
    turns: Turns = QUARTER_TURNS
    mirror: bool = False

    def __post_init__(self) -> None:
        _measure("SheetRules", gap=self.gap, margin=self.margin)
        if self.turns == ():
            raise BadValue("SheetRules: no turn is allowed.")


@dataclass(frozen=True)
class BarRules:
    """`gap` between two pieces with the cut width in it, `dead_end` that the chuck holds at the far end and that is
    never cut into, and `lead_end` trimmed at the front.
    """

    gap: Mm = 5.0
    dead_end: Mm = 0.0
    lead_end: Mm = 0.0

    def __post_init__(self) -> None:
        _measure("BarRules", gap=self.gap, dead_end=self.dead_end, lead_end=self.lead_end)


@dataclass(frozen=True)
class SheetJob:
    """Sheets at hand, rules and wanted parts.

    Raises:
        BadValue: two stocks or two parts of one name.
    """

    stock: tuple[Sheet, ...]
    rules: SheetRules
    demands: tuple[Demand[SheetPart], ...]

    def __post_init__(self) -> None:
        _names_differ("Job stock", [sheet.name for sheet in self.stock])
        _names_differ("Job parts", [demand.part.name for demand in self.demands])

    def turns_of(self, demand: Demand[SheetPart]) -> Turns:
        """The turns a demand's part may be laid at."""
        return self.rules.turns if demand.turns is None else demand.turns


@dataclass(frozen=True)
class BarJob:
    """Bars at hand, rules and wanted pieces.

    Raises:
        BadValue: two stocks or two parts of one name.
    """

    stock: tuple[Bar, ...]
    rules: BarRules
    demands: tuple[Demand[TubePart], ...]

    def __post_init__(self) -> None:
        _names_differ("Job stock", [bar.name for bar in self.stock])
        _names_differ("Job parts", [demand.part.name for demand in self.demands])


@dataclass(frozen=True)
class Placement:
    """Where one part lies: its own coordinates mirrored in x if `mirrored`, turned about its origin, then shifted."""

    part: str
    x: Mm
    y: Mm
    turn: Deg = 0.0
    mirrored: bool = False


@dataclass(frozen=True)
class SheetLayout:
    """One sheet of the named stock with its placements, to be cut `copies` times."""

    stock: str
    placements: tuple[Placement, ...]
    copies: int = 1


@dataclass(frozen=True)
class Piece:
    """One piece on a bar: its front end lies `start` from the bar's front; `flipped` means its ends changed over."""

    part: str
    start: Mm
    flipped: bool = False


@dataclass(frozen=True)
class BarLayout:
    """One bar of the named stock with its pieces from the front, to be cut `copies` times."""

    stock: str
    pieces: tuple[Piece, ...]
    copies: int = 1


@dataclass(frozen=True)
class Unplaced:
    """Parts wanted but not laid, with the reason as a sentence."""

    part: str
    count: int
    reason: str


@dataclass(frozen=True)
class SheetNest:
    """The answer to a sheet job. `cut_short` says that the time ran out or a person stopped it, so that another run
    with the same seed may differ.
    """

    job: SheetJob
    layouts: tuple[SheetLayout, ...]
    unplaced: tuple[Unplaced, ...] = ()
    proven_optimal: bool = False
    seed: int = 0
    seconds: Seconds = 0.0
    engine: str = ""
    cut_short: bool = False

    @cached_property
    def placed_count(self) -> int:
        return sum(layout.copies * len(layout.placements) for layout in self.layouts)

    @cached_property
    def yield_share(self) -> float:
        """Net part area (holes are not part) over the area of all sheets used; 0 where none is used."""
        area = {demand.part.name: demand.part.area for demand in self.job.demands}
        sheet = {stock.name: stock.outline.area for stock in self.job.stock}
        used = math.fsum(layout.copies * sheet[layout.stock] for layout in self.layouts)
        net = math.fsum(layout.copies * area[p.part] for layout in self.layouts for p in layout.placements)
        return net / used if used else 0.0


@dataclass(frozen=True)
class BarNest:
    """The answer to a bar job; the fields mean what they mean on `SheetNest`."""

    job: BarJob
    layouts: tuple[BarLayout, ...]
    unplaced: tuple[Unplaced, ...] = ()
    proven_optimal: bool = False
    seed: int = 0
    seconds: Seconds = 0.0
    engine: str = ""
    cut_short: bool = False

    @cached_property
    def placed_count(self) -> int:
        return sum(layout.copies * len(layout.pieces) for layout in self.layouts)

    @cached_property
    def yield_share(self) -> float:
        """Total length of pieces over the length of all bars used; 0 where none is used."""
        length = {demand.part.name: demand.part.length for demand in self.job.demands}
        bar = {stock.name: stock.length for stock in self.job.stock}
        used = math.fsum(layout.copies * bar[layout.stock] for layout in self.layouts)
        net = math.fsum(layout.copies * length[p.part] for layout in self.layouts for p in layout.pieces)
        return net / used if used else 0.0


type Job = SheetJob | BarJob
type Nest = SheetNest | BarNest
