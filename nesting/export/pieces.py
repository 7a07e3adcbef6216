"""The pieces of one sheet or one bar, numbered as they are drawn, cut and counted.

A *piece* is one placement on one sheet or bar. Its number is its place in the layout, from 1, and is the same in the
cut file, the picture and the cut list, so that a person at the machine can go from one to the other.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from nesting.errors import BadValue
from nesting.geometry.contour import Contour, Path
from nesting.geometry.placing import placed
from nesting.model.laid_piece import laid_cut_outs, laid_ends, laid_kinds, lie_in_words
from nesting.model.nest import BarLayout, BarNest, Piece, Placement, SheetLayout, SheetNest
from nesting.model.part import SheetPart, TubePart
from nesting.model.stock import Bar, Sheet
from nesting.model.tube_cuts import EndCut
from nesting.units import Mm


@dataclass(frozen=True)
class SheetPiece:
    """One part where it lies on its sheet."""

    number: int
    part: SheetPart
    placement: Placement

    def _placed[S: Path](self, shape: S) -> S:
        p = self.placement
        return placed(shape, p.x, p.y, p.turn, mirrored=p.mirrored)  # type: ignore[return-value]  # a ring stays a ring, a run a run

    @cached_property
    def outer(self) -> Contour:
        return self._placed(self.part.outer)

    @cached_property
    def holes(self) -> tuple[Contour, ...]:
        return tuple(self._placed(hole) for hole in self.part.holes)

    @cached_property
    def marks(self) -> tuple[Path, ...]:
        return tuple(self._placed(mark) for mark in self.part.marks)


@dataclass(frozen=True)
class BarPiece:
    """One part where it lies on its bar."""

    number: int
    part: TubePart
    piece: Piece

    @property
    def start(self) -> Mm:
        return self.piece.start

    @property
    def end(self) -> Mm:
        return self.piece.start + self.part.length

    @cached_property
    def ends(self) -> tuple[EndCut, EndCut] | None:
        """The cuts nearer to the bar's front and further from it, their paths along the bar; None where not known.

        Raises:
            BadValue: the piece is turned as its section does not allow; so does `cut_outs`.
        """
        return laid_ends(self.part, self.piece)

    @cached_property
    def cut_outs(self) -> tuple[Contour, ...]:
        return laid_cut_outs(self.part, self.piece)

    @property
    def cut_words(self) -> tuple[str, str]:
        """The cuts as the piece lies, front first, as far as they are known."""
        ends = laid_kinds(self.part, self.piece)
        if ends is not None:
            return str(ends[0]), str(ends[1])
        return ("square", "square") if self.part.square_ends else ("not square", "not square")

    @property
    def lie(self) -> str:
        """How it was turned from how it was drawn, in words; "" where it was not."""
        return lie_in_words(self.piece)


def pieces_on_sheet(nest: SheetNest, index: int) -> tuple[SheetLayout, Sheet, list[SheetPiece]]:
    """The layout at `index` from 0, its sheet, and its pieces in order.

    Raises:
        BadValue: there is no such sheet, or the layout names stock or parts that the job does not have.
    """
    layout = _layout(nest.layouts, index, "sheet")
    sheets = {sheet.name: sheet for sheet in nest.job.stock}
    parts = {demand.part.name: demand.part for demand in nest.job.demands}
    if layout.stock not in sheets:
        raise BadValue(f"Sheet {index + 1} is cut from {layout.stock!r}, which is not in the job's stock.")
    pieces = []
    for number, placement in enumerate(layout.placements, 1):
        if placement.part not in parts:
            raise BadValue(f"Sheet {index + 1}, piece {number}: the job has no part {placement.part!r}.")
        pieces.append(SheetPiece(number, parts[placement.part], placement))
    return layout, sheets[layout.stock], pieces


def pieces_on_bar(nest: BarNest, index: int) -> tuple[BarLayout, Bar, list[BarPiece]]:
    """The layout at `index` from 0, its bar, and its pieces in order.

    Raises:
        BadValue: there is no such bar, or the layout names stock or parts that the job does not have.
    """
    layout = _layout(nest.layouts, index, "bar")
    bars = {bar.name: bar for bar in nest.job.stock}
    parts = {demand.part.name: demand.part for demand in nest.job.demands}
    if layout.stock not in bars:
        raise BadValue(f"Bar {index + 1} is cut from {layout.stock!r}, which is not in the job's stock.")
    pieces = []
    for number, piece in enumerate(layout.pieces, 1):
        if piece.part not in parts:
            raise BadValue(f"Bar {index + 1}, piece {number}: the job has no part {piece.part!r}.")
        pieces.append(BarPiece(number, parts[piece.part], piece))
    return layout, bars[layout.stock], pieces


def _layout[L](layouts: Sequence[L], index: int, noun: str) -> L:
    if not 0 <= index < len(layouts):
        raise BadValue(f"This nest has {len(layouts)} {noun} layout(s); there is none numbered {index + 1}.")
    return layouts[index]
