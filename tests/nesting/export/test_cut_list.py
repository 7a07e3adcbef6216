import csv
import io

import pytest
from hypothesis import given, settings

from nesting.export.cut_list import bar_list, sheet_list
from nesting.geometry.contour import Contour, Path
from nesting.model.nest import (
    BarJob,
    BarLayout,
    BarNest,
    BarRules,
    Demand,
    Piece,
    Placement,
    SheetJob,
    SheetLayout,
    SheetNest,
    SheetRules,
)
from nesting.model.part import SheetPart, TubePart
from nesting.model.section import Section
from nesting.model.stock import Bar, Sheet
from nesting.model.tube_cuts import EndCut, EndKind
from tests.mitred import mitred, mitred_job
from tests.mitred import nest_of as laid_nest
from tests.strategies import bar_nests, names, sheet_nests

BOX = Section.box(40, 40, 3, 6)


def rows(text):
    return list(csv.DictReader(io.StringIO(text, newline="")))


def bar_nest(rules, name="post"):
    job = BarJob((Bar("6 m", 6000.0),), rules, (Demand(TubePart(name, BOX, 1234.5), 4),))
    return BarNest(job, (BarLayout("6 m", (Piece(name, 20.0), Piece(name, 1259.5)), 2),))


def test_a_bar_list_goes_from_the_front_to_the_chuck():
    listed = rows(bar_list(bar_nest(BarRules(5.0, 300.0, 20.0)), 0, remnant=3501.0))
    assert [(r["what"], r["piece"], r["start_mm"], r["length_mm"]) for r in listed] == [
        ("trim", "", "0", "20"),
        ("piece", "1", "20", "1234.5"),
        ("piece", "2", "1259.5", "1234.5"),
        ("remnant", "", "2499", "3501"),
        ("held by the chuck", "", "5700", "300"),
    ]
    assert {(r["bar"], r["copies"], r["stock"]) for r in listed} == {("1", "2", "6 m")}


def test_a_bar_without_trim_dead_end_and_remnant_lists_pieces_alone():
    assert [r["what"] for r in rows(bar_list(bar_nest(BarRules(5.0)), 0))] == ["piece", "piece"]


def test_a_bar_list_tells_the_cut_of_each_end_for_a_saw():
    path = Path(((0.0, 0.0, 0.0), (0.0, BOX.girth, 0.0)))
    ends = (EndCut(EndKind.MITRE, path, 45.0, 90.0), EndCut(EndKind.SQUARE, path))
    parts = (TubePart("brace", BOX, 500.0, square_ends=False, ends=ends), TubePart("post", BOX, 300.0),
             TubePart("rail", BOX, 200.0, square_ends=False))  # fmt: skip
    job = BarJob((Bar("6 m", 6000.0),), BarRules(), tuple(Demand(part, 1) for part in parts))
    pieces = tuple(Piece(part.name, 600.0 * k) for k, part in enumerate(parts))
    listed = rows(bar_list(BarNest(job, (BarLayout("6 m", pieces, 1),)), 0))
    assert [(r["start_cut"], r["end_cut"]) for r in listed if r["what"] == "piece"] == [
        ("mitre 45°, long point at the top", "square"), ("square", "square"), ("not square", "not square")
    ]  # fmt: skip


def test_a_bar_list_tells_the_ends_and_how_the_piece_lies():
    part = mitred("half", BOX, 600.0, (45.0, 90.0))
    pieces = Piece("half", 0.0), Piece("half", 605.0, True), Piece("half", 1170.0, False, 90.0)
    listed = rows(bar_list(laid_nest(mitred_job((part, 3)), *pieces), 0))
    mitre = "mitre 45°, long point at the {}"
    assert [(r["start_cut"], r["end_cut"], r["lies"]) for r in listed] == [
        (mitre.format("top"), "square", ""),
        ("square", mitre.format("top"), "end for end"),
        (mitre.format("front"), "square", "turned 90° about the bar's axis"),
    ]
    assert [(r["start_mm"], r["length_mm"]) for r in listed] == [("0", "600"), ("605", "600"), ("1170", "600")]


def test_lines_end_as_rfc_4180_asks():
    # Source: RFC 4180, section 2, rule 1: each record is on a separate line, delimited by CRLF.
    text = bar_list(bar_nest(BarRules()), 0)
    assert text.count("\r\n") == text.count("\n") == 3


@pytest.mark.parametrize("name", ["=1+2", "+44", "-bracket", "@sum", "\t=1", "\r=1", "\x0b=cmd"])
def test_a_name_that_a_spreadsheet_would_calculate_is_made_plain_text(name):
    part = rows(bar_list(bar_nest(BarRules(), name), 0))[0]["part"]
    assert part.startswith("'")
    assert part.endswith(name[-2:])


@given(names)
def test_any_name_stays_in_its_field(name):
    listed = rows(bar_list(bar_nest(BarRules(), name), 0))
    assert len(listed) == 2
    wanted = "".join(letter if letter.isprintable() else " " for letter in name)
    assert listed[0]["part"].removeprefix("'") in (wanted, wanted.removeprefix("'"))


@given(bar_nests())
def test_every_piece_of_a_bar_is_listed(nest):
    listed = [r for r in rows(bar_list(nest, 0)) if r["what"] == "piece"]
    starts = [piece.start for piece in nest.layouts[0].pieces]
    assert [float(r["start_mm"]) for r in listed] == pytest.approx(starts, abs=5e-4)


@given(sheet_nests())
@settings(max_examples=30)
def test_every_piece_of_a_sheet_is_listed(nest):
    listed = rows(sheet_list(nest, 0))
    assert [int(r["piece"]) for r in listed] == list(range(1, len(nest.layouts[0].placements) + 1))
    assert [float(r["x_mm"]) for r in listed] == pytest.approx([p.x for p in nest.layouts[0].placements], abs=5e-4)


def test_a_sheet_list_gives_the_extent_as_the_piece_lies():
    part = SheetPart("strap", Contour.rectangle(100, 20))
    job = SheetJob((Sheet.rectangle("1000x500", 1000, 500),), SheetRules(), (Demand(part, 1),))
    nest = SheetNest(job, (SheetLayout("1000x500", (Placement("strap", 50, 10, 90.0, True),)),))
    (row,) = rows(sheet_list(nest, 0))
    assert (row["width_mm"], row["height_mm"], row["turn_deg"], row["mirrored"]) == ("20", "100", "90", "yes")
    assert (row["x_mm"], row["y_mm"], row["sheet"], row["copies"], row["stock"]) == ("50", "10", "1", "1", "1000x500")
