"""The cut list of one bar on paper, for a saw: PDF, A4 upright, with the angle of each end and a box to tick.

Equal pieces of one order that follow each other share a row. The letters are those of the fonts that every PDF reader
has, which know western Europe alone: others lose their accents, and what is left unknown becomes "?", which the page
then says.
"""

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import groupby

from fpdf import FPDF
from fpdf.fonts import FontFace

from nesting.export.cut_list import Stretch, bar_stretches
from nesting.export.pieces import pieces_on_bar
from nesting.model.nest import BarNest
from nesting.units import Mm

HEADING = ("Piece", "Count", "Order", "Part", "Length, mm", "Cut at the start", "Cut at the end", "Done")
WIDTHS = (13, 11, 17, 40, 20, 38, 38, 13)
"""Millimetres of each column; together what an A4 page holds between margins of 10."""

FOOT = (
    "Lengths are over all, long point to long point. Angles are from square: 0 is a square cut. Sides are named with "
    "the start on the left, as seen from the front. Measure the first piece of each kind before the others are cut. "
    "Follow the manual of the saw and the rules of the site; a competent person sets it up."
)

KNOWN = str.maketrans({"⌀": "Ø", "\u202f": " ", "\u2013": "-", "\u2014": "-", "\u2026": "...", "\u2019": "'"})


@dataclass(frozen=True)
class Row:
    """Pieces from `first` to `last` that are alike, or a stretch that is no piece (without numbers)."""

    stretch: Stretch
    order: str
    first: int | None
    last: int | None

    @property
    def cells(self) -> tuple[str, ...]:
        each, length = self.stretch, f"{self.stretch.length:.1f}"
        if self.first is None or self.last is None:
            return ("", "", "", each.what, length, "", "", "")
        numbers = str(self.first) if self.first == self.last else f"{self.first} to {self.last}"
        count = str(self.last - self.first + 1)
        return (numbers, count, self.order, each.part, length, each.start_cut, each.end_cut, "")


def rows_of(nest: BarNest, index: int, remnant: Mm | None, orders: Mapping[int, str]) -> list[Row]:
    """The rows of the list, from the bar's front; `orders` are in words by the number of the piece."""
    stretches = bar_stretches(nest, index, remnant)

    def sameness(each: Stretch) -> tuple[object, ...]:
        order = "" if each.piece is None else orders.get(each.piece, "")
        return each.what, each.part, round(each.length, 1), each.start_cut, each.end_cut, order

    rows = []
    for same, group in groupby(stretches, key=sameness):
        alike = list(group)
        rows.append(Row(alike[0], str(same[-1]), alike[0].piece, alike[-1].piece))
    return rows


def bar_list_pdf(
    nest: BarNest,
    index: int,
    remnant: Mm | None = None,
    *,
    title: str = "",
    of: str = "",
    orders: Mapping[int, str] | None = None,
) -> bytes:
    """The list of the bar at `index` from 0; equal nests give equal bytes.

    `title` stands on top in place of the bar's number, `of` says what the bar is in place of its section as drawn, and
    `orders` for whom each piece is, by its number.

    Raises:
        BadValue: there is no such bar, or it names stock or parts that the job does not have.
    """
    layout, bar, pieces = pieces_on_bar(nest, index)
    rows = rows_of(nest, index, remnant, orders or {})
    title = title or f"Bar {index + 1}"
    section = of or (str(pieces[0].part.section) if pieces else "")
    facts = [f"Bar of {bar.length:.0f} mm ({bar.name})", section, f"pieces on it: {len(pieces)}"]
    facts.append("to be cut once" if layout.copies == 1 else f"to be cut {layout.copies} times")
    page = _Page(title)
    page.add_page()
    page.set_font(size=10)
    page.multi_cell(0, 5, page.shown("; ".join(fact for fact in facts if fact) + "."), new_x="LMARGIN", new_y="NEXT")
    page.ln(2)
    page.set_font(size=9)
    heading = FontFace(emphasis="BOLD")
    # Every row is ruled off: with gloves on, a list is read along a line.
    with page.table(
        col_widths=WIDTHS, line_height=5.5, headings_style=heading, text_align="LEFT", padding=0.8
    ) as table:
        table.row(HEADING)
        for row in rows:
            table.row([page.shown(cell) for cell in row.cells])
    page.ln(3)
    page.set_font(size=8)
    page.multi_cell(0, 4, FOOT, new_x="LMARGIN", new_y="NEXT")
    if page.has_unknown:
        said = "A letter that this page cannot show stands as “?”; the list as CSV and the picture have all of them."
        page.multi_cell(0, 4, page.shown(said), new_x="LMARGIN", new_y="NEXT")
    return bytes(page.output())


class _Page(FPDF):
    """A4 with the title on top of each page and its number below."""

    def __init__(self, title: str) -> None:
        super().__init__(format="A4")
        self.has_unknown = False
        self.words = self.shown(title)
        self.set_title(self.words)
        self.set_creator("")
        self.set_margin(10)
        self.set_auto_page_break(True, margin=16)
        self.set_font("Helvetica")
        # A fixed date, as in STEP files that we write: equal lists are equal files.
        self.set_creation_date(datetime(2026, 1, 1, tzinfo=UTC))

    def header(self) -> None:
        self.set_font(style="B", size=15)
        self.cell(0, 9, self.words, new_x="LMARGIN", new_y="NEXT")
        self.set_font(style="", size=9)

    def footer(self) -> None:
        self.set_y(-12)
        self.set_font(style="", size=8)
        self.cell(0, 5, f"Cut list, page {self.page_no()} of {{nb}}", align="R")

    def shown(self, text: str) -> str:
        """The text in letters that the page's font has."""
        found = []
        for letter in text.translate(KNOWN):
            plain = letter if _is_known(letter) else "".join(filter(_is_known, unicodedata.normalize("NFKD", letter)))
            self.has_unknown |= not plain
            found.append(plain or "?")
        return "".join(found)


def _is_known(letter: str) -> bool:
    return letter.isprintable() and ord(letter) < 256
