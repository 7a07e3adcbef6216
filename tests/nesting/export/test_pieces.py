import pytest

from nesting.errors import BadValue
from nesting.export.pieces import pieces_on_bar, pieces_on_sheet
from nesting.geometry.contour import Contour
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

GUSSET = SheetPart("gusset", Contour.rectangle(20, 10), (Contour.circle(5, 5, 2),))
POST = TubePart("post", Section.round(48.3, 3.2), 1200.0)


def sheet_nest(part="gusset", stock="1000x500"):
    job = SheetJob((Sheet.rectangle("1000x500", 1000, 500),), SheetRules(), (Demand(GUSSET, 2),))
    placements = (Placement(part, 10, 10), Placement(part, 100, 50, 90.0))
    return SheetNest(job, (SheetLayout(stock, placements),))


def bar_nest(part="post", stock="6 m"):
    job = BarJob((Bar("6 m", 6000.0),), BarRules(), (Demand(POST, 2),))
    return BarNest(job, (BarLayout(stock, (Piece(part, 0.0), Piece(part, 1205.0))),))


def test_pieces_are_numbered_from_one_in_the_order_of_the_layout():
    _, sheet, pieces = pieces_on_sheet(sheet_nest(), 0)
    assert sheet.name == "1000x500"
    assert [(p.number, p.part.name, p.placement.x) for p in pieces] == [(1, "gusset", 10), (2, "gusset", 100)]


def test_a_piece_lies_where_its_placement_puts_it():
    # Source: by hand, 20 x 10 turned by 90 degrees about its corner and shifted by (100, 50) spans 90..100 x 50..70.
    turned = pieces_on_sheet(sheet_nest(), 0)[2][1]
    bounds = turned.outer.bounds
    assert (bounds.left, bounds.bottom, bounds.right, bounds.top) == (90, 50, 100, 70)
    hole = turned.holes[0].bounds
    assert ((hole.left + hole.right) / 2, (hole.bottom + hole.top) / 2) == (95, 55)


def test_a_bar_piece_ends_its_length_after_its_start():
    pieces = pieces_on_bar(bar_nest(), 0)[2]
    assert [(p.number, p.start, p.end) for p in pieces] == [(1, 0.0, 1200.0), (2, 1205.0, 2405.0)]


@pytest.mark.parametrize("index", [-1, 1, 99])
def test_a_layout_that_is_not_there_is_refused_by_its_number(index):
    with pytest.raises(BadValue, match=rf"1 sheet layout\(s\); there is none numbered {index + 1}"):
        pieces_on_sheet(sheet_nest(), index)
    with pytest.raises(BadValue, match=rf"1 bar layout\(s\); there is none numbered {index + 1}"):
        pieces_on_bar(bar_nest(), index)


def test_unknown_stock_and_parts_are_named():
    with pytest.raises(BadValue, match="Sheet 1 is cut from 'lost', which is not in the job's stock"):
        pieces_on_sheet(sheet_nest(stock="lost"), 0)
    with pytest.raises(BadValue, match="Sheet 1, piece 1: the job has no part 'lost'"):
        pieces_on_sheet(sheet_nest(part="lost"), 0)
    with pytest.raises(BadValue, match="Bar 1 is cut from 'lost', which is not in the job's stock"):
        pieces_on_bar(bar_nest(stock="lost"), 0)
    with pytest.raises(BadValue, match="Bar 1, piece 1: the job has no part 'lost'"):
        pieces_on_bar(bar_nest(part="lost"), 0)
