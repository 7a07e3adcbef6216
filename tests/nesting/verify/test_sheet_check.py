"""The checker of sheet nests, with faults planted on purpose and nests that are right by a hair."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.geometry.contour import Contour
from nesting.model.nest import Demand, Placement, SheetLayout, SheetNest, Unplaced
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.units import CHECK_SLACK
from nesting.verify.sheet_check import check_sheets
from tests.shop_parts import L_REMNANT, flange, frame, link, rectangle, sheet_job, square


def nest(job, *placements, stock=None, copies=1, unplaced=()):
    return SheetNest(job, (SheetLayout(stock or job.stock[0].name, tuple(placements), copies),), tuple(unplaced))


def codes(nest):
    return [finding.code for finding in check_sheets(nest)]


def pair(distance, gap=5.0):
    """Two squares of 100 mm, so far apart."""
    job = sheet_job((square("a", 100.0), 2), gap=gap)
    return nest(job, Placement("a", 10.0, 10.0), Placement("a", 110.0 + distance, 10.0))


def test_a_nest_that_keeps_every_rule_exactly_passes():
    assert codes(pair(5.0)) == []


def test_an_empty_nest_of_an_empty_job_passes():
    assert check_sheets(SheetNest(sheet_job(), ())) == ()


def test_a_gap_short_by_a_hundredth_is_found_with_its_place():
    (finding,) = check_sheets(pair(4.99))
    assert finding.code == "gap-short"
    assert finding.blocks
    assert "Sheet 1" in finding.message
    assert "4.990 mm apart" in finding.message
    assert 110.0 <= finding.at[0] <= 115.0


def test_a_gap_short_by_no_more_than_the_slack_is_forgiven():
    assert codes(pair(5.0 - 0.9 * CHECK_SLACK)) == []
    assert codes(pair(5.0 - 1.1 * CHECK_SLACK)) == ["gap-short"]


def test_an_overlap_by_a_hundredth_is_found():
    assert codes(pair(-0.01)) == ["overlap"]


def test_an_overlap_is_found_where_no_gap_is_asked_for():
    assert codes(pair(-0.01, gap=0.0)) == ["overlap"]


def test_touching_is_right_where_no_gap_is_asked_for():
    assert codes(pair(0.0, gap=0.0)) == []


def test_touching_is_wrong_where_a_gap_is_asked_for():
    assert codes(pair(0.0)) == ["overlap"]


def test_two_parts_in_the_same_place_are_found():
    assert codes(pair(-100.0)) == ["overlap"]
    assert codes(pair(-100.0, gap=0.0)) == ["overlap"]


def test_a_heap_of_parts_gives_a_bounded_number_of_faults():
    job = sheet_job((square("a", 100.0), 3000))
    found = codes(nest(job, *(Placement("a", 50.0, 50.0) for _ in range(3000))))
    assert found[-1] == "more-faults"
    assert len(found) < 100


@pytest.mark.parametrize(
    ("x", "y"),
    [(9.99, 10.0), (10.0, 9.99), (890.01, 10.0), (10.0, 390.01)],
    ids=["left", "bottom", "right", "top"],
)
def test_a_part_in_the_margin_by_a_hundredth_is_found_on_every_side(x, y):
    job = sheet_job((square("a", 100.0), 1))
    (finding,) = check_sheets(nest(job, Placement("a", x, y)))
    assert finding.code == "margin-short"
    assert "9.990 mm from the edge" in finding.message


def test_a_part_that_leaves_the_sheet_is_found_with_the_place_outside():
    job = sheet_job((square("a", 100.0), 1))
    (finding,) = check_sheets(nest(job, Placement("a", 950.0, 100.0)))
    assert finding.code == "outside-sheet"
    assert finding.at[0] > 1000.0


def test_a_part_wholly_beside_the_sheet_is_found():
    job = sheet_job((square("a", 100.0), 1))
    assert codes(nest(job, Placement("a", 5000.0, 100.0))) == ["outside-sheet"]


def test_a_sheet_without_margin_may_be_filled_to_its_edge_and_no_further():
    job = sheet_job((rectangle("a", 1000.0, 500.0), 1), margin=0.0)
    assert codes(nest(job, Placement("a", 0.0, 0.0))) == []
    assert codes(nest(job, Placement("a", 0.01, 0.0))) == ["outside-sheet"]


@pytest.mark.parametrize(
    ("x", "y", "expected"),
    [
        (190.0, 690.0, []),  # in the upper leg, at both its edges
        (190.01, 690.0, ["margin-short"]),
        (310.0, 290.0, []),  # in the lower leg, under the inner edge
        (310.0, 290.01, ["margin-short"]),
        (292.0, 292.0, ["margin-short"]),  # over the inner corner's margin
        (250.0, 350.0, ["outside-sheet"]),  # across the inner corner
        (600.0, 600.0, ["outside-sheet"]),  # where nothing is left of the sheet
    ],
)
def test_a_remnant_of_odd_outline_is_kept_to(x, y, expected):
    job = sheet_job((square("a", 100.0), 1), stock=[Sheet("rest", L_REMNANT, 1, is_remnant=True)])
    found = codes(nest(job, Placement("a", x, y)))
    assert found == expected


def test_an_inner_corner_of_a_remnant_is_kept_off_in_a_circle():
    # Source: by hand, a corner at (6, 8) mm from the remnant's inner corner is √(6² + 8²) = 10 mm away.
    job = sheet_job((square("a", 100.0), 1), stock=[Sheet("rest", L_REMNANT, 1, is_remnant=True)])
    assert codes(nest(job, Placement("a", 194.0, 292.0))) == []
    assert codes(nest(job, Placement("a", 194.01, 292.01))) == ["margin-short"]


def test_a_part_in_the_hole_of_another_keeps_the_gap_to_it():
    # Source: by hand, a window of 100 mm clear takes a square of 90 mm with 5 mm on each side.
    job = sheet_job((frame("f", 200.0, 200.0, 50.0), 1), (square("a", 90.0), 1))
    inside = Placement("a", 65.0, 65.0)
    assert codes(nest(job, Placement("f", 10.0, 10.0), inside)) == []
    assert codes(nest(job, Placement("f", 10.0, 10.0), replace(inside, x=65.01))) == ["gap-short"]


def test_a_part_across_the_rim_of_a_hole_is_found():
    job = sheet_job((frame("f", 200.0, 200.0, 50.0), 1), (square("a", 90.0), 1))
    assert codes(nest(job, Placement("f", 10.0, 10.0), Placement("a", 100.0, 65.0))) == ["overlap"]


def test_round_parts_are_judged_by_their_arcs_and_not_by_chords():
    # Source: by hand, two circles of 50 mm radius with centres 105 mm apart leave 5 mm, in any direction.
    job = sheet_job((flange("r", 100.0, 20.0, bolts=0), 2))
    for degrees in range(0, 90, 7):
        dx, dy = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        for distance, expected in ((105.0, []), (104.99, ["gap-short"])):
            there = Placement("r", 100.0 + distance * dx, 100.0 + distance * dy)
            assert codes(nest(job, Placement("r", 100.0, 100.0), there)) == expected


def test_a_disc_in_a_bore_is_judged_by_their_arcs():
    # Source: by hand, a disc of 80 mm in a bore of 90 mm about the same centre leaves 5 mm all round.
    job = sheet_job((flange("ring", 200.0, 90.0, bolts=0), 1), (flange("disc", 80.0, 10.0, bolts=0), 1))
    ring = Placement("ring", 200.0, 200.0)
    assert codes(nest(job, ring, Placement("disc", 200.0, 200.0))) == []
    assert codes(nest(job, ring, Placement("disc", 200.0 + 0.01 * 0.6, 200.0 + 0.01 * 0.8))) == ["gap-short"]


def test_a_turn_that_is_not_allowed_is_found():
    job = sheet_job((square("a", 100.0), 1), turns=(0.0, 180.0))
    assert codes(nest(job, Placement("a", 120.0, 20.0, 90.0))) == ["turn-not-allowed"]
    assert codes(nest(job, Placement("a", 120.0, 120.0, 180.0))) == []
    assert codes(nest(job, Placement("a", 120.0, 120.0, -180.0))) == []
    assert codes(nest(job, Placement("a", 120.0, 120.0, 180.1))) == ["turn-not-allowed"]


def test_the_turns_of_a_part_go_before_those_of_the_rules():
    job = sheet_job(turns=(0.0, 180.0))
    job = replace(job, demands=(Demand(square("a", 100.0), 1, (90.0,)),))
    assert codes(nest(job, Placement("a", 120.0, 20.0, 90.0))) == []
    assert codes(nest(job, Placement("a", 20.0, 20.0))) == ["turn-not-allowed"]


def test_any_turn_is_right_where_turning_is_free():
    job = sheet_job((square("a", 100.0), 1), turns="any")
    assert codes(nest(job, Placement("a", 300.0, 200.0, 33.3))) == []


def test_a_mirrored_part_is_found_unless_mirroring_is_allowed():
    placement = Placement("l", 400.0, 100.0, mirrored=True)
    assert codes(nest(sheet_job((link("l", 200.0, 40.0), 1)), placement)) == ["mirror-not-allowed"]
    assert codes(nest(sheet_job((link("l", 200.0, 40.0), 1), mirror=True), placement)) == []


def test_mirroring_comes_before_turning_and_turning_before_shifting():
    # Source: by hand, the corner (100, 0) mirrored is (-100, 0), turned by 90° (0, -100), shifted to (20, 10).
    part = SheetPart("t", Contour(((0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (0.0, 50.0, 0.0))))
    job = sheet_job((part, 1), mirror=True)
    # The right angle lies at (20, 110), the other corners at (20, 10) and (-30, 110): outside.
    assert codes(nest(job, Placement("t", 20.0, 110.0, 90.0, mirrored=True))) == ["outside-sheet"]
    assert codes(nest(job, Placement("t", 60.0, 110.0, 90.0, mirrored=True))) == []


@pytest.mark.parametrize("field", ["x", "y", "turn"])
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_place_that_is_not_a_number_is_found(field, value):
    job = sheet_job((square("a", 100.0), 1))
    assert codes(nest(job, replace(Placement("a", 10.0, 10.0), **{field: value}))) == ["not-a-number"]


def test_a_part_nobody_asked_for_is_found():
    job = sheet_job((square("a", 100.0), 1))
    found = codes(nest(job, Placement("a", 10.0, 10.0), Placement("b", 300.0, 10.0)))
    assert found == ["unknown-part"]


def test_stock_nobody_has_is_found():
    job = sheet_job((square("a", 100.0), 1))
    assert codes(nest(job, Placement("a", 10.0, 10.0), stock="other")) == ["unknown-stock"]


def test_more_sheets_than_there_are_are_found():
    job = sheet_job((square("a", 100.0), 3), stock=[Sheet.rectangle("s", 1000.0, 500.0, 2)])
    assert codes(nest(job, Placement("a", 10.0, 10.0), copies=3)) == ["stock-exceeded"]


def test_the_same_stock_in_two_layouts_is_counted_together():
    job = sheet_job((square("a", 100.0), 3), stock=[Sheet.rectangle("s", 1000.0, 500.0, 2)])
    one = SheetLayout("s", (Placement("a", 10.0, 10.0),), 2)
    assert codes(SheetNest(job, (one, replace(one, copies=1)))) == ["stock-exceeded"]


def test_a_layout_without_copies_is_found():
    job = sheet_job((square("a", 100.0), 0))
    assert codes(nest(job, Placement("a", 10.0, 10.0), copies=0)) == ["no-copies"]


@pytest.mark.parametrize(("wanted", "left"), [(3, 0), (1, 0), (2, 1), (4, 1)])
def test_counts_that_do_not_add_up_are_found(wanted, left):
    job = sheet_job((square("a", 100.0), wanted))
    rows = (Unplaced("a", left, "no stock left"),) if left else ()
    assert codes(nest(job, Placement("a", 10.0, 10.0), copies=2, unplaced=rows)) == ["count-off"]


def test_parts_left_out_with_a_reason_count():
    job = sheet_job((square("a", 100.0), 3))
    rows = (Unplaced("a", 1, "no stock left"),)
    assert codes(nest(job, Placement("a", 10.0, 10.0), copies=2, unplaced=rows)) == []


def test_a_negative_number_left_out_is_found():
    job = sheet_job((square("a", 100.0), 1))
    rows = (Unplaced("a", -1, ""),)
    assert codes(nest(job, Placement("a", 10.0, 10.0), copies=2, unplaced=rows)) == ["negative-count"]


def test_a_stranger_left_out_is_found():
    assert codes(SheetNest(sheet_job(), (), (Unplaced("ghost", 1, ""),))) == ["unknown-part"]


def test_a_laid_part_that_crosses_itself_is_found():
    bow = SheetPart("bow", Contour(((0, 0, 0), (100, 100, 0), (100, 0, 0), (0, 60, 0))))
    (finding,) = check_sheets(nest(sheet_job((bow, 1)), Placement("bow", 20.0, 20.0)))
    assert finding.code == "bad-outline"
    assert "bow" in finding.message


def test_a_hole_outside_its_part_is_found():
    part = SheetPart("p", Contour.rectangle(50.0, 50.0), (Contour.circle(200.0, 200.0, 10.0),))
    assert codes(nest(sheet_job((part, 1)), Placement("p", 20.0, 20.0))) == ["bad-outline"]


def test_a_sheet_that_crosses_itself_is_found():
    bow = Sheet("rest", Contour(((0, 0, 0), (1000, 1000, 0), (1000, 0, 0), (0, 600, 0))), 1, is_remnant=True)
    job = sheet_job((square("a", 100.0), 1), stock=[bow])
    assert codes(nest(job, Placement("a", 20.0, 20.0))) == ["bad-outline"]


def test_faults_are_found_a_kilometre_from_the_origin():
    far = square("a", 100.0, x=1e6, y=-1e6)
    job = sheet_job((far, 2))
    first, second = Placement("a", 10.0 - 1e6, 10.0 + 1e6), Placement("a", 115.0 - 1e6, 10.0 + 1e6)
    assert codes(nest(job, first, second)) == []
    assert codes(nest(job, first, replace(second, x=second.x - 0.01))) == ["gap-short"]


def test_every_sheet_is_looked_at_and_named():
    job = sheet_job((square("a", 100.0), 2))
    good, bad = SheetLayout("1000x500", (Placement("a", 10.0, 10.0),)), SheetLayout("1000x500", (Placement("a", 0, 0),))
    (finding,) = check_sheets(SheetNest(job, (good, bad)))
    assert "Sheet 2" in finding.message


def test_five_thousand_parts_on_one_sheet_are_checked():
    job = sheet_job((flange("r", 20.0, 8.0, bolts=0), 5000), stock=[Sheet.rectangle("s", 2600.0, 1300.0)])
    places = [Placement("r", 20.0 + 25.0 * (k % 100), 20.0 + 25.0 * (k // 100)) for k in range(5000)]
    assert codes(nest(job, *places)) == []
    places[3210] = replace(places[3210], x=places[3210].x + 0.01)
    assert codes(nest(job, *places)) == ["gap-short"]


@given(
    st.floats(-0.5, 0.5).filter(lambda error: abs(error) > 1.5 * CHECK_SLACK),
    st.floats(0.0, 360.0),
    st.sampled_from([0.0, 0.001, 5.0]),
)
def test_circles_near_the_gap_are_judged_by_their_distance(error, direction, gap):
    # Source: closed formula, the distance of two circles is that of their centres less the radii.
    job = sheet_job((flange("r", 60.0, 20.0, bolts=0), 2), gap=gap)
    distance = 60.0 + gap + error
    dx, dy = math.cos(math.radians(direction)), math.sin(math.radians(direction))
    there = Placement("r", 250.0 + distance * dx, 250.0 + distance * dy)
    found = codes(nest(job, Placement("r", 250.0, 250.0), there))
    assert bool(found) == (error < 0)
