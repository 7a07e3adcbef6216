import math

import pytest

from nesting.errors import BadValue
from nesting.geometry.contour import Contour
from nesting.model.nest import (
    MOST_COPIES,
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
from tests.mitred import frame_side, mitred_job
from tests.mitred import nest_of as laid_nest

FRAME = SheetPart("frame", Contour.rectangle(100, 100), (Contour.rectangle(50, 50, 25, 25),))
POST = TubePart("post", Section.box(40, 40, 3, 6), 1500.0)
SHEET, BAR = Sheet.rectangle("1000x500", 1000, 500), Bar("6 m", 6000.0)


def test_the_yield_of_sheets_counts_metal_and_copies():
    job = SheetJob((SHEET,), SheetRules(), (Demand(FRAME, 10),))
    layouts = (
        SheetLayout("1000x500", (Placement("frame", 0, 0), Placement("frame", 200, 0)), copies=3),
        SheetLayout("1000x500", (Placement("frame", 0, 0),)),
    )
    nest = SheetNest(job, layouts)
    # Source: by hand, 7 frames of 100² - 50² mm² on 4 sheets of 1000 x 500 mm.
    assert nest.placed_count == 7
    assert nest.yield_share == pytest.approx(7 * 7500 / (4 * 500_000))


def test_the_yield_of_bars_counts_length_and_copies():
    job = BarJob((BAR,), BarRules(), (Demand(POST, 10),))
    nest = BarNest(job, (BarLayout("6 m", (Piece("post", 0.0), Piece("post", 1505.0)), copies=2),))
    # Source: by hand, 4 pieces of 1500 mm on 2 bars of 6000 mm.
    assert nest.placed_count == 4
    assert nest.yield_share == pytest.approx(0.5)


def test_a_nest_that_uses_nothing_yields_nothing():
    assert SheetNest(SheetJob((SHEET,), SheetRules(), ()), ()).yield_share == 0.0
    assert BarNest(BarJob((BAR,), BarRules(), ()), ()).yield_share == 0.0


def test_a_part_takes_its_own_turns_before_those_of_the_rules():
    own, common = Demand(FRAME, 1, (0.0, 180.0)), Demand(SheetPart("b", FRAME.outer), 1)
    job = SheetJob((SHEET,), SheetRules(turns="any"), (own, common))
    assert job.turns_of(own) == (0.0, 180.0)
    assert job.turns_of(common) == "any"


@pytest.mark.parametrize("count", [-1, MOST_COPIES + 1, 10**9])
def test_a_count_that_no_shop_cuts_is_refused(count):
    with pytest.raises(BadValue, match=f"Demand for frame: the count must be 0 to {MOST_COPIES}, not {count}"):
        Demand(FRAME, count)


def test_a_count_of_nothing_is_allowed():
    assert Demand(FRAME, 0).count == 0


def test_a_part_has_at_least_one_turn():
    with pytest.raises(BadValue, match="Demand for frame: no turn is allowed"):
        Demand(FRAME, 1, ())
    with pytest.raises(BadValue, match="Sheet rules: no turn is allowed"):
        SheetRules(turns=())


@pytest.mark.parametrize("value", [-0.1, math.nan, math.inf])
def test_rules_are_measures(value):
    with pytest.raises(BadValue, match="Sheet rules: gap must be 0 or more"):
        SheetRules(gap=value)
    with pytest.raises(BadValue, match="Sheet rules: margin must be 0 or more"):
        SheetRules(margin=value)
    for name in ("gap", "dead_end", "lead_end"):
        with pytest.raises(BadValue, match=f"Bar rules: {name} must be 0 or more"):
            BarRules(**{name: value})


def test_names_tell_stock_and_parts_apart():
    with pytest.raises(BadValue, match="Job stock: the name '1000x500' is used twice"):
        SheetJob((SHEET, SHEET), SheetRules(), ())
    with pytest.raises(BadValue, match="Job parts: the name 'frame' is used twice"):
        SheetJob((SHEET,), SheetRules(), (Demand(FRAME, 1), Demand(FRAME, 2)))
    with pytest.raises(BadValue, match="Job stock: the name '6 m' is used twice"):
        BarJob((BAR, BAR), BarRules(), ())
    with pytest.raises(BadValue, match="Job parts: the name 'post' is used twice"):
        BarJob((BAR,), BarRules(), (Demand(POST, 1), Demand(POST, 2)))


@pytest.mark.parametrize(
    ("turns", "turn", "may"),
    [
        ("any", 37.0, True),
        ((0.0, 180.0), 180.0, True),
        ((0.0, 180.0), 90.0, False),
        ((0.0,), 360.0, True),
        ((90.0,), -270.0, True),
    ],
)
def test_bar_rules_allow_the_turns_that_they_list(turns, turn, may):
    assert BarRules(turns=turns).may_turn(turn) is may


def test_bar_rules_list_at_least_one_turn():
    with pytest.raises(BadValue, match="Bar rules: no turn is allowed"):
        BarRules(turns=())


def test_the_yield_of_a_bar_counts_the_mean_length_of_mitred_pieces():
    # Source: by hand: sides of 600 mm with a mitre of 45° on 40 mm at both ends are 560 mm long in the mean.
    job = mitred_job((frame_side(), 2))
    nest = laid_nest(job, Piece("side", 0.0), Piece("side", 565.0, False, 180.0))
    assert nest.yield_share == pytest.approx(2 * 560.0 / 6000.0)
