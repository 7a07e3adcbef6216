"""What is tried next: nothing that is not free, no more than a sheet is seen to take, and twice where that pays."""

import math
import random
from collections import Counter
from dataclasses import replace
from datetime import date

import pytest

from nesting.layout.composites import plain_pieces
from nesting.layout.deadline import Deadline
from nesting.layout.fill_seen import FillSeen
from nesting.layout.measures import Measures
from nesting.layout.score import Extents
from nesting.layout.sheet_aims import SheetAims
from nesting.layout.sheet_plan import FullSheet, SheetPlan
from nesting.model.nest import Placement, SheetLayout
from nesting.model.stock import Sheet
from tests.shop_parts import L_REMNANT, rectangle, sheet_job, square

A, B = "0", "1"
"""Pieces are named by their place in the job."""

PLAIN = Sheet.rectangle("plain", 1000.0, 500.0)
ROOM = 985.0 * 485.0
SECONDS = 60.0


def aims_for(*demands, stock=(PLAIN,), due=None, seconds=SECONDS):
    job = sheet_job(*demands, stock=stock)
    if due is not None:
        job = replace(job, demands=tuple(replace(d, due=due[d.part.name]) for d in job.demands))
    pieces = plain_pieces(job)
    measures, plan = Measures(pieces, job, 5.0, 10.0), SheetPlan(pieces.job, Extents(pieces.job))
    return SheetAims(measures, plan, FillSeen(), random.Random(1), Deadline(seconds), 5.0), plan, measures


def new_sheet(aims, kind=PLAIN):
    return aims.new_sheet(next(k for k in [aims.next_kind(), kind] if k is not None and k.name == kind.name))


def layout_of(counts, copies=1):
    """Where the pieces lie does not matter here."""
    names = Counter(counts).elements()
    return SheetLayout("plain", tuple(Placement(name, 10.0 + i, 10.0) for i, name in enumerate(names)), copies)


def test_a_full_sheet_gets_no_more_than_it_is_expected_to_take():
    aims, plan, measures = aims_for((square(A, 95.0), 60), (square(B, 45.0), 40))
    goal = new_sheet(aims)
    assert 0.95 * aims.fill(goal.seconds) * ROOM < goal.bulk < aims.fill(goal.seconds) * ROOM
    assert measures.total(goal.counts) == goal.bulk
    assert {name: goal.counts[name] for name in goal.counts} == {name: plan.held[name] for name in goal.counts}


@pytest.mark.parametrize(
    ("sheets", "copies"),
    [(1.5, 1), (2.0, 1), (2.6, 2), (6.0, 2), (60.0, 21)],
    ids=["two", "exactly two", "three", "six", "so many that there are less than 3 s for each"],
)
def test_how_often_a_sheet_is_cut(sheets, copies):
    count = math.floor(sheets * ROOM * FillSeen().expected(0.2 * SECONDS) / 50.0**2)
    aims, plan, _ = aims_for((square(A, 45.0), count))
    goal = new_sheet(aims)
    assert goal.copies == pytest.approx(copies, abs=0 if copies < 3 else 1)
    assert plan.held[A] == goal.copies * goal.counts[A]


def test_no_sheet_is_cut_more_often_than_there_are_any():
    aims, _, _ = aims_for((square(A, 95.0), 200), stock=(replace(PLAIN, count=1), Sheet.rectangle("big", 2e3, 1e3)))
    assert new_sheet(aims).copies == 1


def test_single_pieces_of_many_kinds_go_on_a_sheet_of_their_own():
    aims, _, _ = aims_for(*((square(f"a{i}", 90.0 + i / 10.0), 1) for i in range(130)))
    goal = new_sheet(aims)
    assert goal.copies == 1
    assert len(goal.counts) > 30


def test_what_is_due_first_is_not_spread_over_sheets_that_are_alike():
    due = {A: date(2026, 12, 1), B: date(2026, 12, 9)}
    aims, _, _ = aims_for((square(A, 95.0), 21), (square(B, 95.0), 100), due=due)
    goal = new_sheet(aims)
    assert goal.copies == 1
    assert goal.counts[A] == 21


def full(plan, measures, counts, copies=1):
    layout = layout_of(counts, copies)
    sheet = FullSheet(layout, measures.total(Counter(counts)), math.inf)
    plan.take(sheet)
    return sheet


def test_more_is_tried_on_all_copies_of_a_sheet_where_there_are_pieces_for_all():
    aims, plan, measures = aims_for((square(A, 95.0), 62), (square(B, 45.0), 40))
    sheet = full(plan, measures, {A: 30}, copies=2)
    goal = aims.more()
    assert goal.sheet is sheet
    assert goal.copies == 2
    assert sheet.is_tried
    assert sheet.bulk < goal.bulk < aims.fill() * ROOM
    assert all(plan.held[name] == 2 * count for name, count in goal.extra.items())
    assert aims.more() is None, "a sheet that a run has in hand is not tried by another"


def test_with_single_pieces_one_copy_is_tried():
    aims, plan, measures = aims_for((square(A, 95.0), 61), (square(B, 135.0), 1))
    full(plan, measures, {A: 30}, copies=2)
    goal = aims.more()
    assert goal.copies == 1
    assert sorted(sheet.layout.copies for sheet in plan.full) == [1, 1]
    assert goal.sheet in plan.full


def test_a_larger_piece_stands_in_for_a_smaller_one():
    aims, plan, measures = aims_for((square(A, 95.0), 30), (square(B, 115.0), 3))
    sheet = full(plan, measures, {A: 30})
    sheet.reach = sheet.bulk + 0.02 * ROOM
    goal = aims.more()
    assert goal.counts[A] < 30
    assert goal.extra == Counter({B: goal.counts[B]})
    assert sheet.bulk < goal.bulk <= sheet.reach


def test_what_is_due_first_keeps_its_place():
    due = {A: date(2026, 12, 1), B: date(2026, 12, 9)}
    aims, plan, measures = aims_for((square(A, 95.0), 30), (square(B, 115.0), 3), due=due)
    sheet = full(plan, measures, {A: 30})
    sheet.reach = sheet.bulk + 0.02 * ROOM
    assert aims.more() is None


def test_after_a_run_that_came_out_too_long_less_is_hoped_for():
    aims, plan, measures = aims_for((square(A, 95.0), 30), (square(B, 45.0), 90))
    sheet = full(plan, measures, {A: 30})
    first = aims.more()
    plan.release(first.extra)
    sheet.is_tried = False
    aims.missed(sheet, aims.learn(first, 1200.0, first.seconds))
    second = aims.more()
    assert second.bulk < first.bulk
    assert sheet.reach == pytest.approx(max(sheet.bulk + 0.005 * ROOM, first.bulk * 985.0 / 1205.0))


def test_the_last_sheet_is_the_cheapest_that_may_take_all():
    small = Sheet.rectangle("small", 500.0, 500.0)
    aims, plan, _ = aims_for((square(A, 95.0), 8), stock=(PLAIN, small, Sheet("L", L_REMNANT)))
    goal = aims.last_sheet(+plan.loose, is_only_one=False)
    assert goal.kind == small
    assert goal.is_last
    assert goal.counts == {A: 8}
    assert not +plan.held
    assert aims.last_sheet(+plan.loose, is_only_one=True).seconds > 0.9 * SECONDS


def test_what_fits_only_the_large_sheet_goes_there():
    small = Sheet.rectangle("small", 500.0, 500.0)
    aims, plan, _ = aims_for((rectangle(A, 700.0, 50.0), 1), stock=(small, PLAIN))
    assert aims.last_sheet(+plan.loose, is_only_one=False).kind == PLAIN
