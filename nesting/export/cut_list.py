"""Cut lists as CSV: what is cut from one bar or one sheet, piece by piece, for a saw, a clipboard or a spreadsheet.

Comma-separated with a heading, CRLF at the line ends (RFC 4180). Lengths are in millimetres to a micrometre, with a
point. A name that a spreadsheet would take for a formula gets an apostrophe before it.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nesting.export.pieces import pieces_on_bar, pieces_on_sheet
from nesting.export.svg_paths import number
from nesting.model.nest import BarNest, SheetNest
from nesting.units import Mm

BAR_HEADING = (
    "bar", "copies", "stock", "what", "piece", "part", "start_mm", "length_mm", "start_cut", "end_cut", "lies",
)  # fmt: skip

SHEET_HEADING = (
    "sheet", "copies", "stock", "piece", "part", "x_mm", "y_mm", "turn_deg", "mirrored", "width_mm", "height_mm",
)  # fmt: skip

FORMULA_STARTS = ("=", "+", "-", "@")
"""First letters that make a spreadsheet calculate or call out, not show the text; common practice, no source."""


@dataclass(frozen=True)
class Stretch:
    """One stretch of a bar from `start` to `start + length`: `what` is a piece, or what the rest of the bar is.

    Only a piece has a number, a part, and words for the cuts at its two ends, the one nearer to the bar's front first,
    and for how it was turned; all as it lies.
    """

    what: str
    start: Mm
    length: Mm
    piece: int | None = None
    part: str = ""
    start_cut: str = ""
    end_cut: str = ""
    lie: str = ""


def bar_stretches(nest: BarNest, index: int, remnant: Mm | None = None) -> list[Stretch]:
    """The bar at `index` from 0 from its front: what is trimmed, the pieces, and what is left at the far end.

    `remnant` is the length at the far end that goes back to stock; what the chuck holds lies within it.

    Raises:
        BadValue: there is no such bar, or it names stock or parts that the job does not have.
    """
    _, bar, pieces = pieces_on_bar(nest, index)
    rules = nest.job.rules
    found = [Stretch("trim", 0.0, rules.lead_end)] if rules.lead_end else []
    found += [
        Stretch("piece", each.start, each.part.length, each.number, each.part.name, *each.cut_words, each.lie)
        for each in pieces
    ]
    if remnant:
        found.append(Stretch("remnant", bar.length - remnant, remnant))
    if rules.dead_end:
        found.append(Stretch("held by the chuck", bar.length - rules.dead_end, rules.dead_end))
    return found


def bar_list(nest: BarNest, index: int, remnant: Mm | None = None) -> str:
    """One line for each of `bar_stretches`.

    `start_mm` counts from the bar's front; `start_cut` and `end_cut` say kind and angle of each end as the piece lies,
    for a saw, and `lies` how it was turned. Mitres that lie against each other make a piece begin before the one in
    front of it ends.

    Raises:
        BadValue: there is no such bar, or it names stock or parts that the job does not have.
    """
    layout, bar, _ = pieces_on_bar(nest, index)
    first = (index + 1, layout.copies, _plain(bar.name))
    rows = [
        (
            *(*first, each.what, "" if each.piece is None else each.piece, _plain(each.part) if each.part else ""),
            *(number(each.start), number(each.length), each.start_cut, each.end_cut, each.lie),
        )
        for each in bar_stretches(nest, index, remnant)
    ]
    return _csv(BAR_HEADING, rows)


def sheet_list(nest: SheetNest, index: int) -> str:
    """One line for each piece of the sheet at `index` from 0; x and y are those of the placement.

    Width and height are the extent of the piece as it lies on the sheet.

    Raises:
        BadValue: there is no such sheet, or it names stock or parts that the job does not have.
    """
    layout, sheet, pieces = pieces_on_sheet(nest, index)
    rows = []
    for piece in pieces:
        place, bounds = piece.placement, piece.outer.bounds
        row: list[object] = [index + 1, layout.copies, _plain(sheet.name), piece.number, _plain(piece.part.name)]
        row += [number(place.x), number(place.y), number(place.turn), "yes" if place.mirrored else "no"]
        rows.append([*row, number(bounds.width), number(bounds.height)])
    return _csv(SHEET_HEADING, rows)


def _plain(name: str) -> str:
    line = "".join(letter if letter.isprintable() else " " for letter in name)
    return "'" + line if line.lstrip().startswith(FORMULA_STARTS) else line


def _csv(heading: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow(heading)
    writer.writerows(rows)
    return stream.getvalue()
