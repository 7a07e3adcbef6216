"""The engine of rectangles: known optima reached, rules kept, and what it answers looked at again with shapely."""

import random

import pytest

from nesting.layout.engine import CHILD_MEMORY_MB, sheets_from_record
from nesting.model.nest import SheetNest
from nesting.model.stock import Sheet
from nesting.records.jobs import job_to_record
from nesting.route import lay_out
from nesting.sandbox import Limits, run_in_child
from tests.nest_again import sheet_faults
from tests.shop_parts import L_REMNANT, frame, plate, rectangle, sheet_job, square

pytestmark = pytest.mark.slow

CALL = "nesting.layout.engines.rectangles:solve_record"


def ask(job, seconds=2.5, seed=1):
    request = {"job": job_to_record(job), "seconds": seconds, "seed": seed, "extra_gap_mm": 0.0}
    answer = run_in_child(CALL, request, Limits(wall=120.0, memory_mb=CHILD_MEMORY_MB))
    return SheetNest(job, sheets_from_record(answer)), answer["finished"]


def costs_of(nest):
    return sum(
        layout.copies * next(s.price for s in nest.job.stock if s.name == layout.stock) for layout in nest.layouts
    )


# Source: E. Hopper and B. C. H. Turton, "An empirical investigation of meta-heuristic and heuristic algorithms for a 2D
# packing problem", European Journal of Operational Research 128 (2001), category 1: cut from a square of 20 x 20, so
# that a height of 20 is the optimum. Sizes from memory; a test sees to it that they make up the square.
HOPPER_AND_TURTON = {
    "C1 P1": "2x12 7x12 8x6 3x6 3x5 5x5 3x12 3x7 5x7 2x6 3x2 4x2 3x4 4x4 9x2 11x2",
    "C1 P2": "4x1 4x5 9x4 3x5 3x9 1x4 5x3 4x1 5x5 7x2 9x3 3x13 2x8 15x4 5x4 10x6 7x2",
    "C1 P3": "4x14 5x2 2x2 9x7 5x5 2x5 7x7 3x5 6x5 3x2 6x2 4x6 6x3 10x3 6x3 10x3",
}


@pytest.mark.parametrize(("name", "pieces"), HOPPER_AND_TURTON.items())
def test_the_small_instances_of_hopper_and_turton_are_solved_to_their_optimum(name, pieces):
    sizes = [tuple(10.0 * int(side) for side in each.split("x")) for each in pieces.split()]
    assert len(sizes) == (17 if name == "C1 P2" else 16)
    assert sum(w * h for w, h in sizes) == 200.0 * 200.0
    parts = [(rectangle(f"{i}", *size), 1) for i, size in enumerate(sizes)]
    nest = lay_out(sheet_job(*parts, stock=[Sheet.rectangle("s", 200.0, 200.0)], gap=0.0, margin=0.0), budget=60.0)
    assert sum(layout.copies for layout in nest.layouts) == 1
    assert nest.placed_count == len(sizes)
    assert nest.proven_optimal
    assert sheet_faults(nest) == []


@pytest.mark.parametrize("gap", [0.0, 5.0])
def test_random_rectangles_keep_gap_margin_and_counts(gap):
    chance = random.Random(3)
    parts = [
        (rectangle(f"{i}", chance.uniform(40, 300), chance.uniform(40, 300)), chance.randint(1, 4)) for i in range(12)
    ]
    nest, _ = ask(sheet_job(*parts, gap=gap))
    assert nest.placed_count == sum(count for _, count in parts)
    assert sheet_faults(nest) == []


def test_plates_with_round_corners_and_along_the_grain():
    parts = [(plate("base", 180.0, 120.0), 9), (plate("cover", 310.0, 90.0), 5)]
    nest, _ = ask(sheet_job(*parts, turns=(0.0, 180.0)))
    assert nest.placed_count == 14
    assert {p.turn for layout in nest.layouts for p in layout.placements} == {0.0}
    assert sheet_faults(nest) == []


def test_parts_that_may_only_lie_across_do():
    nest, _ = ask(sheet_job((rectangle("a", 450.0, 60.0), 7), turns=(90.0,)))
    assert nest.placed_count == 7
    assert {p.turn for layout in nest.layouts for p in layout.placements} == {90.0}
    assert sheet_faults(nest) == []


def test_of_several_sizes_the_cheapest_are_taken_and_limits_kept():
    # Source: by hand: of 24 squares of 100 mm the small sheet holds 4 and is there twice, and the large one holds 20,
    # so that one of each is the cheapest, for 3 and 10.
    stock = [Sheet.rectangle("large", 500.0, 400.0, cost=10.0), Sheet.rectangle("small", 200.0, 200.0, 2, 3.0)]
    nest, _ = ask(sheet_job((square("a", 100.0), 24), stock=stock, gap=0.0, margin=0.0))
    assert nest.placed_count == 24
    assert costs_of(nest) == 13.0
    assert sheet_faults(nest) == []


def test_on_a_remnant_the_rectangle_within_it_is_used():
    stock = [Sheet("remnant", L_REMNANT, 1, 1.0, is_remnant=True)]
    nest, _ = ask(sheet_job((rectangle("a", 200.0, 90.0), 8), stock=stock))
    assert nest.placed_count == 8
    assert sheet_faults(nest) == []


def test_a_jigsaw_of_a_part_of_a_sheet_is_laid_as_short_as_can_be():
    # Source: by hand: with a gap of 5 mm between, the pieces come from 405 x 480 mm at the left of the sheet.
    parts = [(rectangle("a", 200.0, 480.0), 1), (rectangle("b", 200.0, 200.0), 1), (rectangle("c", 200.0, 275.0), 1)]
    nest, finished = ask(sheet_job(*parts))
    assert finished
    assert max(p.x + 200.0 for p in nest.layouts[0].placements) == pytest.approx(10.0 + 405.0)
    assert sheet_faults(nest) == []


def test_of_other_jobs_it_lays_nothing():
    nest, finished = ask(sheet_job((frame("window", 400.0, 300.0, 40.0), 2), (square("cover", 200.0), 1)))
    assert (nest.layouts, finished) == ((), True)
