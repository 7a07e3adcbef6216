"""The checker of bar nests, with faults planted on purpose."""

import math
from dataclasses import replace

import pytest

from nesting.model.nest import BarLayout, BarNest, Piece, Unplaced
from nesting.units import CHECK_SLACK
from nesting.verify.bar_check import check_bars
from tests.shop_parts import bar_job

JOB = bar_job((1000.0, 1), (500.0, 2), stock=[(2340.0, 1)], gap=5.0, dead_end=300.0, lead_end=30.0)
# Source: by hand, 30 + 1000 + 5 + 500 + 5 + 500 = 2040, and 2340 less the 300 held by the chuck is 2040.
FULL = (Piece("piece 0", 30.0), Piece("piece 1", 1035.0), Piece("piece 1", 1540.0))


def nest(*pieces, job=JOB, copies=1, unplaced=(), stock="bar 0"):
    return BarNest(job, (BarLayout(stock, pieces, copies),), tuple(unplaced))


def codes(nest):
    return [finding.code for finding in check_bars(nest)]


def test_a_bar_full_to_its_dead_end_passes():
    assert check_bars(nest(*FULL)) == ()


def test_an_empty_nest_of_an_empty_job_passes():
    assert check_bars(BarNest(bar_job(), ())) == ()


def test_a_flipped_piece_passes():
    assert codes(nest(replace(FULL[0], flipped=True), *FULL[1:])) == []


def test_a_piece_that_starts_in_the_lead_end_is_found_with_its_place():
    (finding,) = check_bars(nest(replace(FULL[0], start=29.99), *FULL[1:]))
    assert finding.code == "lead-end"
    assert finding.at == (29.99, 0.0)
    assert "Bar 1" in finding.message


def test_a_piece_in_the_dead_end_by_a_hundredth_is_found():
    (finding,) = check_bars(nest(*FULL[:2], replace(FULL[2], start=1540.01)))
    assert finding.code == "dead-end"
    assert "2040.01" in finding.message


def test_a_gap_short_by_a_hundredth_is_found():
    assert codes(nest(FULL[0], replace(FULL[1], start=1034.99), FULL[2])) == ["gap-short"]


def test_an_overlap_by_a_hundredth_is_found():
    assert codes(nest(FULL[0], replace(FULL[1], start=1029.99), FULL[2])) == ["overlap"]


def test_differences_up_to_the_slack_are_forgiven():
    by = 0.9 * CHECK_SLACK
    assert codes(nest(FULL[0], replace(FULL[1], start=1035.0 - by), replace(FULL[2], start=1540.0 + by))) == []


def test_pieces_that_are_not_listed_from_the_front_are_found():
    assert codes(nest(FULL[0], FULL[2], FULL[1])) == ["out-of-order"]


def test_pieces_that_are_too_long_for_the_bar_together_are_found_whatever_their_starts():
    found = codes(nest(*(replace(piece, start=30.0) for piece in FULL), Piece("piece 0", 30.0)))
    assert "too-long" in found


@pytest.mark.parametrize("start", [math.nan, math.inf])
def test_a_start_that_is_not_a_number_is_found(start):
    assert codes(nest(*FULL[:2], replace(FULL[2], start=start))) == ["not-a-number"]


def test_a_piece_nobody_asked_for_is_found():
    assert "unknown-part" in codes(nest(Piece("ghost", 30.0), job=bar_job()))


def test_a_bar_nobody_has_is_found():
    assert codes(nest(*FULL, stock="other")) == ["unknown-stock"]


def test_more_bars_than_there_are_are_found():
    job = replace(JOB, demands=tuple(replace(demand, count=2 * demand.count) for demand in JOB.demands))
    assert codes(nest(*FULL, job=job, copies=2)) == ["stock-exceeded"]


def test_a_bar_without_copies_is_found():
    assert codes(nest(*FULL, copies=0)) == ["no-copies", "count-off", "count-off"]


def test_counts_that_do_not_add_up_are_found():
    assert codes(nest(*FULL[:2])) == ["count-off"]
    assert codes(nest(*FULL[:2], unplaced=[Unplaced("piece 1", 1, "no stock left")])) == []
    assert codes(nest(*FULL, unplaced=[Unplaced("piece 1", 1, "no stock left")])) == ["count-off"]


def test_every_fault_blocks_the_nest():
    assert all(finding.blocks for finding in check_bars(nest(Piece("ghost", 0.0), *FULL[::-1], copies=0)))
