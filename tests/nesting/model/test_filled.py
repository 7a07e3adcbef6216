from nesting.model.filled import filled_count
from nesting.model.nest import (
    BarJob,
    BarNest,
    BarRules,
    Demand,
    Placement,
    SheetJob,
    SheetLayout,
    SheetNest,
    SheetRules,
)
from nesting.model.stock import Sheet
from tests.shop_parts import square


def test_what_is_laid_beyond_the_count_fills_room_and_what_is_missing_does_not():
    demands = (Demand(square("a", 50.0), 2, fill_up_to=9), Demand(square("b", 50.0), 5), Demand(square("c", 50.0), 1))
    job = SheetJob((Sheet.rectangle("s", 1000, 500),), SheetRules(), demands)
    layout = SheetLayout("s", (Placement("a", 10, 10), Placement("a", 70, 10), Placement("b", 130, 10)), copies=3)
    # Source: by hand, 3 x 2 of a where 2 are wanted; 3 of b where 5 are.
    assert filled_count(SheetNest(job, (layout,))) == 4


def test_no_bar_is_filled():
    assert filled_count(BarNest(BarJob((), BarRules(), ()), ())) == 0
