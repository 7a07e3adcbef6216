"""Strips along the sides of sheets stay free, whatever the engine and the outline."""

from dataclasses import replace

import pytest

from nesting.geometry.contour import Bounds, Contour
from nesting.layout.sides import inside_sides, without_sides
from nesting.model.nest import Placement, SheetLayout, SheetNest, SheetRules, Sides
from nesting.model.stock import Sheet
from nesting.route import check_nest, lay_out, lay_out_around
from tests.shop_parts import L_REMNANT, rectangle, sheet_job, square

SIDES = Sides(left=60.0, top=25.0)


def with_sides(job, sides=SIDES):
    return replace(job, rules=replace(job.rules, sides=sides))


def test_a_strip_counts_only_beyond_the_margin():
    outline = Contour.rectangle(1000.0, 500.0)
    rules = SheetRules(margin=10.0, sides=Sides(left=60.0, bottom=4.0, right=10.0, top=25.0))
    assert inside_sides(outline, rules) == Bounds(50.0, 0.0, 1000.0, 485.0)


def test_without_strips_the_job_is_the_same():
    job = sheet_job((square("a", 100.0), 2))
    assert without_sides(job) is job


def test_the_price_of_a_sheet_stays_what_it_was():
    job = with_sides(sheet_job((square("a", 100.0), 2)))
    (whole,), (inner,) = job.stock, without_sides(job).stock
    assert inner.price == whole.price
    assert inner.outline.area < whole.outline.area


def test_a_sheet_under_strips_alone_takes_nothing_and_the_reason_is_told():
    job = with_sides(sheet_job((square("a", 100.0), 2)), Sides(left=5000.0))
    nest = lay_out(job, budget=1.0)
    assert not nest.layouts
    (row,) = nest.unplaced
    assert row.count == 2
    assert row.reason


def test_a_full_row_of_squares_is_shorter_by_the_strip():
    # Source: by hand. 10 squares of 95 and 9 gaps of 5 fill 995 of 1000 less margins of 2.5; with a strip of 60 there
    # is room for (1000 - 60 - 2.5 + 5) // 100 = 9.
    sheet = Sheet.rectangle("strip", 1000.0, 100.0, count=1)
    job = sheet_job((square("a", 95.0), 10), stock=(sheet,), gap=5.0, margin=2.5)
    assert lay_out(job, budget=1.0).placed_count == 10
    held = lay_out(with_sides(job, Sides(left=60.0)), budget=1.0)
    assert held.placed_count == 9
    assert check_nest(held) == ()
    assert min(p.x for p in held.layouts[0].placements) >= 60.0 - 1e-6


@pytest.mark.parametrize("stock", [Sheet.rectangle("plain", 1200.0, 800.0), Sheet("L", L_REMNANT, is_remnant=True)])
def test_no_engine_lays_anything_into_a_strip(stock):
    parts = [(square("a", 90.0), 12), (rectangle("b", 150.0, 60.0), 9)]
    job = with_sides(sheet_job(*parts, stock=(stock,)), Sides(left=70.0, bottom=40.0, right=33.0, top=55.0))
    nest = lay_out(job, budget=1.5, seed=1)
    assert nest.placed_count > 0
    assert check_nest(nest) == ()


def test_what_is_laid_around_pieces_keeps_off_the_strips_too():
    job = with_sides(sheet_job((square("a", 90.0), 30), stock=(Sheet.rectangle("plain", 1200.0, 400.0, count=2),)))
    fixed = (SheetLayout("plain", (Placement("a", 500.0, 150.0),)),)
    nest = lay_out_around(job, fixed, budget=1.0)
    assert nest.placed_count > 1
    assert check_nest(nest) == ()


@pytest.mark.parametrize(
    ("sides", "where"),
    [
        (Sides(left=100.0), "left"),
        (Sides(bottom=100.0), "lower"),
        (Sides(right=600.0), "right"),
        (Sides(top=400.0), "upper"),
    ],
)
def test_the_checker_finds_what_reaches_into_a_strip(sides, where):
    job = with_sides(sheet_job((square("a", 100.0), 1), stock=(Sheet.rectangle("plain", 1000.0, 500.0),)), Sides())
    nest = SheetNest(job, (SheetLayout("plain", (Placement("a", 350.0, 50.0),)),))
    assert check_nest(nest) == ()
    nest = replace(nest, job=with_sides(job, sides))
    if where in ("left",):
        assert check_nest(nest) == ()
        nest = replace(nest, layouts=(SheetLayout("plain", (Placement("a", 99.0, 50.0),)),))
    (finding,) = check_nest(nest)
    assert finding.code == "side-not-free"
    assert f"from the {where} side of plain" in finding.message
