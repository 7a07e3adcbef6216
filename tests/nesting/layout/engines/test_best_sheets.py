"""Only what is better is reported, and rows take what is on no sheet yet."""

from collections import Counter

from nesting.layout.composites import plain_pieces
from nesting.layout.engine import sheets_from_record
from nesting.layout.engines.best_sheets import BestSheets, rows_of_the_rest
from nesting.layout.measures import Measures
from nesting.layout.score import Extents
from nesting.layout.sheet_plan import FullSheet, SheetPlan, counts_of
from nesting.model.nest import Placement, SheetLayout, SheetNest
from nesting.model.stock import Sheet
from nesting.verify.sheet_check import check_sheets
from tests.shop_parts import sheet_job, square

A = "0"
"""Pieces are named by their place in the job."""

JOB = sheet_job((square(A, 100.0), 60), stock=[Sheet.rectangle("s", 1000.0, 500.0, count=3)])


def row(count, step=105.0):
    return SheetLayout("s", tuple(Placement(A, 10.0 + step * i, 10.0) for i in range(count)))


def test_only_what_is_better_is_reported():
    reports = []
    best = BestSheets(JOB, reports.append)
    assert sheets_from_record(best.record()) == ()
    for layouts in ([row(3)], [row(2)], [row(3)], [row(3, 104.9)], [row(5)]):
        best.offer(layouts)
    assert [len(sheets_from_record(record)[0].placements) for record in reports] == [3, 3, 5]
    assert best.record() == reports[-1]


def test_rows_take_what_is_on_no_sheet_yet_on_what_is_left_of_the_stock():
    pieces = plain_pieces(JOB)
    plan = SheetPlan(pieces.job, Extents(pieces.job))
    plan.take(FullSheet(row(9), 1.0, 1.0))
    measures = Measures(pieces, JOB, 5.0, 10.0)
    rows = rows_of_the_rest(plan, measures, extra_gap=0.0, is_over=lambda: False)
    assert sum(layout.copies for layout in rows) == 2
    assert check_sheets(SheetNest(JOB, (*plan.layouts(), *rows))) == ()
    found = sum((Counter({n: c * layout.copies for n, c in counts_of(layout).items()}) for layout in rows), Counter())
    assert found == {A: 51}


def test_no_time_no_rows():
    pieces = plain_pieces(JOB)
    plan = SheetPlan(pieces.job, Extents(pieces.job))
    measures = Measures(pieces, JOB, 5.0, 10.0)
    assert not rows_of_the_rest(plan, measures, extra_gap=0.0, is_over=lambda: True)
