"""What the command line says of a nest in words."""

from dataclasses import replace

from nesting.answers import bound_in_words
from nesting.model.bound import StockBound
from nesting.model.stock import Sheet
from tests import rows_by_hand
from tests.shop_parts import bar_job, sheet_job, square


def words(job, *, proven=False, **bound):
    given = StockBound(**({"cost": 1.0, "count": 1, "last": 0.0, "taken": 1.0} | bound))
    return bound_in_words(replace(rows_by_hand.lay_out(job), bound=given, proven_optimal=proven))


def test_of_one_size_sheets_are_counted_in_full_and_by_length():
    job = sheet_job((square("a", 100.0), 1))
    assert words(job, count=3, last=411.6, proven=True) == (
        "no nest takes less than 2 sheets and 412 mm of another; nothing is left to win"
    )
    assert words(job, count=2, last=5.0).startswith("no nest takes less than 1 sheet and 5 mm of another; at most ")
    assert words(job, count=1, last=100.0).startswith("no nest takes less than 100 mm of one; at most ")


def test_bars_are_counted_whole_and_several_sizes_by_their_cost():
    assert words(bar_job((2000.0, 9)), cost=18_000.0, count=3) == (
        "no nest takes less than 3 bars; at most 0.0 % of the stock used is left to win"
    )
    stock = [Sheet.rectangle("a", 1000.0, 500.0), Sheet.rectangle("b", 2000.0, 1000.0)]
    assert words(sheet_job((square("a", 100.0), 1), stock=stock), cost=500_000.0).startswith(
        "no nest costs less than 500000; at most "
    )


def test_of_an_unknown_bound_nothing_is_said():
    assert bound_in_words(rows_by_hand.lay_out(sheet_job((square("a", 100.0), 1)))) == ""
