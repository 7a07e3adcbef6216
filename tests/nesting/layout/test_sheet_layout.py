"""Sheets laid by the real engines, held to exact bounds and looked at again with shapely alone."""

import random

import pytest

from nesting.errors import Cancelled
from nesting.geometry.contour import Contour
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.route import lay_out
from tests.nest_again import sheet_faults
from tests.shop_parts import frame, rectangle, sheet_job, square, two_hundred_parts

pytestmark = pytest.mark.slow


def sheets_of(nest):
    return sum(layout.copies for layout in nest.layouts)


def jigsaw(chance, width, height, pieces):
    """Widths and heights of so many rectangles that a rectangle was cut into, edge to edge."""
    found = [(width, height)]
    while len(found) < pieces:
        found.sort(key=lambda each: each[0] * each[1])
        w, h = found.pop()
        cut = round(chance.uniform(0.3, 0.7) * max(w, h))
        found += [(cut, h), (w - cut, h)] if w >= h else [(w, cut), (w, h - cut)]
    return found


def test_two_hundred_parts_of_ten_kinds_are_all_laid():
    nest = lay_out(two_hundred_parts(), budget=4.0, seed=1)
    assert (nest.placed_count, nest.unplaced) == (200, ())
    assert sheet_faults(nest) == []


def test_a_sheet_of_equal_squares_is_filled_to_its_last_corner():
    # Source: by hand: 10 x 5 squares of 100 mm are the whole sheet of 1000 x 500 mm.
    nest = lay_out(sheet_job((square("a", 100.0), 50), gap=0.0, margin=0.0), budget=4.0)
    assert (sheets_of(nest), nest.placed_count) == (1, 50)
    assert nest.yield_share == pytest.approx(1.0)
    assert sheet_faults(nest) == []


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_jigsaw_is_put_together_again_and_proven(seed):
    # Source: the pieces were cut from one sheet, so the optimum is 1 and no nest can do with less.
    sizes = jigsaw(random.Random(seed), 1000.0, 500.0, 12)
    job = sheet_job(*((rectangle(f"piece {i}", *size), 1) for i, size in enumerate(sizes)), gap=0.0, margin=0.0)
    nest = lay_out(job, budget=60.0, seed=seed)
    assert nest.placed_count == len(sizes)
    assert sheets_of(nest) == 1
    assert nest.proven_optimal
    assert nest.bound.count == 1
    assert sheet_faults(nest) == []


# Source: Packomania, the best known packings of equal circles in a unit square; radii from memory.
@pytest.mark.parametrize(("count", "radius"), [(2, 0.292893), (5, 0.207107), (7, 0.174458), (10, 0.148204)])
def test_no_nest_of_circles_is_better_than_any_that_is_known(count, radius):
    def laid_on_one(each):
        disc = SheetPart("disc", Contour.circle(0.0, 0.0, each))
        job = sheet_job(
            (disc, count), stock=[Sheet.rectangle("s", 1000.0, 1000.0, 1)], gap=0.0, margin=0.0, turns=(0.0,)
        )
        nest = lay_out(job, budget=1.5)
        assert sheet_faults(nest) == []
        return nest.placed_count

    assert laid_on_one(1000.0 * radius * 1.002) < count
    assert laid_on_one(1000.0 * radius * 0.8) == count


def test_a_small_part_goes_into_the_window_of_a_large_one():
    job = sheet_job(
        (frame("frame", 400.0, 400.0, 40.0), 1), (square("cover", 200.0), 1), stock=[Sheet.rectangle("s", 425.0, 425.0)]
    )
    nest = lay_out(job, budget=10.0)
    assert (sheets_of(nest), nest.placed_count) == (1, 2)
    assert sheet_faults(nest) == []


def test_a_remnant_that_costs_less_goes_first():
    stock = [Sheet.rectangle("new", 1000.0, 500.0), Sheet.rectangle("remnant", 320.0, 320.0, 1, 1.0)]
    nest = lay_out(sheet_job((square("a", 140.0), 4), stock=stock), budget=1.0)
    assert [layout.stock for layout in nest.layouts] == ["remnant"]
    assert sheet_faults(nest) == []


@pytest.mark.parametrize(
    ("job", "left"),
    [
        (sheet_job((square("a", 600.0), 2), (square("b", 50.0), 3)), {"a": 2}),
        (sheet_job((square("a", 100.0), 2), stock=[]), {"a": 2}),
        (sheet_job((square("a", 100.0), 30), stock=[Sheet.rectangle("s", 230.0, 230.0, 1)]), {"a": 26}),
        (sheet_job((square("a", 100.0), 1), gap=5000.0, margin=300.0), {"a": 1}),
        (sheet_job((square("a", 100.0), 0)), {}),
    ],
    ids=["larger than every sheet", "no stock", "too few sheets", "margins wider than the sheet", "none wanted"],
)
def test_what_is_not_laid_says_why_and_the_rest_is(job, left):
    nest = lay_out(job, budget=3.0)
    assert {each.part: each.count for each in nest.unplaced} == left
    assert all(each.reason for each in nest.unplaced)
    assert nest.placed_count == sum(demand.count for demand in job.demands) - sum(left.values())
    assert sheet_faults(nest) == []


def test_cancelled_before_it_began_there_is_no_nest():
    with pytest.raises(Cancelled):
        lay_out(two_hundred_parts(), budget=60.0, should_stop=lambda: True)
