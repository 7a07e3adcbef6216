"""The checks of numbers, on counts small enough to add up by hand."""

import pytest

from nesting.model.nest import BarLayout, Piece, Placement, SheetLayout, Unplaced
from nesting.verify.counts import count_faults, stock_faults

SHEET = SheetLayout("plate", (Placement("a", 0.0, 0.0),))
BAR = BarLayout("6 m", (Piece("a", 0.0),))


def told(found):
    assert all(finding.blocks and finding.message.endswith(".") and finding.at is None for finding in found)
    return [(finding.code, finding.message) for finding in found]


@pytest.mark.parametrize(("noun", "layout"), [("sheet", SHEET), ("bar", BAR)])
@pytest.mark.parametrize("at_hand", [1, 2, None])
def test_stock_that_is_enough_or_without_limit_passes(noun, layout, at_hand):
    assert stock_faults(noun, [layout], {layout.stock: at_hand}) == []


def test_copies_of_all_layouts_on_one_stock_are_added_up():
    two, three = SheetLayout("plate", SHEET.placements, 2), SheetLayout("plate", SHEET.placements, 3)
    assert stock_faults("sheet", [two, three], {"plate": 5}) == []
    assert told(stock_faults("sheet", [two, three], {"plate": 4})) == [
        ("stock-exceeded", "5 of plate used, 4 in stock.")
    ]


def test_stock_of_which_none_is_left_is_told_from_stock_that_is_unknown():
    assert told(stock_faults("bar", [BAR], {"6 m": 0})) == [("stock-exceeded", "1 of 6 m used, 0 in stock.")]
    assert told(stock_faults("bar", [BAR], {})) == [("unknown-stock", "Bar 1: the job has no stock '6 m'.")]


@pytest.mark.parametrize("copies", [0, -1])
def test_a_layout_without_copies_is_named_by_its_number(copies):
    found = told(stock_faults("sheet", [SHEET, SheetLayout("plate", SHEET.placements, copies)], {"plate": None}))
    assert found == [("no-copies", f"Sheet 2: {copies} copies; at least 1 is needed.")]


def test_negative_copies_do_not_make_up_for_too_many():
    layouts = [SheetLayout("plate", SHEET.placements, 3), SheetLayout("plate", SHEET.placements, -2)]
    assert {code for code, _ in told(stock_faults("sheet", layouts, {"plate": 1}))} == {"no-copies", "stock-exceeded"}


@pytest.mark.parametrize(
    ("noun", "empty"), [("sheet", SheetLayout("plate", ())), ("bar", BarLayout("plate", ()))], ids=["sheet", "bar"]
)
def test_an_empty_layout_is_to_be_taken_out(noun, empty):
    ((code, message),) = told(stock_faults(noun, [empty], {"plate": 1}))
    assert code == "nothing-laid"
    assert message == f"{noun.capitalize()} 1: nothing is laid on it; take the {noun} out of the nest."


@pytest.mark.parametrize(("laid", "left"), [(5, 0), (3, 2), (0, 5)])
def test_laid_and_left_out_make_what_is_wanted(laid, left):
    assert count_faults({"a": 5}, {"a": laid} if laid else {}, [Unplaced("a", left, "no stock left")]) == []


@pytest.mark.parametrize(("laid", "left"), [(4, 0), (6, 0), (5, 1), (0, 4)])
def test_what_does_not_add_up_is_told_with_all_three_numbers(laid, left):
    found = told(count_faults({"a": 5}, {"a": laid}, [Unplaced("a", left, "no stock left")]))
    assert found == [("count-off", f"a: {laid} laid and {left} left out, but 5 wanted.")]


def test_rows_of_one_part_are_added_up():
    rows = [Unplaced("a", 2, "too large"), Unplaced("a", 1, "no stock left")]
    assert count_faults({"a": 3}, {}, rows) == []


def test_strangers_are_named_once_each_in_order():
    found = told(count_faults({}, {"z": 1, "b": 2}, [Unplaced("b", 1, ""), Unplaced("m", 1, "")]))
    assert [message.split(" ")[0] for _, message in found] == ["'b'", "'m'", "'z'"]
    assert {code for code, _ in found} == {"unknown-part"}


def test_a_negative_row_is_found_even_where_the_sum_is_right():
    rows = [Unplaced("a", -1, ""), Unplaced("a", 1, "")]
    assert [code for code, _ in told(count_faults({"a": 2}, {"a": 2}, rows))] == ["negative-count"]


def test_a_part_of_which_none_is_wanted_and_none_laid_is_right():
    assert count_faults({"a": 0}, {}, []) == []
