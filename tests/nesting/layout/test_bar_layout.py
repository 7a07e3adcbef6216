"""Bars laid by the real solver, held to optima that others have published."""

import math

import pytest

from nesting.errors import Cancelled
from nesting.layout.engines.first_fit import lay_first_fit
from nesting.route import lay_out
from nesting.verify.bar_check import check_bars
from tests.shop_parts import bar_job

pytestmark = pytest.mark.slow

# Source: the 5600 mm paper roll case of Wikipedia, "Cutting stock problem": widths in mm and how many of each.
ROLLS = (
    (1380, 22),
    (1520, 25),
    (1560, 12),
    (1710, 14),
    (1820, 18),
    (1880, 18),
    (1930, 20),
    (2000, 10),
    (2050, 12),
    (2100, 14),
    (2140, 16),
    (2150, 18),
    (2200, 20),
)


def bars_of(nest):
    return sum(layout.copies for layout in nest.layouts)


def nobody():
    return False


def test_the_5600_mm_case_is_laid_on_73_bars_and_proven():
    nest = lay_out(bar_job(*ROLLS, stock=[(5600.0, None)]), budget=60.0)
    # Source: the same page: the optimum is 73 master rolls with 0.401 % waste.
    assert (bars_of(nest), nest.proven_optimal, nest.unplaced) == (73, True, ())
    assert 1.0 - sum(a * b for a, b in ROLLS) / (73 * 5600) == pytest.approx(0.00401, abs=5e-6)
    assert check_bars(nest) == ()


def test_first_fit_alone_needs_more_in_that_case_so_it_tells_a_heuristic_from_an_optimum():
    job = bar_job(*ROLLS, stock=[(5600.0, None)])
    # Source: computed with an independent first-fit decreasing: 82.
    assert sum(layout.copies for layout in lay_first_fit(job, longest_first=True, is_over=nobody)) == 82


def test_a_large_order_of_four_widths_comes_to_its_published_optimum():
    # Source: the cutting-stock model in the example galleries of algebraic modelling languages (after Gilmore and
    # Gomory): width 100, 45/36/31/14 wanted 97/610/395/211 times. The optimum 453 was found with HiGHS.
    nest = lay_out(bar_job((45, 97), (36, 610), (31, 395), (14, 211), stock=[(100.0, None)]), budget=60.0)
    assert (bars_of(nest), nest.proven_optimal) == (453, True)
    assert check_bars(nest) == ()


def test_gap_dead_end_and_lead_end_cost_what_they_take():
    # Source: by hand. 6000 - 300 held - 10 trimmed = 5690 mm; five 1130 mm pieces and four 5 mm gaps take 5670.
    job = bar_job((1130.0, 10), stock=[(6000.0, None)], gap=5.0, dead_end=300.0, lead_end=10.0)
    assert bars_of(lay_out(job, budget=20.0)) == 2
    # With pieces of 1135 mm five would take 5695.
    longer = bar_job((1135.0, 10), stock=[(6000.0, None)], gap=5.0, dead_end=300.0, lead_end=10.0)
    assert bars_of(lay_out(longer, budget=20.0)) == 3


def test_what_is_not_laid_says_why_and_the_rest_is():
    job = bar_job((1000.0, 3), (7000.0, 2), stock=[(2500.0, 1)])
    nest = lay_out(job, budget=20.0)
    assert nest.placed_count == 2
    said = {each.part: (each.count, each.reason) for each in nest.unplaced}
    assert said["piece 1"][0] == 2
    assert "longer than every bar" in said["piece 1"][1]
    assert said["piece 0"][0] == 1
    assert said["piece 0"][1]
    assert check_bars(nest) == ()


@pytest.mark.parametrize(
    "job", [bar_job(stock=[(6000.0, None)]), bar_job((500.0, 2), stock=[]), bar_job((500.0, 0), stock=[(6000.0, 1)])]
)
def test_no_pieces_or_no_bars_make_an_empty_nest(job):
    nest = lay_out(job, budget=5.0)
    assert nest.layouts == ()
    assert sum(each.count for each in nest.unplaced) == sum(demand.count for demand in job.demands)


def test_each_better_nest_is_reported_and_none_is_worse():
    told = []
    job = bar_job(*ROLLS, stock=[(5600.0, None)])
    last = lay_out(job, budget=60.0, on_progress=told.append)
    costs = [bars_of(nest) for nest in told]
    assert costs == sorted(costs, reverse=True)
    assert costs[-1] == bars_of(last)


def test_cancelled_before_it_began_there_is_no_nest():
    with pytest.raises(Cancelled):
        lay_out(bar_job(*ROLLS, stock=[(5600.0, None)]), budget=60.0, should_stop=lambda: True)


def test_cheap_remnants_are_used_before_new_bars():
    # Source: by hand: two pieces of 1000 mm fit the remnant, which costs less than a new bar.
    job = bar_job((1000.0, 2), stock=[(6000.0, None), (2100.0, 1)])
    nest = lay_out(job, budget=20.0)
    assert [layout.stock for layout in nest.layouts] == ["bar 1"]
    assert math.isclose(nest.yield_share, 2000 / 2100, rel_tol=1e-9)
