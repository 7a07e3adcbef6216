"""The cut list on paper, read again by the text that stands in it."""

import re
import zlib

import pytest

from nesting.errors import BadValue
from nesting.export.cut_list_pdf import bar_list_pdf, rows_of
from nesting.geometry.contour import Path
from nesting.model.nest import BarJob, BarLayout, BarNest, BarRules, Demand, Piece
from nesting.model.part import TubePart
from nesting.model.section import Section
from nesting.model.stock import Bar
from nesting.model.tube_cuts import EndCut, EndKind

BOX = Section.box(40, 40, 3, 6)
PATH = Path(((0.0, 0.0, 0.0), (0.0, BOX.girth, 0.0)))
MITRED = (EndCut(EndKind.MITRE, PATH, 45.0, 90.0), EndCut(EndKind.MITRE, PATH, 22.5, 270.0))


def nest_of(*names, part=None, copies=1, bar="6000, no. 7"):
    parts = [part or TubePart(name, BOX, 500.0, ends=MITRED, square_ends=False) for name in dict.fromkeys(names)]
    stock = Bar(bar, 505.0 * len(names) + 320.0)
    job = BarJob((stock,), BarRules(5.0, 300.0, 20.0), tuple(Demand(part, len(names)) for part in parts))
    pieces = tuple(Piece(name, 20.0 + 505.0 * k) for k, name in enumerate(names))
    return BarNest(job, (BarLayout(bar, pieces, copies),))


def pages_of(content):
    """The text of each page. Source: ISO 32000-1, 7.3.4.2 (strings), 7.4.4 (Flate) and 9.4.3 (showing text)."""
    texts = []
    for packed in re.findall(rb"stream\n(.*?)\nendstream", content, re.DOTALL):
        stream = zlib.decompress(packed)
        if b" Tj" in stream:
            # A line that is filled out is shown word by word.
            shown = re.findall(rb"\((?:\\.|[^()\\])*\)", stream)
            texts.append(" ".join(re.sub(rb"\\(.)", rb"\1", each[1:-1]).decode("latin-1") for each in shown))
    return texts


def text_of(content):
    return re.sub(r"\s+", " ", " ".join(pages_of(content)))


def test_it_says_number_order_part_length_and_the_cut_of_each_end():
    said = text_of(
        bar_list_pdf(
            nest_of("rail", "rail", "post"), 0, title="Nest 12, bar 1", orders={1: "0012", 2: "0012", 3: "0013"}
        )
    )
    for words in ("Nest 12, bar 1", "square 40 x 40 x 3", "1 to 2", "0012", "0013", "rail", "post", "500.0"):
        assert words in said
    assert said.count("mitre 45°, long point at the top") == 2
    assert said.count("mitre 22.5°, long point at the bottom") == 2
    assert "held by the chuck" in said
    assert "trim" in said
    assert "page 1 of 1" in said


def test_alike_pieces_of_one_order_that_follow_each_other_share_a_row():
    nest = nest_of("rail", "rail", "rail", "post", "rail")
    orders = {1: "0012", 2: "0012", 3: "0014", 4: "0012", 5: "0012"}
    rows = [row.cells[:4] for row in rows_of(nest, 0, None, orders) if row.first is not None]
    assert rows == [
        ("1 to 2", "2", "0012", "rail"),
        ("3", "1", "0014", "rail"),
        ("4", "1", "0012", "post"),
        ("5", "1", "0012", "rail"),
    ]


def test_every_piece_is_counted_in_one_row():
    nest = nest_of(*"aabbbaabab")
    rows = [row for row in rows_of(nest, 0, None, {}) if row.first is not None]
    assert [number for row in rows for number in range(row.first, row.last + 1)] == list(range(1, 11))
    assert sum(int(row.cells[1]) for row in rows) == 10


@pytest.mark.parametrize(("copies", "words"), [(1, "to be cut once"), (3, "to be cut 3 times")])
def test_it_says_how_many_bars_are_cut_like_it(copies, words):
    assert words in text_of(bar_list_pdf(nest_of("rail", copies=copies), 0))


def test_a_long_list_goes_on_on_further_pages_under_the_same_heading():
    names = [f"rail {k}" for k in range(120)]
    pages = pages_of(bar_list_pdf(nest_of(*names), 0))
    assert len(pages) > 2
    assert all("Bar 1" in page and "Length, mm" in page for page in pages)
    told = [int(number) for page in pages for number in re.findall(r"rail (\d+)", page)]
    assert told == list(range(120))


def test_equal_nests_give_equal_bytes():
    assert bar_list_pdf(nest_of("rail", "post"), 0) == bar_list_pdf(nest_of("rail", "post"), 0)


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("Bügel ⌀ 12", "Bügel Ø 12"),
        ("Żebro ló", "Zebro ló"),
        ("横梁 A", "?? A"),
        ("(a) b\\c", "(a) b\\c"),
        ("x\x00y", "x?y"),
    ],
)
def test_letters_that_the_page_lacks_are_said_to_be_missing(name, shown):
    said = text_of(bar_list_pdf(nest_of(name), 0))
    assert shown in said
    assert ("cannot show" in said) == ("?" in shown)


def test_what_the_bar_is_may_be_said_in_place_of_the_drawn_section():
    said = text_of(bar_list_pdf(nest_of("rail"), 0, of="S235, square 40 x 40 x 3.2"))
    assert "S235, square 40 x 40 x 3.2" in said
    assert "40 x 3;" not in said


def test_ends_that_are_not_known_are_said_as_far_as_they_are():
    said = text_of(bar_list_pdf(nest_of("stub", part=TubePart("stub", BOX, 500.0, square_ends=False)), 0))
    assert said.count("not square") == 2


def test_a_bar_that_is_not_there_is_refused():
    with pytest.raises(BadValue, match="none numbered 3"):
        bar_list_pdf(nest_of("rail"), 2)
