"""What is wanted, by which rules, and the nest that answers it: sheets with placements, bars with pieces."""

import math
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import cached_property

from nesting.errors import BadValue
from nesting.model.bound import StockBound
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
    """How many of a part are wanted. `turns` None means the rules' turns.

    `due` is when they are wanted: where stock is short the earliest go first, and they are laid on the first sheets.
    None comes after every date. `kit` names what they belong to, such as an order; kits are kept on as few sheets as
    can be where the rules say `together`. `fill_up_to`, where it is above `count`, is how many may be laid in room that
    is left over; no sheet is taken for those beyond the count. Only `count` means anything on bars.

    Raises:
        BadValue: a count below 0 or above MOST_COPIES, fewer to fill up to than wanted, or no turn at all.
    """

    part: P
    count: int
    turns: Turns | None = None
    due: date | None = None
    kit: str = ""
    fill_up_to: int | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.count <= MOST_COPIES:
            raise BadValue(f"Demand for {self.part.name}: the count must be 0 to {MOST_COPIES}, not {self.count}.")
        if self.turns == ():
            raise BadValue(f"Demand for {self.part.name}: no turn is allowed.")
        if self.fill_up_to is not None and not self.count <= self.fill_up_to <= MOST_COPIES:
            raise BadValue(
                f"Demand for {self.part.name}: the number to fill up to must be {self.count}, which is the count, "
                f"to {MOST_COPIES}, not {self.fill_up_to}."
            )

    @property
    def most(self) -> int:
        """How many may be laid."""
        return self.count if self.fill_up_to is None else self.fill_up_to


@dataclass(frozen=True)
class Sides:
    """Widths of the strips along the sides of a sheet's bounds where nothing may lie, such as under clamps."""

    left: Mm = 0.0
    bottom: Mm = 0.0
    right: Mm = 0.0
    top: Mm = 0.0

    def __post_init__(self) -> None:
        _measure("Sides kept free", left=self.left, bottom=self.bottom, right=self.right, top=self.top)

    def __bool__(self) -> bool:
        return any((self.left, self.bottom, self.right, self.top))


@dataclass(frozen=True)
class SheetRules:
    """`gap` between two parts, `margin` from any part to the sheet's edge, allowed turns, and whether mirrored too.

    `sides` are kept free beside the margin: on each side the wider of the two counts. `most_kinds` is how many
    different parts may lie on one sheet, None for any number. `together` asks for kits on as few sheets as can be.

    Raises:
        BadValue: a measure below 0, no turn, or a sheet that may hold no part at all.
    """

    gap: Mm = 5.0
    margin: Mm = 10.0
    turns: Turns = QUARTER_TURNS
    mirror: bool = False
    sides: Sides = Sides()
    most_kinds: int | None = None
    together: bool = False

    def __post_init__(self) -> None:
        _measure("Sheet rules", gap=self.gap, margin=self.margin)
        if self.turns == ():
            raise BadValue("Sheet rules: no turn is allowed.")
        if self.most_kinds is not None and self.most_kinds < 1:
            raise BadValue(f"Sheet rules: most_kinds must be 1 or more, not {self.most_kinds}.")


class PieceOrder(StrEnum):
    """Where a bar's long pieces lie, as far as mitres that lie against each other leave a choice."""

    ANY = "any"
    LONGEST_FIRST = "longest first"
    LONGEST_LAST = "longest last"
    """Nearest to the chuck, which holds what is heavy. Common practice, no source."""


@dataclass(frozen=True)
class BarRules:
    """`gap` between two pieces along the bar with the cut width in it, `dead_end` that the chuck holds at the far end
    and that is never cut into, and `lead_end` trimmed at the front.

    `turns` are those about the bar's axis that pieces may be laid at, "any" for all that lay the section on itself;
    `flip` says whether they may lie end for end, `order` where long ones lie. `shared_cut` is the width of a cut (the
    kerf) where one may part two pieces whose ends lie flat on each other; None where each end has a cut of its own.

    Raises:
        BadValue: a measure below 0, no turn, or a shared cut that is wider than the gap.
    """

    gap: Mm = 5.0
    dead_end: Mm = 0.0
    lead_end: Mm = 0.0
    turns: Turns = "any"
    flip: bool = True
    order: PieceOrder = PieceOrder.LONGEST_LAST
    shared_cut: Mm | None = None

    def __post_init__(self) -> None:
        _measure("Bar rules", gap=self.gap, dead_end=self.dead_end, lead_end=self.lead_end)
        if self.turns == ():
            raise BadValue("Bar rules: no turn is allowed.")
        if self.shared_cut is not None:
            _measure("Bar rules", shared_cut=self.shared_cut)
            if self.shared_cut > self.gap:
                raise BadValue(f"Bar rules: a shared cut of {self.shared_cut:g} mm exceeds the gap of {self.gap:g} mm.")

    def may_turn(self, turn: Deg) -> bool:
        """Whether a turn about the axis is among those allowed."""
        return self.turns == "any" or any(abs((turn - each + 180.0) % 360.0 - 180.0) < 1e-6 for each in self.turns)


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
    """One piece on a bar, which begins `start` from the bar's front; `laid_piece` says what `flipped` and `turn` do."""

    part: str
    start: Mm
    flipped: bool = False
    turn: Deg = 0.0


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
    with the same seed may differ. `bound` says what no nest of the job can do without, None where that is not known.
    """

    job: SheetJob
    layouts: tuple[SheetLayout, ...]
    unplaced: tuple[Unplaced, ...] = ()
    proven_optimal: bool = False
    seed: int = 0
    seconds: Seconds = 0.0
    engine: str = ""
    cut_short: bool = False
    bound: StockBound | None = None

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
    bound: StockBound | None = None

    @cached_property
    def placed_count(self) -> int:
        return sum(layout.copies * len(layout.pieces) for layout in self.layouts)

    @cached_property
    def yield_share(self) -> float:
        """Total mean length of pieces over the length of all bars used; 0 where none is used."""
        length = {demand.part.name: demand.part.mean_length for demand in self.job.demands}
        bar = {stock.name: stock.length for stock in self.job.stock}
        used = math.fsum(layout.copies * bar[layout.stock] for layout in self.layouts)
        net = math.fsum(layout.copies * length[p.part] for layout in self.layouts for p in layout.pieces)
        return net / used if used else 0.0


type Job = SheetJob | BarJob
type Nest = SheetNest | BarNest
