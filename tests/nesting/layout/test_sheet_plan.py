"""The bookkeeping of an engine that lays sheet after sheet: pieces are full, last or loose, and none goes astray."""

from collections import Counter

import pytest

from nesting.layout.score import Extents
from nesting.layout.sheet_plan import FullSheet, SheetPlan
from nesting.model.nest import Placement, SheetLayout
from nesting.model.stock import Sheet
from tests.shop_parts import sheet_job, square

JOB = sheet_job(
    (square("a", 100.0), 7),
    (square("b", 50.0), 3),
    stock=[Sheet.rectangle("s", 1000.0, 500.0, count=4), Sheet.rectangle("endless", 900.0, 500.0)],
)


def row(names, *, copies=1, stock="s"):
    return SheetLayout(stock, tuple(Placement(name, 10.0 + 110.0 * i, 10.0) for i, name in enumerate(names)), copies)


def full(names, *, copies=1, bulk=1.0):
    return FullSheet(row(names, copies=copies), bulk, bulk)


@pytest.fixture
def plan():
    return SheetPlan(JOB, Extents(JOB))


def test_at_first_all_is_loose(plan):
    assert plan.loose == {"a": 7, "b": 3}
    assert not plan.is_complete


def test_full_sheets_use_up_pieces_and_stock(plan):
    plan.take(full("aab", copies=3))
    assert +plan.loose == {"a": 1}
    assert plan.at_hand("s") == 1
    assert plan.at_hand("endless") is None


def test_what_is_held_is_not_free(plan):
    plan.hold(Counter(a=2), 3)
    assert plan.free() == {"a": 1, "b": 3}
    plan.release(Counter(a=2), 3)
    assert plan.free() == {"a": 7, "b": 3}


def test_it_is_complete_when_the_last_sheet_holds_all_that_is_loose(plan):
    plan.take(full("aab", copies=2))
    plan.set_last([row("aaab")])
    assert plan.is_complete
    assert len(plan.layouts()) == 2


def test_an_exchange_takes_off_the_last_sheet_what_it_needs_furthest_right_first(plan):
    old = full("aab", copies=2)
    plan.take(old)
    plan.set_last([row("aaab")])
    plan.exchange(old, FullSheet(row("aaa", copies=2), 2.0, 2.0))
    # Two more a have gone; two b have come back, one of them is on no sheet now with the third.
    assert +plan.loose == {"a": 1, "b": 3}
    assert [(p.part, p.x) for p in plan.last[0].placements] == [("a", 10.0), ("b", 340.0)]
    assert not plan.is_complete


def test_the_last_sheet_holds_no_piece_twice(plan):
    plan.take(full("aaaa"))
    plan.set_last([row("aaaaaabbb")])
    assert [p.part for p in plan.last[0].placements] == list("aaabbb")
    assert plan.is_complete


def test_the_emptiest_single_sheet_is_opened_as_the_last_one(plan):
    for each in (full("aa", copies=2, bulk=1.0), full("aab", bulk=3.0), full("bb", bulk=2.0)):
        plan.take(each)
    plan.open_one({"s"})
    assert +plan.loose == {"a": 1, "b": 2}
    assert [p.part for p in plan.last[0].placements] == ["b", "b"]
    assert [(each.layout.copies, each.bulk) for each in plan.full] == [(2, 1.0), (1, 3.0)]


def test_of_a_repeated_sheet_one_copy_is_opened(plan):
    plan.take(full("aaa", copies=2))
    plan.open_one({"s"})
    assert plan.full[0].layout.copies == 1
    assert plan.last[0].copies == 1
    assert plan.loose["a"] == 4


def test_no_sheet_of_other_stock_is_opened(plan):
    plan.take(full("aaa"))
    plan.open_one({"endless"})
    assert len(plan.full) == 1
    assert plan.last == []


def test_one_copy_of_a_repeated_sheet_becomes_a_sheet_of_its_own(plan):
    sheet = full("ab", copies=3)
    plan.take(sheet)
    loose = +plan.loose
    one = plan.split(sheet)
    assert [each.layout.copies for each in plan.full] == [2, 1]
    assert plan.full[1] is one
    assert +plan.loose == loose
    assert plan.at_hand("s") == 1
    plan.exchange(one, full("aab"))
    assert +plan.loose == loose - Counter("a")
