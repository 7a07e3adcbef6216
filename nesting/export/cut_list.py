"""Cut lists as CSV: what is cut from one bar or one sheet, piece by piece, for a saw, a clipboard or a spreadsheet.

Comma-separated with a heading, CRLF at the line ends (RFC 4180). Lengths are in millimetres to a micrometre, with a
point. A name that a spreadsheet would take for a formula gets an apostrophe before it.
"""

import csv
import io
from collections.abc import Iterable, Sequence

from nesting.export.pieces import pieces_on_bar, pieces_on_sheet
from nesting.export.svg_paths import number
from nesting.model.nest import BarNest, SheetNest
from nesting.model.part import TubePart
from nesting.units import Mm

BAR_HEADING = ("bar", "copies", "stock", "what", "piece", "part", "start_mm", "length_mm", "start_cut", "end_cut")

SHEET_HEADING = (
    "sheet", "copies", "stock", "piece", "part", "x_mm", "y_mm", "turn_deg", "mirrored", "width_mm", "height_mm",
)  # fmt: skip

FORMULA_STARTS = ("=", "+", "-", "@")
"""First letters that make a spreadsheet calculate or call out, not show the text; common practice, no source."""


def bar_list(nest: BarNest, index: int, remnant: Mm | None = None) -> str:
    """One line for each stretch of the bar at `index` from 0: trimmed front, pieces, and what is left at the far end.

    `start_mm` counts from the bar's front; `start_cut` and `end_cut` say kind and angle of each end, for a saw.
    `remnant` is the length at the far end that goes back to stock; what the chuck holds lies within it.

    Raises:
        BadValue: there is no such bar, or it names stock or parts that the job does not have.
    """
    layout, bar, pieces = pieces_on_bar(nest, index)
    first = (index + 1, layout.copies, _plain(bar.name))
    rules = nest.job.rules
    rows: list[Sequence[object]] = []
    if rules.lead_end:
        rows.append((*first, "trim", "", "", number(0.0), number(rules.lead_end), "", ""))
    for each in pieces:
        name, ends = _plain(each.part.name), _ends_told(each.part)
        rows.append((*first, "piece", each.number, name, number(each.start), number(each.part.length), *ends))
    if remnant:
        rows.append((*first, "remnant", "", "", number(bar.length - remnant), number(remnant), "", ""))
    if rules.dead_end:
        rows.append(
            (*first, "held by the chuck", "", "", number(bar.length - rules.dead_end), number(rules.dead_end), "", "")
        )
    return _csv(BAR_HEADING, rows)


def _ends_told(part: TubePart) -> list[str]:
    """The cuts at start and end, as far as they are known."""
    if part.ends is not None:
        return [str(end) for end in part.ends]
    return ["square", "square"] if part.square_ends else ["not square", "not square"]


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
